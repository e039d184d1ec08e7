"""A part laid on a grid of pulses: the coarsest that holds every note, or the one that fits a played file best."""

from collections.abc import Sequence
from fractions import Fraction
from math import gcd, log2
from typing import NamedTuple

import numpy as np

from renderer.core import limits
from renderer.listening.score import Score, ScorePart
from renderer.listening.telling import Symbols

FINEST = Fraction(1, 96)
"""Of a whole note: what is finer is how somebody played, not what is written."""
GRIDS = tuple(Fraction(1, count) for count in (4, 8, 12, 16, 24, 32, 48))
CLOSEST = Fraction(1, 1000)
"""Of a whole note: notes that are nearer to the grid count as on it."""
SHARED = 8.0
"""Bits for two notes on one pulse."""
PULSES = 400_000


class LaidPart(NamedTuple):
    """A part as a row of pulses, from the score's first tick on."""

    pulse: Fraction
    """Of a whole note."""
    start: int
    """The first pulse's tick."""
    step: int
    """Ticks to a pulse."""
    symbols: Symbols
    exact: bool
    """Whether every note stands where the file has it."""
    merged: int
    """Notes that came to share a pulse with another."""

    def tick(self, place: int) -> int:
        """A pulse's tick."""
        return self.start + place * self.step


def lay_part(score: Score, part: ScorePart) -> LaidPart | None:
    """The part on its grid; None if it is too long to be looked at."""
    start, end = score.bars[0].at, score.end
    onsets = [onset for onset in part.onsets if start <= onset.at < end]
    ticks = np.array([onset.at - start for onset in onsets], np.int64)
    lines = [bar.at - start for bar in score.bars] + [end - start]
    step = gcd(*lines, *(int(tick) for tick in ticks))
    exact = Fraction(step, score.grid) >= FINEST
    if not exact:
        step = _best_step(ticks, lines, score.grid)
    if (end - start) // step > PULSES:
        return None
    symbols = np.zeros((end - start) // step, np.uint8)
    places = np.minimum((ticks + step // 2) // step, len(symbols) - 1)
    for place, onset in zip(places, onsets, strict=True):
        symbols[place] = max(symbols[place], 2 if onset.accented else 1)
    merged = len(onsets) - int(np.count_nonzero(symbols))
    return LaidPart(Fraction(step, score.grid), start, step, symbols, exact, merged)


def _best_step(ticks: np.ndarray[tuple[int], np.dtype[np.int64]], lines: Sequence[int], grid: int) -> int:
    """Of the usual grids the one in which places and what they stray come to the fewest bits together."""
    common = gcd(*lines)
    best = (float("inf"), common)
    for length in GRIDS:
        if (length * grid).denominator != 1 or common % int(length * grid):
            continue
        step = int(length * grid)
        places = (ticks + step // 2) // step
        strays = (ticks - places * step) / grid
        spread = max(float(CLOSEST), float(np.sqrt(np.mean(strays**2))))
        shared = len(places) - len(np.unique(places))
        bits = len(ticks) * (log2(1 / length) + log2(spread)) + SHARED * shared
        best = min(best, (bits, step))
    return best[1]


def is_pulse(pulse: Fraction) -> bool:
    """Whether a spec can count in it."""
    return pulse <= limits.PULSE_MOST and pulse.denominator <= limits.PULSE_DENOMINATOR
