"""Musical time to seconds and back: tempo steps, ramps, fermatas, and a recording that rules the seconds.

A step lasts `length x 240 / quarters a minute` (lengths in whole notes) and is exact. A ramp moves from u
to v evenly by written length: over a length L it lasts `L x 240 / (v - u) x ln(v / u)`, the integral of 240
/ tempo. A fermata stands at its position: what lies after it is later by so much, the position itself is
not. Sync points stretch the piece's own seconds evenly between neighbours; ramps and fermatas between them
keep their shape.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import pairwise
from math import expm1, log1p
from typing import NamedTuple

SECONDS_TO_A_WHOLE_NOTE = 240
"""At one quarter note a minute."""

MOST_BITS = 1024
"""Beyond this size of a denominator (many unlike tempi) seconds are rounded to the nearest 1/FINEST."""

FINEST = 1 << 256


class TempoMark(NamedTuple):
    """A tempo entry: `quarters` a minute from `at`; with `to`, the tempo moves there evenly until `end`."""

    quarters: Fraction
    to: Fraction | None
    at: int
    end: int


class Instant(NamedTuple):
    """A tick and seconds that belong to it: how long a fermata stands there, or its place in a recording."""

    at: int
    seconds: Fraction


class ClockStretch(NamedTuple):
    """One stretch of even or evenly moving tempo, from `at` to the next one's."""

    at: int
    seconds: Fraction
    """When `at` sounds."""
    hold: Fraction
    """How long a fermata stands at `at`, in seconds."""
    rate: Fraction
    """Seconds a tick at `at`."""
    bend: Fraction
    """How much the tempo grows with each tick, as a share of the tempo at `at`: 0 for a step."""

    def elapsed(self, ticks: int | Fraction) -> Fraction:
        """Seconds from `at` (and its fermata) to `ticks` later."""
        if not self.bend:
            return self.rate * ticks
        return Fraction(float(self.rate / self.bend) * log1p(float(self.bend * ticks)))

    def ticks(self, seconds: Fraction) -> float:
        """The inverse of `elapsed`."""
        if not self.bend:
            return float(seconds / self.rate)
        return expm1(float(seconds * self.bend / self.rate)) / float(self.bend)


@dataclass(frozen=True)
class Clock:
    """When each tick sounds, in seconds from tick 0 (bar 1's downbeat), and which tick sounds when."""

    stretches: tuple[ClockStretch, ...]
    """By place; not empty. The last one is a step and goes on for ever; before the first its tempo holds."""
    file_start: Fraction | None = None
    """Where tick 0 stands in the recording, in seconds, if there are sync points; perhaps before the file."""
    sync_ratios: tuple[Fraction, ...] = ()
    """Between neighbouring sync points: the recording's seconds for each of the piece's own."""
    first_point: int | None = None
    """The first sync point's tick: from there on the recording is heard."""
    _starts: list[int] = field(init=False, repr=False, compare=False)
    _arrivals: list[Fraction] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        if not self.stretches:
            raise ValueError("a clock has at least one stretch")
        object.__setattr__(self, "_starts", [stretch.at for stretch in self.stretches])
        object.__setattr__(self, "_arrivals", [stretch.seconds for stretch in self.stretches])

    def seconds(self, at: int | Fraction) -> Fraction:
        """When tick `at` sounds; negative before bar 1. A fermata delays what lies after its tick.

        >>> Clock.steps(16, Fraction(132)).seconds(11)
        Fraction(5, 4)
        """
        index = bisect_right(self._starts, at) - 1
        if index < 0:
            first = self.stretches[0]
            return first.seconds + first.rate * (at - first.at)
        if self._starts[index] == at:
            return self.stretches[index].seconds
        stretch = self.stretches[index]
        return stretch.seconds + stretch.hold + stretch.elapsed(at - stretch.at)

    def position(self, seconds: Fraction | float) -> float:
        """The place in ticks that sounds at `seconds`; while a fermata stands, its own.

        >>> Clock.steps(16, Fraction(132)).position(Fraction(5, 4))
        11.0
        """
        exact = Fraction(seconds)
        index = bisect_right(self._arrivals, exact) - 1
        if index < 0:
            first = self.stretches[0]
            return first.at + float((exact - first.seconds) / first.rate)
        stretch = self.stretches[index]
        since = exact - stretch.seconds - stretch.hold
        place = stretch.at + stretch.ticks(since) if since > 0 else float(stretch.at)
        return min(place, float(self._starts[index + 1])) if index + 1 < len(self._starts) else place

    def floats(self, ticks: Sequence[int]) -> list[float]:
        """`seconds` of rising ticks, each rounded once to the nearest float; faster than one by one."""
        found: list[float] = []
        index, count = 0, len(ticks)
        while index < count:
            at = ticks[index]
            number = bisect_right(self._starts, at) - 1
            if number < 0 or self.stretches[number].bend or self._starts[number] == at:
                found.append(float(self.seconds(at)))
                index += 1
                continue
            following = self._starts[number + 1] if number + 1 < len(self._starts) else ticks[-1] + 1
            until = bisect_left(ticks, following, lo=index)
            base, step, below = _line(self.stretches[number])
            found += [(base + step * at) / below for at in ticks[index:until]]
            index = until
        return found

    def slowed(self, speed: Fraction) -> "Clock":
        """The same clock at a share of its speed; what it says of the recording stays.

        >>> Clock.steps(16, Fraction(132)).slowed(Fraction(1, 2)).seconds(11)
        Fraction(5, 2)
        """
        stretches = (
            stretch._replace(
                seconds=stretch.seconds / speed, hold=stretch.hold / speed, rate=stretch.rate / speed
            )
            for stretch in self.stretches
        )
        return replace(self, stretches=tuple(stretches))

    @staticmethod
    def steps(grid: int, *quarters: Fraction) -> "Clock":
        """A clock of even tempo, one whole note each, the last for ever; `grid` ticks to a whole note."""
        marks = [TempoMark(q, None, i * grid, (i + 1) * grid) for i, q in enumerate(quarters)]
        return build_clock(grid, marks, (), ())


def build_clock(
    grid: int, marks: Sequence[TempoMark], fermatas: Sequence[Instant], sync: Sequence[Instant]
) -> Clock:
    """The clock of a piece of `grid` ticks to a whole note.

    `marks` follow each other without a gap; fermatas and sync points rise in place, sync points in seconds
    too.
    """
    own = Clock(_own_stretches(grid, marks, fermatas, sync))
    zero = own.seconds(0)
    if not sync:
        return Clock(tuple(stretch._replace(seconds=stretch.seconds - zero) for stretch in own.stretches))
    arrivals = [own.seconds(point.at) for point in sync]
    ratios = tuple(
        (right.seconds - left.seconds) / (later - earlier)
        for (left, right), (earlier, later) in zip(pairwise(sync), pairwise(arrivals), strict=True)
    )

    def in_file(seconds: Fraction, index: int) -> Fraction:
        return sync[index].seconds + (seconds - arrivals[index]) * _ratio(ratios, index)

    points = [point.at for point in sync]
    zero = in_file(zero, max(0, bisect_right(points, 0) - 1))
    stretches = []
    for stretch in own.stretches:
        index = max(0, bisect_right(points, stretch.at) - 1)
        factor = _ratio(ratios, index)
        seconds = in_file(stretch.seconds, index) - zero
        stretches.append(
            stretch._replace(seconds=seconds, hold=stretch.hold * factor, rate=stretch.rate * factor)
        )
    return Clock(tuple(stretches), zero, ratios, sync[0].at)


def _ratio(ratios: tuple[Fraction, ...], index: int) -> Fraction:
    """The ratio after sync point `index`; after the last, the last pair's; with one point only 1."""
    return ratios[min(index, len(ratios) - 1)] if ratios else Fraction(1)


def _own_stretches(
    grid: int, marks: Sequence[TempoMark], fermatas: Sequence[Instant], sync: Sequence[Instant]
) -> tuple[ClockStretch, ...]:
    """The stretches in the spec's own seconds from the first, parted at 0, each mark, fermata and sync point."""
    holds = {point.at: point.seconds for point in fermatas}
    last = marks[-1]
    ends = [] if last.to is None else [TempoMark(last.to, None, last.end, last.end)]
    marks = [*marks, *ends]
    starts = [mark.at for mark in marks]
    places = sorted({0, *starts, *holds, *(point.at for point in sync)})
    stretches: list[ClockStretch] = []
    for place in places:
        mark = marks[max(0, bisect_right(starts, place) - 1)]
        quarters, growth = mark.quarters, Fraction(0)
        if mark.to is not None and place >= mark.at:
            growth = (mark.to - mark.quarters) / (mark.end - mark.at)
            quarters += growth * (place - mark.at)
        rate = Fraction(SECONDS_TO_A_WHOLE_NOTE, grid) / quarters
        before = stretches[-1] if stretches else None
        seconds = before.seconds + before.hold + before.elapsed(place - before.at) if before else Fraction(0)
        hold = holds.get(place, Fraction(0))
        stretches.append(ClockStretch(place, _bounded(seconds), hold, rate, growth / quarters))
    return tuple(stretches)


def _bounded(seconds: Fraction) -> Fraction:
    if seconds.denominator.bit_length() <= MOST_BITS:
        return seconds
    return Fraction(round(seconds * FINEST), FINEST)


def _line(stretch: ClockStretch) -> tuple[int, int, int]:
    """A step as (a, b, c): tick t sounds at (a + b t) / c seconds, all whole numbers."""
    base = stretch.seconds + stretch.hold - stretch.rate * stretch.at
    below = base.denominator * stretch.rate.denominator
    return base.numerator * stretch.rate.denominator, stretch.rate.numerator * base.denominator, below
