"""Editions: a spec's text at one time, read once, and the lesson that it says or the mistakes that keep it from that.

An edition is never changed. What is shown is the lesson of the newest edition that has one, so a mistake in the text
takes no picture away.
"""

from dataclasses import dataclass
from itertools import count
from pathlib import Path

from renderer.core.errors import BarcrossError, FileError, SpecError
from renderer.lesson.lesson import Lesson, lay_out
from renderer.page.mistakes import Mistake, mistakes_in
from renderer.reading.load import parse
from renderer.timeline.plan import Plan

_numbers = count(1)


@dataclass(frozen=True, eq=False)
class Laid:
    """A lesson that a text said, with the number of its edition."""

    number: int
    lesson: Lesson
    plan: Plan


@dataclass(frozen=True)
class Edition:
    """One text. `laid` is what it says, or what the last one without mistakes said."""

    number: int
    text: str
    mistakes: tuple[Mistake, ...]
    laid: Laid | None

    @property
    def sound(self) -> bool:
        """Whether nothing is wrong with it."""
        return not self.mistakes and self.laid is not None and self.laid.number == self.number


def read_edition(text: str, path: Path, before: Laid | None = None, trust: bool = False) -> Edition:
    """Read a text as the spec in the file `path`. Whatever is wrong with it becomes its mistakes."""
    number = next(_numbers)
    try:
        lesson, plan = lay_out(parse(text, str(path)), path, trust)
    except SpecError as error:
        return Edition(number, text, mistakes_in(text, error, path), before)
    except BarcrossError as error:
        return Edition(number, text, (file_mistake(error),), before)
    return Edition(number, text, (), Laid(number, lesson, plan))


def file_mistake(error: BarcrossError) -> Mistake:
    """What is wrong with a file, told beside the text."""
    where = "file" if isinstance(error, FileError) else ""
    return Mistake(0, where, str(error), "", "", 0, 0)
