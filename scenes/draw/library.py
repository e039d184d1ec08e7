"""Manim as it comes: a manim.cfg that lies in the folder where one stands, or at home, has no say in the pictures.

Manim reads such files, and loads what they name, while it is imported.
"""

import sys
from collections.abc import Iterator
from configparser import ConfigParser
from contextlib import contextmanager


@contextmanager
def _without_settings() -> Iterator[None]:
    """Manim's own settings alone. Who has imported it already has chosen others."""
    if "manim" in sys.modules:
        yield
        return
    read = ConfigParser.read
    ConfigParser.read = lambda *arguments, **options: []  # type: ignore[method-assign]
    try:
        yield
    finally:
        ConfigParser.read = read  # type: ignore[method-assign]


with _without_settings():
    from manim import Camera as Camera
    from manim import ManimColor as ManimColor
    from manim import VMobject as VMobject
