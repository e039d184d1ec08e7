"""The look as named values: colours, type sizes, widths, motion, the measures of a row. One place for all
segments.

The values stand in theme files under assets/themes and are read into a `Look`. Lengths are pixels of a 1920 x
1080 picture, x to the right and y down; other sizes scale the whole.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

from renderer.spec.model import ThemeSpec
from renderer.spec.themes import DEFAULT_THEME, theme_values
from renderer.spec.words import USUAL_WORDS, Vocabulary


@dataclass(frozen=True, slots=True)
class Canvas:
    """The room that a picture has, in pixels; the shorter side is 1080. Text stays between `left` and `right`, `top`
    and `bottom`, the sky and what stands before it between `sky_left` and `sky_right`."""

    width: float
    height: float
    left: float
    right: float
    top: float
    bottom: float
    sky_left: float
    sky_right: float
    music_left: float
    music_right: float
    """The first tick and the last one of a row over the full width."""
    stage_top: float
    stage_bottom: float
    """Where the music stands, between the head and the foot."""
    small: float
    """The baseline of the small line over the sentence, and of the counter."""
    sentence: float
    """The baseline of a sentence of one line."""
    lines: tuple[float, ...]
    """The baselines of one of several lines, which takes the place of the small line too."""
    size_sentence: float
    """Its type size, where it is not too long."""
    sides: float
    """The baseline of who keeps what."""
    legend: float | None
    """The baseline of the legend; None where there is no room for one."""
    foot: float
    """The baseline of the lowest line of text."""
    marks: tuple[float, ...] = ()
    """The baselines of the lines in which marks are told where there is no other legend, before the posts."""

    @property
    def tall(self) -> bool:
        """Whether it is so much taller than wide that rows are few bars long and posts run down to its foot."""
        return self.width < TALL * self.height

    @property
    def low(self) -> float:
        """By how much it is lower than other wide ones, as a share: 1, or less for a slide."""
        return min(1.0, self.height / SHORT_SIDE)

    @property
    def music_width(self) -> float:
        return self.music_right - self.music_left


TALL = Fraction(5, 8)
"""A frame that is narrower, by its height, is for a telephone held upright."""
SHORT_SIDE = 1080.0
SAFE = 0.05
"""The title-safe area of EBU R 95 begins this share of the size from each side."""


def canvas_for(width: int, height: int) -> Canvas:
    """The canvas for a frame of so many pixels: wide, nearly square, or tall."""
    ratio = Fraction(width, height)
    if ratio >= Fraction(6, 5):
        return _wide_canvas(float(SHORT_SIDE * ratio))
    if ratio >= TALL:
        return _square_canvas(SHORT_SIDE * max(1.0, width / height), SHORT_SIDE * max(1.0, height / width))
    return _tall_canvas(float(SHORT_SIDE / ratio))


def _wide_canvas(width: float) -> Canvas:
    side = SAFE * width
    return Canvas(
        width=width,
        height=SHORT_SIDE,
        left=side,
        right=width - side,
        top=54,
        bottom=1026,
        sky_left=side,
        sky_right=width - side,
        music_left=side + 24,
        music_right=width - side - 24,
        stage_top=164,
        stage_bottom=906,
        small=86,
        sentence=150,
        lines=(95, 155),
        size_sentence=56,
        sides=966,
        legend=1018,
        foot=1012,
    )


def _square_canvas(width: float, height: float) -> Canvas:
    return Canvas(
        width=width,
        height=height,
        left=54,
        right=width - 54,
        top=54,
        bottom=height - 54,
        sky_left=24,
        sky_right=width - 24,
        music_left=60,
        music_right=width - 60,
        stage_top=160,
        stage_bottom=height - 244,
        small=88,
        sentence=140,
        lines=(90, 143),
        size_sentence=48,
        sides=height - 184,
        legend=None,
        foot=height - 64,
        marks=(height - 66,),
    )


def _tall_canvas(height: float) -> Canvas:
    """Players put their own signs over the top, the bottom and the right edge: text keeps clear of these."""
    return Canvas(
        width=SHORT_SIDE,
        height=height,
        left=60,
        right=940,
        top=220,
        bottom=height - 380,
        sky_left=0,
        sky_right=SHORT_SIDE,
        music_left=60,
        music_right=1020,
        stage_top=480,
        stage_bottom=height - 460,
        small=264,
        sentence=340,
        lines=(268, 344, 420),
        size_sentence=62,
        sides=340,
        legend=None,
        foot=height - 392,
        marks=(height - 432, height - 390),
    )


def _slide_canvas() -> Canvas:
    """Smaller, so that all that stands on it is larger: the least type is 24 points on a slide 7.5 inches high."""
    width, height = 1360.0, 765.0
    side = SAFE * width
    return Canvas(
        width=width,
        height=height,
        left=side,
        right=width - side,
        top=36,
        bottom=height - 32,
        sky_left=side,
        sky_right=width - side,
        music_left=side + 24,
        music_right=width - side - 24,
        stage_top=138,
        stage_bottom=636,
        small=72,
        sentence=124,
        lines=(73, 126),
        size_sentence=48,
        sides=676,
        legend=724,
        foot=722,
    )


WIDE = canvas_for(1920, 1080)
SLIDE = _slide_canvas()
"""For a slide that is read from the last row of a lecture hall; its frame is 16:9."""

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
    soft_edge: str
    """The outline of what does not sound yet; the same as `sail_soft` where that is told from the sky without one."""
    on_sail: str
    on_soft: str
    figure_text: str
    meter_line: str
    meter_text: str
    line: str
    ink: str
    mute: str
    size_least: float
    size_sentence: float
    size_title: float
    size_counter: float
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
    row_compare: RowStyle
    canvas: Canvas = WIDE
    words: Vocabulary = USUAL_WORDS
    """What things are called in texts."""

    def __hash__(self) -> int:
        return hash((self.ground, self.ink))

    def on(self, canvas: Canvas) -> "Look":
        """The same look on another canvas."""
        return replace(self, canvas=canvas)

    def saying(self, words: Vocabulary) -> "Look":
        """The same look with what things are called in texts."""
        return self if words == self.words else replace(self, words=words)

    def sail(self, number: int) -> str:
        """The sails' colour of a repetition by number: neighbours differ."""
        return self.sail_one if number % 2 else self.sail_two


def read_look(theme: str = DEFAULT_THEME, changes: Mapping[str, Any] | None = None) -> Look:
    """The look of a theme that comes with the install, with `changes` to single values. Raises KeyError."""
    values = {**theme_values(theme), **(changes or {})}
    rows = {name: RowStyle(**value) for name, value in values.items() if name.startswith("row_")}
    return Look(**{**values, **rows})


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
