"""A file's tempo changes as a musician writes them: steps, and moves in place of many small steps."""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import NamedTuple

from renderer.listening.score import TempoChange

SAME = Fraction(3, 2000)
"""A change by less than this share is none: files round tempi, and make up for it."""
STEPS = 4
"""Changes that make a move, at least."""
STEP_MOST = Fraction(12, 100)
"""A single change inside a move, as a share."""
STRAY = Fraction(3, 100)
"""How far a change may be from the straight line, as a share."""


class TempoEntry(NamedTuple):
    """A tempo from a place on; it `moves` there evenly up to the next entry."""

    at: int
    quarters: Fraction
    moves: bool = False


def tempo_entries(changes: Sequence[TempoChange], grid: int, end: int) -> list[TempoEntry]:
    """The entries of a tempo lane. `changes` are not empty; `grid` ticks to a whole note."""
    kept = [changes[0]]
    for change in changes[1:]:
        if abs(change.quarters / kept[-1].quarters - 1) > SAME:
            kept.append(change)
    found = [TempoEntry(*kept[0])]
    index = 1
    while index < len(kept):
        last = _move_end(kept, index, grid)
        if last - index + 1 < STEPS:
            found.append(TempoEntry(*kept[index]))
            index += 1
            continue
        found += _move(kept, index, last, end)
        index = last + 1
    return found


def _move_end(kept: Sequence[TempoChange], first: int, grid: int) -> int:
    """The last change of the row that begins with `first` and goes one way in small steps."""
    up = kept[first].quarters > kept[first - 1].quarters
    last = first
    while last + 1 < len(kept):
        here, after = kept[last], kept[last + 1]
        small = abs(after.quarters / here.quarters - 1) <= STEP_MOST and after.at - here.at <= grid
        if not small or (after.quarters > here.quarters) != up:
            break
        last += 1
    return last


def _move(kept: Sequence[TempoChange], first: int, last: int, end: int) -> Iterator[TempoEntry]:
    """One move, or the steps as they are if they are no straight line."""
    begin, before = kept[first].at, kept[first - 1].quarters
    row = kept[first : last + 1]
    slope = Fraction(row[-2].quarters - row[0].quarters, row[-2].at - row[0].at)
    landed = row[-2].quarters + slope * (row[-1].at - row[-2].at) / 2
    if abs(landed / row[-1].quarters - 1) <= SAME * 4:
        stop, reached = row[-1].at, row[-1].quarters
        steps = row[:-1]
    else:
        stop = kept[last + 1].at if last + 1 < len(kept) else min(end, 2 * row[-1].at - row[-2].at)
        reached = row[-1].quarters + slope * (stop - row[-1].at) / 2
        steps = row
    reached = _plain(reached)
    ends = [*(change.at for change in steps[1:]), stop]
    for change, after in zip(steps, ends, strict=True):
        middle = Fraction(change.at + after, 2) - begin
        expected = before + (reached - before) * middle / (stop - begin)
        if abs(expected / change.quarters - 1) > STRAY:
            yield from (TempoEntry(*each) for each in row)
            return
    yield TempoEntry(begin, reached, moves=True)
    yield TempoEntry(stop, reached)


def _plain(quarters: Fraction) -> Fraction:
    """The whole number or tenth that is as good as it."""
    for digits in (0, 1):
        short = Fraction(round(quarters * 10**digits), 10**digits)
        if short and abs(short / quarters - 1) <= SAME * 2:
            return short
    return Fraction(round(quarters * 100), 100)
