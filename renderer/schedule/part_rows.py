"""Which parts keep the figure and which the meter, as rows over and under a line.

A part keeps a clock: `figure` (any voice), `meter` or `tacet`. A stretch is a time in which it keeps one. Rows are
counted from the line, 0 nearest to it, on each side by itself.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from itertools import pairwise
from typing import Literal, NamedTuple

from renderer.timeline.model import Timeline

Clock = Literal["figure", "meter", "tacet"]
MOST_ALONE = 8
"""With more parts than this, those with the same changes share a row."""


class Stretch(NamedTuple):
    """A time (ticks) in which parts that change alike keep one clock, and its row on that side."""

    parts: tuple[str, ...]
    clock: Clock
    at: int
    end: int
    row: int
    goes_on: bool
    """Whether they keep that clock beyond `end` too: only the page ends there."""
    came_on: bool
    """Whether they kept it before `at`."""


class SideChange(NamedTuple):
    """Parts that leave one clock for another at one place."""

    parts: tuple[str, ...]
    before: Clock
    after: Clock
    at: int

    @property
    def crosses(self) -> bool:
        """Whether they go through the line; those that fall silent or come in do not."""
        return "tacet" not in (self.before, self.after)


def part_names(timeline: Timeline) -> tuple[str, ...]:
    """The piece's parts, in the order of its spec."""
    return tuple(dict.fromkeys(side.part for side in timeline.sides))


def clocks(timeline: Timeline, part: str) -> tuple[tuple[int, int, Clock], ...]:
    """What a part keeps, from tick to tick over the whole piece; neighbours differ."""
    kept: list[tuple[int, int, Clock]] = []
    for side in timeline.sides:
        if side.part != part:
            continue
        clock: Clock = "figure"
        if side.side == "meter" or side.side == "tacet":
            clock = "meter" if side.side == "meter" else "tacet"
        at = timeline.start if not kept and side.at <= 0 else side.at
        if kept and kept[-1][2] == clock and kept[-1][1] == side.at:
            kept[-1] = (kept[-1][0], side.end, clock)
        else:
            kept.append((at, side.end, clock))
    return tuple(kept)


def group_parts(timeline: Timeline, parts: Iterable[str]) -> tuple[tuple[str, ...], ...]:
    """The parts that share a row: each alone, or where there are many those whose sides are always the same."""
    names = list(parts)
    if len(names) <= MOST_ALONE:
        return tuple((name,) for name in names)
    alike: dict[object, list[str]] = defaultdict(list)
    for name in names:
        sides = [side for side in timeline.sides if side.part == name]
        alike[tuple((side.side, side.at, side.end) for side in sides)].append(name)
    return tuple(tuple(group) for group in alike.values())


def find_changes(timeline: Timeline, groups: Iterable[tuple[str, ...]]) -> tuple[SideChange, ...]:
    """All changes of the piece, in order of time."""
    found = []
    for group in groups:
        kept = clocks(timeline, group[0])
        for (_, end, before), (at, _, after) in pairwise(kept):
            if at == end:
                found.append(SideChange(group, before, after, at))
    return tuple(sorted(found, key=lambda change: change.at))


def lay_rows(
    timeline: Timeline, groups: Sequence[tuple[str, ...]], start: int, end: int, inside: bool
) -> tuple[Stretch, ...]:
    """The stretches from tick `start` up to `end` with their rows; with `inside` also what ends exactly at `start`.

    Who leaves soonest stands nearest the line. A row that was left is free again; who comes back takes the row of
    before if it is.
    """
    waiting: list[tuple[int, int, int, Stretch]] = []
    for order, group in enumerate(groups):
        for at, stop, clock in clocks(timeline, group[0]):
            ends_here = inside and stop == start
            if clock == "tacet" or at >= end or (stop <= start and not ends_here):
                continue
            first = max(at, start)
            stretch = Stretch(group, clock, first, min(stop, end), 0, stop > end, at < start)
            waiting.append((first, min(stop, end + 1), order, stretch))
    laid: list[Stretch] = []
    taken: dict[str, list[int]] = {"figure": [], "meter": []}
    old: dict[tuple[str, tuple[str, ...]], int] = {}
    for first, _, _, stretch in sorted(waiting, key=lambda entry: entry[:3]):
        rows = taken[stretch.clock]
        free = [row for row, until in enumerate(rows) if until <= first]
        before = old.get((stretch.clock, stretch.parts))
        row = before if before in free else (free[0] if free else len(rows))
        assert row is not None
        rows[row : row + 1] = [stretch.end]
        old[stretch.clock, stretch.parts] = row
        laid.append(stretch._replace(row=row))
    return tuple(laid)


def count_rows(stretches: Iterable[Stretch], clock: Clock) -> int:
    """How many rows stand on one side of the line."""
    return max((stretch.row + 1 for stretch in stretches if stretch.clock == clock), default=0)
