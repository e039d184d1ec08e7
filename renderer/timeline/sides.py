"""Which parts keep the figure and which the meter, and where they change sides.

A part keeps a clock: `figure` (any voice), `meter` or `tacet`.
"""

from collections.abc import Iterable
from itertools import pairwise
from typing import Literal, NamedTuple

from renderer.timeline.model import Timeline

Clock = Literal["figure", "meter", "tacet"]


class SideChange(NamedTuple):
    """A part that leaves one clock for another."""

    part: str
    before: Clock
    after: Clock
    at: int

    @property
    def crosses(self) -> bool:
        """Whether it changes sides; one that falls silent or comes in does not."""
        return "tacet" not in (self.before, self.after)


class Nobody(NamedTuple):
    """A stretch, in ticks, in which parts play and none of them keeps a clock."""

    clock: Clock
    start: int
    end: int


def part_names(timeline: Timeline) -> tuple[str, ...]:
    """The piece's parts, in the order of its spec."""
    return tuple(dict.fromkeys(side.part for side in timeline.sides))


def players(timeline: Timeline) -> dict[str, str]:
    """Each voice with the parts that keep it anywhere in the piece: `marimba, bass`; a voice that none keeps, and one
    of several with the same players, has its own name."""
    found: dict[str, str] = {}
    for voice in timeline.voices:
        parts = dict.fromkeys(side.part for side in timeline.sides if side.side == voice)
        name = ", ".join(parts)
        found[voice] = name if name and name not in found.values() else voice
    return found


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


def clock_at(timeline: Timeline, part: str, at: int) -> Clock:
    """What a part keeps at a tick."""
    return next((clock for start, end, clock in clocks(timeline, part) if start <= at < end), "tacet")


def find_changes(timeline: Timeline, parts: Iterable[str]) -> tuple[SideChange, ...]:
    """All changes of some parts, in order of time."""
    found = []
    for part in parts:
        for (_, end, before), (at, _, after) in pairwise(clocks(timeline, part)):
            if at == end:
                found.append(SideChange(part, before, after, at))
    return tuple(sorted(found, key=lambda change: change.at))


def find_nobody(
    timeline: Timeline, parts: Iterable[str], stretches: Iterable[tuple[int, int]]
) -> tuple[Nobody, ...]:
    """Where some of the parts play and none of them keeps the meter, or none the figure; those of the meter first."""
    names = list(parts)
    found: list[Nobody] = []
    changes = {at for name in names for span in clocks(timeline, name) for at in span[:2]}
    wanted: tuple[Clock, ...] = ("meter", "figure")
    for clock in wanted:
        for first, last in stretches:
            edges = sorted({first, last, *(at for at in changes if first < at < last)})
            for start, end in pairwise(edges):
                kept = {clock_at(timeline, name, start) for name in names} - {"tacet"}
                if not kept or clock in kept:
                    continue
                if found and found[-1].clock == clock and found[-1].end == start:
                    found[-1] = found[-1]._replace(end=end)
                else:
                    found.append(Nobody(clock, start, end))
    return tuple(found)
