"""Samples that are too many to be held: kept in a file without a name, which goes with the program."""

from threading import Lock
from weakref import finalize

import numpy as np

from renderer.audio.loudness import Samples
from renderer.core.open_files import ScratchFile


class ScratchSound:
    """A sound that is written once, block by block, and then read part by part, from several threads too."""

    def __init__(self, channels: int) -> None:
        self._channels = channels
        self._lock = Lock()
        self._sample_count = 0
        self._file = ScratchFile()
        finalize(self, self._file.close)

    @property
    def shape(self) -> tuple[int, int]:
        """Samples and channels."""
        return self._sample_count, self._channels

    def add(self, block: Samples) -> None:
        """Write the next samples, shape (n, channels). Raises FileError where there is no room for them."""
        self._file.write(np.ascontiguousarray(block, np.float32).data)
        self._sample_count += len(block)

    def __getitem__(self, part: slice) -> Samples:
        """Some of it, shape (n, channels)."""
        start, end, step = part.indices(self._sample_count)
        samples = np.empty((max(0, end - start), self._channels), np.float32)
        with self._lock:
            self._file.seek(start * self._channels * samples.itemsize)
            left = samples.data.cast("B") if samples.size else memoryview(b"")
            while left and (count := self._file.readinto(left)):
                left = left[count:]
        return samples[::step]
