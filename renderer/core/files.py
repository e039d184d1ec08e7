"""Files that appear whole or not at all."""

import errno
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from secrets import token_hex

from renderer.core.errors import FileError

LONGEST_STEM = 40
"""Characters of a file's name that its unfinished copy keeps: names end at 255 bytes."""


@contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """Yield a new, empty, temporary file beside `path`; it becomes `path` when the block ends well.

    When the block raises, the temporary file is removed and `path` stays as it was, there or not. The
    temporary name keeps the ending, so that a writer that goes by it writes the right format.

    Raises FileError if the folder is missing or can't be written to, or `path` is a folder: before the block
    is entered, so that no long work is done for a file that can't be put down.
    """
    with writing(path):
        if path.is_dir():
            raise IsADirectoryError(errno.EISDIR, "is a folder")
        unfinished = path.with_name(f".{path.stem[:LONGEST_STEM]}-{token_hex(4)}{path.suffix}")
        unfinished.touch(exist_ok=False)
    try:
        yield unfinished
        with writing(path):
            unfinished.replace(path)
    finally:
        unfinished.unlink(missing_ok=True)


def make_directory(directory: Path) -> None:
    """Make a folder for what is written. Raises FileError."""
    try:
        directory.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        reason = error.strerror or str(error)
        raise FileError(
            f"{directory}: this folder can't be made ({reason}). Name another with --out."
        ) from None


@contextmanager
def writing(path: Path) -> Iterator[None]:
    """What the system refuses while `path` is written, in a user's words: OSError becomes FileError."""
    try:
        yield
    except OSError as error:
        raise FileError(f"{path}: can't be written: {_reason(path, error)}") from error


def _reason(path: Path, error: OSError) -> str:
    folder = path.parent
    match error:
        case IsADirectoryError():
            return "a folder of that name is there"
        case NotADirectoryError():
            return f"{folder} is not a folder"
        case FileNotFoundError():
            return f"there is no folder {folder}"
        case PermissionError():
            return f"no permission to write in {folder}"
    if error.errno == errno.ENOSPC:
        return "the disk is full"
    return error.strerror or str(error)
