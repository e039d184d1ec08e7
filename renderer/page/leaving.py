"""What leaves the page as a file: stills of what is seen, as `still` writes them, and films to be opened."""

from collections.abc import Callable, Iterator
from fractions import Fraction
from pathlib import Path
from typing import NamedTuple

from renderer.core.open_files import PIECE, InputFile, OutputFile
from renderer.core.outputs import OutputFolder
from renderer.lesson.lesson import Lesson
from renderer.video import stills as drawer
from scenes.draw.look import SLIDE, canvas_for, look_of

SIZE = 1920, 1080
STAMP = 1280, 720
KINDS = ("png", "svg", "transparent", "slide", "thumbnail", "sheet")


def write_still(lesson: Lesson, folder: Path, number: int, seconds: Fraction, kind: str) -> Path:
    """Write what a segment shows at a moment, or the lesson's thumbnail or its sheet of all steps.

    Raises FileError, ValueError, IndexError.
    """
    if kind not in KINDS:
        raise ValueError(f"a still is one of {', '.join(KINDS)}")
    width, height = STAMP if kind == "thumbnail" else SIZE
    canvas = SLIDE if kind == "slide" else canvas_for(width, height)
    look = look_of(lesson.spec.theme).on(canvas)
    if kind == "sheet":
        sheet = drawer.draw_sheet(lesson, look)
        return _write(lesson, folder, "sheet.png", lambda file: drawer.write_png(file, sheet))
    if kind == "thumbnail":
        name, picture = "thumbnail", drawer.thumbnail_of(lesson, look)
    else:
        planned = lesson.segments()[number - 1]
        still = drawer.parse_still(lesson, f"{number}@{float(min(seconds, planned.schedule.seconds)):.2f}s")
        name = f"{still.name}-{kind}" if kind in ("slide", "transparent") else still.name
        picture = drawer.picture_at(still, look)
    if kind == "svg":
        return _write(
            lesson, folder, f"{name}.svg", lambda file: drawer.write_svg(file, picture, look.ground, canvas)
        )
    image = drawer.draw_image(picture, width, height, look.ground, kind == "transparent", canvas)
    return _write(lesson, folder, f"{name}.png", lambda file: drawer.write_png(file, image))


def _write(lesson: Lesson, folder: Path, name: str, write: Callable[[OutputFile], None]) -> Path:
    outputs = OutputFolder(folder, lesson.inputs)
    outputs.prepare([name])
    with outputs.file(name) as file:
        write(file)
    return folder / name


class Part(NamedTuple):
    """Some bytes of a file: from one up to another, of so many."""

    start: int
    end: int
    size: int


def asked_part(wanted: str | None, size: int) -> Part | None:
    """What a Range header asks for of a file of so many bytes: one range; None if there is no such part.

    Source: RFC 9110, section 14.1.2. Whatever is not one plain range is answered with the whole file.

    >>> asked_part("bytes=5-", 10), asked_part("bytes=-3", 10), asked_part("bytes=12-", 10)
    (Part(start=5, end=10, size=10), Part(start=7, end=10, size=10), None)
    """
    first, dash, last = (wanted or "").removeprefix("bytes=").partition("-")
    if not dash or not all((part.isascii() and part.isdecimal()) or not part for part in (first, last)):
        return Part(0, size, size)
    if not first:
        return Part(max(0, size - int(last)), size, size) if last and int(last) else None
    start, end = int(first), min(size, int(last) + 1) if last else size
    return Part(start, end, size) if start < end else None


def bytes_of(file: InputFile, part: Part) -> Iterator[bytes]:
    """The bytes of a part, piece by piece; the file is closed at the end."""
    with file:
        file.seek(part.start)
        left = part.end - part.start
        while left > 0 and (data := file.read(min(PIECE, left))):
            left -= len(data)
            yield data
