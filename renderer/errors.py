"""What can go wrong, told to a musician: where, what is wrong, what to write in its place."""

from collections.abc import Iterable
from dataclasses import dataclass

KeyPath = tuple[str | int, ...]
"""Where a value stands in a spec: keys and indices (from 0) from the top, as `("form", 2, "bars")`."""


@dataclass(frozen=True, slots=True)
class Problem:
    """One fault at one place of a spec: what is wrong and, where one can be named, what to write in its place."""

    path: KeyPath
    text: str
    mend: str | None = None


class BarcrossError(Exception):
    """Anything that a user can mend. Its text is ready to be shown."""


class FileError(BarcrossError):
    """A file or folder that can't be read or written."""


class SpecError(BarcrossError):
    """All faults of one spec. `problems` are bare; once the loader has added their places, `text` shows them."""

    def __init__(self, problems: Iterable[Problem], text: str | None = None) -> None:
        self.problems = tuple(problems)
        super().__init__(text or "\n".join(f"{problem.path}: {problem.text}" for problem in self.problems))
