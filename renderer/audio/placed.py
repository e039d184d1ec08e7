"""Recorded sounds placed on a track: each begins on its sample and lies between fades.

A fade's outer end is where the sound passes through zero, so nothing is heard of the cut.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from renderer.audio.click_sounds import SAMPLES_PER_SECOND
from renderer.audio.digest import digest_of
from renderer.audio.loudness import Samples

FADE = SAMPLES_PER_SECOND // 100
"""10 ms: in before what is heard, out before it ends."""
SEARCH = SAMPLES_PER_SECOND // 200
"""How far a fade's outer end is moved, at most, to where the sound passes through zero."""


class MarkedSound(Protocol):
    """A sound of two channels that is taken part by part, and a mark for it."""

    @property
    def shape(self) -> tuple[int, ...]:
        """Samples and channels."""

    @property
    def mark(self) -> bytes:
        """The same for the same samples alone."""

    def __getitem__(self, part: slice, /) -> Samples:
        """Some of it, shape (n, 2)."""


@dataclass(frozen=True, eq=False)
class Excerpt:
    """A sound from sample `begin` up to `end`."""

    sound: MarkedSound
    begin: int
    end: int

    @property
    def shape(self) -> tuple[int, int]:
        """Samples and channels."""
        return self.end - self.begin, 2

    @property
    def mark(self) -> bytes:
        """The same for the same samples alone."""
        return digest_of([self.sound.mark, repr((self.begin, self.end)).encode()])

    def __getitem__(self, part: slice) -> Samples:
        """Some of it, shape (n, 2)."""
        start, end, step = part.indices(self.end - self.begin)
        return self.sound[self.begin + start : self.begin + max(start, end)][::step]


@dataclass(frozen=True, eq=False)
class Placed:
    """A sound on a track."""

    sound: MarkedSound
    start: int
    """The track's sample on which the sound's first one stands; below 0 the sound has begun before the track does."""
    length: int
    """Samples from its first one up to where it has faded out."""
    early: int = 0
    """Its samples before what is to be heard; in the last of them it fades in."""
    gain: float = 1.0

    @cached_property
    def fades(self) -> tuple[int, int]:
        """The sound's samples at which the fade in begins and the fade out ends: where it passes through zero."""
        first = self._zero_crossing(max(0, self.early - FADE)) if self.early else 0
        return first, self._zero_crossing(self.length)

    def _zero_crossing(self, index: int) -> int:
        low = max(0, index - SEARCH - 1)
        return low + last_zero_crossing(self.sound[low : index + 1].sum(axis=1), index - low)

    def part(self, start: int, end: int) -> Samples:
        """The sound's samples from one to another, faded."""
        samples = self.sound[start:end] * np.float32(self.gain)
        first, last = self.fades
        places = np.arange(start, start + len(samples))
        if start < self.early:
            samples *= _rise(places - first, self.early - first)
        if end > last - FADE:
            samples *= _rise(last - 1 - places, min(FADE, last))
        return samples


@dataclass(frozen=True, eq=False)
class PlacedTrack:
    """Recorded sounds on a track of `sample_count` samples; they add up."""

    sample_count: int
    sounds: tuple[Placed, ...]
    channel_count: int = 2

    def part(self, start: int, end: int) -> Samples:
        """The samples from one index up to another, shape (end - start, 2)."""
        track = np.zeros((end - start, 2), np.float32)
        for placed in self.sounds:
            low, high = max(start, placed.start), min(end, placed.start + placed.length)
            if low < high:
                track[low - start : high - start] += placed.part(low - placed.start, high - placed.start)
        return track

    def digest(self) -> bytes:
        """The same for what sounds the same alone."""
        places = [(p.start, p.length, p.early, p.gain) for p in self.sounds]
        return digest_of([repr((self.sample_count, places)).encode(), *(p.sound.mark for p in self.sounds)])


def last_zero_crossing(wave: NDArray[np.float32], index: int) -> int:
    """The last place at which `wave` passes through zero; `index`, at or right after its end, if there is none.

    The sample before that place and the one on it lie on different sides of zero, or one of them on it.
    """
    crossings = np.flatnonzero(wave[:-1] * wave[1:] <= 0)
    return int(crossings[-1]) + 1 if len(crossings) else index


def _rise(places: NDArray[np.int64], length: int) -> NDArray[np.float32]:
    """A fade of so many samples: what each place in it is multiplied by, 0 before it and 1 after it."""
    share = np.clip(places / max(1, length - 1), 0, 1)
    gain = np.sin(share * (np.pi / 2)) ** 2
    gain[places < 0] = 0
    return np.asarray(gain, np.float32)[:, np.newaxis]
