"""Names of files: which ones Windows allows, and how one is typed on a command line."""

import re
from os import name as system

DEVICES = frozenset(
    ("con", "prn", "aux", "nul", *(f"{port}{number}" for port in ("com", "lpt") for number in range(1, 10)))
)
"""No file can have such a name, with any ending."""
NOT_IN_NAMES = re.compile(r'[<>:"|?*]')
"""What no file's name can hold."""


def is_name_on_windows(name: str) -> bool:
    """Whether a file can have this name on Windows.

    >>> is_name_on_windows("mill.yaml"), is_name_on_windows("Aux.yaml"), is_name_on_windows("mill: 2.yaml")
    (True, False, False)
    """
    return name.partition(".")[0].casefold().rstrip() not in DEVICES and not NOT_IN_NAMES.search(name)


def for_shell(name: str) -> str:
    """A name or path as the command line takes it.

    >>> for_shell("mill.yaml"), for_shell("my mill")
    ('mill.yaml', "'my mill'")
    """
    if system == "nt":
        from subprocess import list2cmdline

        return list2cmdline([name])
    from shlex import quote

    return quote(name)
