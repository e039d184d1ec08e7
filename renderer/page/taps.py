"""Downbeats tapped to a recording: each moved to the attack next to it, told with what it does to the tempo, and
written as sync points. What is heard meanwhile is the recording by itself, slower if one likes, at its own pitch.
"""

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from typing import NamedTuple

from renderer.audio.audio_file import Recording, read_recording
from renderer.audio.click_sounds import SAMPLES_PER_SECOND
from renderer.audio.loudness import Samples
from renderer.audio.placed import MarkedSound
from renderer.audio.slow_down import find_attacks
from renderer.audio.slowed import SlowedNearby
from renderer.core.errors import BarcrossError
from renderer.core.time_grid import nearest
from renderer.lesson.lesson import Lesson
from renderer.mix.recording import UNDER_LUFS
from renderer.timeline.model import Timeline

NEAR = 0.060
"""Seconds within which an attack is taken for the downbeat's own."""
PIECE = SAMPLES_PER_SECOND // 2
LEAST_SPEED = Fraction(1, 2)


class Tap(NamedTuple):
    """A downbeat as it was tapped: its bar's number and its second in the recording. `kept`: put there by hand."""

    bar: int
    seconds: float
    kept: bool = False


class TappedPoint(NamedTuple):
    """A downbeat where it is put, in whole milliseconds, and how far from the tap."""

    bar: int
    seconds: float
    moved: float | None
    """Seconds from the tap to the attack that was taken; None where none was near, or it was put there by hand."""
    tempo: float | None
    """Quarters a minute from here to the next point."""


def settle(taps: Sequence[Tap], attacks: Sequence[float], timeline: Timeline) -> list[TappedPoint]:
    """The points that taps become. Raises BarcrossError where a later bar would come earlier in the recording."""
    latest = {tap.bar: tap for tap in taps}
    found = []
    for tap in sorted(latest.values()):
        near = None if tap.kept else nearest_attack(tap.seconds, attacks)
        seconds = round(tap.seconds if near is None else near, 3)
        found.append((tap.bar, seconds, None if near is None else round(near - tap.seconds, 4)))
    for (_, before, _), (bar, after, _) in pairwise(found):
        if after <= before:
            raise BarcrossError(f"Bar {bar} would come before the bar before it. Take one of the two out.")
    starts = {bar.number: bar.at for bar in timeline.bars}
    points = []
    for index, (bar, seconds, moved) in enumerate(found):
        tempo = None
        if index + 1 < len(found):
            later, end, _ = found[index + 1]
            quarters = timeline.whole(starts[later] - starts[bar]) * 4
            tempo = round(float(quarters) * 60 / (end - seconds), 1)
        points.append(TappedPoint(bar, seconds, moved, tempo))
    return points


def nearest_attack(seconds: float, attacks: Sequence[float]) -> float | None:
    """The attack next to a moment, if it is near enough; attacks are in order.

    >>> nearest_attack(1.03, [0.5, 1.0, 1.08]), nearest_attack(2.0, [0.5, 1.0])
    (1.0, None)
    """
    index = bisect_left(attacks, seconds)
    near = min(attacks[max(0, index - 1) : index + 1], key=lambda at: abs(at - seconds), default=None)
    return near if near is not None and abs(near - seconds) <= NEAR else None


def sync_text(points: Sequence[TappedPoint]) -> str:
    """The points as a spec has them.

    >>> sync_text([TappedPoint(1, 0.524, None, None), TappedPoint(2, 3.0, None, None)])
    '{1: 0.524, 2: 3.000}'
    """
    return "{" + ", ".join(f"{point.bar}: {point.seconds:.3f}" for point in points) + "}"


def lesson_recording(lesson: Lesson) -> Recording:
    """The recording of a lesson, wherever its bars lie. Raises FileError, BarcrossError if the spec names none."""
    if lesson.spec.recording is None:
        raise BarcrossError(
            "The spec names no recording. Write recording: and the file's name, and sync: {1: 0}."
        )
    return read_recording(lesson.folder / lesson.spec.recording)


@lru_cache(maxsize=2)
def attacks_of(recording: Recording) -> tuple[float, ...]:
    """The seconds at which something begins in a recording."""
    return tuple(round(at / SAMPLES_PER_SECOND, 4) for at in find_attacks(recording))


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
