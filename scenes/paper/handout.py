"""The handout: the piece in a few facts and on one strip, its figures, all its bars, every repetition."""

from collections.abc import Iterator

from renderer.paper.facts import counted_in, facts, head_fact, played_figures, tempo_text
from renderer.schedule.phrases import Phrases
from renderer.timeline.model import Figure, Timeline
from scenes.draw.look import BOLD, REGULAR
from scenes.draw.paths import disc, hull, rectangle, sail
from scenes.draw.text import text_width
from scenes.paper.bars import bar_pages
from scenes.paper.frame import head, header, numbered, title_marks
from scenes.paper.panels import Panel, draw_panels, figures_note, lay_panels, row_height
from scenes.paper.print_look import FIGURE, METER, PEN
from scenes.paper.sheet import (
    BLACK,
    MARGIN,
    POINT,
    TEXT,
    TINY,
    TITLE,
    Mark,
    Outline,
    Paper,
    Sheet,
    drawn_round,
    filled,
    label,
    paragraph,
    rule,
    words,
)
from scenes.paper.strip import draw_strip
from scenes.paper.tables import table_pages

LEADING = 64.6
EMBLEM = 430.0


def handout_sheets(timeline: Timeline, file: str, paper: Paper) -> list[Sheet]:
    """All pages; `file` is the spec's name, at their foot."""
    sheets = [*_piece(timeline, paper), *bar_pages(timeline, paper), *table_pages(timeline, paper)]
    return numbered(sheets, file)


def stretches_of(phrases: Phrases) -> list[tuple[str, int]]:
    """A sentence with what it speaks of in bold."""
    return [(phrase.text, REGULAR if phrase.role == "plain" else BOLD) for phrase in phrases]


def _piece(timeline: Timeline, paper: Paper) -> Iterator[Sheet]:
    """The first page, and further ones for figures that have no room on it."""
    marks: list[Mark] = [*header(paper, "Handout", ""), *_head_facts(timeline, paper)]
    figures = played_figures(timeline)
    room = paper.right - paper.left - (EMBLEM + 60 if figures else 0)
    titled, y = title_marks(paper, timeline.title, "", MARGIN + 180, TITLE, room)
    marks += titled
    y += 46
    marks.append(rule(paper.left, y, paper.right, y, 1.2 * POINT))
    if figures:
        marks += emblem(timeline, figures[0], paper.right - EMBLEM, y)
    y += 104
    for fact in facts(timeline):
        lines, y = paragraph(stretches_of(fact), paper.left, y, paper.right - paper.left, TEXT, LEADING)
        marks += lines
        y += LEADING + 12
    y += 24
    marks += head("The piece", "", paper, y)
    rows = lay_panels(timeline, figures, paper)
    first = row_height(rows[0]) + 100 if rows else 0.0
    strip, end = draw_strip(timeline, paper, y + 92, paper.bottom - first)
    marks += strip
    y = end + 110
    note = figures_note(timeline, figures) if figures else ""
    if rows and y + 40 + row_height(rows[0]) > paper.bottom:
        smaller = lay_panels(timeline, figures, paper, 0.7)
        if y + 40 + row_height(smaller[0]) <= paper.bottom:
            rows = smaller
    fits = rows and y + 40 + row_height(rows[0]) <= paper.bottom
    if not fits:
        yield Sheet(paper, tuple(marks))
        marks, y = header(paper, timeline.title, "Figures"), paper.top + 44
        if not rows:
            return
    marks += head("The figures" if len(figures) > 1 else "The figure", note, paper, y)
    y += 60
    yield from _panel_pages(timeline, rows, paper, marks, y)


def _panel_pages(
    timeline: Timeline, rows: list[list[Panel]], paper: Paper, marks: list[Mark], y: float
) -> Iterator[Sheet]:
    for row in rows:
        if y + row_height(row) > paper.bottom + 40:
            yield Sheet(paper, tuple(marks))
            marks, y = header(paper, timeline.title, "Figures"), paper.top + 40
        marks += draw_panels(timeline, row, paper, y)
        y += row_height(row)
    yield Sheet(paper, tuple(marks))


def _head_facts(timeline: Timeline, paper: Paper) -> list[Mark]:
    """Bars, meter, tempo and pulse at the right of the header; the tempo's note is drawn."""
    before, tempo, pulse = f"{head_fact(timeline)}, ", f" = {tempo_text(timeline)}", counted_in(timeline)
    after = f"{tempo}, {pulse}" if pulse else tempo
    x = paper.right - text_width(before, TINY) - 18 - text_width(after, TINY)
    baseline = MARGIN + 28
    return [
        *words([(before, REGULAR)], x, baseline, TINY),
        quarter_note(x + text_width(before, TINY) + 2, baseline),
        label(after, x + text_width(before, TINY) + 18, baseline, TINY),
    ]


def quarter_note(x: float, baseline: float, size: float = 1.0) -> Outline:
    """A quarter note as tall as a line of the least type."""
    return filled(
        BLACK,
        disc(x + 6 * size, baseline - 4 * size, 6 * size),
        rectangle(x + 10 * size, baseline - 30 * size, x + 12.4 * size, baseline - 4 * size),
    )


def emblem(timeline: Timeline, figure: Figure, left: float, line: float) -> list[Mark]:
    """The figure over one bar, standing on a line."""
    bar = next(bar for bar in timeline.bars if bar.number >= 1)
    pulse = figure.pulse * timeline.grid
    pulses = max(float((bar.end - bar.at) / pulse), float(figure.pulses))
    scale = (EMBLEM - 10) / pulses
    base, at, contours = line - 36, 0, []
    longest = max(figure.groups)
    for group in figure.groups:
        contours.append(sail(left + at * scale, base, group * scale - 3, 118 * (0.3 + 0.7 * group / longest)))
        at += group
    body = hull(left, left + at * scale - 3, base + 3, line - 5, min(26, at * scale * 0.3))
    found: list[Mark] = [drawn_round([*contours, body], PEN, FIGURE, "#FFFFFF")]
    for beat in timeline.beats_in(bar):
        x = left + float((beat.at - bar.at) / pulse) * scale
        if x <= left + EMBLEM:
            found.append(rule(x, line, x, line + (42 if beat.number == 1 else 18), 1.2 * PEN, METER))
    end = left + float((bar.end - bar.at) / pulse) * scale
    if end <= left + EMBLEM:
        found.append(rule(end, line, end, line + 42, 1.2 * PEN, METER))
    return found
