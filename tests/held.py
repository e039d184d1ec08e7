"""Sounds that tests make of numbers, as sources of a mix."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from renderer.audio.digest import digest_of


@dataclass(frozen=True, eq=False)
class HeldSound:
    """Samples, shape (n,) or (n, 2)."""

    samples: NDArray[np.float32]

    @property
    def channel_count(self) -> int:
        return self.samples.ndim

    def part(self, start: int, end: int) -> NDArray[np.float32]:
        return self.samples[start:end]

    @property
    def shape(self) -> tuple[int, ...]:
        return self.samples.shape

    @property
    def mark(self) -> bytes:
        return digest_of([self.samples])

    def digest(self) -> bytes:
        return self.mark

    def __getitem__(self, part: slice) -> NDArray[np.float32]:
        return self.samples[part]
