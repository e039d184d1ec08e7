"""A slowed sound that is made once and taken part by part."""

from fractions import Fraction
from threading import Lock

from renderer.audio.digest import digest_of
from renderer.audio.loudness import Samples
from renderer.audio.placed import MarkedSound
from renderer.audio.scratch import ScratchSound
from renderer.audio.slow_down import slow_down
from renderer.core.time_grid import nearest


class SlowedSound:
    """A sound at a share of its speed: made when samples are asked for, and kept."""

    def __init__(self, sound: MarkedSound, speed: Fraction) -> None:
        self._sound, self._speed = sound, speed
        self._lock = Lock()
        self._slowed: ScratchSound | None = None

    @property
    def shape(self) -> tuple[int, int]:
        """Samples and channels."""
        return nearest(self._sound.shape[0] / self._speed), 2

    @property
    def mark(self) -> bytes:
        """The same for the same samples alone."""
        return digest_of([self._sound.mark, str(self._speed).encode()])

    def __getitem__(self, part: slice) -> Samples:
        """Some of it, shape (n, 2). Raises FileError."""
        with self._lock:
            if self._slowed is None:
                self._slowed = ScratchSound(2)
                for block in slow_down(self._sound, self._speed):
                    self._slowed.add(block)
        return self._slowed[part]
