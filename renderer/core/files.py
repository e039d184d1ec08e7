"""The one place that opens, writes, renames and removes files.

What is written appears whole or not at all: it is written beside its place under a name that only this program
gives, and takes its place when it is complete. Only regular files are opened. What the system refuses is a
FileError with the file's name and a reason in common words.
"""

import errno
import io
import os
import re
import stat
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple, TypeVar

from renderer.core.errors import FileError
from renderer.core.refusals import reading, reason_for, reason_of, writing

if TYPE_CHECKING:
    from typing import BinaryIO

    from _typeshed import ReadableBuffer, WriteableBuffer

    class _Stream(io.RawIOBase, BinaryIO):
        """What libraries take for an open file of bytes."""
else:
    _Stream = io.RawIOBase

UNFINISHED = re.compile(r"\.barcross-[0-9a-f]{16}")
"""The names of files that are being written."""
IN_USE_SECONDS = 3600
"""What was written or used since then stays: another run may be about to use it."""
PIECE = 1 << 20
"""Bytes that are read at once."""
JUNCTION = 0xA0000003
"""Windows: a folder that leads to another one (IO_REPARSE_TAG_MOUNT_POINT)."""

_BINARY = getattr(os, "O_BINARY", 0)
_OPEN_WITHOUT_WAITING = getattr(os, "O_NONBLOCK", 0)
_NO_LINKS = getattr(os, "O_NOFOLLOW", 0)

Result = TypeVar("Result")
Permit = Callable[[], bool]
"""Whether the place is still free; raises FileError if what is there must stay."""
Announce = Callable[["OutputFile"], None]
"""Is handed the complete file before it takes its place."""


class Entry(NamedTuple):
    """A regular file in a folder: its name, size in bytes, and when it was written or last used."""

    name: str
    size: int
    changed: float


@contextmanager
def whole_file(
    path: Path, permit: Permit | None = None, announce: Announce | None = None, durable: bool = True
) -> Iterator["OutputFile"]:
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


class _OpenFile(_Stream):
    """A file by its handle; what goes wrong is said of the name that it is known by."""

    _handle: int | None = None

    def __init__(self, path: Path) -> None:
        self.path = path

    def _do(self, call: Callable[[int], Result], spoilt: Result) -> Result:
        """Use the handle; `spoilt` is the answer of a file that is given up already. Raises FileError."""
        raise NotImplementedError

    def readable(self) -> bool:
        """It can be read."""
        return True

    def seekable(self) -> bool:
        """Anywhere in it."""
        return True

    def readinto(self, buffer: "WriteableBuffer") -> int:
        """Read on from where it stands."""
        into = memoryview(buffer).cast("B")
        data = self._read_some(len(into))
        into[: len(data)] = data
        return len(data)

    def _read_some(self, most: int) -> bytes:
        return self._do(lambda handle: os.read(handle, most), b"")

    def write(self, data: "ReadableBuffer") -> int:
        """Write all of the bytes."""
        left = memoryview(data).cast("B")
        count = len(left)
        while left:
            left = left[self._write_some(left) :]
        return count

    def _write_some(self, data: memoryview) -> int:
        return self._do(lambda handle: os.write(handle, data), len(data))

    def seek(self, offset: int, whence: int = os.SEEK_SET) -> int:
        """Go to a byte."""
        return self._do(lambda handle: os.lseek(handle, offset, whence), max(0, offset))

    def tell(self) -> int:
        """The byte at which it stands."""
        return self.seek(0, os.SEEK_CUR)

    def close(self) -> None:
        """Let go of the file."""
        if self._handle is not None:
            handle, self._handle = self._handle, None
            os.close(handle)


class OutputFile(_OpenFile):
    """A file that is being written, read and written anywhere in it. Each write is a whole one.

    Raises FileError, once: what is written after that is dropped, because libraries that go on nevertheless make a
    noise about a second fault. It is raised again when the file is complete: no library can swallow it.
    """

    def __init__(self, unfinished: Path, path: Path) -> None:
        super().__init__(path)
        self._unfinished = unfinished
        self._fault: FileError | None = None
        self._handle = os.open(unfinished, os.O_RDWR | os.O_CREAT | os.O_EXCL | _BINARY, 0o666)

    def writable(self) -> bool:
        """As its name says."""
        return True

    def truncate(self, size: int | None = None) -> int:
        """Cut the file off, where it stands or at so many bytes."""
        length = self.tell() if size is None else size
        self._do(lambda handle: os.ftruncate(handle, length), None)
        return length

    def allow_as(self, state: os.stat_result) -> None:
        """May be read and written by whoever may read and write that other file, where the system can say so."""
        if hasattr(os, "fchmod"):
            self._do(lambda handle: os.fchmod(handle, stat.S_IMODE(state.st_mode)), None)

    def reopen(self) -> "InputFile":
        """The same file once more, to be read from its beginning."""
        with writing(self.path):
            return InputFile(self._unfinished, self.path)

    @contextmanager
    def fault_first(self) -> Iterator[None]:
        """Whatever a library makes of a fault, the fault itself is what is raised."""
        try:
            yield
        except Exception:
            if self._fault:
                raise self._fault from None
            raise

    def complete(self, durable: bool) -> None:
        """All has been written. Raises the fault that a library has swallowed."""
        if durable:
            self._do(os.fsync, None)
        self.seek(0)
        if self._fault:
            raise self._fault

    def close(self) -> None:
        """Let go of the file; what it is called then is up to whole_file. Raises FileError."""
        with writing(self.path):
            super().close()

    def _do(self, call: Callable[[int], Result], spoilt: Result) -> Result:
        if self._fault:
            return spoilt
        if self._handle is None:
            raise ValueError("this file is closed")
        try:
            with writing(self.path):
                return call(self._handle)
        except FileError as fault:
            self._fault = fault
            raise


class InputFile(_OpenFile):
    """A regular file that is read. Raises FileError; what the system said is its cause.

    Whatever else stands under that name, a folder, a pipe, a device, is not opened.
    """

    def __init__(self, path: Path, known_as: Path | None = None) -> None:
        super().__init__(known_as or path)
        with reading(self.path):
            _check_regular(os.stat(path))
            self._handle = os.open(path, os.O_RDONLY | _OPEN_WITHOUT_WAITING | _BINARY)
            try:
                self.state = os.fstat(self._handle)
                _check_regular(self.state)  # it may have been changed for another one meanwhile
            except BaseException:
                self.close()
                raise

    def read_to(self, most: int) -> bytes:
        """The bytes from where it stands, no more than so many."""
        pieces: list[bytes] = []
        left = most
        while left > 0 and (data := self._read_some(min(left, PIECE))):
            pieces.append(data)
            left -= len(data)
        return b"".join(pieces)

    def close(self) -> None:
        """Let go of the file."""
        with suppress(OSError):  # nothing was written that could be lost
            super().close()

    def _do(self, call: Callable[[int], Result], spoilt: Result) -> Result:
        if self._handle is None:
            raise ValueError("this file is closed")
        with reading(self.path):
            return call(self._handle)


class ScratchFile(_OpenFile):
    """A file without a name, for what is too much to be held: it goes with the program. Raises FileError."""

    def __init__(self) -> None:
        import tempfile

        with _having_room():
            super().__init__(Path(tempfile.gettempdir()))
            self._file = tempfile.TemporaryFile(prefix="barcross-", buffering=0)  # noqa: SIM115 - as long as it is used
            self._handle = self._file.fileno()

    def writable(self) -> bool:
        """As its name says."""
        return True

    def close(self) -> None:
        """Let go of the file, and so of what is in it."""
        if self._handle is not None:
            self._handle = None
            with suppress(OSError):
                self._file.close()

    def _do(self, call: Callable[[int], Result], spoilt: Result) -> Result:
        if self._handle is None:
            raise ValueError("this file is closed")
        with _having_room():
            return call(self._handle)


@contextmanager
def _having_room() -> Iterator[None]:
    try:
        yield
    except OSError as error:
        import tempfile

        missing = isinstance(error, FileNotFoundError)
        reason = "there is no such folder" if missing else reason_of(error)
        raise FileError(
            f"{tempfile.gettempdir()}: temporary sound can't be written here: {reason}. "
            f"Free some space, or name another folder in {'TMP' if os.name == 'nt' else 'TMPDIR'}."
        ) from error


def read_bytes(path: Path, most: int | None = None) -> bytes:
    """What a regular file holds, or its first bytes. Raises FileError."""
    with InputFile(path) as file:
        return file.read_to(file.state.st_size if most is None else most)


def append_line(path: Path, line: bytes) -> None:
    """Add a line to a file in one go, also while other processes do. Raises FileError."""
    with writing(path):
        flags = os.O_WRONLY | os.O_CREAT | os.O_APPEND | _OPEN_WITHOUT_WAITING | _NO_LINKS | _BINARY
        descriptor = os.open(path, flags, 0o666)
        try:
            _check_regular(os.fstat(descriptor))
            if os.write(descriptor, line) < len(line):
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        finally:
            os.close(descriptor)


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


def _check_regular(state: os.stat_result) -> None:
    if stat.S_ISDIR(state.st_mode):
        raise IsADirectoryError(errno.EISDIR, "is a folder")
    if not stat.S_ISREG(state.st_mode):
        raise OSError(errno.EINVAL, "not a regular file")


def is_folder(path: Path) -> bool:
    """Whether a name leads to a folder."""
    try:
        return stat.S_ISDIR(os.stat(path).st_mode)
    except (FileNotFoundError, NotADirectoryError):
        return False
