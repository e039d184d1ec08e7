"""All bars of a piece in rows for paper: each section begins a row, and rows are of about one length."""

from collections import Counter
from fractions import Fraction
from typing import NamedTuple

from renderer.core.names import bars_from
from renderer.timeline.model import Bar, Section, Timeline

WHOLES: tuple[tuple[int, int], ...] = ((8, 2), (40, 4), (160, 8))
"""A piece of up to so many whole notes has rows of so many."""
LONGEST = 12
"""Whole notes to a row of a piece that is longer."""
NEAR = (Fraction(1, 2), Fraction(5, 4))
"""How much shorter and longer than that a row may be, so that rows divide the sections."""
MOST_ROWS = 480
"""Rows that are drawn; a piece has more of them only if it is several times as long as three hundred bars."""


class BarRow(NamedTuple):
    """Bars in one row; `section` is the one that begins with it."""

    start: int
    end: int
    bars: tuple[Bar, ...]
    section: Section | None


def bars_a_row(timeline: Timeline) -> int:
    """How many bars a row has: about as many whole notes as fit the piece's length, a number that divides most
    sections."""
    length = timeline.whole(timeline.end)
    wholes = next((row for piece, row in WHOLES if length <= piece), LONGEST)
    bar = Counter(timeline.whole(bar.end - bar.at) for bar in timeline.bars).most_common(1)[0][0]
    wanted = wholes / bar
    near = [n for n in range(1, int(wanted * NEAR[1]) + 1) if n >= wanted * NEAR[0]] or [1]

    def merit(count: int) -> tuple[int, Fraction]:
        dividing = sum(section.bar_count for section in timeline.sections if section.bar_count % count == 0)
        return -dividing, abs(count - wanted)

    return min(near, key=merit)


def lay_bars(timeline: Timeline, count: int) -> tuple[BarRow, ...]:
    """All bars, at most `count` to a row, the pick-up with the first. At most `MOST_ROWS` rows."""
    rows: list[BarRow] = []
    for index, section in enumerate(timeline.sections):
        bars = [bar for bar in timeline.bars if bar.section_index == index]
        pickup = 1 if bars and bars[0].number == 0 else 0
        starts = [0, *range(count + pickup, len(bars), count)]
        for first, end in zip(starts, [*starts[1:], len(bars)], strict=True):
            inside = tuple(bars[first:end])
            if inside:
                rows.append(BarRow(inside[0].at, inside[-1].end, inside, None if first else section))
        if len(rows) >= MOST_ROWS:
            break
    return tuple(rows[:MOST_ROWS])


def bars_said(section: Section) -> str:
    """`bars 1 to 12`, or `bar 5`."""
    return bars_from(section.first_bar_number, section.last_bar_number)
