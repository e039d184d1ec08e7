"""Samples that are too many to be held: kept in a file without a name, which goes with the program."""

import os
import tempfile
from threading import Lock
from weakref import finalize

import numpy as np

from renderer.audio.loudness import Samples
from renderer.core.errors import FileError


class ScratchSound:
    """A sound that is written once, block by block, and then read part by part, from several threads too."""

    def __init__(self, channels: int) -> None:
        self._channels = channels
        self._lock = Lock()
        self._sample_count = 0
        try:
            self._file = tempfile.TemporaryFile(prefix="barcross-")  # noqa: SIM115 - closed with the sound
            finalize(self, self._file.close)
        except OSError as error:
            raise _no_room(error) from None

    @property
    def shape(self) -> tuple[int, int]:
        """Samples and channels."""
        return self._sample_count, self._channels

    def add(self, block: Samples) -> None:
        """Write the next samples, shape (n, channels). Raises FileError where there is no room for them."""
        try:
            self._file.write(np.ascontiguousarray(block, np.float32).data)
            self._file.flush()
        except OSError as error:
            raise _no_room(error) from None
        self._sample_count += len(block)

    def __getitem__(self, part: slice) -> Samples:
        """Some of it, shape (n, channels)."""
        start, end, step = part.indices(self._sample_count)
        samples = np.empty((max(0, end - start), self._channels), np.float32)
        with self._lock:
            self._file.seek(start * self._channels * samples.itemsize)
            if samples.size:
                self._file.readinto(samples.data.cast("B"))
        return samples[::step]


def _no_room(error: OSError) -> FileError:
    reason = error.strerror or str(error)
    return FileError(
        f"{tempfile.gettempdir()}: decoded sound can't be kept there meanwhile ({reason}). "
        f"Make room, or name another folder: {'TMP' if os.name == 'nt' else 'TMPDIR'}."
    )
