"""Comments that cut a text off: ` #` right before a letter or digit, as in `F #m` or `Study #2`.

To YAML a `#` after a space begins a comment. In a spec a comment is `# ` with a space, or a line of its own.
"""

import re
import sys
from bisect import bisect_right
from collections.abc import Iterator
from typing import Any

import yaml

from renderer.core.errors import Problem, TextPlace
from renderer.core.names import quoted

LINE_BREAK = re.compile("\r\n|[\n\r\x85\u2028\u2029]")
"""What YAML 1.1 counts as the end of a line."""
_COMMENT = re.compile(r"(?<!\S)#")
_BEHIND = (sys.maxsize, 0)
_CUTTING = re.compile(r"(?<=[ \t])#[^\W_]")


TextSpan = tuple[tuple[int, int], tuple[int, int]]
"""Where a quoted text or a block of text begins and ends, half-open: two times line and column, from 0."""


def text_span(event: yaml.ScalarEvent) -> TextSpan:
    """The span of one scalar; that of a block (`|`, `>`) begins after its first line."""
    start: Any = event.start_mark
    end: Any = event.end_mark
    first = (start.line + 1, 0) if event.style in ("|", ">") else (start.line, start.column)
    return first, (end.line, end.column)


def comment_problems(text: str, spans: list[TextSpan]) -> Iterator[Problem]:
    """One problem for each comment in `text` that cuts off what is meant as text.

    `spans`, in order, hold what is no comment wherever it stands.
    """
    if _CUTTING.search(text) is None:
        return
    for number, line in enumerate(LINE_BREAK.split(text)):
        if "#" not in line or _CUTTING.search(line) is None:
            continue
        column = _comment_column(line, number, spans)
        if column is not None and line[:column].strip() and line[column + 1 : column + 2].isalnum():
            yield _problem(line, number, column)


def _comment_column(line: str, number: int, spans: list[TextSpan]) -> int | None:
    """The column in which the line's comment begins."""
    for match in _COMMENT.finditer(line):
        place = (number, match.start())
        before = bisect_right(spans, (place, _BEHIND)) - 1
        if before < 0 or place >= spans[before][1]:
            return match.start()
    return None


def _problem(line: str, number: int, column: int) -> Problem:
    word = quoted(line[column : column + 400].split()[0].rstrip(",]}"))
    return Problem(
        (),
        f"{word} is cut off: # after a space begins a comment.",
        f'Put quotes around the text that holds {word}; a comment is "# " with a space.',
        place=TextPlace(number + 1, column + 1),
    )
