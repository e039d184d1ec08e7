"""A stretch to practise: so many times round at one speed after another, each after its count-in, in one file.

Nothing announces a speed but its click. Every round is at the same pitch, as all slower sound is.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import accumulate
from pathlib import Path

from renderer.audio.click_sounds import SAMPLES_PER_SECOND
from renderer.audio.click_track import JoinedSounds
from renderer.audio.encode import write_sound
from renderer.audio.loudness import SILENCE, Samples, decibels, in_steps, measure
from renderer.core.outputs import OutputFolder
from renderer.core.time_grid import seconds_to_sample_index
from renderer.lesson.lesson import Lesson
from renderer.mix.soundtracks import Soundtrack
from renderer.mix.stems import segment_master
from renderer.schedule.play import PlaySchedule, schedule_play
from renderer.spec.model import BarRange, SegmentSpec
from renderer.spec.sound import ClickSpec, SoundSpec


@dataclass(frozen=True, slots=True)
class Practice:
    """What is practised: some bars or all of the piece, at these shares of its tempo, so many times round at each."""

    bars: BarRange | None = None
    speeds: tuple[Fraction, ...] = (Fraction(1),)
    times: int = 1

    @property
    def options(self) -> SegmentSpec:
        """The stretch as a `play` asks for it."""
        return SegmentSpec("play", bars=(self.bars,) if self.bars else None, times=self.times)

    @property
    def name(self) -> str:
        """The file's name without its ending."""
        if self.bars is None:
            return "practice"
        first, last = self.bars
        return f"practice-bar-{first}" if first == last else f"practice-bars-{first}-{last}"


def practice_schedules(lesson: Lesson, practice: Practice) -> list[PlaySchedule]:
    """Each speed by itself, in order. Where the spec has no click, or one without a count-in, a bar is counted in."""
    click = lesson.click or ClickSpec()
    if not click.count_in and not click.count_in_beats:
        click = replace(click, count_in=1)
    return [
        schedule_play(lesson.timeline.slowed(speed), practice.options, click) for speed in practice.speeds
    ]


def write_practice(
    lesson: Lesson, directory: Path, practice: Practice, kind: str = "wav", overwrite: bool = False
) -> Soundtrack:
    """Write one file into `directory`, made if it is not there; each speed begins on the sample nearest to its time.

    `kind` is one of `encode.FORMATS`. Raises FileError.
    """
    folder = OutputFolder(directory, lesson.inputs, overwrite)
    path = directory / f"{practice.name}.{kind}"
    folder.prepare([path.name])
    schedules = practice_schedules(lesson, practice)
    starts = [*accumulate((schedule.seconds for schedule in schedules), initial=Fraction(0))]
    edges = [seconds_to_sample_index(seconds, SAMPLES_PER_SECOND) for seconds in starts]
    joined = JoinedSounds([segment_master(lesson, schedule) for schedule in schedules], edges)

    def blocks() -> Iterator[Samples]:
        for start in range(0, edges[-1], SAMPLES_PER_SECOND):
            yield joined[start : start + SAMPLES_PER_SECOND]

    with folder.file(path.name) as file:
        coded = write_sound(file, kind, blocks, edges[-1])
    heard = coded or measure(in_steps(blocks()))
    lufs = heard.lufs()
    loud = lufs != SILENCE
    aim = float((lesson.spec.sound or SoundSpec()).loudness)
    return Soundtrack(
        path,
        None,
        None,
        starts[-1],
        lufs if loud else None,
        decibels(heard.true_peak()) if loud else None,
        aim,
    )
