"""Stems: the sources of a mix, each taken part by part, so that an hour takes no more memory than a second."""

from dataclasses import dataclass
from fractions import Fraction
from typing import Protocol

import numpy as np

from renderer.audio.click_room import ClickRoom
from renderer.audio.click_sounds import Track
from renderer.audio.digest import digest_of
from renderer.audio.ducking import Ducking
from renderer.audio.loudness import Samples


class Source(Protocol):
    """What sounds in a stem."""

    @property
    def channel_count(self) -> int:
        """1, or 2 with a stereo image of its own."""

    def part(self, start: int, end: int) -> Track | Samples:
        """The samples from one index up to another: shape (n,) of one channel, (n, 2) of two."""

    def digest(self) -> bytes:
        """The same for what sounds the same alone."""


@dataclass(frozen=True, slots=True)
class Stem:
    """One source of a mix, and where it stands."""

    name: str
    source: Source
    pan: Fraction = Fraction(0)
    """From -100 (left) to 100 (right)."""
    spikes: bool = False
    """Nothing but short peaks, as a click: holding them down is making them softer."""
    ducks: tuple[Ducking, ...] = ()
    """How it steps back under what else sounds."""
    room: ClickRoom | None = None
    """What it leaves to the click."""

    @property
    def centred(self) -> bool:
        """Whether both channels are the same."""
        return not self.pan and self.source.channel_count == 1

    def channel_gains(self) -> tuple[float, float]:
        """Left and right, equal power: 1 and 1 in the middle, 1.41 and 0 at the left."""
        angle = (float(self.pan) / 100 + 1) * np.pi / 4
        return float(np.sqrt(2) * np.cos(angle)), float(np.sqrt(2) * np.sin(angle))

    def part(self, start: int, end: int) -> Track | Samples:
        """The samples from one index up to another, not yet placed between left and right."""
        return self.room.applied(self._ducked, start, end) if self.room else self._ducked(start, end)

    def _ducked(self, start: int, end: int) -> Track | Samples:
        part = self.source.part(start, end)
        for duck in self.ducks:
            gain = duck.part(start, end)
            part = part * (gain if part.ndim == 1 else gain[:, np.newaxis])
        return part

    def placed(self, start: int, end: int) -> Samples:
        """The samples from one index up to another, left and right, shape (n, 2)."""
        part = self.part(start, end)
        return np.stack([self.channel(part, 0), self.channel(part, 1)], axis=1)

    def channel(self, part: Track | Samples, index: int) -> Track:
        """Left (0) or right (1) of a part, placed."""
        gain = np.float32(self.channel_gains()[index])
        if part.ndim == 2:
            return part[:, index] * min(gain, np.float32(1))
        return part * gain if self.pan else part

    def digest(self) -> bytes:
        """The same for what is mixed in the same way alone."""
        words = repr((self.name, self.pan, self.spikes, len(self.ducks))).encode()
        room = self.room.digest() if self.room else b""
        return digest_of([words, self.source.digest(), room, *(duck.digest() for duck in self.ducks)])
