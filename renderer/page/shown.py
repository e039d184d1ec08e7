"""Segments that are looked at: what draws them and what sounds in them, kept while they are.

A segment's pictures come from one object that keeps parts of them, so one thread at a time asks it. Its sound is mixed
beforehand. Until it has its loudness it is heard at the gain of the edition before, or softly: what goes to the ear
never waits, and is never louder than the ceiling of a finished mix. What would take long to mix, a long segment or a
recording slowed down, is only listened to in its middle; a recording is slowed where one listens.
"""

from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property
from threading import Lock

import numpy as np

from renderer.audio.click_sounds import SAMPLES_PER_SECOND, Track
from renderer.audio.digest import digest_of
from renderer.audio.loudness import SILENCE, Samples
from renderer.audio.master import Master, master
from renderer.audio.moving_gain import MovingGain
from renderer.audio.slowed import SlowedNearby
from renderer.audio.stem import Stem
from renderer.core.time_grid import seconds_to_frame_index, seconds_to_sample_index
from renderer.lesson.lesson import Lesson
from renderer.mix.recording import open_recording
from renderer.mix.stems import segment_stems
from renderer.page.editions import Laid
from renderer.page.outlines import draw_frames
from renderer.schedule.model import Schedule
from renderer.spec.sound import SoundSpec
from scenes.catalogue import build_segment
from scenes.draw.look import Canvas, Look, canvas_for, look_of
from scenes.draw.segment import Picture, Segment

MOST_KEPT = 24
SOFT_GAIN = np.float32(0.25)
"""What a sound is multiplied by while nothing is known of its loudness."""
FULL = Fraction(1)
MIXED_SECONDS = 600
"""What lasts longer is not mixed for the page: an hour takes a minute."""
HEARD_SAMPLES = 20 * SAMPLES_PER_SECOND
"""So much of it is listened to instead."""


class Shown:
    """A segment of a lesson at a speed."""

    def __init__(self, laid: Laid, number: int, speed: Fraction, gain: np.float32) -> None:
        self.laid = laid
        self.number = number
        self._gain = gain
        self.lesson = at_speed(laid.lesson, speed)
        self._drawing, self._mixing = Lock(), Lock()
        self._master: Master | None = None
        self._estimated = False

    @cached_property
    def schedule(self) -> Schedule:
        """What happens when. Raises IndexError if the lesson has no such segment."""
        return self.lesson.segments()[self.number - 1].schedule

    @cached_property
    def look(self) -> Look:
        """The lesson's own."""
        return look_of(self.lesson.spec.theme).on(canvas_for(1920, 1080))

    @property
    def canvas(self) -> Canvas:
        """What its pictures are composed on."""
        return self.look.canvas

    @cached_property
    def _segment(self) -> Segment:
        return build_segment(self.schedule, self.look)

    def frame_count(self, rate: Fraction) -> int:
        """Frames at a rate; at least one."""
        return max(1, seconds_to_frame_index(self.schedule.seconds, rate))

    def pictures(self, frames: Sequence[int], rate: Fraction) -> list[Picture]:
        """Some of its pictures."""
        with self._drawing:
            return draw_frames(self._segment, frames, rate)

    @property
    def sample_count(self) -> int:
        """Samples of its sound."""
        return seconds_to_sample_index(self.schedule.seconds, SAMPLES_PER_SECOND)

    def mix(self) -> Master:
        """Its sound at its loudness, as a film has it. Raises FileError."""
        with self._mixing:
            if self._master is None:
                self._master = master(self._stems, self.sample_count, self._loudness)
            return self._master

    def open_recording(self) -> None:
        """Read the recording, if there is one, so that it can be heard at once. Raises FileError."""
        recording = open_recording(self.lesson)
        if recording is not None:
            recording[0:1]

    def prepare(self) -> None:
        """Find its loudness. Raises FileError."""
        slowed = self.lesson.spec.recording is not None and self.schedule.timeline.speed != FULL
        if self.schedule.seconds <= MIXED_SECONDS and not slowed:
            self.mix()
            return
        with self._mixing:
            if not self._estimated:
                length = min(self.sample_count, HEARD_SAMPLES)
                start = (self.sample_count - length) // 2
                parts = [
                    Stem(stem.name, _Part(stem, start), stem.pan, stem.spikes) for stem in self._bare_stems
                ]
                self._gain, self._estimated = _usual(master(parts, length, self._loudness)), True

    def heard(self) -> Master:
        """Its sound as it can be heard at once; what makes room for the click takes listening to all of it, and comes
        with the mix. Raises FileError."""
        if self._master is not None:
            return self._master
        return Master(self._bare_stems, self.sample_count, SILENCE, SILENCE, 0.0, self._gain)

    @property
    def gain(self) -> np.float32:
        """About what its sound is multiplied by."""
        return self._gain if self._master is None else _usual(self._master)

    @property
    def _loudness(self) -> float:
        return float((self.lesson.spec.sound or SoundSpec()).loudness)

    @cached_property
    def _stems(self) -> tuple[Stem, ...]:
        return segment_stems(self.lesson, self.schedule)

    @cached_property
    def _bare_stems(self) -> tuple[Stem, ...]:
        stems = segment_stems(self.lesson, self.schedule, SlowedNearby)
        return tuple(replace(stem, room=None) for stem in stems)


@dataclass(frozen=True)
class _Part:
    """A stem from a sample on, as the source of another one."""

    stem: Stem
    start: int

    @property
    def channel_count(self) -> int:
        return self.stem.source.channel_count

    def part(self, start: int, end: int) -> Track | Samples:
        return self.stem.part(self.start + start, self.start + end)

    def digest(self) -> bytes:
        return digest_of([self.stem.digest(), str(self.start).encode()])


def _usual(mastered: Master) -> np.float32:
    gain = mastered.gain
    return np.float32(np.median(gain.values)) if isinstance(gain, MovingGain) else gain


class ShownSegments:
    """What is looked at, the latest of it. May be asked from any thread."""

    def __init__(self) -> None:
        self._kept: OrderedDict[tuple[int, int, Fraction], Shown] = OrderedDict()
        self._lock = Lock()

    def get(self, laid: Laid, number: int, speed: Fraction) -> Shown:
        """A segment by its number, at a share of its speed. Raises IndexError."""
        key = laid.number, number, speed
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
                return self._kept[key]
            if not 1 <= number <= len(laid.lesson.spec.segments):
                raise IndexError(number)
            shown = self._kept[key] = Shown(laid, number, speed, self._last_gain(number))
            if len(self._kept) > MOST_KEPT:
                self._kept.popitem(last=False)
            return shown

    def _last_gain(self, number: int) -> np.float32:
        same = [shown.gain for shown in self._kept.values() if shown.number == number]
        return same[-1] if same else SOFT_GAIN


def at_speed(lesson: Lesson, speed: Fraction) -> Lesson:
    """The lesson, each of its segments at a share of its speed."""
    if speed == FULL:
        return lesson
    segments = tuple(text._replace(speed=text.speed * speed) for text in lesson.spec.segments)
    return replace(lesson, spec=replace(lesson.spec, segments=segments))
