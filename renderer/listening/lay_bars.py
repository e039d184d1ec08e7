"""Bars from the meters that a file states, and what is wrong with them."""

from collections.abc import Sequence
from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple

from renderer.core import limits
from renderer.core.errors import ValueProblem
from renderer.listening.score import ScoreBar
from renderer.reading.scalars.parse import parse_meter
from renderer.spec.meter import Meter


class UnusableError(Exception):
    """A file that can't become a spec; its text says why, and follows the file's name and a colon."""


class MeterChange(NamedTuple):
    """A meter from a place on."""

    at: int
    meter: Meter


def read_meter(text: str) -> Meter:
    """A meter. Raises UnusableError for one that no spec can have."""
    try:
        return parse_meter(text)
    except ValueProblem as problem:
        raise UnusableError(f"the meter: {problem.text}") from None


@lru_cache(maxsize=1024)
def is_meter(length: Fraction) -> bool:
    """Whether a bar of so much of a whole note can have a meter; none has nothing in it."""
    counts = (length * unit for unit in limits.METER_UNITS)
    return any(count.denominator == 1 and count <= limits.METER_COUNT for count in counts)


@lru_cache(maxsize=1024)
def meter_of_length(length: Fraction) -> Meter:
    """The meter of a bar of its own length, in quarters if that will do."""
    counts = [(length * unit, unit) for unit in (4, *limits.METER_UNITS)]
    count, unit = next(
        (count, unit) for count, unit in counts if count.denominator == 1 and count <= limits.METER_COUNT
    )
    return read_meter(f"{count}/{unit}")


def lay_bars(
    meters: Sequence[MeterChange], start: int, end: int, grid: int
) -> tuple[list[ScoreBar], list[int]]:
    """Bars from `start` until `end` is reached, one at least, and where a meter changes inside a bar: it then holds
    from the next bar line on. Raises UnusableError for more bars than a spec has."""
    bars: list[ScoreBar] = []
    inside: list[int] = []
    at, index = start, 0
    while at < end or not bars:
        while index + 1 < len(meters) and meters[index + 1].at <= at:
            index += 1
            if meters[index].at < at:
                inside.append(meters[index].at)
        meter = meters[index].meter
        after = at + int(meter.length * grid)
        bars.append(ScoreBar(at, after, meter))
        if len(bars) > limits.BARS:
            raise UnusableError(f"it has more than {limits.BARS:,} bars, the most that a piece can have.")
        at = after
    return bars, inside
