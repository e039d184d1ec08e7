"""The look, as numbers: colours, type sizes, spacing, widths, easing. One place for all segments.

Lengths are pixels of a 1920 x 1080 picture, x to the right and y down; other sizes scale the whole. Type
sizes are em sizes; capitals stand 0.66 of that, so 34 is the least that may be read (22 px, see `LEAST`).
"""

from dataclasses import dataclass, replace

WIDTH, HEIGHT = 1920, 1080

# Frame: the title-safe area of EBU R 95 (5 % off each side), and the three bands in it.
LEFT, RIGHT, TOP, BOTTOM = 96, 1824, 54, 1026
STAGE_TOP, STAGE_BOTTOM = 176, 906
FOOT_BASELINE = 1018
MUSIC_LEFT, MUSIC_RIGHT = 120, 1800
UNIT = 12

# Type.
LEAST, SENTENCE, TITLE, COUNTER, SUM, CLOSE = 34, 42, 56, 76, 104, 120
REGULAR, SEMIBOLD, BOLD = 400, 600, 700

# Lines.
LINE, POST, BEAT, PULSE, SEAM, PLAYHEAD = 4, 6, 4, 2, 4, 6
GAP = 3
EDGE = 3
"""Width of the ground-coloured edge round a mark that stands on a sail."""


@dataclass(frozen=True, slots=True)
class Look:
    """The colours of one theme, named by role, as #RRGGBB."""

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

    def sail(self, number: int) -> str:
        """The sails' colour of a repetition by number: neighbours differ."""
        return self.sail_one if number % 2 else self.sail_two


DARK = Look(
    ground="#0F151A",
    sky_one="#18242D",
    sky_two="#271F3B",
    seam="#DDB9DF",
    harmony="#EDCDEA",
    sail_one="#FFC56B",
    sail_two="#E5923E",
    sail_soft="#8C6A42",
    on_sail="#1C1206",
    meter_line="#5F9BD0",
    meter_text="#93C5F0",
    line="#8C9AA5",
    ink="#FAF5E9",
    mute="#B4BFC7",
)


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

    @property
    def line(self) -> float:
        """From the row's top to the middle of the line."""
        return self.headroom + self.sail + GAP + self.hull + GAP + LINE / 2

    @property
    def height(self) -> float:
        """From the row's top to the feet of its posts."""
        return self.line + self.post

    def squeezed(self, share: float) -> "RowStyle":
        """All upright measures times `share`; type sizes stay."""
        upright = {name: getattr(self, name) * share for name in ("headroom", "sail", "hull", "post", "beat")}
        return replace(self, **upright)


ALONE = RowStyle(headroom=72, sail=300, hull=82, post=86, beat=56, number=42, bar=42, name=42, disc=14)
ONE_ROW = RowStyle(headroom=110, sail=200, hull=60, post=110, beat=28, number=42, bar=42, name=56, disc=10)
TWO_ROWS = RowStyle(headroom=66, sail=112, hull=48, post=85, beat=24, number=34, bar=34, name=42, disc=9)
THREE_ROWS = RowStyle(headroom=46, sail=70, hull=42, post=76, beat=14, number=34, bar=34, name=34, disc=0)
THREE_ROWS_TWO_LINES = RowStyle(
    headroom=79, sail=57, hull=40, post=66, beat=14, number=34, bar=34, name=34, disc=0
)
"""Where a section's name and its first harmony's do not fit side by side, the harmonies have a line of their
own."""
PLAY_NOW = RowStyle(headroom=118, sail=200, hull=60, post=110, beat=28, number=42, bar=56, name=104, disc=10)
PLAY_NEXT = RowStyle(headroom=56, sail=56, hull=42, post=46, beat=16, number=34, bar=34, name=42, disc=0)


def blend(first: RowStyle, second: RowStyle, share: float) -> RowStyle:
    """The measures `share` (0 to 1) of the way from one style to another."""
    return RowStyle(
        *(
            getattr(first, name) + (getattr(second, name) - getattr(first, name)) * share
            for name in RowStyle.__slots__
        )
    )


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


THEMES = {"dark": DARK}
