"""A lesson's segments to video files, with the click beside them.

What has been drawn is kept beside the output: a render that was cut short goes on where it stopped, and one
after a change draws only the chunks whose pictures differ.
"""

import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate, chain
from pathlib import Path

from renderer.audio.aac import (
    CodedPart,
    CodedSound,
    code_part,
    count_parts,
    name_sound,
    pack_part,
    unpack_part,
)
from renderer.audio.click_track import JoinedSounds, click_events, write_wav
from renderer.audio.loudness import Sound
from renderer.core.errors import FileError
from renderer.core.files import make_directory
from renderer.lesson.lesson import Lesson, Planned
from renderer.mix.recording import recording_remarks
from renderer.mix.stems import segment_master, segment_stems
from renderer.schedule.play import schedule_play
from renderer.spec.sound import SoundSpec
from renderer.video.chunks import Film, code_key
from renderer.video.films import FilmProgress, LostChunkError, Progress, make_films
from renderer.video.mp4 import check_size, count_samples, join_chunks
from renderer.video.store import FOLDER, IN_USE_SECONDS, Store
from renderer.video.workers import PoolFactory, core_count, in_threads, local_workers
from scenes.draw.look import Look, look_of, read_look

CLICK_FILE, JOINED_FILE = "click.wav", "lesson.mp4"


@dataclass(frozen=True, slots=True)
class Quality:
    """The size and rate of a film."""

    width: int = 1920
    height: int = 1080
    frames_per_second: Fraction = Fraction(60)


FINAL = Quality()
DRAFT = Quality(960, 540, Fraction(30))


@dataclass(frozen=True, slots=True)
class Rendered:
    """A file that was written; frames and what goes with them are None for sound alone."""

    path: Path
    segment: int | None
    show: str | None
    frames: int | None
    frames_per_second: Fraction | None
    seconds: Fraction
    reused: bool = False
    """Whether all of its pictures were there from a render before."""


def render_lesson(
    lesson: Lesson,
    directory: Path,
    segments: Sequence[Planned],
    quality: Quality = FINAL,
    theme: str | None = None,
    progress: Progress | None = None,
    workers: PoolFactory | None = None,
    joined: bool = False,
) -> list[Rendered]:
    """Write the click and the given segments' films into `directory`, which is made if it is not there.

    A recording that can't be used is told before anything is drawn.

    `theme` is the spec's unless another is named; `workers` are one process a core unless others are given. With
    `joined` the segments also stand one after another in one film.
    Each file appears whole or not at all. Raises FileError or BarcrossError.
    """
    check_size(quality.width, quality.height)
    recording_remarks(lesson)
    make_directory(directory)
    clear_leftovers(directory)
    store = Store(directory / FOLDER)
    look = read_look(theme) if theme else look_of(lesson.spec.theme)
    films_progress = [
        FilmProgress(planned, build_film(planned, quality, look), store, progress) for planned in segments
    ]
    written = [*write_click(lesson, directory)]
    coded = in_threads(lambda film_progress: code_film_sound(lesson, film_progress, store), films_progress, 1)
    sounds = dict(zip(films_progress, coded, strict=True))

    def finish(film_progress: FilmProgress) -> None:
        written.append(write_film(directory, film_progress, sounds[film_progress].result()))

    make_films(films_progress, store, workers or local_workers(core_count()), finish)
    if joined:
        written.append(write_joined(lesson, directory, films_progress, store))
    store.prune()
    return written


def build_film(planned: Planned, quality: Quality, look: Look) -> Film:
    """What a segment's pictures follow from."""
    return Film(planned.schedule, look, quality.width, quality.height, quality.frames_per_second)


def write_click(lesson: Lesson, directory: Path) -> Iterator[Rendered]:
    """The click of the whole piece with its count-in, as in the sound of a `play` of all sections."""
    if lesson.click is None:
        return
    schedule = schedule_play(lesson.timeline, None, lesson.click)
    path = directory / CLICK_FILE
    write_wav(path, click_events(schedule.clicks, schedule.seconds, text=lesson.click))
    yield Rendered(path, None, None, None, None, schedule.seconds)


def code_film_sound(lesson: Lesson, film_progress: FilmProgress, store: Store) -> CodedSound | None:
    """A film's sound, coded; None if nothing sounds in it. Raises FileError if a file of it can't be used."""
    schedule, film = film_progress.planned.schedule, film_progress.film
    stems = segment_stems(lesson, schedule)
    if not stems:
        return None
    count = count_samples(film.frame_count, film.frames_per_second)
    loudness = (lesson.spec.sound or SoundSpec()).loudness
    name = name_sound(stems, count, loudness, code_key())
    return _keep_sound(store, name, count, lambda: segment_master(lesson, schedule))


def _keep_sound(store: Store, name: str, sample_count: int, mix: Callable[[], Sound]) -> CodedSound:
    """A sound whose parts are in the store: it is mixed only if one is missing, and not held."""
    names = [f"{name}.{index}" for index in range(count_parts(sample_count))]
    missing = [index for index, part in enumerate(names) if store.get(part) is None]
    if missing:
        sound = mix()

        def make(index: int) -> None:
            store.put(names[index], pack_part(code_part(sound, sample_count, index)))

        for made in in_threads(make, missing, core_count()):
            made.result()

    def part(index: int) -> CodedPart:
        content = store.get(names[index])
        if content is None:  # it has been lost meanwhile
            return code_part(mix(), sample_count, index)
        return unpack_part(content)

    return CodedSound(sample_count, part)


def write_film(directory: Path, film_progress: FilmProgress, sound: CodedSound | None) -> Rendered:
    """Join a segment's chunks and its sound to a film."""
    planned, film, rate = film_progress.planned, film_progress.film, film_progress.film.frames_per_second
    path = directory / f"{planned.name}.mp4"
    join_chunks(path, film_progress.chunks(), film.width, film.height, rate, film.frame_count, sound)
    seconds = film.frame_count / rate
    return Rendered(
        path, planned.number, planned.show, film.frame_count, rate, seconds, film_progress.all_reused
    )


def write_joined(
    lesson: Lesson, directory: Path, films_progress: Sequence[FilmProgress], store: Store
) -> Rendered:
    """All segments, one after another, in one film: the same chunks once more, each segment's sound from the sample
    at which its first frame begins."""
    film = films_progress[0].film
    rate = film.frames_per_second
    starts = [0, *accumulate(film_progress.film.frame_count for film_progress in films_progress)]
    edges = [count_samples(start, rate) for start in starts]
    stems = [segment_stems(lesson, film_progress.planned.schedule) for film_progress in films_progress]
    loudness = (lesson.spec.sound or SoundSpec()).loudness

    sounding = [
        film_progress.planned.schedule if some else None
        for film_progress, some in zip(films_progress, stems, strict=True)
    ]

    def mix() -> Sound:
        return JoinedSounds(
            [None if part is None else segment_master(lesson, part) for part in sounding], edges
        )

    name = name_sound([*chain.from_iterable(stems)], [*map(len, stems)], edges, loudness, code_key())
    sound = _keep_sound(store, name, edges[-1], mix) if any(stems) else None
    path = directory / JOINED_FILE
    chunks = chain.from_iterable(film_progress.chunks() for film_progress in films_progress)
    try:
        join_chunks(path, chunks, film.width, film.height, rate, starts[-1], sound)
    except LostChunkError:
        raise FileError(f"{path}: what was drawn for it was removed meanwhile. Render once more.") from None
    reused = all(film_progress.all_reused for film_progress in films_progress)
    return Rendered(path, None, None, starts[-1], rate, starts[-1] / rate, reused)


def clear_leftovers(directory: Path) -> None:
    """Remove what renders that were killed have left half written."""
    for path in directory.glob(".*-????????.mp4"):
        with suppress(OSError):
            if path.stat().st_mtime < time.time() - IN_USE_SECONDS:
                path.unlink()
