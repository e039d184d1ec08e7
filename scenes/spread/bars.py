"""The bars of `spread` before anything is played on them: sky, chords, line, posts, numbers, the sections' names."""

from collections.abc import Sequence

from renderer.timeline.model import Bar, Harmony, Mark, Timeline
from scenes.draw.look import CAPITAL, SEMIBOLD
from scenes.draw.paths import rectangle
from scenes.draw.segment import Picture
from scenes.draw.shapes import across, draw, draw_text
from scenes.draw.text import text_width
from scenes.frame.head import fit_name
from scenes.row.lane import draw_lane
from scenes.row.line import Row, draw_line, draw_post
from scenes.row.mark_words import draw_mark_line
from scenes.row.sky import draw_sky
from scenes.spread.rows import SpreadRows

POST_BELOW = 0.55
"""Opacity of the posts that run down to the foot of a tall picture."""
NAME_MOST, NAME_LEAST = 42.0, 60.0
"""The type size of a section's name over its row, and the pixels that it gets beside a bar's number, or is left out."""
NAME_BARS, NAME_EDGE = 4, 6.0
"""Up to which number a name may run on beside the first one, and the pixels of the plate round it."""


def draw_row_sky(rows: SpreadRows, row: Row, harmony: Sequence[Harmony]) -> Picture:
    """The harmonies behind a row, with their names in the lane over it."""
    baseline = row.top + min(rows.lane - 5, row.style.name * CAPITAL + rows.lane * 0.2)
    return [
        *draw_sky(row, harmony, seam_top=row.top),
        *draw_lane(row, harmony, baseline, row.style.name),
    ]


def draw_bars(timeline: Timeline, rows: SpreadRows, row: Row, lowest: bool, every: int) -> Picture:
    """The line with its bars and beats, every so many bars numbered or as many as have room, and the section's name
    where one begins. The lowest row of a tall picture stands on posts down to its foot."""
    look, style, canvas = row.look, row.style, row.look.canvas
    drawn: Picture = [draw_line(row)]
    for beat in timeline.beats_between(row.start, row.end):
        first = beat.number == 1
        length, width = (style.post, look.width_post) if first else (style.beat, look.width_beat)
        drawn.append(draw_post(row, beat.at, length, width, look.meter_line))
        if lowest and canvas.tall:
            top, x = row.line + length + (18 if first else 60), row.x(beat.at)
            below = rectangle(x - width / 2, top, x + width / 2, canvas.height)
            drawn.append(draw(look.meter_line, below, opacity=POST_BELOW))
    bars, most = _numbered(timeline, row)
    name = draw_section_name(timeline, rows, row)
    end = 0.0 if rows.strip else max((across(shape)[1] for shape in name), default=0.0)
    for bar in bars[:: max(every, most)]:
        x, text = row.x(bar.at) + 12, str(bar.number)
        hidden = bar is not bars[0] and row.x(bar.at) < end
        if not hidden and x + text_width(text, style.bar, SEMIBOLD) <= canvas.right:
            drawn.append(draw_text(text, x, row.feet - 1, style.bar, look.meter_text, SEMIBOLD))
    return drawn + name


def _numbered(timeline: Timeline, row: Row) -> tuple[list[Bar], int]:
    """The bars of a row, and of how many there one has room for its number."""
    bars = [bar for bar in timeline.bars if row.holds(bar.at)]
    widest = text_width(str(timeline.bars[-1].number), row.style.bar, SEMIBOLD) + 22
    most = 1
    while len(bars) > most and most * (row.x(bars[1].at) - row.x(bars[0].at)) < widest:
        most *= 2
    return bars, most


def draw_marks_over(
    timeline: Timeline, rows: SpreadRows, row: Row, said: frozenset[Mark], every: int
) -> Picture:
    """The teacher's own words in the line of the sections' names; those in `said` stand out."""
    marks = [mark for mark in timeline.marks if row.shows(mark.at, mark.to)]
    if not marks:
        return []
    if rows.strip:
        names = draw_section_name(timeline, rows, row)
        return draw_mark_line(row, marks, row.top - 9, row.look.size_least, map(across, names), said)
    texts = [across(shape) for shape in draw_bars(timeline, rows, row, False, every) if shape.text]
    return draw_mark_line(row, marks, row.feet - 1, row.look.size_least, texts, said, ahead=12)


def draw_section_name(timeline: Timeline, rows: SpreadRows, row: Row) -> Picture:
    """A section's name over the row where it begins, or beside its first bar's number; there it may run on over the
    next bars, on a plate that hides their posts."""
    look, right = row.look, row.look.canvas.right
    section = next((s for s in timeline.sections if max(s.at, 0) == max(row.start, 0)), None)
    if section is None:
        return []
    x = row.x(section.at)
    if rows.strip:
        size, lines = fit_name(look, section.name, min(NAME_MOST, rows.name), right - x)
        return [draw_text(lines[0], x, row.top - 9, size, look.ink, SEMIBOLD)]
    bars, most = _numbered(timeline, row)
    following = row.x(bars[NAME_BARS * most].at) if len(bars) > NAME_BARS * most else row.right
    number = str(timeline.bar_at(section.at).number)
    x += 12 + text_width(number, row.style.bar, SEMIBOLD) + 18
    room = min(right, following - 14) - x
    if room < NAME_LEAST:
        return []
    size, lines = fit_name(look, section.name, row.style.bar, room)
    name = draw_text(lines[0], x, row.feet - 1, size, look.ink, SEMIBOLD)
    end = across(name)[1] + NAME_EDGE
    hidden = [row.x(bar.at) + look.width_post for bar in bars if x < row.x(bar.at) - look.width_post < end]
    if not hidden:
        return [name]
    plate = rectangle(x - NAME_EDGE, row.feet - size * CAPITAL - NAME_EDGE, max(end, *hidden), row.feet + 1)
    return [draw(look.ground, plate), name]
