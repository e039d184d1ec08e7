"""A lesson's exports into a folder: all kinds, or those that are named."""

from collections.abc import Iterable, Sequence
from fractions import Fraction
from importlib import import_module
from pathlib import Path
from typing import NamedTuple

from renderer.core.errors import BarcrossError
from renderer.core.names import listed, nearest
from renderer.core.outputs import OutputFolder
from renderer.export.kinds import KINDS, Kind, Made, Make, NothingThereError
from renderer.lesson.lesson import Lesson
from renderer.schedule.shows import load_named


class Exported(NamedTuple):
    """A file that was written, and its kind."""

    path: Path
    kind: str


class Exports(NamedTuple):
    """What was written, why other kinds were not, and what is not exact."""

    files: tuple[Exported, ...]
    remarks: tuple[str, ...]


def choose_kinds(names: Sequence[str]) -> tuple[Kind, ...]:
    """The kinds of these names in the order in which they are written; all of them if none is named. Raises
    BarcrossError for a name that is none."""
    for name in names:
        if name not in KINDS:
            near = nearest(name, set(KINDS))
            mend = f"Write {near}? " if near else ""
            raise BarcrossError(f"Nothing is called {name}. {mend}There are: {', '.join(KINDS)}.")
    return tuple(kind for kind in KINDS.values() if not names or kind.name in names)


def export_lesson(
    lesson: Lesson,
    directory: Path,
    names: Sequence[str] = (),
    frames_per_second: Fraction = Fraction(60),
    overwrite: bool = False,
    paper: str = "a4",
    notes_only: bool = False,
) -> Exports:
    """Write the kinds of these names, or all, into `directory`, made if it is not there; `frames_per_second` are the
    films', `paper` (a4 or letter) is the pages'; with `notes_only` no file carries the spec.

    All is made before anything is written; each file appears whole or not at all. A kind that the lesson has nothing
    for is left out with a remark, one that lacks its library too unless it was asked for by name. Files that barcross
    did not write stay, and a FileError says so, unless `overwrite` lets them go. Raises FileError, or BarcrossError if
    nothing is left to write.
    """
    remarks: list[str] = []
    made: list[tuple[str, Made]] = []
    for kind in choose_kinds(names):
        try:
            missing = missing_libraries(kind)
            if missing and kind.name in names:
                raise BarcrossError(missing)
            if missing:
                remarks.append(missing)
                continue
            make: Make = load_named(kind.make)
            options = {
                **({"paper": paper} if kind.printed else {}),
                **({"notes_only": notes_only} if kind.carries else {}),
                **({"folder": directory} if kind.with_films else {}),
            }
            made += [(kind.name, each) for each in make(lesson, frames_per_second, **options)]
        except NothingThereError as nothing:
            remarks.append(str(nothing))
    if not made:
        raise BarcrossError("\n".join(remarks))
    write_made(lesson, directory, [each for _, each in made], overwrite)
    remarks += [each.remark for _, each in made if each.remark]
    return Exports(tuple(Exported(directory / each.name, kind) for kind, each in made), tuple(remarks))


def write_made(lesson: Lesson, directory: Path, made: Sequence[Made], overwrite: bool = False) -> None:
    """Write files that are ready into `directory`, each whole or not at all; as `export_lesson`. Raises FileError."""
    folder = OutputFolder(directory, lesson.inputs, overwrite)
    folder.prepare(each.name for each in made)
    for name, content, _ in made:
        with folder.file(name) as file:
            file.write(content)


def missing_libraries(kind: Kind) -> str:
    """What a kind lacks, and the command that installs it; empty if it lacks nothing."""
    missing = [*_missing(kind.libraries)]
    if not missing:
        return ""
    verb = "is" if len(missing) == 1 else "are"
    return f"No {kind.name}: {listed(missing, 'and')} {verb} not installed. Install: pip install 'barcross[export]'"


def _missing(libraries: Iterable[str]) -> Iterable[str]:
    for library in libraries:
        try:
            import_module(library)
        except ImportError:
            yield library
