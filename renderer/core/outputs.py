"""A folder that results are written to, in which nothing is lost that this program has not written itself.

A list in the folder, `.barcross`, says what was written there: a hash of a file's bytes and its name, noted before
the file takes its place. A file that is not on the list, or no longer has the bytes that were written, is the
user's. Where the list is missing, every file is.
"""

import json
import os
import stat
from collections.abc import Collection, Iterable
from contextlib import AbstractContextManager
from hashlib import blake2b
from pathlib import Path

from renderer.core.errors import FileError
from renderer.core.files import (
    clear_leftovers,
    file_state,
    leads_elsewhere,
    make_directory,
    nothing_there,
    same_file,
    whole_file,
)
from renderer.core.open_files import PIECE, InputFile, OutputFile, append_line, read_bytes

LIST = ".barcross"
HEAD = b"barcross wrote these files in this folder, and writes over no others:\n"
MOST_LINES = 5_000
KEPT_LINES = 1_000
"""How many of the newest are kept when the list has grown beyond that."""
DIGEST = 16


class OutputFolder:
    """Where results go. `inputs` are files that no result may replace; with `overwrite` all others give way."""

    def __init__(self, folder: Path, inputs: Collection[Path] = (), overwrite: bool = False) -> None:
        self.folder = folder
        self._inputs = tuple(inputs)
        self._overwrite = overwrite
        self._digests: dict[tuple[str, int, int], bytes] = {}

    def prepare(self, names: Iterable[str]) -> None:
        """Make the folder, and refuse at once if one of these files could not be written at the end.

        Raises FileError.
        """
        make_directory(self.folder)
        clear_leftovers(self.folder)
        self.check(names)

    def check(self, names: Iterable[str]) -> None:
        """Raises FileError if something that must stay stands in the place of one of these files."""
        for name in names:
            self._permit(name)

    def file(self, name: str) -> AbstractContextManager[OutputFile]:
        """A new file of that name, whole or not at all, as `whole_file`."""
        return whole_file(
            self.folder / name, lambda: self._permit(name), lambda file: self._announce(name, file)
        )

    def _permit(self, name: str) -> bool:
        """Whether the name is free; False if what is there may be replaced. Raises FileError."""
        path = self.folder / name
        state = file_state(path)
        if state is None:
            return True
        if stat.S_ISDIR(state.st_mode):
            raise FileError(f"{path}: can't be written: a folder of that name is there.")
        if any(same_file(path, source) for source in self._inputs):
            raise FileError(
                f"{path}: the spec reads this file; not overwritten. Choose another place with --out."
            )
        regular = stat.S_ISREG(state.st_mode)
        if self._overwrite and (regular or leads_elsewhere(state)):
            return False
        if not regular or not self._wrote(name, state):
            raise FileError(
                f"{path}: barcross did not write this file, or it was changed since; not overwritten. "
                "Move it, choose another place with --out, or add --overwrite."
            )
        return False

    def _wrote(self, name: str, state: os.stat_result) -> bool:
        noted = self._lines()
        if not any(line.endswith(_line(b"", name)) for line in noted):
            return False
        known = name, state.st_size, state.st_mtime_ns
        if known not in self._digests:
            with InputFile(self.folder / name) as file:
                self._digests[known] = _digest(file)
        return _line(self._digests[known], name) in noted

    def _announce(self, name: str, file: OutputFile) -> None:
        lines = self._lines()
        line = _line(_digest(file), name)
        if line in lines:
            return
        path = self.folder / LIST
        if len(lines) >= MOST_LINES:
            with whole_file(path) as shorter:
                shorter.write(HEAD + b"\n".join(lines[-KEPT_LINES:]))
        elif file_state(path) is None:
            self._begin_list(path)
        append_line(path, b"\n%b\n" % line)  # what a full disk has cut off stays a line of its own

    def _begin_list(self, path: Path) -> None:
        try:
            with whole_file(path, nothing_there(path, "")) as begun:
                begun.write(HEAD)
        except FileError:
            if file_state(path) is None:  # else another run has begun it
                raise

    def _lines(self) -> list[bytes]:
        """What the list says, the newest last. Raises FileError if it is no such list."""
        path = self.folder / LIST
        state = file_state(path)
        if state is None:
            return []
        content = b"" if leads_elsewhere(state) else read_bytes(path)
        if not content.startswith(HEAD):
            raise FileError(f"{path}: barcross did not write this file, and needs its name. Move it.")
        return [line for line in content.removeprefix(HEAD).splitlines() if line]


def _line(digest: bytes, name: str) -> bytes:
    return f"{digest.hex()} {json.dumps(name)}".encode()


def _digest(file: InputFile | OutputFile) -> bytes:
    state = blake2b(digest_size=DIGEST)
    while data := file.read(PIECE):
        state.update(data)
    return state.digest()
