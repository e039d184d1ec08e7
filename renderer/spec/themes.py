"""Themes: the look's values by name, as the files under assets/themes give them."""

from collections.abc import Mapping
from functools import cache
from typing import Any

import yaml

from renderer.core.installed import ASSETS
from renderer.spec.model import DEFAULT_THEME as DEFAULT_THEME


def theme_names() -> tuple[str, ...]:
    """The themes that come with the install."""
    folder = ASSETS / "themes"
    names = (entry.name for entry in folder.iterdir())
    return tuple(sorted(name.removesuffix(".yaml") for name in names if name.endswith(".yaml")))


_LOADER: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
"""libyaml's loader, or the slower one in Python where that is all there is."""


@cache
def theme_values(theme: str) -> Mapping[str, Any]:
    """A theme's values: colours as #RRGGBB, lengths in pixels of a 1920 x 1080 picture, seconds; what it does not
    give stands in the theme that it begins `from`. Raises KeyError, naming the themes that there are."""
    if theme not in theme_names():
        raise KeyError(f"no theme {theme}; there are {', '.join(theme_names())}")
    text = (ASSETS / "themes" / f"{theme}.yaml").read_text(encoding="utf-8")
    values: dict[str, Any] = yaml.load(text, _LOADER)
    origin = values.pop("from", None)
    return {**(theme_values(origin) if origin else {}), **values}


def relative_luminance(colour: str) -> float:
    """WCAG 2.2's relative luminance of #RRGGBB, 0 to 1."""
    red, green, blue = _linear(colour)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _linear(colour: str) -> tuple[float, float, float]:
    """sRGB's channels in linear light (IEC 61966-2-1)."""
    channels = (int(colour[index : index + 2], 16) / 255 for index in (1, 3, 5))
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    return red, green, blue


def contrast(first: str, second: str) -> float:
    """WCAG 2.2's contrast ratio of two colours, 1 to 21.

    >>> round(contrast("#767676", "#ffffff"), 2)
    4.54
    """
    light, dark = sorted((relative_luminance(first), relative_luminance(second)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


RED_SHARE = 0.8
"""W3C's red flash definition: from this share of red on, in linear light, a colour is a saturated red."""


def red_share(colour: str) -> float:
    """R / (R + G + B) of #RRGGBB in linear light, 0 to 1.

    >>> round(red_share("#D55E00"), 3)
    0.856
    """
    red, green, blue = _linear(colour)
    return red / max(1e-9, red + green + blue)


TEXT_CONTRAST, SHAPE_CONTRAST = 4.5, 3.0
"""WCAG 2.2, success criteria 1.4.3 and 1.4.11."""
LIT_CONTRAST = 2.0
"""Our own: what sounds is told from what does not yet, also on a projector."""
TEXT_ON: tuple[tuple[str, str], ...] = (
    ("ink", "ground"),
    ("ink", "sky_one"),
    ("ink", "sky_two"),
    ("mute", "ground"),
    ("meter_text", "ground"),
    ("figure_text", "ground"),
    ("figure_text", "sky_one"),
    ("harmony", "sky_one"),
    ("harmony", "sky_two"),
    ("on_sail", "sail_one"),
    ("on_sail", "sail_two"),
    ("on_soft", "sail_soft"),
)
SHAPE_ON: tuple[tuple[str, str], ...] = (
    ("sail_one", "sky_one"),
    ("sail_one", "sky_two"),
    ("sail_two", "sky_one"),
    ("sail_two", "sky_two"),
    ("soft_edge", "sky_one"),
    ("soft_edge", "sky_two"),
    ("seam", "sky_one"),
    ("seam", "sky_two"),
    ("meter_line", "ground"),
    ("line", "ground"),
)
LIT_ON: tuple[tuple[str, str], ...] = (("sail_one", "sail_soft"), ("sail_two", "sail_soft"))


def faint_pairs(values: Mapping[str, Any]) -> list[tuple[str, str, float, float]]:
    """The pairs of colours that are too near to each other: what stands on what, their contrast, what it needs."""
    needs = ((TEXT_ON, TEXT_CONTRAST), (SHAPE_ON, SHAPE_CONTRAST), (LIT_ON, LIT_CONTRAST))
    pairs = [(*pair, least) for pairs, least in needs for pair in pairs]
    found = ((above, below, contrast(values[above], values[below]), least) for above, below, least in pairs)
    return [row for row in found if row[2] < row[3]]
