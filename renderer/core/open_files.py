"""Files by their handles: opened, read and written, the only place that does so.

Only regular files are opened. What the system refuses is a FileError with the file's name and a reason in common words.
"""

import errno
import io
import os
import stat
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from renderer.core.errors import FileError
from renderer.core.refusals import reading, reason_of, writing

if TYPE_CHECKING:
    from typing import BinaryIO

    from _typeshed import ReadableBuffer, WriteableBuffer

    class _Stream(io.RawIOBase, BinaryIO):
        """What libraries take for an open file of bytes."""
else:
    _Stream = io.RawIOBase

PIECE = 1 << 20
"""Bytes that are read at once."""

_BINARY = getattr(os, "O_BINARY", 0)
_OPEN_WITHOUT_WAITING = getattr(os, "O_NONBLOCK", 0)
_NO_LINKS = getattr(os, "O_NOFOLLOW", 0)

Result = TypeVar("Result")


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


def _check_regular(state: os.stat_result) -> None:
    if stat.S_ISDIR(state.st_mode):
        raise IsADirectoryError(errno.EISDIR, "is a folder")
    if not stat.S_ISREG(state.st_mode):
        raise OSError(errno.EINVAL, "not a regular file")
