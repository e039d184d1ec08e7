"""What is wrong with a spec's text, as the page tells it: the line, the words at fault, and words to write instead."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from renderer.core.errors import KeyPath, Problem, SpecError, TextPlace, path_text
from renderer.page.changes import line_starts, replaced, word_at, word_extent
from renderer.reading.load import parse
from renderer.reading.yaml.comments import LINE_BREAK

MOST = 20
"""So many are told at once."""
MOST_CHOICES = 6
FIRST_CHOICE = re.compile(r"\bWrite (?!such |for )([^?]{1,80}?)[?.](?:\s|$)")
OTHER_CHOICES = re.compile(r"\b(?:There are|The \w+ are):? ([^:]{1,200})\.$")


@dataclass(frozen=True, slots=True)
class Choice:
    """A word that mends a mistake, and the whole text with it."""

    word: str
    text: str


@dataclass(frozen=True, slots=True)
class Mistake:
    """One mistake. `start` and `length` are where its words stand in its line, counted from 0."""

    line: int
    where: str
    problem: str
    hint: str
    excerpt: str
    start: int
    length: int
    choices: tuple[Choice, ...] = ()


def mistakes_in(text: str, error: SpecError, path: Path) -> tuple[Mistake, ...]:
    """The mistakes of a spec's text, in its order."""
    lines, starts = LINE_BREAK.split(text), line_starts(text)
    told = []
    for problem in error.problems[:MOST]:
        place = problem.place or TextPlace(1, 1)
        extent = word_extent(text, place)
        start = place.column - 1
        line = lines[place.line - 1] if place.line <= len(lines) else ""
        end = extent.end - starts[place.line - 1] if extent else start + 1
        choices = tuple(_choices(text, problem, len(error.problems), path)) if extent else ()
        length = max(1, min(end, len(line)) - start)
        told.append(
            Mistake(
                place.line,
                _where(text, problem.path),
                problem.text,
                problem.mend or "",
                line,
                start,
                length,
                choices,
            )
        )
    return tuple(told)


def _where(text: str, path: KeyPath) -> str:
    """Where that is, a section by its name: `Race, plays`.

    >>> _where("form: [{section: Race, plays: x}]", ("form", 0, "plays", "figure"))
    'Race, plays'
    """
    if path[:1] != ("form",) or len(path) < 2 or not isinstance(path[1], int):
        return path_text(path)
    entry = word_at(text, (*path[:2], "section")) or word_at(text, (*path[:2], "again"))
    return ", ".join([entry, *map(str, path[2:3])]) if entry else path_text(path)


def _choices(text: str, problem: Problem, count: int, path: Path) -> Iterator[Choice]:
    """The words that a hint names and that leave fewer mistakes than there are."""
    extent = word_extent(text, problem.place) if problem.place else None
    if extent is None:
        return
    for word in _words(problem.mend or "")[:MOST_CHOICES]:
        changed = replaced(text, extent, word)
        if changed != text and _count(changed, path) < count:
            yield Choice(word, changed)


def _words(mend: str) -> list[str]:
    first, others = FIRST_CHOICE.search(mend), OTHER_CHOICES.search(mend)
    words = [first.group(1)] if first else []
    words += re.split(", | and ", others.group(1)) if others else []
    return list(dict.fromkeys(words))


def _count(text: str, path: Path) -> int:
    """How many mistakes a text has that are found while it is read."""
    try:
        parse(text, path.name)
    except SpecError as error:
        return len(error.problems)
    return 0
