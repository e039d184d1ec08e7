"""What can go wrong, said to a musician: where, what is wrong, what to write in its place."""

from collections.abc import Iterable
from typing import NamedTuple

from renderer.core import limits
from renderer.core.names import quoted

KeyPath = tuple[str | int, ...]
"""Where a value stands in a spec: keys and indices (from 0) from the top, as `("form", 2, "bars")`."""


class TextPlace(NamedTuple):
    """Where a text says something: line and column, both counted from 1, the column in characters."""

    line: int
    column: int


class Problem(NamedTuple):
    """One fault at one place of a spec: what is wrong and, where one can be named, the mend.

    `text` follows the key path, so it begins in lower case (or with what the spec says); `mend` is a sentence
    of its own. Both end with a full stop.

    `path` leads to the value; with `on_key` it is the key itself that is at fault (a position that is not
    there, an unknown word). `place` is for faults found in the text, before there are paths.
    """

    path: KeyPath
    text: str
    mend: str | None = None
    on_key: bool = False
    place: TextPlace | None = None


class TooManyProblemsError(Exception):
    """A spec has more faults than anybody reads: looking for more only takes time."""


class ProblemList(list[Problem]):
    """Problems as they are found. Raises TooManyProblemsError with the one that makes it full."""

    def append(self, problem: Problem) -> None:
        """Add one more."""
        super().append(problem)
        if len(self) >= limits.PROBLEMS_SOUGHT:
            raise TooManyProblemsError

    def extend(self, problems: Iterable[Problem]) -> None:
        """Add several, each taken from `problems` only while there is room."""
        for problem in problems:
            self.append(problem)


class ValueProblem(ValueError):  # noqa: N818 - it becomes a Problem, and a Problem an error
    """What is wrong with one bare text, and the mend. Whoever knows its place makes a Problem of it."""

    def __init__(self, text: str, mend: str | None = None) -> None:
        self.text, self.mend = text, mend
        super().__init__(text)


class BarcrossError(Exception):
    """Anything that a user can mend. Its text is ready to be shown."""


class FileError(BarcrossError):
    """A file or folder that can't be read or written."""


class SpecError(BarcrossError):
    """All faults of one spec. `problems` are bare; once the loader has placed them, `text` shows where."""

    def __init__(self, problems: Iterable[Problem], text: str | None = None) -> None:
        self.problems = tuple(problems)
        super().__init__(text or "\n".join(path_text(p.path) + ": " + p.text for p in self.problems))


def path_text(path: KeyPath) -> str:
    """A key path as it is shown, long keys shortened.

    >>> path_text(("form", 2, "harmony", "9.3"))
    'form[2].harmony.9.3'
    """
    steps = (f"[{step}]" if isinstance(step, int) else f".{quoted(step)}" for step in path)
    return "".join(steps).removeprefix(".")
