"""Blocks one under the other, from page to page."""

from collections.abc import Sequence

from scenes.draw.look import BOLD
from scenes.paper.frame import header
from scenes.paper.sheet import (
    HEAD,
    TEXT,
    Mark,
    Paper,
    label,
    paragraph,
)

INDENT = 90.0
"""Of a task's text, behind its number."""
LEADING = 60.0


class Flow:
    """Puts blocks on pages one under the other."""

    def __init__(self, paper: Paper, first: list[Mark], top: float, left: str, right: str) -> None:
        self.paper = paper
        self.pages: list[list[Mark]] = [first]
        self.y = top
        self._heads = left, right

    def room(self, height: float) -> None:
        """Go on a new page unless so much has room on this one."""
        if self.y + height > self.paper.bottom and self.y > self.paper.top + 60:
            self.pages.append(header(self.paper, *self._heads))
            self.y = self.paper.top + 50

    def put(self, *marks: Mark) -> None:
        self.pages[-1] += marks

    def task(
        self, number: int, stretches: Sequence[tuple[str, int]], height: float, size: float = TEXT
    ) -> None:
        """A task's number and text, on one page with `height` of what belongs to it."""
        width = self.paper.right - self.paper.left - INDENT
        lines, last = paragraph(stretches, self.paper.left + INDENT, 0.0, width, size, LEADING)
        self.room(last + height + 40)
        self.put(label(str(number), self.paper.left, self.y, HEAD, BOLD))
        self.put(*(line._replace(baseline=line.baseline + self.y) for line in lines))
        self.y += last + 34
