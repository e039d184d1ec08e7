"""Where a part repeats itself: stretches that equal themselves so many pulses later, as candidates for figures.

A stretch that is as long as p pulses and more, and equals itself p pulses later, is a repetition of period p (maximal
repetitions: Kolpakov & Kucherov 1999). Here all periods are compared directly; a figure has 200 pulses at most.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from renderer.core import limits
from renderer.listening.telling import Bits, Symbols

TURNS = 0.3
"""How much more than one turn makes a repetition, at least."""
NOTES = 1
"""That come again, at least."""
BEGINNINGS = 3
"""Of one candidate, that are tried."""
STRETCHES = 400
"""Of one period, that are looked at: those that explain most."""


@dataclass
class Candidate:
    """A figure that might be, and the bits of the notes that it would explain."""

    saving: float = 0.0
    beginnings: dict[bytes, float] = field(default_factory=dict)
    """The figure from the notes with which it may begin, with the bits that speak for each."""

    def patterns(self) -> Iterator[Symbols]:
        """The likeliest beginnings."""
        for pattern in sorted(self.beginnings, key=lambda each: -self.beginnings[each])[:BEGINNINGS]:
            yield np.frombuffer(pattern, np.uint8)


def rotations(pattern: Symbols) -> Iterator[Symbols]:
    """The pattern from each of its notes on; itself first, if it begins with one."""
    for place in np.flatnonzero(pattern):
        yield np.roll(pattern, -int(place))


def is_multiple(pattern: bytes) -> bool:
    """Whether it is a shorter one several times over."""
    return (pattern + pattern).find(pattern, 1) < len(pattern)


def same_round(pattern: bytes) -> bytes:
    """The same for a pattern and all its rotations that begin with a note."""
    twice = pattern + pattern
    return min(twice[place : place + len(pattern)] for place, symbol in enumerate(pattern) if symbol)


def candidates(
    symbols: Symbols,
    bits: Bits,
    lines: NDArray[np.bool_],
    periods: Iterable[int] | None = None,
    most: int = 12,
) -> list[Candidate]:
    """The figures that explain most, the best one first. `bits` are what is to be explained, pulse by pulse."""
    found: dict[bytes, Candidate] = {}
    sums = np.concatenate([[0.0], np.cumsum(bits)])
    hits = np.concatenate([[0], np.cumsum(symbols > 0)])
    longest = min(limits.FIGURE_PULSES, len(symbols) * 10 // 13)
    marks = np.flatnonzero(lines)
    for period in periods or range(2, longest + 1):
        if period > longest:
            continue
        starts, ends = runs(symbols[:-period] == symbols[period:])
        explained = sums[ends + period] - sums[starts + period]
        notes = hits[ends + period] - hits[starts + period]
        good = np.flatnonzero((ends - starts >= TURNS * period) & (notes >= NOTES) & (explained > 0))
        for index in good[np.argsort(-explained[good])][:STRETCHES]:
            start, stop = int(starts[index]), int(ends[index]) + period
            fresh = start + int(np.argmax(bits[start:stop] > 0))
            line = int(marks[np.searchsorted(marks, start)])
            _add(found, symbols[:stop], period, (start, fresh, line), float(explained[index]))
    return sorted(found.values(), key=lambda each: (-each.saving, len(min(each.beginnings))))[:most]


def _add(
    found: dict[bytes, Candidate], stretch: Symbols, period: int, places: Iterable[int], explained: float
) -> None:
    """Count a stretch for its figure, whichever of its notes it begins with, and for the likely beginnings."""
    candidate: Candidate | None = None
    for place in dict.fromkeys(places):
        ahead = stretch[place : place + 2 * period]
        if len(ahead) < period:
            continue
        first = place + int((ahead > 0).argmax())
        pattern = stretch[first : first + period].tobytes()
        if len(pattern) < period or not pattern[0]:
            continue
        if candidate is None:
            if is_multiple(pattern):
                return
            candidate = found.setdefault(same_round(pattern), Candidate())
            candidate.saving += explained
        candidate.beginnings[pattern] = candidate.beginnings.get(pattern, 0.0) + explained


def runs(same: NDArray[np.bool_]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Where stretches of true begin and end."""
    edges = np.diff(np.concatenate([[0], same.astype(np.int8), [0]]))
    return np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)
