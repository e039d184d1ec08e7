"""How a sound steps back while something else sounds: worked out part by part, so that hours of it take no memory."""

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from renderer.audio.click_sounds import SAMPLES_PER_SECOND, Track
from renderer.audio.digest import digest_of
from renderer.audio.moving_gain import MovingGain
from renderer.core.time_grid import nearest

STEP = SAMPLES_PER_SECOND // 1000
"""It moves once a millisecond, in straight lines between."""
BEFORE, DOWN, BACK = 20, 80, 330
"""Milliseconds: it begins to step back so long before an onset, stays down until so long after it, and is back then."""
SHAPE = np.interp(np.arange(-BEFORE, BACK + 1), [-BEFORE, 0, DOWN, BACK], [0, 1, 1, 0]).astype(np.float32)
"""How far it has stepped back, around an onset."""


@dataclass(frozen=True, eq=False)
class Ducking:
    """By what a sound is multiplied so that it steps back by `decibels` at each onset."""

    onsets: NDArray[np.int64]
    """Milliseconds, in order, each once."""
    decibels: float

    def part(self, start: int, end: int) -> Track:
        """The gain from one sample up to another, shape (end - start,)."""
        first = start // STEP
        depth = np.zeros(-(-end // STEP) + 1 - first, np.float32)
        near = np.searchsorted(self.onsets, [first - BACK, first + len(depth) + BEFORE])
        for onset in self.onsets[slice(*near)].tolist():
            begin = onset - BEFORE - first
            low, high = max(0, begin), min(len(depth), begin + len(SHAPE))
            if low < high:
                np.maximum(depth[low:high], SHAPE[low - begin : high - begin], out=depth[low:high])
        values = np.power(np.float32(10), depth * np.float32(-self.decibels / 20))
        return MovingGain(values, STEP).part(start - first * STEP, end - first * STEP)

    def digest(self) -> bytes:
        """The same for what steps back alike."""
        return digest_of([repr(self.decibels).encode(), self.onsets])


def ducking(onsets: Iterable[Fraction], decibels: float) -> Ducking | None:
    """How a sound steps back at `onsets`, in seconds, in any order; None if it does not."""
    places = sorted({nearest(onset * SAMPLES_PER_SECOND / STEP) for onset in onsets})
    return Ducking(np.array(places, np.int64), decibels) if places and decibels else None
