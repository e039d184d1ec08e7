"""A lesson's segments to video files, with the click beside them.

What has been drawn is kept beside the output: a render that was cut short goes on where it stopped, and one
after a change draws only the chunks whose pictures differ.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from itertools import chain
from pathlib import Path
from struct import Struct

from renderer.audio.click_track import JoinedSounds, click_events, write_wav
from renderer.audio.coded import CodedPart, CodedSound, SoundCoder, name_sound, pack_part, unpack_part
from renderer.audio.loudness import SILENCE, Sound
from renderer.audio.master import SOFTER_LU, Master, master
from renderer.audio.placed import PlacedTrack
from renderer.audio.slow_down import slow_down
from renderer.core.outputs import OutputFolder
from renderer.core.used_code import code_key
from renderer.lesson.lesson import Lesson, Planned
from renderer.mix.recording import recording_remarks
from renderer.mix.stems import segment_master, segment_stems
from renderer.schedule.play import schedule_piece
from renderer.spec.sound import SoundSpec
from renderer.video.chapters import lay_chapters
from renderer.video.chunks import Film
from renderer.video.coders import sound_coder
from renderer.video.codings import H264, Coding
from renderer.video.drawing import CODECS
from renderer.video.films import FilmProgress, LostChunkError, Progress, Tally, make_films
from renderer.video.last_render import keep_render
from renderer.video.mp4 import check_size, count_samples, join_chunks
from renderer.video.quality import DRAFT as DRAFT
from renderer.video.quality import FINAL as FINAL
from renderer.video.quality import Quality as Quality
from renderer.video.reel import lay_reels
from renderer.video.store import FOLDER, Store
from renderer.video.workers import PoolFactory, core_count, in_threads, local_workers
from scenes.draw.look import Look, canvas_for, look_of, read_look

LOUDNESS = Struct("<d")
PRUNE_EVERY = 100
"""Chunks after which what is drawn ahead is held to the store's limit."""
CLICK_FILE, JOINED_FILE = "click.wav", "lesson.mp4"


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
    lufs: float | None = None
    """How loud a film's sound came out, in LUFS; None where there is none, and where several are joined."""
    aim: float | None = None
    """The loudness aimed at, in LUFS."""

    @property
    def softer(self) -> bool:
        """Whether its peaks kept it softer than what was aimed at."""
        return self.lufs is not None and self.aim is not None and self.lufs < self.aim - SOFTER_LU


def render_lesson(
    lesson: Lesson,
    directory: Path,
    segments: Sequence[Planned],
    quality: Quality = FINAL,
    theme: str | None = None,
    progress: Progress | None = None,
    workers: PoolFactory | None = None,
    joined: bool = False,
    overwrite: bool = False,
    coding: Coding = H264,
) -> list[Rendered]:
    """Write the click and the given segments' films into `directory`, which is made if it is not there.

    A recording that can't be used is reported before anything is drawn.

    `theme` is the spec's unless another is named; `workers` are one process a core unless others are given. With
    `joined` the segments also stand one after another in one film.
    Each file appears whole or not at all. Files that barcross did not write stay, and a FileError says so, unless
    `overwrite` lets them go. Raises FileError or BarcrossError.
    """
    check_size(quality.width, quality.height)
    recording_remarks(lesson)
    folder = OutputFolder(directory, lesson.inputs, overwrite)
    names = [film_name(planned, coding) for planned in segments]
    whole = [joined_name(coding)] if joined else []
    folder.prepare([*([CLICK_FILE] if lesson.click else []), *names, *whole])
    store = Store(directory / FOLDER)
    look = read_look(theme) if theme else look_of(lesson.spec.theme)
    films_progress = _films_progress(store, segments, quality, look, progress, coding)
    written = [*write_click(lesson, folder)]
    coded = in_threads(lambda film_progress: code_film_sound(lesson, film_progress, store), films_progress, 1)
    sounds = dict(zip(films_progress, coded, strict=True))

    def finish(film_progress: FilmProgress) -> None:
        written.append(write_film(folder, film_progress, sounds[film_progress].result()))

    pool = workers or local_workers(core_count())
    make_films(films_progress, store, pool, finish)
    if joined:
        try:
            written.append(write_joined(lesson, folder, films_progress, store))
        except LostChunkError:
            make_films(films_progress, store, pool, lambda film_progress: None)
            written.append(write_joined(lesson, folder, films_progress, store))
    if lesson.text:
        keep_render(store, lesson, quality)
    store.prune()
    return written


def draw_ahead(
    lesson: Lesson, directory: Path, segments: Sequence[Planned], quality: Quality, workers: PoolFactory
) -> None:
    """Draw what a render of these segments into `directory` would have to draw, and keep it where that looks for it.
    No film is written. May be ended at any moment; what has been drawn is there. Raises FileError or BarcrossError."""
    store = Store(directory / FOLDER)
    store.prune()

    def drawn(planned: Planned, tally: Tally) -> None:
        if tally.chunks % PRUNE_EVERY == 0:
            store.prune()

    films_progress = _films_progress(store, segments, quality, look_of(lesson.spec.theme), drawn)
    make_films(films_progress, store, workers, lambda film_progress: None)
    store.prune()


def _films_progress(
    store: Store,
    segments: Sequence[Planned],
    quality: Quality,
    look: Look,
    progress: Progress | None,
    coding: Coding = H264,
) -> list[FilmProgress]:
    look = look.on(canvas_for(quality.width, quality.height))
    films = (build_film(planned, quality, look, coding) for planned in segments)
    return [
        FilmProgress(planned, film, store, progress) for planned, film in zip(segments, films, strict=True)
    ]


def build_film(planned: Planned, quality: Quality, look: Look, coding: Coding = H264) -> Film:
    """What a segment's pictures follow from."""
    return Film(planned.schedule, look, quality.width, quality.height, quality.frames_per_second, coding)


def write_click(lesson: Lesson, folder: OutputFolder) -> Iterator[Rendered]:
    """The click of the whole piece with its count-in, as in the sound of a `play` of all sections."""
    if lesson.click is None:
        return
    schedule = schedule_piece(lesson.timeline, lesson.click)
    with folder.file(CLICK_FILE) as file:
        write_wav(file, click_events(schedule.clicks, schedule.seconds, text=lesson.click))
    yield Rendered(folder.folder / CLICK_FILE, None, None, None, None, schedule.seconds)


@dataclass(frozen=True, slots=True)
class FilmSound:
    """A film's sound, coded, with the loudness at which it came out and the one aimed at, in LUFS."""

    coded: CodedSound
    lufs: float
    aim: float


def code_film_sound(lesson: Lesson, film_progress: FilmProgress, store: Store) -> FilmSound | None:
    """A film's sound, coded; None if nothing sounds in it. Raises FileError if a file of it can't be used."""
    schedule, film = film_progress.planned.schedule, film_progress.film
    stems = segment_stems(lesson, schedule)
    if not stems:
        return None
    count = count_samples(film.frame_count, film.frames_per_second)
    loudness = (lesson.spec.sound or SoundSpec()).loudness
    coder = sound_coder(film.coding)
    name = name_sound(stems, count, loudness, *sound_code(coder))
    mix = cache(lambda: segment_master(lesson, schedule))
    coded = _keep_sound(store, coder, name, count, mix)
    return FilmSound(coded, _keep_loudness(store, name, mix), float(loudness))


def _keep_loudness(store: Store, name: str, mix: Callable[[], Master]) -> float:
    """How loud a sound came out, in LUFS: it is mixed only if that is not in the store."""
    entry = name_sound([], "loudness", name)
    content = store.get(entry)
    if content is not None and len(content) == LOUDNESS.size:
        (kept,) = LOUDNESS.unpack(content)
        if kept == SILENCE or abs(kept) < 200:  # else it was forged
            return float(kept)
    lufs = mix().lufs
    store.put(entry, LOUDNESS.pack(lufs))
    return lufs


def sound_code(coder: SoundCoder) -> tuple[object, ...]:
    """What a sound follows from besides its stems: the code and the libraries that mix and code them."""
    makers = (master, JoinedSounds, coder.code_part, PlacedTrack, slow_down)
    return code_key(*(maker.__module__ for maker in makers)), CODECS


def _keep_sound(
    store: Store, coder: SoundCoder, name: str, sample_count: int, mix: Callable[[], Sound]
) -> CodedSound:
    """A sound whose parts are in the store: it is mixed only if one is missing, and not held."""
    names = [f"{name}.{index}" for index in range(coder.count_parts(sample_count))]

    def kept(index: int) -> CodedPart | None:
        try:
            part = unpack_part(store.get(names[index]) or b"")
            coder.check_part(part, sample_count, index)
        except ValueError:  # missing, or not what its name says
            return None
        return part

    missing = [index for index in range(len(names)) if kept(index) is None]
    if missing:
        sound = mix()

        def make(index: int) -> None:
            store.put(names[index], pack_part(coder.code_part(sound, sample_count, index)))

        for made in in_threads(make, missing, core_count()):
            made.result()

    def part(index: int) -> CodedPart:
        return kept(index) or coder.code_part(mix(), sample_count, index)  # it may have been lost meanwhile

    return CodedSound(sample_count, len(names), part)


def film_name(planned: Planned, coding: Coding = H264) -> str:
    """The name of a segment's film."""
    return f"{planned.name}{coding.ending}"


def joined_name(coding: Coding) -> str:
    """The name of the film of all segments."""
    return f"{Path(JOINED_FILE).stem}{coding.ending}"


def write_film(folder: OutputFolder, film_progress: FilmProgress, sound: FilmSound | None) -> Rendered:
    """Join a segment's chunks and its sound to a film."""
    planned, film, rate = film_progress.planned, film_progress.film, film_progress.film.frames_per_second
    name = film_name(planned, film.coding)
    with folder.file(name) as file:
        coded = sound.coded if sound else None
        size = film.width, film.height
        join_chunks(file, film_progress.chunks(), *size, rate, film.frame_count, coded, coding=film.coding)
    seconds = film.frame_count / rate
    path = folder.folder / name
    heard = sound if sound and sound.lufs != SILENCE else None
    return Rendered(
        path,
        planned.number,
        planned.show,
        film.frame_count,
        rate,
        seconds,
        film_progress.all_reused,
        heard.lufs if heard else None,
        heard.aim if heard else None,
    )


def write_joined(
    lesson: Lesson, folder: OutputFolder, films_progress: Sequence[FilmProgress], store: Store
) -> Rendered:
    """All segments, one after another, in one film with chapters: the same chunks once more, each segment's sound from
    the sample at which its first frame begins."""
    film = films_progress[0].film
    rate = film.frames_per_second
    reels = lay_reels((film_progress.planned for film_progress in films_progress), rate)
    starts = [*(reel.start_frame for reel in reels), reels[-1].start_frame + reels[-1].frame_count]
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

    coder = sound_coder(film.coding)
    settings = [*map(len, stems)], edges, loudness, *sound_code(coder)
    name = name_sound([*chain.from_iterable(stems)], *settings)
    sound = _keep_sound(store, coder, name, edges[-1], mix) if any(stems) else None
    path = folder.folder / joined_name(film.coding)
    chunks = chain.from_iterable(film_progress.chunks() for film_progress in films_progress)
    with folder.file(path.name) as file:
        size = film.width, film.height
        join_chunks(file, chunks, *size, rate, starts[-1], sound, lay_chapters(reels), film.coding)
    reused = all(film_progress.all_reused for film_progress in films_progress)
    return Rendered(path, None, None, starts[-1], rate, starts[-1] / rate, reused)
