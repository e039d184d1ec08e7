"""Comments that cut a text off: ` #` right before a letter or digit, as in `F #m` or `Study #2`.

To YAML a `#` after a blank begins a comment. In a spec a comment is `# ` with a blank, or a line of its own.
"""

import re
from bisect import bisect_right
from typing import Any, NamedTuple

import yaml

from renderer.core.errors import Problem, TextPlace

LINE_BREAK = re.compile("\r\n|[\n\r\x85\u2028\u2029]")
"""What YAML 1.1 counts as the end of a line."""


class TextSpan(NamedTuple):
    """Where a quoted text or a block of text stands, half-open; line and column from 0."""

    start: tuple[int, int]
    end: tuple[int, int]

    @classmethod
    def of(cls, event: yaml.ScalarEvent) -> "TextSpan":
        """The span of one scalar; that of a block (`|`, `>`) begins after its first line."""
        start: Any = event.start_mark
        end: Any = event.end_mark
        first = (start.line + 1, 0) if event.style in ("|", ">") else (start.line, start.column)
        return cls(first, (end.line, end.column))


def remark_problems(text: str, spans: list[TextSpan]) -> list[Problem]:
    """One problem for each comment in `text` that cuts off what is meant as text.

    `spans`, in order, hold what is no comment wherever it stands.
    """
    if " #" not in text and "\t#" not in text:
        return []
    lines = LINE_BREAK.split(text)
    found = (
        (number, _comment_column(line, number, spans)) for number, line in enumerate(lines) if "#" in line
    )
    return [
        _problem(lines[number], number, column)
        for number, column in found
        if column is not None
        and lines[number][:column].strip()
        and lines[number][column + 1 : column + 2].isalnum()
    ]


def _comment_column(line: str, number: int, spans: list[TextSpan]) -> int | None:
    """The column in which the line's comment begins."""
    for match in re.finditer(r"(?<!\S)#", line):
        place = (number, match.start())
        before = bisect_right(spans, place, key=lambda span: span.start) - 1
        if before < 0 or place >= spans[before].end:
            return match.start()
    return None


def _problem(line: str, number: int, column: int) -> Problem:
    word = line[column:].split()[0].rstrip(",]}")
    return Problem(
        (),
        f"{word} is cut off: # after a blank begins a comment.",
        f'Put quotes around the text that holds {word}; a comment is "# " with a blank.',
        place=TextPlace(number + 1, column + 1),
    )
