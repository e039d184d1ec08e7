"""A clock as a tempo map of the kind that MIDI files hold: whole microseconds a quarter from a tick on.

Such a tempo is rounded, so each stretch makes up for what those before it have lost: no place is further from its time
than 0.08 ms, however long the piece. A ramp becomes steps, so many that none strays further than that either. A
fermata becomes one slow stretch, from its place to whatever comes next.
"""

from bisect import bisect_right
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from math import isqrt, lcm
from typing import NamedTuple

from renderer.timeline.clock import ClockStretch
from renderer.timeline.model import Timeline

QUARTER = 960
"""Ticks to a quarter, unless the piece's own grid asks for more."""
MOST_TICKS = 0x7FFF
"""Ticks to a quarter that a MIDI file can state: 15 bits."""
SLOWEST = 0xFFFFFF
"""Microseconds a quarter that it can state: 24 bits, 3.58 quarters a minute."""
STRAYS = Fraction(3, 100_000)
"""Seconds that a ramp's step may stray between its ends, and that may be lost before they are made up for."""
LONGEST = 32
"""Quarters after which what was lost is looked at."""


@dataclass(frozen=True, slots=True)
class Ticks:
    """How a timeline's ticks are counted in a MIDI file: from `origin` on, `quarter` to a quarter note."""

    grid: int
    origin: int
    quarter: int

    def of(self, at: int | Fraction) -> int:
        """The file's nearest tick."""
        return round(Fraction(at - self.origin) * 4 * self.quarter / self.grid)

    @property
    def exact(self) -> bool:
        """Whether every place of the piece has a tick of its own."""
        return 4 * self.quarter % self.grid == 0

    def place(self, tick: int) -> Fraction:
        """The place in the piece, in its ticks."""
        return self.origin + Fraction(tick * self.grid, 4 * self.quarter)


def choose_ticks(timeline: Timeline) -> Ticks:
    """960 to a quarter, or the fewest more that give every place of the piece a tick; as many as there can be where
    even these are too few.

    A pick-up stands at the end of a full bar, so that bar lines fall where they should.
    """
    first = timeline.bars[0]
    origin = min(first.at, first.end - int(first.meter.length * timeline.grid))
    quarter = lcm(4 * QUARTER, timeline.grid) // 4
    if quarter * 4 % timeline.grid or quarter > MOST_TICKS:
        quarter = MOST_TICKS // QUARTER * QUARTER
    return Ticks(timeline.grid, origin, quarter)


class TempoStep(NamedTuple):
    """A tempo from a tick on."""

    tick: int
    microseconds: int
    """To a quarter."""


class TempoMap(NamedTuple):
    """The tempo steps of a file, and how far they are from the clock at worst, in seconds."""

    steps: tuple[TempoStep, ...]
    off: Fraction
    off_at: int
    """In the piece's ticks."""


def build_tempo_map(timeline: Timeline, ticks: Ticks, places: Collection[int]) -> TempoMap:
    """The clock as tempo steps; `places` are all of the piece's ticks at which something stands in the file."""
    points = _points(timeline, ticks, sorted({*places, timeline.end}))
    steps: list[TempoStep] = []
    reached = points[0][1]
    off, off_at = Fraction(0), points[0][0]
    for (start, _), (end, due) in pairwise(points):
        quarters = Fraction(end - start, ticks.quarter)
        last = steps[-1].microseconds if steps else 0
        kept = reached + quarters * last / 1_000_000
        if not steps or abs(kept - due) > STRAYS:
            last = min(SLOWEST, max(1, round((due - reached) * 1_000_000 / quarters)))
            steps.append(TempoStep(start, last))
            kept = reached + quarters * last / 1_000_000
        reached = kept
        if abs(reached - due) > off:
            off, off_at = abs(reached - due), end
    return TempoMap(tuple(steps), off, int(ticks.place(off_at)))


def _points(timeline: Timeline, ticks: Ticks, places: list[int]) -> list[tuple[int, Fraction]]:
    """Ticks of the file that rise, with the seconds that belong to them; between two the tempo is even."""
    points = {ticks.of(ticks.origin): timeline.seconds(ticks.origin)}
    for at, seconds in _turns(timeline, ticks, places):
        points.setdefault(ticks.of(at), seconds)
    starts = [stretch.at for stretch in timeline.clock.stretches]
    for start, end in pairwise(sorted(points)):
        stretch = timeline.clock.stretches[max(0, bisect_right(starts, ticks.place(start)) - 1)]
        for tick in _between(stretch, ticks, start, end):
            points.setdefault(tick, timeline.clock.seconds(ticks.place(tick)))
    return sorted(points.items())


def _turns(timeline: Timeline, ticks: Ticks, places: list[int]) -> Iterator[tuple[int, Fraction]]:
    """Where the tempo turns, and where a fermata's slow stretch ends."""
    stretches = [each for each in timeline.clock.stretches if ticks.origin < each.at < timeline.end]
    turns = [stretch.at for stretch in stretches]
    for stretch in timeline.clock.stretches:
        if stretch.hold and ticks.origin <= stretch.at < timeline.end:
            after = [
                *places[bisect_right(places, stretch.at) :][:1],
                *turns[bisect_right(turns, stretch.at) :][:1],
            ]
            yield min(after), timeline.seconds(min(after))
    for at in [*turns, timeline.end]:
        yield at, timeline.seconds(at)


def _between(stretch: ClockStretch, ticks: Ticks, start: int, end: int) -> Iterator[int]:
    """Ticks that part what lies in a stretch: after so many quarters, on a ramp so often that each part is as good as
    even."""
    longest = LONGEST * ticks.quarter
    if stretch.hold and ticks.of(stretch.at) == start:
        return
    if stretch.bend and stretch.at <= ticks.place(start):
        # A chord over h strays by no more than h²/8 times the second derivative, here rate x bend / (1 + bend x)².
        least = min(abs(1 + stretch.bend * (ticks.place(tick) - stretch.at)) for tick in (start, end))
        curve = abs(stretch.rate * stretch.bend) / least**2 * Fraction(ticks.grid, 4 * ticks.quarter) ** 2
        longest = max(1, min(longest, isqrt(int(8 * STRAYS / curve))))
    yield from range(start + longest, end, longest)
