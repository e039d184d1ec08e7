"""What the system refuses, in a user's words."""

import errno
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from renderer.core.errors import FileError

BUSY = (32, 33)
"""Windows: another program has the file open (ERROR_SHARING_VIOLATION, ERROR_LOCK_VIOLATION)."""
DENIED = 5
"""Windows: no permission, or a program that plays or shows the file (ERROR_ACCESS_DENIED)."""
REASONS = {
    "EACCES": "no permission",
    "EPERM": "no permission",
    "ENOSPC": "the disk is full",
    "EDQUOT": "your share of the disk is full",
    "EFBIG": "the file gets too large for this disk",
    "EROFS": "this disk can only be read",
    "ENAMETOOLONG": "the name is too long",
    "ELOOP": "it is a link",
    "EIO": "the disk reports an error",
    "EINTR": "the system was interrupted",
}
"""By the system's own names for them; not every system has all."""


@contextmanager
def writing(path: Path) -> Iterator[None]:
    """What the system refuses while `path` is written, in a user's words: OSError becomes FileError."""
    try:
        yield
    except (OSError, ValueError) as error:
        raise FileError(f"{path}: can't be written: {reason_for(path, error, read=False)}.") from error


@contextmanager
def reading(path: Path) -> Iterator[None]:
    """As writing, while `path` is read."""
    try:
        yield
    except (OSError, ValueError) as error:
        raise FileError(f"{path}: can't be read: {reason_for(path, error, read=True)}.") from error


def reason_for(path: Path, error: OSError | ValueError, read: bool) -> str:
    """What the system refused about a file or folder."""
    if not isinstance(error, OSError):
        return "no file can have this name"
    if getattr(error, "winerror", None) in BUSY:
        return "another program has it open. Close it there"
    if getattr(error, "winerror", None) == DENIED and not read:
        return f"no permission to write in {path.parent}, or another program has the file open"
    match error:
        case IsADirectoryError():
            return "it is a folder" if read else "a folder of that name is there"
        case NotADirectoryError():
            return f"{path.parent} is not a folder"
        case FileExistsError():
            return "a file of that name is there now"
        case FileNotFoundError():
            return "no such file" if read else f"there is no folder {path.parent}"
        case PermissionError():
            return "no permission" if read else f"no permission to write in {path.parent}"
    return reason_of(error)


def reason_of(error: OSError) -> str:
    """What the system refused, whatever it was about."""
    return REASONS.get(errno.errorcode.get(error.errno or 0, "")) or error.strerror or str(error)
