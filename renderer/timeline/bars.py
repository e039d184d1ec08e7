"""The bars of a piece: their meters, where each begins and ends, and the grid on which all of it is whole."""

from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from itertools import accumulate, pairwise
from math import lcm

from renderer.core.errors import Problem
from renderer.spec.meter import Meter
from renderer.spec.model import Entry
from renderer.timeline.lanes import LaneChange, Placed, Restart, lane_entries, lay_lane
from renderer.timeline.model import Bar, Beat
from renderer.timeline.passes import Pass, piece_scope

FINEST_GRID = 10**9
"""Ticks to a whole note. Only pulses that never meet in a piece of any length need more."""


def lay_meters(
    top: Iterable[Entry[Meter]], passes: Sequence[Pass], problems: list[Problem]
) -> tuple[Meter, ...]:
    """The meter of each bar, from bar 1. Empty if what is wrong leaves none for bar 1."""
    total = piece_scope(passes).bar_count
    placed = []
    for entry, scope, rank in lane_entries(top, "meter", lambda spec: spec.meter, passes):
        number = scope.bar_number(entry.position.bar)
        if number is None:
            problems.append(scope.outside(entry.position, entry.path))
        elif number < 1:
            text = "the meter can't change before bar 1: a pick-up is counted in bar 1's meter."
            problems.append(Problem(entry.path, text, "Write 1.", on_key=True))
        else:
            where = number, number
            placed.append(Placed(*where, entry.values, rank, total + 1, entry.path, entry.position, scope))
    restarts = [Restart(each.first_bar_number, each.first_bar_number, each.root_index) for each in passes]
    changes = lay_lane(placed, restarts, lambda number: number if number <= total else None, problems)
    return tuple(_held(changes, total)) if changes and changes[0].at == 1 else ()


def _held(changes: Sequence[LaneChange[Meter]], total: int) -> Iterator[Meter]:
    for index, change in enumerate(changes):
        end = changes[index + 1].at if index + 1 < len(changes) else total + 1
        yield from [change.value] * (end - change.at)


def lay_bars(
    passes: Iterable[Pass], meters: Sequence[Meter], beats: Sequence[tuple[int, ...]], pickup: int
) -> tuple[Bar, ...]:
    """The bars in ticks, from bar 1, or from bar 0 if there is a pick-up of `pickup` ticks.

    `meters` are those of the bars from 1 on, and `beats` where each one's felt beats begin, and its length.
    """
    bars = [Bar(0, 0, meters[0], -pickup, 0)] if pickup else []
    at = 0
    for index, each in enumerate(passes):
        for number in range(each.first_bar_number, each.first_bar_number + each.bar_count):
            end = at + beats[number - 1][-1]
            bars.append(Bar(number, index, meters[number - 1], at, end))
            at = end
    return tuple(bars)


def lay_beats(bars: Iterable[Bar], beats: Iterable[tuple[int, ...]]) -> tuple[Beat, ...]:
    """Beats that begin in the piece: the first of a pick-up is left out if it begins before the pick-up does."""
    make = tuple.__new__
    rows: list[Beat] = []
    numbered: dict[int, list[tuple[int, int, int]]] = {}
    for (bar, _, _, at, end), starts in zip(bars, beats, strict=True):
        full_at = end - starts[-1]
        shape = numbered.get(id(starts))
        if shape is None:
            shape = [(number, *span) for number, span in enumerate(pairwise(starts), start=1)]
            numbered[id(starts)] = shape
        rows += [
            make(Beat, (bar, number, full_at + start, full_at + stop))
            for number, start, stop in shape
            if full_at + start >= at
        ]
    return tuple(rows)


def different(meters: Iterable[Meter]) -> Iterable[Meter]:
    """The meters that are not the same object: few, where comparing thousands of bars takes time."""
    return {id(meter): meter for meter in meters}.values()


def meter_beats(meter: Meter, grid: int) -> tuple[int, ...]:
    """Where each felt beat of a bar begins, and the bar's length, in ticks."""
    return tuple(int(start * grid) for start in accumulate(meter.beats, initial=Fraction(0)))


def common_grid(lengths: Iterable[Fraction], problems: list[Problem]) -> int:
    """The fewest ticks to a whole note on which all `lengths` are whole."""
    grid = lcm(*{length.denominator for length in lengths})
    if grid > FINEST_GRID:
        text = "the piece's pulses and beats have no common count that is not absurdly fine."
        problems.append(Problem((), text, "Write pulses that fit each other, such as 1/8, 1/12 and 1/16."))
    return grid
