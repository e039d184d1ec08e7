"""Finished pieces of films, kept beside the output under names that say what is in them.

A name is a hash of all that determines the content, so an entry never goes out of date. Every entry carries a
checksum of its name and content: one that is damaged, cut or misnamed counts as missing. Entries appear whole or not
at all, and those used longest ago are dropped when there are too many. Nothing else is ever removed.
"""

import re
import stat
import time
from collections.abc import Iterator
from contextlib import suppress
from hashlib import blake2b
from pathlib import Path

from renderer.core.errors import FileError
from renderer.core.files import (
    IN_USE_SECONDS,
    UNFINISHED,
    Entry,
    file_state,
    leads_elsewhere,
    list_files,
    list_names,
    make_directory,
    mark_used,
    remove,
    remove_folder,
    whole_file,
)
from renderer.core.open_files import read_bytes

FOLDER = ".chunks"
"""Inside the folder that films are written to."""
NAME = re.compile(r"[0-9a-f]{40}(\.[0-9]{1,6})?")
"""What entries are called: a hash, and a number where there are several of one kind."""
TAG = "CACHEDIR.TAG"
TAG_TEXT = b"Signature: 8a477f597d28d172789f06886806bc55\n# What barcross keeps to render sooner.\n"
"""Tells backup programs, by their own convention, that nothing here needs to be kept, and us that the folder is ours.
The signature is that of the Cache Directory Tagging Specification (bford.info/cachedir)."""
LARGEST = 2 * 1024**3
"""Bytes that are kept. An hour of `play` at 1920 x 1080 takes about 1 GiB."""
CHECKSUM_SIZE = 16


class Store:
    """A folder of entries. Raises FileError where it can't be written to, or is a link or somebody else's."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._check_ours()

    def names(self) -> frozenset[str]:
        """What is there, damaged or not."""
        return frozenset(entry.name for entry in self._entries())

    def get(self, name: str) -> bytes | None:
        """An entry's content, or None if it is missing, damaged or cut. Marks it as used."""
        path = self.folder / name
        try:
            state = file_state(path)
            if state is None or not stat.S_ISREG(state.st_mode):
                return None
            data = read_bytes(path)
        except FileError:
            return None
        content = data[CHECKSUM_SIZE:]
        if _checksum(name, content) != data[:CHECKSUM_SIZE]:
            return None
        mark_used(path)
        return content

    def put(self, name: str, content: bytes) -> None:
        """Keep an entry."""
        if not NAME.fullmatch(name):
            raise ValueError(f"{name!r} names no entry")
        self._make()
        with whole_file(self.folder / name, durable=False) as file:
            file.write(_checksum(name, content))
            file.write(content)

    def prune(self, largest: int = LARGEST, in_use_seconds: float = IN_USE_SECONDS) -> None:
        """Drop what was used longest ago, half-written leftovers too, until `largest` bytes are left."""
        kept = 0
        since = time.time() - in_use_seconds
        for entry in sorted(self._entries(leftovers=True), key=lambda entry: -entry.changed):
            kept += entry.size
            if (kept > largest or UNFINISHED.fullmatch(entry.name)) and entry.changed < since:
                kept -= entry.size
                with suppress(FileError):
                    remove(self.folder / entry.name)

    def clear(self) -> None:
        """Drop everything."""
        for entry in self._entries(leftovers=True):
            remove(self.folder / entry.name)
        if [entry.name for entry in list_files(self.folder)] == [TAG]:
            remove(self.folder / TAG)
        remove_folder(self.folder)

    def _check_ours(self) -> None:
        state = file_state(self.folder)
        if state is None:
            return
        if leads_elsewhere(state):
            wrong = "this is a link, and barcross removes files from this folder. Remove the link"
        elif not stat.S_ISDIR(state.st_mode):
            wrong = "barcross needs a folder of this name. Move the file"
        elif not self._tagged() and (foreign := self._foreign_name()):
            wrong = f"barcross did not make this folder: it holds {foreign}. Move it"
        else:
            return
        raise FileError(f"{self.folder}: {wrong}, or choose another place with --out.")

    def _tagged(self) -> bool:
        path = self.folder / TAG
        state = file_state(path)
        return (
            state is not None
            and stat.S_ISREG(state.st_mode)
            and read_bytes(path, len(TAG_TEXT) + 1) == TAG_TEXT
        )

    def _foreign_name(self) -> str | None:
        names = sorted(list_names(self.folder))
        return next(
            (name for name in names if not (NAME.fullmatch(name) or UNFINISHED.fullmatch(name))), None
        )

    def _make(self) -> None:
        make_directory(self.folder)
        tag = self.folder / TAG
        if file_state(tag) is None:
            with whole_file(tag, durable=False) as file:
                file.write(TAG_TEXT)

    def _entries(self, leftovers: bool = False) -> Iterator[Entry]:
        """What a store may have written here; half-written `leftovers` too."""
        for entry in list_files(self.folder):
            if NAME.fullmatch(entry.name) or (leftovers and UNFINISHED.fullmatch(entry.name)):
                yield entry


def _checksum(name: str, content: bytes) -> bytes:
    return blake2b(content, key=name.encode(), digest_size=CHECKSUM_SIZE).digest()
