"""What a correction changes in a lesson's films: frame by frame, by comparing the shapes that they are drawn from.

Nothing is drawn or encoded. A film whose pictures and sound are the same is the same to the byte: it follows from them
alone.
"""

from collections.abc import Callable, Iterator
from hashlib import blake2b
from typing import NamedTuple

from renderer.audio.coded import name_sound
from renderer.core.time_grid import frame_index_to_seconds
from renderer.lesson.lesson import Lesson, Planned
from renderer.mix.stems import segment_stems
from renderer.spec.sound import SoundSpec
from renderer.video.chunks import Film, without_collection
from renderer.video.drawing import digest_shape
from renderer.video.quality import Quality
from scenes.draw.look import canvas_for, look_of

Progress = Callable[[str], None]
"""Told the name of each film that is looked at frame by frame."""


class FrameRange(NamedTuple):
    """Frames from one up to another, without it."""

    first: int
    end: int


class FilmChange(NamedTuple):
    """What becomes of one film. Frame counts are None where it was not, or is not."""

    name: str
    before: int | None
    after: int | None
    pictures: tuple[FrameRange, ...]
    """Where the pictures differ, in frames; none where a film is new or gone."""
    sound: bool
    """Whether its sound differs."""

    @property
    def same(self) -> bool:
        """Whether it is the same to the byte."""
        return self.before == self.after and not self.pictures and not self.sound


def film_changes(
    before: Lesson, after: Lesson, quality: Quality, told: Progress | None = None
) -> list[FilmChange]:
    """All films of both, by name. Raises FileError if a recording or voice file can't be used."""
    old, new = ({planned.name: planned for planned in lesson.segments()} for lesson in (before, after))
    found = []
    for name in dict.fromkeys([*old, *new]):
        one, other = old.get(name), new.get(name)
        films = [
            _film(lesson, planned, quality) if planned else None
            for lesson, planned in ((before, one), (after, other))
        ]
        counts = [film.frame_count if film else None for film in films]
        if one is None or other is None or films[0] is None or films[1] is None:
            found.append(FilmChange(name, counts[0], counts[1], (), False))
            continue
        sound = _sound(before, one) != _sound(after, other)
        pictures: tuple[FrameRange, ...] = ()
        if films[0].key() != films[1].key():
            if told:
                told(name)
            pictures = tuple(_different(films[0], films[1]))
        found.append(FilmChange(name, counts[0], counts[1], pictures, sound))
    return sorted(found, key=lambda change: change.name)


def _film(lesson: Lesson, planned: Planned, quality: Quality) -> Film:
    look = look_of(lesson.spec.theme).on(canvas_for(quality.width, quality.height))
    return Film(planned.schedule, look, quality.width, quality.height, quality.frames_per_second)


def _sound(lesson: Lesson, planned: Planned) -> str:
    """The same for the same sound."""
    loudness = (lesson.spec.sound or SoundSpec()).loudness
    return name_sound(segment_stems(lesson, planned.schedule), planned.schedule.seconds, loudness)


def _different(before: Film, after: Film) -> Iterator[FrameRange]:
    """The frames whose pictures are not alike; all that only one of the two has."""
    start: int | None = None
    longest = max(before.frame_count, after.frame_count)
    pictures = zip(_digests(before, longest), _digests(after, longest), strict=True)
    grounds = before.look.ground == after.look.ground
    for index, (one, other) in enumerate(pictures):
        differs = one != other or not grounds
        if differs and start is None:
            start = index
        elif not differs and start is not None:
            yield FrameRange(start, index)
            start = None
    if start is not None:
        yield FrameRange(start, longest)


def _digests(film: Film, count: int) -> Iterator[bytes | None]:
    """For each frame a hash of its shapes; None beyond the film's end."""
    from scenes.catalogue import build_segment
    from scenes.draw.segment import Moment

    segment = build_segment(film.schedule, film.look)
    rate = film.frames_per_second
    for index in range(count):
        if index >= film.frame_count:
            yield None
            continue
        with without_collection():
            picture = segment.picture(Moment(frame_index_to_seconds(index, rate), 1 / rate))
        state = blake2b(digest_size=20)
        for shape in picture:
            if shape.digest is None:
                shape.digest = digest_shape(shape)
            state.update(shape.digest)
        yield state.digest()
