"""Musical time to seconds and back: tempo steps, ramps, fermatas, and a recording that rules the seconds.

A step lasts `length x 240 / quarters a minute` (lengths in whole notes) and is exact. A ramp moves from u
to v evenly by written length: over a length L it lasts `L x 240 / (v - u) x ln(v / u)`, the integral of 240
/ tempo. A fermata stands at its position: what lies after it is later by so much, the position itself is
not. Sync points stretch the piece's own seconds evenly between neighbours; ramps and fermatas between them
keep their shape.
"""

from bisect import bisect_right
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
    """One stretch of even or evenly moving tempo, from `at` to the next piece's."""

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

    pieces: tuple[ClockStretch, ...]
    """By place; not empty. The last one is a step and goes on for ever; before the first its tempo holds."""
    file_start: Fraction | None = None
    """Where tick 0 stands in the recording, in seconds, if there are sync points; perhaps before the file."""
    stretches: tuple[Fraction, ...] = ()
    """Between neighbouring sync points: the recording's seconds for each of the piece's own."""
    first_point: int | None = None
    """The first sync point's tick: from there on the recording is heard."""
    _starts: list[int] = field(init=False, repr=False, compare=False)
    _arrivals: list[Fraction] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        if not self.pieces:
            raise ValueError("a clock has at least one piece")
        object.__setattr__(self, "_starts", [piece.at for piece in self.pieces])
        object.__setattr__(self, "_arrivals", [piece.seconds for piece in self.pieces])

    def seconds(self, at: int | Fraction) -> Fraction:
        """When tick `at` sounds; negative before bar 1. A fermata delays what lies after its tick.

        >>> Clock.steps(16, Fraction(132)).seconds(11)
        Fraction(5, 4)
        """
        index = bisect_right(self._starts, at) - 1
        if index < 0:
            first = self.pieces[0]
            return first.seconds + first.rate * (at - first.at)
        if self._starts[index] == at:
            return self.pieces[index].seconds
        piece = self.pieces[index]
        return piece.seconds + piece.hold + piece.elapsed(at - piece.at)

    def position(self, seconds: Fraction | float) -> float:
        """The place in ticks that sounds at `seconds`; while a fermata stands, its own.

        >>> Clock.steps(16, Fraction(132)).position(Fraction(5, 4))
        11.0
        """
        exact = Fraction(seconds)
        index = bisect_right(self._arrivals, exact) - 1
        if index < 0:
            first = self.pieces[0]
            return first.at + float((exact - first.seconds) / first.rate)
        piece = self.pieces[index]
        since = exact - piece.seconds - piece.hold
        place = piece.at + piece.ticks(since) if since > 0 else float(piece.at)
        return min(place, float(self._starts[index + 1])) if index + 1 < len(self._starts) else place

    def floats(self, ticks: Sequence[int]) -> list[float]:
        """`seconds` of many ticks, each rounded once to the nearest float; faster than one by one."""
        found = []
        low, high, base, step, below = 1, 0, 0, 0, 1
        for at in ticks:
            if not low < at < high:
                index = bisect_right(self._starts, at) - 1
                if index < 0 or self.pieces[index].bend or self._starts[index] == at:
                    found.append(float(self.seconds(at)))
                    continue
                low = self._starts[index]
                high = self._starts[index + 1] if index + 1 < len(self._starts) else max(ticks) + 1
                base, step, below = _line(self.pieces[index])
            found.append((base + step * at) / below)
        return found

    def slowed(self, speed: Fraction) -> "Clock":
        """The same clock at a share of its speed; what it says of the recording stays.

        >>> Clock.steps(16, Fraction(132)).slowed(Fraction(1, 2)).seconds(11)
        Fraction(5, 2)
        """
        pieces = (
            piece._replace(seconds=piece.seconds / speed, hold=piece.hold / speed, rate=piece.rate / speed)
            for piece in self.pieces
        )
        return replace(self, pieces=tuple(pieces))

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
    own = Clock(_own_pieces(grid, marks, fermatas, sync))
    zero = own.seconds(0)
    if not sync:
        return Clock(tuple(piece._replace(seconds=piece.seconds - zero) for piece in own.pieces))
    arrivals = [own.seconds(point.at) for point in sync]
    stretches = tuple(
        (right.seconds - left.seconds) / (later - earlier)
        for (left, right), (earlier, later) in zip(pairwise(sync), pairwise(arrivals), strict=True)
    )

    def in_file(seconds: Fraction, index: int) -> Fraction:
        return sync[index].seconds + (seconds - arrivals[index]) * _stretch(stretches, index)

    points = [point.at for point in sync]
    zero = in_file(zero, max(0, bisect_right(points, 0) - 1))
    pieces = []
    for piece in own.pieces:
        index = max(0, bisect_right(points, piece.at) - 1)
        factor = _stretch(stretches, index)
        seconds = in_file(piece.seconds, index) - zero
        pieces.append(piece._replace(seconds=seconds, hold=piece.hold * factor, rate=piece.rate * factor))
    return Clock(tuple(pieces), zero, stretches, sync[0].at)


def _stretch(stretches: tuple[Fraction, ...], index: int) -> Fraction:
    """The stretch after sync point `index`; after the last, the last pair's; with one point only, none."""
    return stretches[min(index, len(stretches) - 1)] if stretches else Fraction(1)


def _own_pieces(
    grid: int, marks: Sequence[TempoMark], fermatas: Sequence[Instant], sync: Sequence[Instant]
) -> tuple[ClockStretch, ...]:
    """The pieces in the spec's own seconds from the first, parted at 0, each mark, fermata and sync point."""
    holds = {point.at: point.seconds for point in fermatas}
    last = marks[-1]
    ends = [] if last.to is None else [TempoMark(last.to, None, last.end, last.end)]
    marks = [*marks, *ends]
    starts = [mark.at for mark in marks]
    places = sorted({0, *starts, *holds, *(point.at for point in sync)})
    pieces: list[ClockStretch] = []
    for place in places:
        mark = marks[max(0, bisect_right(starts, place) - 1)]
        quarters, growth = mark.quarters, Fraction(0)
        if mark.to is not None and place >= mark.at:
            growth = (mark.to - mark.quarters) / (mark.end - mark.at)
            quarters += growth * (place - mark.at)
        rate = Fraction(SECONDS_TO_A_WHOLE_NOTE, grid) / quarters
        before = pieces[-1] if pieces else None
        seconds = before.seconds + before.hold + before.elapsed(place - before.at) if before else Fraction(0)
        hold = holds.get(place, Fraction(0))
        pieces.append(ClockStretch(place, _bounded(seconds), hold, rate, growth / quarters))
    return tuple(pieces)


def _bounded(seconds: Fraction) -> Fraction:
    if seconds.denominator.bit_length() <= MOST_BITS:
        return seconds
    return Fraction(round(seconds * FINEST), FINEST)


def _line(piece: ClockStretch) -> tuple[int, int, int]:
    """A step as (a, b, c): tick t sounds at (a + b t) / c seconds, all whole numbers."""
    base = piece.seconds + piece.hold - piece.rate * piece.at
    below = base.denominator * piece.rate.denominator
    return base.numerator * piece.rate.denominator, piece.rate.numerator * base.denominator, below
