"""What is heard while one taps: the recording by itself, slower if one likes, at its own pitch."""

from collections.abc import Iterator
from fractions import Fraction

from renderer.audio.audio_file import Recording
from renderer.audio.click_sounds import SAMPLES_PER_SECOND
from renderer.audio.loudness import Samples
from renderer.audio.placed import MarkedSound
from renderer.audio.slowed import SlowedNearby
from renderer.core.time_grid import nearest
from renderer.mix.recording import UNDER_LUFS

PIECE = SAMPLES_PER_SECOND // 2
LEAST_SPEED = Fraction(1, 2)


class Taken:
    """A recording from a second on at a share of its speed, piece by piece, at its own pitch, slowed as it is heard."""

    def __init__(self, recording: Recording, speed: Fraction) -> None:
        self._speed = speed
        self._sound: MarkedSound = recording if speed == 1 else SlowedNearby(recording, speed)
        self._gain = min(1.0, 10 ** ((UNDER_LUFS - recording.lufs) / 20))

    def pieces(self, start: int) -> Iterator[Samples]:
        """The sound from a sample of the recording on."""
        count = self._sound.shape[0]
        for at in range(nearest(start / self._speed), count, PIECE):
            yield self._sound[at : min(count, at + PIECE)] * self._gain
