"""`parts` as a table that stands still: what each part keeps in each section, and how many keep the meter."""

from collections.abc import Sequence
from fractions import Fraction
from typing import NamedTuple

from renderer.schedule.parts_sentences import place_text
from renderer.schedule.wording import number_word
from renderer.timeline.model import Section, Timeline
from renderer.timeline.sides import Clock, clock_at, clocks

A_SECTION, A_CELL = Fraction(1), Fraction(2, 5)
"""Seconds that a column stands for its name, and for each part's cell, before the answer comes."""
MOST_SIGNS = 3
"""A part that changes sides more often in a section is told by its first and its last one."""


class Cell(NamedTuple):
    """What a part keeps in a section, in turn, and where it changes."""

    clocks: tuple[Clock, ...]
    places: tuple[str, ...]
    """Of each change, as a position is written."""


class Column(NamedTuple):
    """A section with a cell for each part, and how many parts keep the meter there, in words."""

    section: Section
    seconds: Fraction
    """When it is shown at the latest."""
    cells: tuple[Cell, ...]
    meter: str


def lay_columns(
    timeline: Timeline, parts: Sequence[str], stretches: Sequence[tuple[int, int]]
) -> tuple[Column, ...]:
    """A column for each section of which something is shown, in turn."""
    columns: list[Column] = []
    seconds = Fraction(0)
    for section in timeline.sections:
        first = timeline.start if section is timeline.sections[0] else section.at
        inside = [(max(first, a), min(section.end, b)) for a, b in stretches if a < section.end and first < b]
        if not inside:
            continue
        start, end = inside[0][0], inside[-1][1]
        cells = tuple(_cell(timeline, part, start, end) for part in parts)
        columns.append(Column(section, seconds, cells, _meter(timeline, parts, start, end)))
        seconds += A_SECTION + A_CELL * len(parts)
    return tuple(columns)


def table_seconds(columns: Sequence[Column]) -> Fraction:
    """How long the columns stand until all are read."""
    parts = len(columns[0].cells)
    return columns[-1].seconds + A_SECTION + A_CELL * parts


def _cell(timeline: Timeline, part: str, start: int, end: int) -> Cell:
    kept = [
        (max(at, start), clock) for at, stop, clock in clocks(timeline, part) if at < end and start < stop
    ]
    if not kept or kept[0][0] > start:
        kept.insert(0, (start, "tacet"))
    if len(kept) > MOST_SIGNS:
        kept = [kept[0], kept[-1]]
    return Cell(tuple(clock for _, clock in kept), tuple(place_text(timeline, at) for at, _ in kept[1:]))


def _meter(timeline: Timeline, parts: Sequence[str], start: int, end: int) -> str:
    """`three`, `three, then four`, `one, then nobody`."""
    edges = {at for part in parts for span in clocks(timeline, part) for at in span[:2] if start < at < end}
    counts: list[int] = []
    for at in sorted({start, *edges}):
        count = sum(clock_at(timeline, part, at) == "meter" for part in parts)
        if not counts or counts[-1] != count:
            counts.append(count)
    words = [number_word(count) if count else "nobody" for count in counts]
    return words[0] if len(words) == 1 else f"{words[0]}, then {words[-1]}"
