"""A track made of sounds that begin at given samples: held as what sounds where, and rendered part by part.

So an hour of click takes no more memory than its clicks.
"""

from bisect import bisect_left
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cache
from typing import ClassVar, NamedTuple

import numpy as np
from numpy.typing import NDArray

from renderer.audio.click_sounds import SAMPLES_PER_SECOND, Track
from renderer.audio.digest import digest_of

LET_GO = SAMPLES_PER_SECOND // 200
"""A sound that is let go before it has died away fades within 5 ms."""


class SoundEvent(NamedTuple):
    """`sound` from sample `start` on, `length` samples of it, times `gain`."""

    start: int
    length: int
    sound: Track
    gain: float = 1.0
    let_go: bool = False
    """Whether its end is faded out."""


@dataclass(frozen=True)
class EventTrack:
    """Strokes in order of their starts, within a track of `sample_count` samples; they add up."""

    sample_count: int
    events: tuple[SoundEvent, ...]
    channel_count: ClassVar[int] = 1
    _starts: list[int] = field(init=False, repr=False, compare=False)
    _longest: int = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        starts = [event.start for event in self.events]
        if starts != sorted(starts):
            raise ValueError("strokes stand in order of their starts")
        object.__setattr__(self, "_starts", starts)
        object.__setattr__(self, "_longest", max((event.length for event in self.events), default=0))

    def part(self, start: int, end: int) -> Track:
        """The samples from one index up to another, shape (end - start,)."""
        track = np.zeros(end - start, np.float32)
        first = bisect_left(self._starts, start - self._longest)
        for event in self.events[first : bisect_left(self._starts, end)]:
            low, high = max(start, event.start), min(end, event.start + event.length)
            if low < high:
                track[low - start : high - start] += _sounding(event, low - event.start, high - event.start)
        return track

    @property
    def shape(self) -> tuple[int, int]:
        """As a sound of two channels."""
        return self.sample_count, 2

    def __getitem__(self, part: slice) -> NDArray[np.float32]:
        """Some of it, shape (n, 2), read-only: both channels are the same memory."""
        start, end, step = part.indices(self.sample_count)
        track = self.part(start, max(start, end))[::step]
        return np.broadcast_to(track[:, np.newaxis], (len(track), 2))

    def whole(self) -> Track:
        """All samples."""
        return self.part(0, self.sample_count)

    def digest(self) -> bytes:
        """The same for what sounds the same alone."""
        sounds = {id(event.sound): event.sound for event in self.events}
        marks = {key: digest_of([sound]) for key, sound in sounds.items()}
        places = [(e.start, e.length, e.gain, e.let_go, marks[id(e.sound)]) for e in self.events]
        return digest_of([repr((self.sample_count, places)).encode()])


def in_order(sample_count: int, events: Iterable[SoundEvent]) -> EventTrack:
    """Strokes of any order as a track."""
    return EventTrack(sample_count, tuple(sorted(events, key=lambda event: event.start)))


def _sounding(event: SoundEvent, low: int, high: int) -> Track:
    """A stroke's samples from one to another, counted from its start."""
    sound = event.sound[low:high]
    if event.gain != 1:
        sound = sound * np.float32(event.gain)
    if event.let_go and high > event.length - LET_GO:
        first = max(low, event.length - LET_GO)
        offset = LET_GO - event.length
        sound = sound.copy()
        sound[first - low :] *= _fade()[first + offset : high + offset]
    return sound


@cache
def _fade() -> Track:
    return np.asarray(np.cos(np.linspace(0, np.pi / 2, LET_GO)) ** 2, np.float32)
