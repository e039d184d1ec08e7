"""A lesson's music as sound files: the mix and its stems, the whole piece or section by section."""

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from renderer.audio.encode import write_sound
from renderer.audio.loudness import SILENCE, decibels
from renderer.audio.master import SOFTER_LU, Master
from renderer.core.file_names import DEVICES
from renderer.core.outputs import OutputFolder
from renderer.lesson.lesson import Lesson
from renderer.mix.stems import segment_master
from renderer.schedule.play import PlaySchedule, schedule_piece, schedule_stretches

MIX = "mix"

Told = Callable[[Path], None]
"""Told each file before it is written."""


@dataclass(frozen=True, slots=True)
class Soundtrack:
    """A sound file that was written."""

    path: Path
    section: str | None
    """None: the whole piece."""
    stem: str | None
    """None: the mix."""
    seconds: Fraction
    lufs: float | None
    """The mix's loudness, in LUFS, as it stands in the file; None for stems and silence."""
    true_peak_db: float | None
    aim: float
    """The loudness aimed at."""

    @property
    def softer(self) -> bool:
        """Whether its peaks kept it softer than what was aimed at."""
        return self.lufs is not None and self.lufs < self.aim - SOFTER_LU


def write_soundtracks(
    lesson: Lesson,
    directory: Path,
    kind: str = "wav",
    stems: bool = True,
    by_section: bool = False,
    speed: Fraction = Fraction(1),
    told: Told | None = None,
    overwrite: bool = False,
) -> list[Soundtrack]:
    """Write the piece's sound into `directory`, made if it is not there: `mix.wav` and its stems, `click.wav`.

    Files that barcross did not write stay, and a FileError says so, unless `overwrite` lets them go.

    `kind` is one of `sound_files.FORMATS`. By section the names begin with its number and name:
    `02-theme-mix.wav`. Each sound begins with the count-in, as a `play` segment does. Raises FileError.
    """
    folder = OutputFolder(directory, lesson.inputs, overwrite)
    folder.prepare([])
    written: list[Soundtrack] = []
    for section, prefix, schedule in _stretches(lesson, by_section, speed):
        made = segment_master(lesson, schedule)
        names = [MIX, *_stem_names(made)] if stems else [MIX]
        folder.check(f"{prefix}{name}.{kind}" for name in names)
        for index, name in enumerate(names):
            path = directory / f"{prefix}{name}.{kind}"
            if told:
                told(path)
            stem = None if index == 0 else index - 1
            with folder.file(path.name) as file:
                coded = write_sound(
                    file,
                    kind,
                    lambda made=made, stem=stem: made.blocks(stem),  # type: ignore[misc]
                    made.sample_count,
                )
            loud = index == 0 and made.lufs != SILENCE
            lufs = coded.lufs() if coded else made.lufs
            peak_db = decibels(coded.true_peak()) if coded else made.true_peak_db
            written.append(
                Soundtrack(
                    path,
                    section,
                    None if stem is None else made.sources[stem].name,
                    schedule.seconds,
                    lufs if loud else None,
                    peak_db if loud else None,
                    made.aim,
                )
            )
    return written


def _stretches(
    lesson: Lesson, by_section: bool, speed: Fraction
) -> Iterator[tuple[str | None, str, PlaySchedule]]:
    """What is written: the section's name, the file names' beginning, the schedule."""
    timeline = lesson.timeline.slowed(speed)
    if not by_section:
        yield None, "", schedule_piece(timeline, lesson.click)
        return
    digits = max(2, len(str(len(timeline.sections))))
    for number, section in enumerate(timeline.sections, start=1):
        start = timeline.start if number == 1 else section.at
        prefix = f"{number:0{digits}}-{file_name(section.name)}-"
        yield section.name, prefix, schedule_stretches(timeline, [(start, section.end)], lesson.click)


def _stem_names(made: Master) -> list[str]:
    """A file's name for each stem, no two alike, none that Windows keeps for itself."""
    names: list[str] = []
    for stem in made.sources:
        name = file_name(stem.name)
        taken = {MIX, *DEVICES, *names}
        names.append(next(n for n in (name, *(f"{name}-{i}" for i in range(2, 100))) if n not in taken))
    return names


def file_name(text: str) -> str:
    """A name as part of a file's name, for every system: letters and digits, all else becomes a hyphen.

    >>> file_name("Second ending: (D♭)")
    'second-ending-d'
    """
    return re.sub(r"[\W_]+", "-", text.casefold()).strip("-") or "x"
