"""Which bars stand in which row of `spread`, how many rows a page has, and what a row measures."""

from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from renderer.schedule.model import Span
from renderer.schedule.spans import row_breaks
from renderer.schedule.spread import SpreadSchedule
from renderer.timeline.model import Harmony
from scenes.draw.look import Canvas, Look, RowStyle
from scenes.row.lane import CHORD_LEAST, lane_size
from scenes.row.line import Row, make_rows

STRIP_LEAST, STRIP = 230.0, 34.0
"""Rows closer than the first have their sections' names beside the first bar's number, which leaves them the second."""
ROW_LEAST = 155.0
"""The least from one row of a wide canvas to the next."""
DISC_LEAST = 9.0
PITCH_MOST = 560.0
LEGEND_GAP, MARKS_GAP = 77.0, 33.0
"""From the feet of the lowest row to the legend's baseline, and from its room to the first line of marks in a tall
picture."""
PAGE_LEAST = Fraction(1)
"""Seconds that a page stands at least; of pages that would turn faster some are left out."""
FINER, MORE_PAGES = Fraction(3, 4), 3
"""Rows get shorter step by step, until the chords' names fit or there would be so many times as many pages."""


class Measures(NamedTuple):
    """Upright lengths of a row in pixels, from the top down, at a distance from one row to the next."""

    pitch: float
    name: float
    lane: float
    air: float
    sail: float
    hull: float
    post: float


MEASURES = (
    Measures(189, 32, 40, 2, 40, 27, 36),
    Measures(257, 34, 46, 6, 68, 34, 46),
    Measures(385, 38, 62, 12, 134, 50, 66),
    Measures(560, 46, 88, 22, 216, 70, 94),
)


class Page(NamedTuple):
    """How many rows stand on a page at most, and how long one may be, in whole notes."""

    rows: int
    longest: Fraction


Choice = tuple[Page, tuple[tuple[int, int], ...]]
"""A way to share the canvas out, and the rows that come of it."""


class SpreadRows(NamedTuple):
    """The rows of a segment: which ticks each has, how many stand on a page, and what one measures."""

    breaks: tuple[tuple[int, int], ...]
    page: int
    """How many rows stand on a page."""
    top: float
    """The top of the first row's sky."""
    pitch: float
    strip: bool
    """Whether sections' names stand over their rows."""
    style: RowStyle
    name: float
    lane: float
    scale: float

    def row(self, index: int, place: int, look: Look, longest_group: int) -> Row:
        """A row in one of the places of a page, from 0."""
        start, end = self.breaks[index]
        return Row(start, end, self.scale, self.top + place * self.pitch, self.style, look, longest_group)


def pages_for(canvas: Canvas) -> tuple[Page, ...]:
    """How a canvas may be shared out, from the largest rows to the smallest."""
    width = Fraction(canvas.music_width)
    if canvas.tall:
        return (Page(4, Fraction(3, 2)), Page(6, Fraction(2)), Page(6, Fraction(3)))
    if canvas.legend is None:
        return (Page(2, Fraction(2)), Page(3, Fraction(3)), Page(4, Fraction(4)), Page(4, Fraction(6)))
    top, bottom = _page_room(canvas)
    most = int((bottom - top) / ROW_LEAST)
    lengths = (width / 420, width / 320, width / 140, width / 93)
    return tuple(Page(min(rows, most), longest) for rows, longest in enumerate(lengths, start=1))


def lay_rows(schedule: SpreadSchedule, look: Look) -> SpreadRows:
    """Rows as large as let all of the form stand on one page with its chords' names, else as few as can be read."""
    timeline, canvas = schedule.timeline, look.canvas
    harmony = () if "harmony" in schedule.without else timeline.harmony
    before = {start: first for first, start in schedule.ahead}
    stretches = [Span(start, end, Fraction(0), before.get(start)) for start, end in schedule.course.stretches]
    pages = [*pages_for(canvas)]
    while pages[-1].longest * FINER >= 1:
        pages.append(Page(pages[-1].rows, pages[-1].longest * FINER))
    places = [(mark.at, mark.to) for mark in timeline.marks]
    marked = any(a < end and start < b for a, b in places for start, end in schedule.course.stretches)
    tried = [(page, tuple(row_breaks(timeline, stretches, page.longest))) for page in pages]
    fitting = [choice for choice in tried if len(choice[1]) <= choice[0].rows]
    named = [choice for choice in tried if _names_fit(choice[1], harmony, look)]
    for choice in fitting:
        if choice in named:
            return _measure(*choice, look, marked)
    fewest = min(tried, key=_page_count)
    named = [choice for choice in named if _page_count(choice) <= MORE_PAGES * _page_count(fewest)]
    if named:
        return _measure(*min(named, key=_page_count), look, marked)
    return _measure(*(fitting[0] if fitting else fewest), look, marked)


def _page_count(choice: Choice) -> int:
    page, breaks = choice
    return -(-len(breaks) // page.rows)


def _names_fit(breaks: Sequence[tuple[int, int]], harmony: Sequence[Harmony], look: Look) -> bool:
    style = RowStyle(0, 0, 0, 0, 0, 0, 0, 0, 0)
    return all(lane_size(row, harmony, 99) >= CHORD_LEAST for row in make_rows(breaks, style, look))


def _measure(page: Page, breaks: Sequence[tuple[int, int]], look: Look, marked: bool) -> SpreadRows:
    canvas = look.canvas
    count = min(page.rows, len(breaks))
    top, bottom = _page_room(canvas)
    pitch = min(PITCH_MOST, (bottom - top) / count)
    strip = pitch >= (MEASURES[0].pitch if marked else STRIP_LEAST)
    measures = _between(pitch if strip else pitch + STRIP)
    if not canvas.tall:
        top += (bottom - top - pitch * count) / 2
    style = RowStyle(
        headroom=measures.lane + measures.air,
        sail=measures.sail,
        hull=measures.hull,
        post=measures.post,
        beat=measures.post * (0.4 if strip else 0.26),
        number=max(look.size_least, min(42.0, measures.hull * 0.72)),
        bar=max(look.size_least, min(46.0, measures.post * 0.6)),
        name=max(CHORD_LEAST, min(56.0, measures.lane * 0.74)),
        disc=DISC_LEAST if measures.sail >= 90 else 0.0,
    )
    longest = max(end - start for start, end in breaks)
    return SpreadRows(
        breaks=tuple(breaks),
        page=count,
        top=top + (measures.name if strip else 0.0),
        pitch=pitch,
        strip=strip,
        style=style,
        name=measures.name if strip else 0.0,
        lane=measures.lane,
        scale=canvas.music_width / longest,
    )


def _page_room(canvas: Canvas) -> tuple[float, float]:
    """From where to where the rows of a page may stand."""
    top = canvas.stage_top + (8 if canvas.legend is not None else 0)
    if canvas.marks:
        return top, canvas.marks[0] - MARKS_GAP
    return top, canvas.bottom - 20 if canvas.legend is None else canvas.legend - LEGEND_GAP


def _between(pitch: float) -> Measures:
    """The measures at a pitch, from those at the nearest ones below and above."""
    pitch = max(MEASURES[0].pitch, min(MEASURES[-1].pitch, pitch))
    low, high = next(pair for pair in pairwise(MEASURES) if pitch <= pair[1].pitch)
    share = (pitch - low.pitch) / (high.pitch - low.pitch)
    return Measures(*(a + (b - a) * share for a, b in zip(low, high, strict=True)))


def windows(rows: SpreadRows) -> range:
    """The first rows of the pages that may be shown."""
    return range(max(1, len(rows.breaks) - rows.page + 1))


def _first_seconds(schedule: SpreadSchedule, start: int, end: int) -> Fraction:
    """When a row begins to be played, which may be after a bar that is only seen."""
    begins = {at for at, _ in schedule.course.stretches if start <= at < end}
    seconds = schedule.course.seconds_at(start)
    if seconds is None and begins:
        seconds = schedule.course.seconds_at(min(begins))
    return seconds or Fraction(0)


def page_starts(schedule: SpreadSchedule, rows: SpreadRows) -> list[tuple[int, Fraction]]:
    """The pages that are shown while the repetitions are laid out: each one's first row and when it comes. Each stands
    for a second at least; the last one always comes."""
    found: list[tuple[int, Fraction]] = []
    for first in range(0, len(rows.breaks), rows.page):
        seconds = _first_seconds(schedule, *rows.breaks[first])
        found.append((first, seconds if first else Fraction(0)))
    kept = found[:1]
    for page in found[1:]:
        room = schedule.course.ends - page[1] >= PAGE_LEAST or page is found[-1]
        if page[1] - kept[-1][1] >= PAGE_LEAST and room:
            kept.append(page)
        elif page is found[-1]:
            kept[1:] = [*(kept[1:-1] if len(kept) > 1 else []), page]
    return kept
