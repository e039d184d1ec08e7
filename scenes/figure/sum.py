"""What stands under a figure: its groups added up and, if asked for, its notes on a staff.

The staff stands at the right of the sum where it has room there at a good size. Otherwise the sum is made smaller,
the staff stands under it over the full width, on up to three systems, and the row above gives up height.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from renderer.timeline.model import Figure
from scenes.draw.look import BOLD, CAPITAL, Look, RowStyle
from scenes.draw.shapes import FilledShape, Words, draw_words, words_width
from scenes.figure.staff import Staff, StaffBox, lay_staff

SUM_BASELINE = 860.0
NOTE_GAP, NOTE_DROP = 50.0, 62.0
"""From the sum to the words after it, or down to them under it."""
LOWEST = 938.0
"""What stands here keeps above the foot."""
MARGIN = 18.0
COLUMN_GAP = 96.0
"""Between the sum and a staff at its right."""
GOOD_SPACE, BESIDE_SPACE = 16.0, 20.0
"""Staff spaces, in pixels, for whose sake the row gives up height, and at which a staff stands beside the sum."""
SQUEEZES = (0.0, 60.0, 110.0, 160.0)
"""How much height the row gives up, in pixels."""
MOST_SYSTEMS = 3

Term = list[Words]


@dataclass(frozen=True)
class SumLayout:
    """The sum's terms on their lines, and the words after it: what, from where, and whether they stand at all."""

    lines: tuple[tuple[Term, ...], ...]
    size: float
    baseline: float
    """Of the first line."""
    note: Words
    note_size: float
    note_place: tuple[float, float] | None


@dataclass(frozen=True)
class Lower:
    """What stands under the row, and the row's own measures."""

    sum: SumLayout
    staff: Staff | None
    row: RowStyle


def lay_lower(look: Look, figure: Figure, note: str, with_staff: bool, row_top: float) -> Lower:
    """Lay out what stands under a figure's row that begins at `row_top`."""
    terms = _terms(look, figure)
    words = Words(note, look.meter_text)
    if not with_staff:
        return Lower(_lay_sum(look, terms, words), None, look.row_alone)
    feet = row_top + look.row_alone.height(look)
    return _beside(look, figure, terms, words, feet) or _beneath(look, figure, terms, words, feet)


def _beside(look: Look, figure: Figure, terms: list[Term], note: Words, feet: float) -> Lower | None:
    """The staff at the right of the sum, the words after the sum under it."""
    size = look.size_sum
    while size >= look.size_title:
        column = max(_width(terms, size), words_width([note], look.size_sentence))
        room = StaffBox(look.canvas.left + column + COLUMN_GAP, feet + MARGIN, look.canvas.right, LOWEST)
        if room.left < room.right and (staff := lay_staff(figure, room, 1, BESIDE_SPACE)):
            place = (float(look.canvas.left), SUM_BASELINE + NOTE_DROP)
            placed = SumLayout((tuple(terms),), size, SUM_BASELINE, note, look.size_sentence, place)
            return Lower(placed, staff, look.row_alone)
        size -= 8
    return None


def _beneath(look: Look, figure: Figure, terms: list[Term], note: Words, feet: float) -> Lower:
    """The staff under the sum, which stands small under the row."""
    size, lines = _sum_lines(look, terms, look.size_title)
    found = None
    for squeeze in SQUEEZES:
        first = feet - squeeze + MARGIN + size * CAPITAL + 8
        last = first + (len(lines) - 1) * size * 1.15
        room = StaffBox(look.canvas.left, last + MARGIN + 4, look.canvas.right, LOWEST)
        staff = lay_staff(figure, room, MOST_SYSTEMS)
        if staff and (found is None or staff.space > found[0].space):
            found = staff, squeeze, first
        if staff and staff.space >= GOOD_SPACE:
            break
    if found is None:
        raise ValueError(f"{figure.name} has more notes than a staff has room for")
    staff, squeeze, first = found
    x = look.canvas.left + _width(lines[-1], size) + NOTE_GAP
    fits = x + words_width([note], look.size_least) <= look.canvas.right
    last = first + (len(lines) - 1) * size * 1.15
    placed = SumLayout(lines, size, first, note, look.size_least, (x, last) if fits else None)
    return Lower(placed, staff, _squeezed(look.row_alone, squeeze))


def _squeezed(style: RowStyle, pixels: float) -> RowStyle:
    """A row that is so much lower: its sails, and a little of the sky over them."""
    sky = min(30.0, pixels / 5)
    return replace(style, headroom=style.headroom - sky, sail=style.sail - pixels + sky)


def _lay_sum(look: Look, terms: list[Term], note: Words) -> SumLayout:
    """The sum alone, as large as it fits; the words stand after it, or under it where it is one line."""
    size, lines = _sum_lines(look, terms, look.size_sum)
    first = SUM_BASELINE - (len(lines) - 1) * size * 0.6
    last = first + (len(lines) - 1) * size * 1.15
    x = look.canvas.left + _width(lines[-1], size) + NOTE_GAP
    place = None
    if x + words_width([note], look.size_sentence) <= look.canvas.right:
        place = (x, last)
    elif len(lines) == 1:
        place = (float(look.canvas.left), last + NOTE_DROP)
    return SumLayout(lines, size, first, note, look.size_sentence, place)


def _terms(look: Look, figure: Figure) -> list[Term]:
    """The groups with their signs, the total last."""
    terms: list[Term] = []
    for number, group in enumerate(figure.groups):
        sign = [Words(" + ", look.mute, BOLD)] if number else []
        terms.append([*sign, Words(str(group), look.sail_one, BOLD)])
    return [*terms, [Words(" = ", look.mute, BOLD), Words(str(figure.pulses), look.ink, BOLD)]]


def _sum_lines(look: Look, terms: list[Term], most: float) -> tuple[float, tuple[tuple[Term, ...], ...]]:
    """The largest size at which the sum fits its width, on one line down to 56, else on several."""
    size = min(float(most), (look.canvas.right - look.canvas.left) / _width(terms, 1))
    if size >= look.size_title:
        return size, (tuple(terms),)
    size = float(look.size_sentence)
    lines: list[list[Term]] = [[]]
    x = 0.0
    for term in terms:
        if x + words_width(term, size) > look.canvas.right - look.canvas.left:
            lines.append([])
            x = 0.0
        lines[-1].append(term)
        x += words_width(term, size)
    return size, tuple(map(tuple, lines))


def _width(terms: Iterable[Term], size: float) -> float:
    return sum(words_width(term, size) for term in terms)


def draw_sum(look: Look, place: SumLayout, shown: int, opacity: float) -> list[FilledShape]:
    """The first `shown` terms, the last of them fading in; with the total the words after it."""
    drawn: list[FilledShape] = []
    done, total = 0, sum(map(len, place.lines))
    for number, line in enumerate(place.lines):
        x, baseline = look.canvas.left, place.baseline + number * place.size * 1.15
        for term in line:
            if done < shown:
                drawn += draw_words(term, x, baseline, place.size, opacity if done == shown - 1 else 1.0)
            x += words_width(term, place.size)
            done += 1
    if shown == total and place.note_place:
        drawn += draw_words([place.note], *place.note_place, place.note_size, opacity)
    return drawn
