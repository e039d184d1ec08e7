"""A disk that fails at the k-th call: no space, no permission, an error, an interruption."""

import errno
import os
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

CALLS = (
    *("open", "read", "write", "ftruncate", "fsync", "close"),
    *("link", "replace", "unlink", "rmdir", "makedirs"),
    *("stat", "lstat", "fstat", "listdir", "utime"),
)
"""What core/files and core/open_files ask of the system and may be refused."""
FAULTS = (errno.ENOSPC, errno.EACCES, errno.EIO, errno.EINTR)


class FailingDisk:
    """In the place of the module `os`: counts the calls, and lets one of them fail."""

    def __init__(self, fails_at: int = 0, fault: int = errno.EIO) -> None:
        """`fails_at` counts from 1; 0: none fails."""
        self.count = 0
        self.failed: tuple[str, str] | None = None
        """The call that has failed, and the file that it was for, if the call names one."""
        self._fails_at, self._fault = fails_at, fault
        self._lock = threading.Lock()

    def __getattr__(self, name: str) -> Any:
        call = getattr(os, name)
        return self._counted(name, call) if name in CALLS else call

    def _counted(self, name: str, call: Callable[..., Any]) -> Callable[..., Any]:
        def counted(*arguments: Any, **options: Any) -> Any:
            with self._lock:
                self.count += 1
                fails = self.count == self._fails_at
            if not fails:
                return call(*arguments, **options)
            self.failed = name, str(arguments[0]) if isinstance(arguments[0], str | Path) else ""
            if name == "write":  # a disk is not full from the first byte on
                os.write(arguments[0], arguments[1][: len(arguments[1]) // 2])
            elif name == "close":
                os.close(arguments[0])
            raise OSError(self._fault, os.strerror(self._fault))

        return counted
