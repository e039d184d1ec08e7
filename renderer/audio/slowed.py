"""Slowed sounds that are taken part by part: made once and kept whole, or only where somebody listens."""

from bisect import bisect_left, bisect_right
from collections import OrderedDict
from fractions import Fraction
from threading import Lock

import numpy as np

from renderer.audio.click_sounds import SAMPLES_PER_SECOND
from renderer.audio.digest import digest_of
from renderer.audio.loudness import Samples
from renderer.audio.placed import Excerpt, MarkedSound
from renderer.audio.scratch import ScratchSound
from renderer.audio.slow_down import LEAD, find_attacks, slow_down, slow_part
from renderer.core.time_grid import nearest

WINDOW = SAMPLES_PER_SECOND
"""Samples in which attacks are sought in one go where somebody listens; where there is none, one part ends."""
AROUND = SAMPLES_PER_SECOND // 5
MOST_PARTS = 24
"""Slowed parts that are kept for whoever listens again, as in a loop."""


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


class SlowedNearby:
    """A sound at a share of its speed, slowed only where samples are asked for: to hear some of a long one at once.

    It is parted at its attacks, as `slow_down` parts it, and at the edges of windows without any.
    """

    def __init__(self, sound: MarkedSound, speed: Fraction) -> None:
        self._sound, self._speed = sound, speed
        self._lock = Lock()
        self._joints: dict[int, list[int]] = {}
        self._parts: OrderedDict[int, Samples] = OrderedDict()

    @property
    def shape(self) -> tuple[int, int]:
        """Samples and channels."""
        return nearest(self._sound.shape[0] / self._speed), 2

    @property
    def mark(self) -> bytes:
        """The same for the same samples alone."""
        return digest_of([self._sound.mark, str(self._speed).encode(), b"nearby"])

    def __getitem__(self, part: slice) -> Samples:
        """Some of it, shape (n, 2). Raises FileError."""
        start, end, step = part.indices(self.shape[0])
        samples = np.zeros((max(0, end - start), 2), np.float32)
        at = start
        while at < end:
            with self._lock:
                place, slowed = self._part_at(at)
            taken = slowed[at - place : end - place]
            samples[at - start : at - start + len(taken)] = taken
            at += len(taken)
        return samples[::step]

    def _part_at(self, at: int) -> tuple[int, Samples]:
        """The slowed part in which a sample lies, and its first sample."""
        begin, end = self._around(at)
        place, next_place = (nearest(joint / self._speed) for joint in (begin, end))
        if begin not in self._parts:
            self._parts[begin] = slow_part(self._sound, begin, end, next_place - place)
            if len(self._parts) > MOST_PARTS:
                self._parts.popitem(last=False)
        self._parts.move_to_end(begin)
        return place, self._parts[begin]

    def _around(self, at: int) -> tuple[int, int]:
        """The joints before and after a sample of the slowed sound."""
        window = int(at * self._speed) // WINDOW
        joints = [
            joint for near in (window - 1, window, window + 1, window + 2) for joint in self._joints_in(near)
        ]
        places = [nearest(joint / self._speed) for joint in joints]
        later = bisect_right(places, at)
        return joints[later - 1], joints[later]

    def _joints_in(self, window: int) -> list[int]:
        """Where the sound is parted in a window: at its attacks, else at its beginning; and at the sound's ends."""
        count = self._sound.shape[0]
        first, last = max(0, window * WINDOW), min(count, (window + 1) * WINDOW)
        if first >= last:
            return [count] if window * WINDOW >= count and (window - 1) * WINDOW < count else []
        if window not in self._joints:
            begin = max(0, first - AROUND)
            attacks = [
                begin + at for at in find_attacks(Excerpt(self._sound, begin, min(count, last + AROUND)))
            ]
            inside = attacks[bisect_left(attacks, first) : bisect_left(attacks, last)]
            inside = [at for at in inside if LEAD < at < count - LEAD]
            self._joints[window] = [0, *inside] if window == 0 else inside or [first]
        return self._joints[window]
