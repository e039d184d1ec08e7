"""Where files stand: new ones put in their place, folders made and listed, names looked up, files removed.

What is written appears whole or not at all: it is written beside its place under a name that only this program
gives, and takes its place when it is complete. What the system refuses is a FileError with the file's name and a reason
in common words. This place and `open_files` are the only ones that ask the system for anything on a disk.
"""

import errno
import os
import re
import stat
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import NamedTuple

from renderer.core.errors import FileError
from renderer.core.open_files import OutputFile
from renderer.core.refusals import reading, reason_for, writing

UNFINISHED = re.compile(r"\.barcross-[0-9a-f]{16}")
"""The names of files that are being written."""
IN_USE_SECONDS = 3600
"""What was written or used since then stays: another run may be about to use it."""
JUNCTION = 0xA0000003
"""Windows: a folder that leads to another one (IO_REPARSE_TAG_MOUNT_POINT)."""

Permit = Callable[[], bool]
"""Whether the place is still free; raises FileError if what is there must stay."""
Announce = Callable[[OutputFile], None]
"""Is handed the complete file before it takes its place."""


class Entry(NamedTuple):
    """A regular file in a folder: its name, size in bytes, and when it was written or last used."""

    name: str
    size: int
    changed: float


@contextmanager
def whole_file(
    path: Path, permit: Permit | None = None, announce: Announce | None = None, durable: bool = True
) -> Iterator[OutputFile]:
    """Yield a new file to write to; it becomes `path` when the block ends well.

    When the block raises, nothing of it is left and `path` stays as it was, there or not. `permit` is asked
    before the block is entered, so that no long work is done for a file that can't be put down, and again
    before the file takes its place; without it, what is at `path` is replaced. A `durable` file is on the disk
    before it replaces another, so that a power cut leaves one of the two.

    Raises FileError.
    """
    with writing(path):
        if is_folder(path):
            raise IsADirectoryError(errno.EISDIR, "is a folder")
        if permit:
            permit()
        unfinished = path.with_name(f".barcross-{os.urandom(8).hex()}")
        file = OutputFile(unfinished, path)
    try:
        with file.fault_first():
            yield file
        file.complete(durable)
        if announce:
            announce(file)
        file.close()
        with writing(path):
            _put(unfinished, path, free=permit is not None and permit())
    finally:
        with suppress(OSError, FileError):
            file.close()
        with suppress(OSError):
            os.unlink(unfinished)


def _put(unfinished: Path, path: Path, free: bool) -> None:
    """Give a file its place. A rename would replace what has come there meanwhile; a link doesn't."""
    if free:
        try:
            os.link(unfinished, path)
        except FileExistsError:
            raise
        except OSError:  # not every file system has links
            pass
        else:
            return
    os.replace(unfinished, path)


def nothing_there(path: Path, mend: str) -> Permit:
    """Permits a new file only where there is nothing, not even a link that leads nowhere."""

    def permit() -> bool:
        if file_state(path) is not None:
            raise FileError(f"{path} already exists; not overwritten. {mend}")
        return True

    return permit


def make_directory(directory: Path) -> None:
    """Make a folder for what is written, and those that it lies in. Raises FileError."""
    try:
        os.makedirs(directory, exist_ok=True)
    except (OSError, ValueError) as error:
        taken = isinstance(error, FileExistsError)
        reason = "a file of that name is there" if taken else reason_for(directory, error, read=False)
        raise FileError(
            f"{directory}: can't make this folder: {reason}. Choose another with --out."
        ) from error


def file_state(path: Path) -> os.stat_result | None:
    """What stands under a name, be it a link; None if nothing does. Raises FileError."""
    with writing(path):
        try:
            return os.lstat(path)
        except (FileNotFoundError, NotADirectoryError):
            return None


def leads_elsewhere(state: os.stat_result) -> bool:
    """Whether it is a link or a junction."""
    return stat.S_ISLNK(state.st_mode) or getattr(state, "st_reparse_tag", 0) == JUNCTION


def same_file(path: Path, other: Path) -> bool:
    """Whether two names, which may lead nowhere, lead to one file."""
    try:
        return os.path.samefile(path, other)
    except (OSError, ValueError):
        return False


def list_names(folder: Path) -> list[str]:
    """What is in a folder; nothing if it is missing. Raises FileError."""
    with reading(folder):
        try:
            return os.listdir(folder)
        except FileNotFoundError:
            return []


def list_files(folder: Path) -> list[Entry]:
    """The regular files in a folder, none of them a link. Raises FileError."""
    entries: list[Entry] = []
    with reading(folder):
        for name in list_names(folder):
            with suppress(FileNotFoundError):  # others may remove what they have written
                state = os.lstat(folder / name)
                if stat.S_ISREG(state.st_mode):
                    entries.append(Entry(name, state.st_size, state.st_mtime))
    return entries


def remove(path: Path) -> None:
    """Remove a file, if it is there. Raises FileError."""
    with writing(path), suppress(FileNotFoundError):
        os.unlink(path)


def remove_folder(folder: Path) -> None:
    """Remove a folder if nothing is left in it."""
    with suppress(OSError):
        os.rmdir(folder)


def mark_used(path: Path) -> None:
    """Note that a file is used now, where the system lets us."""
    with suppress(OSError):
        os.utime(path)


def clear_leftovers(folder: Path) -> None:
    """Remove what runs that were killed have left half written in a folder. Raises FileError."""
    since = time.time() - IN_USE_SECONDS
    for entry in list_files(folder):
        if UNFINISHED.fullmatch(entry.name) and entry.changed < since:
            remove(folder / entry.name)


def is_folder(path: Path) -> bool:
    """Whether a name leads to a folder."""
    try:
        return stat.S_ISDIR(os.stat(path).st_mode)
    except (FileNotFoundError, NotADirectoryError):
        return False
