"""Finished pieces of films, kept beside the output under names that say what is in them.

A name is a hash of all that determines the content, so an entry never goes out of date. Every entry carries a
checksum: one that is damaged or cut counts as missing. Entries appear whole or not at all, and those used
longest ago are dropped when there are too many.
"""

import os
import time
from collections.abc import Iterator
from contextlib import suppress
from hashlib import blake2b
from pathlib import Path

from renderer.core.files import whole_file, writing

FOLDER = ".chunks"
"""Inside the folder that films are written to."""
LARGEST = 2 * 1024**3
"""Bytes that are kept. An hour of `play` at 1920 x 1080 takes about 1 GiB."""
IN_USE_SECONDS = 3600
"""What was used since then is kept in any case: another render may be about to join it."""
CHECKSUM_SIZE = 16


class Store:
    """A folder of entries. Raises FileError where it can't be written to."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def names(self) -> frozenset[str]:
        """What is there, damaged or not."""
        return frozenset(path.name for path in self._entries() if not path.name.startswith("."))

    def get(self, name: str) -> bytes | None:
        """An entry's content, or None if it is missing, damaged or cut. Marks it as used."""
        path = self.folder / name
        try:
            data = path.read_bytes()
        except OSError:
            return None
        content = data[CHECKSUM_SIZE:]
        if _checksum(content) != data[:CHECKSUM_SIZE]:
            return None
        with suppress(OSError):
            os.utime(path)
        return content

    def put(self, name: str, content: bytes) -> None:
        """Keep an entry."""
        path = self.folder / name
        with writing(path):
            self.folder.mkdir(parents=True, exist_ok=True)
        with whole_file(path) as unfinished, writing(path), unfinished.open("wb") as file:
            file.write(_checksum(content))
            file.write(content)

    def prune(self, largest: int = LARGEST, in_use_seconds: float = IN_USE_SECONDS) -> None:
        """Drop what was used longest ago, half-written leftovers too, until `largest` bytes are left."""
        kept = 0
        since = time.time() - in_use_seconds
        stated = [(path, path.stat()) for path in self._entries() if path.exists()]
        for path, stat in sorted(stated, key=lambda entry: -entry[1].st_mtime):
            kept += stat.st_size
            leftover = path.name.startswith(".")
            if (kept > largest or leftover) and stat.st_mtime < since:
                kept -= stat.st_size
                with suppress(OSError):
                    path.unlink(missing_ok=True)

    def clear(self) -> None:
        """Drop everything."""
        for path in self._entries():
            with writing(path):
                path.unlink(missing_ok=True)
        with suppress(OSError):
            self.folder.rmdir()

    def _entries(self) -> Iterator[Path]:
        try:
            yield from [path for path in self.folder.iterdir() if path.is_file()]
        except OSError:
            return


def _checksum(content: bytes) -> bytes:
    return blake2b(content, digest_size=CHECKSUM_SIZE).digest()
