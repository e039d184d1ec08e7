"""The look as named values: colours, type sizes, widths, motion, the measures of a row. One place for all
segments.

The values stand in theme files under assets/themes and are read into a `Look`. Lengths are pixels of a 1920 x
1080 picture, x to the right and y down; other sizes scale the whole.
"""

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from typing import Any

from renderer.spec.model import ThemeSpec
from renderer.spec.themes import DEFAULT_THEME, theme_values


@dataclass(frozen=True, slots=True)
class Canvas:
    """The room that a picture has, in pixels; the shorter side is 1080. Text stays between `left` and `right`, `top`
    and `bottom`."""

    width: float
    height: float
    left: float
    right: float
    top: float
    bottom: float
    stage_top: float
    stage_bottom: float
    """Where the music stands, between the head and the foot."""
    foot: float
    """The baseline of the foot."""
    music_left: float
    music_right: float
    """The first tick and the last one of a row over the full width."""


WIDE = Canvas(1920, 1080, 96, 1824, 54, 1026, 176, 906, 1012, 120, 1800)
"""16:9, with the title-safe area of EBU R 95: 5 % off each side."""

REGULAR, SEMIBOLD, BOLD = 400, 600, 700
CAPITAL = 0.66
"""Height of a capital by type size."""


@dataclass(frozen=True, slots=True)
class RowStyle:
    """The upright measures of a row of music, from its top down, and its type sizes."""

    headroom: float
    """From the sky's top to the top of the tallest sail."""
    sail: float
    hull: float
    post: float
    """How far a bar's post hangs below the line."""
    beat: float
    number: float
    """Type size of the numbers in the hulls."""
    bar: float
    """Type size of the bars' numbers."""
    name: float
    """Type size of the harmonies' names."""
    disc: float
    """Radius of an accent's disc."""

    def line(self, look: "Look") -> float:
        """From the row's top to the middle of the line."""
        return self.headroom + self.sail + look.gap + self.hull + look.gap + look.width_line / 2

    def height(self, look: "Look") -> float:
        """From the row's top to the feet of its posts."""
        return self.line(look) + self.post

    def squeezed(self, share: float) -> "RowStyle":
        """All upright measures times `share`; type sizes stay."""
        upright = {name: getattr(self, name) * share for name in ("headroom", "sail", "hull", "post", "beat")}
        return replace(self, **upright)


@dataclass(frozen=True, slots=True)
class Look:
    """One theme's values by the names of its file. Colours are #RRGGBB."""

    ground: str
    sky_one: str
    sky_two: str
    seam: str
    harmony: str
    sail_one: str
    sail_two: str
    sail_soft: str
    on_sail: str
    meter_line: str
    meter_text: str
    line: str
    ink: str
    mute: str
    size_least: float
    size_sentence: float
    size_title: float
    size_counter: float
    size_sum: float
    size_close: float
    size_card: float
    width_line: float
    width_post: float
    width_beat: float
    width_pulse: float
    width_seam: float
    width_playhead: float
    gap: float
    edge: float
    swell: float
    fade: float
    move_least: float
    move_most: float
    row_alone: RowStyle
    row_card: RowStyle
    row_close: RowStyle
    row_whole: RowStyle
    row_end: RowStyle
    row_one: RowStyle
    row_two: RowStyle
    row_three: RowStyle
    row_three_lines: RowStyle
    row_now: RowStyle
    row_next: RowStyle
    row_form: RowStyle
    row_form_close: RowStyle
    row_compare: RowStyle
    canvas: Canvas = WIDE

    def sail(self, number: int) -> str:
        """The sails' colour of a repetition by number: neighbours differ."""
        return self.sail_one if number % 2 else self.sail_two


def read_look(theme: str = DEFAULT_THEME, changes: Mapping[str, Any] | None = None) -> Look:
    """The look of a theme that comes with the install, with `changes` to single values. Raises KeyError."""
    values = {**theme_values(theme), **(changes or {})}
    rows = {name: RowStyle(**value) for name, value in values.items() if name.startswith("row_")}
    return Look(**{**values, **rows})


def blend(first: RowStyle, second: RowStyle, share: float) -> RowStyle:
    """The measures `share` (0 to 1) of the way from one style to another."""
    pairs = [(getattr(first, field.name), getattr(second, field.name)) for field in fields(RowStyle)]
    return RowStyle(*(a + (b - a) * share for a, b in pairs))


def glide(share: float) -> float:
    """Cubic in and out, 0 to 1, for what moves.

    >>> glide(0.0), glide(0.5), glide(1.0)
    (0.0, 0.5, 1.0)
    """
    share = min(1.0, max(0.0, share))
    return 4 * share**3 if share < 0.5 else 1 - (2 - 2 * share) ** 3 / 2


def arrive(share: float) -> float:
    """Cubic out, 0 to 1, for what comes in."""
    share = min(1.0, max(0.0, share))
    return 1 - (1 - share) ** 3


def look_of(theme: ThemeSpec) -> Look:
    """The look that a spec asks for."""
    return read_look(theme.name, dict(theme.changes))
