"""A gain for each sample of a track, kept as its values at every so many samples and straight between them."""

from dataclasses import dataclass

import numpy as np

from renderer.audio.click_sounds import Track


@dataclass(frozen=True, slots=True, eq=False)
class MovingGain:
    """What each sample is multiplied by."""

    values: Track
    """At samples 0, grid, 2 x grid and so on, up to the first one beyond the track's end."""
    grid: int

    def part(self, start: int, end: int) -> Track:
        """The gain from one sample up to another, shape (end - start,)."""
        first = start // self.grid
        values = self.values[first : -(-end // self.grid) + 1]
        ramp = np.arange(self.grid, dtype=np.float32) / np.float32(self.grid)
        between = values[:-1, np.newaxis] + np.diff(values)[:, np.newaxis] * ramp
        return between.reshape(-1)[start - first * self.grid : end - first * self.grid]

    def times(self, factor: float) -> "MovingGain":
        """All of it louder or softer."""
        return MovingGain(self.values * np.float32(factor), self.grid)
