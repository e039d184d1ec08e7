"""The themes in figures: contrasts, how far colours lie apart for colour-blind sight, the largest share of red.

`python -m tests.theme_figures` prints the table that stands in DEVELOPERS.md.
"""

from collections.abc import Iterable
from typing import Any, NamedTuple

import numpy as np
from colorspacious import cspace_convert, deltaE

from renderer.spec.themes import (
    LIT_CONTRAST,
    LIT_ON,
    RED_SHARE,
    SHAPE_CONTRAST,
    SHAPE_ON,
    TEXT_CONTRAST,
    TEXT_ON,
    contrast,
    red_share,
    theme_names,
    theme_values,
)

SIGHTS = (None, "protanomaly", "deuteranomaly", "tritanomaly")
"""Full colour vision, and three kinds of colour blindness, simulated in full (Machado and others, 2009)."""
FIGURE = ("sail_one", "sail_two", "figure_text")
METER = ("meter_line", "meter_text")
APART, LIT_APART = 35.0, 20.0
"""Units of CAM02-UCS that figure and meter, and lit and unlit, lie apart at least; our own."""


class ThemeFigure(NamedTuple):
    """One row of the table: what is measured, what it needs to be, and what it is in each theme."""

    text: str
    need: str
    found: tuple[float, ...]
    holds: bool


def theme_figures() -> list[ThemeFigure]:
    """All rows, the themes by name."""
    themes = [theme_values(name) for name in theme_names()]
    marks = (("ground", "sail_one"), ("ground", "sail_two"))
    rows = [
        _least("text on what is behind it, contrast", themes, TEXT_ON, TEXT_CONTRAST),
        _least("shapes on what is behind them, contrast", themes, SHAPE_ON, SHAPE_CONTRAST),
        _least("what sounds against what does not yet, contrast", themes, LIT_ON, LIT_CONTRAST),
        _least("a disc's edge on a lit sail, contrast", themes, marks, SHAPE_CONTRAST),
    ]
    both = [(one, other) for one in FIGURE for other in METER]
    for text, pairs, need in (
        ("figure and meter apart, for any sight", both, APART),
        ("lit and unlit apart, for any sight", LIT_ON, LIT_APART),
    ):
        found = tuple(min(apart(values, pair) for pair in pairs) for values in themes)
        rows.append(ThemeFigure(text, f"{need:g}", found, min(found) >= need))
    reds = tuple(max(red_share(c) for c in values.values() if isinstance(c, str)) for values in themes)
    rows.append(ThemeFigure("the largest share of red", f"under {RED_SHARE:g}", reds, max(reds) < RED_SHARE))
    return rows


def _least(text: str, themes: Iterable[Any], pairs: Iterable[tuple[str, str]], need: float) -> ThemeFigure:
    both = tuple(pairs)
    found = tuple(min(contrast(values[a], values[b]) for a, b in both) for values in themes)
    return ThemeFigure(text, f"{need:g}", found, min(found) >= need)


def apart(values: Any, pair: tuple[str, str]) -> float:
    """How far two colours of a theme lie apart in CAM02-UCS, for the sight that tells them least."""
    colours = [np.array([int(values[name][at : at + 2], 16) / 255 for at in (1, 3, 5)]) for name in pair]
    return min(float(deltaE(*(_seen(c, sight) for c in colours), input_space="sRGB1")) for sight in SIGHTS)


def _seen(colour: np.ndarray, sight: str | None) -> np.ndarray:
    if sight is None:
        return colour
    space = {"name": "sRGB1+CVD", "cvd_type": sight, "severity": 100}
    return np.asarray(np.clip(cspace_convert(colour, space, "sRGB1"), 0, 1))


def table() -> str:
    """The figures as DEVELOPERS.md has them."""
    names = theme_names()
    lines = [
        f"| at least | needs | {' | '.join(names)} |",
        f"| --- | --- | {' | '.join('---' for _ in names)} |",
    ]
    for text, need, found, _ in theme_figures():
        lines.append(f"| {text} | {need} | {' | '.join(f'{value:.3g}' for value in found)} |")
    return "\n".join(lines)


if __name__ == "__main__":
    print(table())
