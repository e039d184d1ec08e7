"""The spec's file, read and written: whole or not at all, and never over a text that one has not seen."""

import codecs
from dataclasses import dataclass
from pathlib import Path

from renderer.core.errors import BarcrossError, FileError
from renderer.core.files import file_state, whole_file
from renderer.core.open_files import InputFile
from renderer.reading.load import read_text

WINDOWS = "\r\n"


@dataclass(frozen=True, slots=True)
class FileText:
    """What a file says, lines ended by `\\n` alone, and its bytes."""

    text: str
    data: bytes

    def coded(self, text: str) -> bytes:
        """Another text as this file would hold it: with its line ends, and its byte-order mark if it has one."""
        windows = self.data.count(WINDOWS.encode()) * 2 > self.data.count(b"\n")
        lines = text.replace("\n", WINDOWS) if windows else text
        mark = codecs.BOM_UTF8 if self.data.startswith(codecs.BOM_UTF8) else b""
        return mark + lines.encode()


class ChangedError(BarcrossError):
    """The file no longer says what one has seen of it. `found` is what it says now, None if it is not there."""

    def __init__(self, path: Path, found: FileText | None) -> None:
        self.found = found
        what = "was changed elsewhere" if found else "is no longer there"
        super().__init__(f"{path.name} {what}. Nothing is overwritten.")


def read_file(path: Path) -> FileText:
    """What the spec's file says. Raises FileError."""
    read_text(path)  # with the words for all that can be wrong with it
    with InputFile(path) as file:
        data = file.read()
    return FileText(data.decode("utf-8-sig").replace(WINDOWS, "\n").replace("\r", "\n"), data)


def rewrite(path: Path, text: str, seen: FileText | None) -> FileText:
    """Write a text into the spec's file, which must say what was `seen` of it; None: must not be there.

    A link stays one; what it leads to is written. Raises ChangedError, or FileError.
    """
    place = path.resolve()

    def permit() -> bool:
        if file_state(place) is None:
            if seen is not None:
                raise ChangedError(path, None)
            return True
        found = read_file(place)
        if seen is None or found.data != seen.data:
            raise ChangedError(path, found)
        return False

    data = seen.coded(text) if seen else text.encode()
    with whole_file(place, permit) as file:
        state = file_state(place)
        if state is not None:
            file.allow_as(state)
        file.write(data)
    return FileText(text, data)


def try_read(path: Path) -> FileText | FileError:
    """What the file says, or why that can't be read."""
    try:
        return read_file(path)
    except FileError as error:
        return error
