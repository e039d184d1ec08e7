"""Where a figure stands over its bar, and where its sum, what is left of the bar and its staff stand.

On a wide canvas the sum stands under the row, on a tall one over it. A staff takes the braces' room: it stands beside
the sum if it has room there at a good size, else under it over the full width, and the row gives up height.
"""

from dataclasses import dataclass, replace
from fractions import Fraction
from math import lcm

from renderer.schedule.figure import Against, FigureSchedule
from scenes.draw.look import CAPITAL, Look, RowStyle
from scenes.draw.sum_lines import sum_width
from scenes.figure.staff import Staff, StaffBox, lay_staff
from scenes.figure.sum import (
    LEAST_SUM,
    REST_LEAST,
    Brace,
    PlacedSum,
    PlacedTerm,
    figure_sums,
    flat_words,
    lay_sums,
    place_line,
    rest_words,
)
from scenes.row.line import Row

LEAST_FIGURE = 90.0
"""Pixels: where a figure would be narrower, less than its bar is shown."""
ROOM_BELOW = 304.0
"""Under the feet of the posts of a wide or a square picture."""
BRACE_DROP, SUM_DROP = 66.0, 104.0
"""From the posts' feet to the braces, and from there to the sum."""
LARGEST, LARGEST_TALL = 104.0, 140.0
"""The largest type size of the sum."""
TIGHT = 0.3
"""Signs stand closer in a tall picture."""
STAFF_GAP, COLUMN_GAP = 18.0, 96.0
"""Pixels around a staff, and between the sum and a staff at its right."""
GOOD_SPACE, BESIDE_SPACE = 16.0, 20.0
"""Staff spaces, in pixels, for whose sake the row gives up height, and at which a staff stands beside the sum."""
SQUEEZES = (0.0, 60.0, 110.0, 160.0)
"""How much height the row gives up, in pixels."""
MOST_SYSTEMS = 3


@dataclass(frozen=True)
class FigureLayout:
    """Where all of it stands. `unit` ticks of the row are one pulse."""

    row: Row
    unit: int
    sum: tuple[PlacedTerm, ...]
    rest: PlacedSum | None
    braces: tuple[Brace, ...]
    """The figure's, and what is left of the bar or lies over it."""
    above: bool
    """Whether braces and sum stand over the row."""
    staff: Staff | None


def lay_figure(look: Look, schedule: FigureSchedule) -> FigureLayout:
    """Lay out a figure, its sum and its staff on a look's canvas."""
    canvas, against = look.canvas, schedule.against
    beats = [length / schedule.figure.pulse for length in schedule.bar.meter.beats]
    unit = lcm(against.bar.denominator, *(beat.denominator for beat in beats))
    if canvas.tall:
        row = _make_row(look, schedule, unit, _tall_style(look, schedule.staff_start is not None), 0.0)
        return _lay_tall(look, schedule, row, unit)
    top = canvas.stage_top + 10
    style = look.row_alone.squeezed(
        (canvas.height - canvas.top - ROOM_BELOW - top) / look.row_alone.height(look)
    )
    row = _make_row(look, schedule, unit, style, top)
    if schedule.staff_start is not None:
        return _beside(look, schedule, row, unit) or _beneath(look, schedule, row, unit)
    return _lay_below(look, schedule, row, unit)


def _tall_style(look: Look, with_staff: bool) -> RowStyle:
    """The measures of a tall picture's row, whose sky begins at the picture's top."""
    height = look.canvas.height
    line, sails = (0.60, 0.395) if with_staff else (0.7177, 0.3776)
    hull = 128.0
    body = 2 * look.gap + look.width_line / 2 + hull
    sail = height * (line - sails) - body
    return RowStyle(height * sails, sail, hull, 124, 94, 56, 68, 42, 20)


def _make_row(look: Look, schedule: FigureSchedule, unit: int, style: RowStyle, top: float) -> Row:
    canvas, figure = look.canvas, schedule.figure
    shown = _shown(look, schedule)
    room = min(canvas.music_width, float(shown) * (canvas.right - canvas.music_left) / figure.pulses)
    scale = room / float(shown * unit)
    step = scale * unit
    closest = min(figure.groups) * step
    disc = min(style.disc, max(5.0, closest / 2 - 4))
    longest = max(figure.groups) * unit
    return Row(
        0,
        int(canvas.music_width / scale + 0.01),
        scale,
        top,
        replace(style, disc=disc),
        look,
        longest,
        longest_bow=max(8.0, step / 2),
    )


def _shown(look: Look, schedule: FigureSchedule) -> Fraction:
    """How many pulses the row shows: whole bars, less where the figure would be too narrow in them."""
    against = schedule.against
    most = Fraction(int(against.pulses * look.canvas.music_width // LEAST_FIGURE))
    return min(against.shown, most)


def _lay_below(look: Look, schedule: FigureSchedule, row: Row, unit: int) -> FigureLayout:
    """Braces under the row, the sums under them."""
    braces = _braces(look, schedule.against, row, unit, row.feet + BRACE_DROP)
    baseline = row.feet + BRACE_DROP + SUM_DROP
    placed, rest = lay_sums(look, schedule, braces, baseline, LARGEST, 1.0)
    return FigureLayout(row, unit, placed, rest, braces, False, None)


def _lay_tall(look: Look, schedule: FigureSchedule, row: Row, unit: int) -> FigureLayout:
    """Sums over the row, braces under them; a staff under the line."""
    canvas = look.canvas
    first = canvas.stage_top + 124
    braces = _braces(look, schedule.against, row, unit, first + 46)
    placed, rest = lay_sums(look, schedule, braces, first, LARGEST_TALL, TIGHT)
    staff = None
    if schedule.staff_start is not None:
        room = StaffBox(canvas.left, row.feet + STAFF_GAP, canvas.right, _lowest(look))
        staff = lay_staff(schedule.figure, room, MOST_SYSTEMS)
    return FigureLayout(row, unit, placed, rest, braces, True, staff)


def _braces(look: Look, against: Against, row: Row, unit: int, y: float) -> tuple[Brace, ...]:
    """The figure's brace with that of what is left of the bar; or, where it is longer, those of its whole bars and of
    what lies over them."""
    figure = Brace(row.x(0) + 6, row.x(against.pulses * unit) - 6, y, look.figure_text)
    if against.shown * unit > row.end:
        return (figure,)
    if against.early:
        start = row.x(against.fitting * against.pulses * unit)
        return figure, Brace(start + 4, row.x(float(against.shown * unit)) - 4, y, look.meter_text)
    if against.late:
        line = row.x(float((against.bars - 1) * against.bar * unit))
        return Brace(figure.left, line - 4, y, look.meter_text), Brace(
            line + 4, figure.right, y, figure.colour
        )
    return (figure,)


# With a staff


def _beside(look: Look, schedule: FigureSchedule, row: Row, unit: int) -> FigureLayout | None:
    """The staff at the right of the sum, what is left of the bar under the sum."""
    canvas, figure = look.canvas, schedule.figure
    rest, terms = rest_words(look, schedule), figure_sums(look, figure)[0]
    flat = flat_words(terms)
    size = LARGEST
    while size >= LEAST_SUM:
        rest_size = max(REST_LEAST, size * 0.6)
        column = max(sum_width(flat, size), sum_width(rest, rest_size))
        box = StaffBox(
            canvas.left + column + COLUMN_GAP, row.feet + STAFF_GAP, canvas.right, _lowest(look) - STAFF_GAP
        )
        staff = lay_staff(figure, box, 1, BESIDE_SPACE) if box.left < box.right else None
        if staff is not None:
            first = (box.top + box.bottom) / 2 - (0 if rest else -size * CAPITAL / 2)
            placed = place_line(terms, canvas.left, first, size, 1.0)
            under = PlacedSum(rest, canvas.left, first + rest_size * CAPITAL + 40, rest_size, 1.0)
            return FigureLayout(row, unit, placed, under if rest else None, (), False, staff)
        size -= 8
    return None


def _beneath(look: Look, schedule: FigureSchedule, row: Row, unit: int) -> FigureLayout:
    """The staff under the sum, which stands small under the row."""
    canvas, figure = look.canvas, schedule.figure
    found = None
    for squeeze in SQUEEZES:
        smaller = replace(row, style=_squeezed(row.style, squeeze))
        first = smaller.feet + STAFF_GAP + LEAST_SUM * CAPITAL + 8
        placed, rest = lay_sums(look, schedule, (Brace(0, 0, 0, ""),), first, LEAST_SUM, 1.0, rise=0)
        last = max([term.baseline for term in placed] + ([rest.baseline] if rest else []))
        room = StaffBox(canvas.left, last + STAFF_GAP + 4, canvas.right, _lowest(look))
        staff = lay_staff(figure, room, MOST_SYSTEMS)
        if staff and (found is None or staff.space > found.staff.space):  # type: ignore[union-attr]
            found = FigureLayout(smaller, unit, placed, rest, (), False, staff)
        if staff and staff.space >= GOOD_SPACE:
            break
    if found is None:
        raise ValueError(f"{figure.name} has more notes than a staff has room for")
    return found


def _lowest(look: Look) -> float:
    """What stands here keeps above the legend."""
    canvas = look.canvas
    return (canvas.marks[-1] if canvas.legend is None else canvas.legend) - 40


def _squeezed(style: RowStyle, pixels: float) -> RowStyle:
    """A row that is so much lower: its sails, and a little of the sky over them."""
    sky = min(30.0, pixels / 5)
    return replace(style, headroom=style.headroom - sky, sail=style.sail - pixels + sky)
