"""The counts in a figure's hull: a notch a pulse, and its number right of it."""

from collections.abc import Collection
from itertools import accumulate

from renderer.timeline.model import Figure, Statement
from scenes.draw.look import BOLD, CAPITAL, REGULAR
from scenes.draw.paths import clip_all, rectangle
from scenes.draw.segment import Picture
from scenes.draw.shapes import FilledShape, draw, draw_text, place
from scenes.draw.text import letter, text_width
from scenes.row.line import Row

EVERY_COUNT, EVERY_LONG_COUNT = 22.0, 40.0
"""Pixels a pulse needs at least for every count to be written, and where counts have two digits."""
COUNT_GAP = 16.0
"""Right of its notch a count begins, where there is room."""
SILENT = 0.62
"""Opacity of the counts on which nothing is hit."""


class FigureCounts:
    """The counts of one statement in a row of which `unit` ticks are a pulse; at the pixels in `stroked` a landing's
    stroke may stand."""

    def __init__(
        self, row: Row, unit: int, figure: Figure, statement: Statement, stroked: Collection[float]
    ) -> None:
        self.row, self.unit, self.look = row, unit, row.look
        self.step = row.scale * unit
        self.figure, self.statement, self.stroked = figure, statement, stroked
        self.starts = [0, *accumulate(figure.groups)][:-1]

    def first(self, counted: int) -> Picture:
        """The first counts of the figure, on what has sounded."""
        drawn: Picture = []
        for pulse in range(counted):
            drawn += self.one(pulse, None)
        return drawn

    def one(self, pulse: int, x: float | None) -> Picture:
        """A pulse's notch and its count; with `x` only what lies left of that pixel has sounded."""
        row, look = self.row, self.look
        index = max(n for n, start in enumerate(self.starts) if start <= pulse)
        count, at = pulse - self.starts[index] + 1, row.x(pulse * self.unit)
        hit = pulse * self.unit in self.statement.hits
        drawn: Picture = []
        if count > 1 and self.step >= 12:
            height = 15 if self.step > EVERY_COUNT else 9
            drawn.append(
                draw(look.on_sail, rectangle(at - 1.5, row.hull_top, at + 1.5, row.hull_top + height))
            )
        text, size, weight = str(count), self.size(), BOLD if hit else REGULAR
        every = self.every()
        if not every and count > 1:
            return drawn
        width = text_width(text, size, weight)
        room = self.step * (1 if every else self.figure.groups[index])
        gap = max(10.0 if at in self.stroked else 5.0, min(COUNT_GAP, (room - width) / 2))
        if width + gap > room + 1 or at + gap + width > look.canvas.right:
            return drawn
        left = at + gap
        baseline = row.hull_bottom - (row.style.hull - 14 - size * CAPITAL) / 2
        opacity = 1.0 if hit else SILENT
        if x is None or left + width <= x:
            return [*drawn, draw_text(text, left, baseline, size, look.on_sail, weight, opacity=opacity)]
        contours = place(letter(text, size, weight), left, baseline)
        for colour, bounds, said in (
            (look.on_sail, (row.left, x), False),
            (look.on_soft, (x, row.right), True),
        ):
            part = clip_all(contours, *bounds)
            if part:
                drawn.append(FilledShape(part, colour, opacity, text if said else None, size))
        return drawn

    def every(self) -> bool:
        """Whether every count is written."""
        least = EVERY_LONG_COUNT if max(self.figure.groups) > 9 else EVERY_COUNT
        return self.step >= least

    def size(self) -> float:
        """The counts' type size."""
        return max(self.look.size_least, min(56.0, self.step * 0.85, self.row.style.hull * 0.7))
