"""A lesson's segments to video files, with the click beside them."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from renderer.errors import FileError
from renderer.frames import Pixels, draw_frames
from renderer.indices import seconds_to_frame_index
from renderer.lesson import Lesson, Planned
from renderer.schedule import schedule_play
from renderer.sound import mix_clicks, write_wav
from renderer.video import write_film
from scenes.catalogue import build_segment
from scenes.look import read_look

CLICK_FILE = "click.wav"


@dataclass(frozen=True, slots=True)
class Quality:
    """The size and rate of a film."""

    width: int = 1920
    height: int = 1080
    frames_per_second: Fraction = Fraction(60)


FINAL = Quality()
DRAFT = Quality(960, 540, Fraction(30))

Progress = Callable[[Planned, int, int], None]
"""Told a segment, the frames done and the frames in all."""


@dataclass(frozen=True, slots=True)
class Rendered:
    """A file that was written; frames and what goes with them are None for sound alone."""

    path: Path
    segment: int | None
    show: str | None
    frames: int | None
    frames_per_second: Fraction | None
    seconds: Fraction


def render_lesson(
    lesson: Lesson,
    directory: Path,
    segments: Sequence[Planned],
    quality: Quality = FINAL,
    theme: str = "dark",
    progress: Progress | None = None,
) -> list[Rendered]:
    """Write the click and the given segments' films into `directory`, which is made if it is not there.

    Each file appears whole or not at all. Raises FileError or BarcrossError.
    """
    make_directory(directory)
    written = [*write_click(lesson, directory)]
    for planned in segments:
        written.append(render_segment(lesson, directory, planned, quality, theme, progress))
    return written


def write_click(lesson: Lesson, directory: Path) -> Iterator[Rendered]:
    """The click of the whole piece with its count-in, as in the sound of a `play` of all sections."""
    if lesson.spec.click is None:
        return
    schedule = schedule_play(lesson.timeline, None, lesson.spec.click)
    path = directory / CLICK_FILE
    write_wav(path, mix_clicks(schedule.clicks, schedule.seconds))
    yield Rendered(path, None, None, None, None, schedule.seconds)


def render_segment(
    lesson: Lesson, directory: Path, planned: Planned, quality: Quality, theme: str, progress: Progress | None
) -> Rendered:
    """One segment's film with its sound."""
    schedule, rate = planned.schedule, quality.frames_per_second
    frame_count = max(1, seconds_to_frame_index(schedule.seconds, rate))
    segment = build_segment(lesson.timeline, schedule, read_look(theme))
    frames = draw_frames(segment, quality.width, quality.height, rate, range(frame_count))
    path = directory / f"{planned.name}.mp4"
    write_film(
        path,
        _counted(frames, planned, frame_count, progress),
        quality.width,
        quality.height,
        rate,
        frame_count,
        mix_clicks(schedule.clicks, schedule.seconds) if schedule.clicks else None,
    )
    return Rendered(path, planned.number, planned.show, frame_count, rate, frame_count / rate)


def _counted(
    frames: Iterable[Pixels], planned: Planned, frame_count: int, progress: Progress | None
) -> Iterator[Pixels]:
    for done, frame in enumerate(frames):
        if progress:
            progress(planned, done, frame_count)
        yield frame
    if progress:
        progress(planned, frame_count, frame_count)


def make_directory(directory: Path) -> None:
    """Make a folder for what is written. Raises FileError."""
    try:
        directory.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        reason = error.strerror or str(error)
        raise FileError(
            f"{directory}: this folder can't be made ({reason}). Name another with --out."
        ) from None
