"""Every repetition in a table of two columns a page."""

from collections.abc import Iterator
from itertools import pairwise

from renderer.paper.repetition_rows import Note, TableBlock, TableRow, table_blocks
from renderer.timeline.model import Timeline
from scenes.draw.look import BOLD, REGULAR, SEMIBOLD
from scenes.draw.paths import disc, lozenge, ring
from scenes.draw.text import fit_size, musical, shorten, text_width
from scenes.paper.frame import head, header
from scenes.paper.print_look import FINE
from scenes.paper.sheet import (
    BLACK,
    SECTION,
    SMALLEST,
    TINY,
    WHITE,
    Mark,
    Paper,
    Sheet,
    drawn_round,
    filled,
    fitted,
    label,
    rule,
)

KEY = (
    "Starts: bar.beat, or bar.beat.pulse. Offset: pulses after the downbeat. "
    "9 + 2: pulses before and after the chord turns."
)
ROW, COLUMN_GAP = 75.0, 66.0
HEAD_ROOM = 100.0
NUMBER, STARTS, COUNTED, OFFSET, NOTES = 70.0, 105.0, 260.0, 505.0, 540.0
"""From a column's left end: numbers end at the first and the fourth, all else begins there."""


class _Columns:
    """Fills column after column, page after page."""

    def __init__(self, paper: Paper) -> None:
        self.paper = paper
        self.width = (paper.right - paper.left - COLUMN_GAP) / 2
        self.columns: list[list[Mark]] = []
        self.y = float("inf")

    @property
    def left(self) -> float:
        return self.paper.left + ((len(self.columns) - 1) % 2) * (self.width + COLUMN_GAP)

    @property
    def bottom(self) -> float:
        return self.paper.bottom - 50

    def room(self, height: float) -> bool:
        return self.y + height <= self.bottom

    def begin(self) -> None:
        """A new column with its heads."""
        self.columns.append([])
        y, left = self.paper.top + HEAD_ROOM, self.left
        for text, x, anchor in (
            ("no.", NUMBER, 1.0),
            ("starts", STARTS, 0.0),
            ("counted", COUNTED, 0.0),
            ("offset", OFFSET, 1.0),
            ("what happens", NOTES, 0.0),
        ):
            self.put(label(text, left + x, y, TINY, anchor=anchor))
        self.put(rule(left, y + 18, left + self.width, y + 18, FINE * 1.4))
        self.y = y + 18

    def put(self, *marks: Mark) -> None:
        self.columns[-1] += marks


def table_pages(timeline: Timeline, paper: Paper) -> Iterator[Sheet]:
    """The pages of the table; none if nothing is played."""
    blocks, fewer = table_blocks(timeline)
    columns = _Columns(paper)
    for block in blocks:
        _draw_block(columns, block)
    note = "only those in which something happens" if fewer else "where it starts, and what happens in it"
    for number in range(0, len(columns.columns), 2):
        marks = header(paper, timeline.title, "Every repetition")
        marks += head("Every repetition", note, paper, paper.top + 44)
        for column in columns.columns[number : number + 2]:
            marks += column
        marks.append(fitted(KEY, paper.left, paper.bottom - 6, TINY, paper.right - paper.left))
        yield Sheet(paper, tuple(marks))


def _draw_block(columns: _Columns, block: TableBlock) -> None:
    if not columns.room(2 * ROW + 130):
        columns.begin()
    _block_head(columns, block.title, block.about, block.sum)
    for row in block.rows:
        height = ROW * max(1, len(row.notes))
        if not columns.room(height):
            columns.begin()
            _block_head(columns, block.title, "goes on", "")
        _draw_row(columns, row)


def _block_head(columns: _Columns, title: str, about: str, added: str) -> None:
    left, width = columns.left, columns.width
    y = columns.y + 66
    size = fit_size(title, SECTION, TINY, width, BOLD)
    text = shorten(title, size, width, BOLD)
    columns.put(label(text, left, y, size, BOLD))
    start = left + text_width(text, size, BOLD) + 20
    if left + width - start > text_width(about, SMALLEST):
        columns.put(label(about, start, y, SMALLEST))
    elif about:
        y += 46
        columns.put(fitted(about, left, y, SMALLEST, width))
    if added:
        y += 48
        columns.put(fitted(added, left, y, SMALLEST, width, SEMIBOLD))
    y += 26
    columns.put(rule(left, y, left + width, y, FINE))
    columns.y = y


def _draw_row(columns: _Columns, row: TableRow) -> None:
    left, y = columns.left, columns.y + 50
    columns.put(fitted(row.number, left + NUMBER, y, SMALLEST, NUMBER, BOLD, anchor=1.0))
    columns.put(fitted(row.starts, left + STARTS, y, SMALLEST, COUNTED - STARTS - 10))
    columns.put(fitted(row.counted, left + COUNTED, y, SMALLEST, OFFSET - COUNTED - 80))
    columns.put(fitted(row.offset, left + OFFSET, y, SMALLEST, 110, anchor=1.0))
    for number, note in enumerate(row.notes):
        baseline = y + number * ROW
        columns.put(*_note_sign(note, left + NOTES + 12, baseline - 13))
        end = left + columns.width
        room = end - left - NOTES - 40
        if note.shares:
            columns.put(label(note.shares, end, baseline, SMALLEST, anchor=1.0))
            room -= text_width(note.shares, SMALLEST) + 16
        turns = note.kind == "crossing"
        text, weight = (musical(note.text), SEMIBOLD) if turns else (note.text, REGULAR)
        columns.put(fitted(text, left + NOTES + 40, baseline, SMALLEST, room, weight))
    columns.y += ROW * max(1, len(row.notes))
    columns.put(rule(left, columns.y, left + columns.width, columns.y, FINE * 0.7))


def _note_sign(note: Note, x: float, y: float) -> list[Mark]:
    if note.kind == "crossing":
        return [filled(BLACK, lozenge(x, y, 11, 15))]
    if note.kind == "realignment":
        return [filled(BLACK, *ring(x, y, 18, 4), disc(x, y, 9))]
    if note.kind == "landing":
        return [rule(x, y - 20, x, y + 20, 6), filled(BLACK, disc(x, y, 9))]
    if note.kind == "missed":
        return [drawn_round([disc(x, y, 10)], FINE, BLACK, WHITE, dashed=True)]
    teeth = [(x + (5 if step % 2 else -5), y - 18 + 6 * step) for step in range(7)]
    return [rule(*a, *b, 4) for a, b in pairwise(teeth)]
