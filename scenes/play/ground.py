"""What stands still in a row of `play`: sky, sections, line, posts, chords, the teacher's own words."""

from collections.abc import Iterable, Sequence

from renderer.timeline.model import Bar, Beat, Harmony, Mark, Section, Timeline
from scenes.draw.chords import draw_chord
from scenes.draw.look import BOLD, REGULAR, SEMIBOLD
from scenes.draw.paths import Contour, rectangle
from scenes.draw.segment import Picture
from scenes.draw.shapes import across, draw, draw_text
from scenes.draw.text import text_width
from scenes.frame.head import fit_name
from scenes.play.rows import CHORD_GAP, CHORD_LEAST, chord_size, name_rise
from scenes.row.line import Row, draw_line, draw_post
from scenes.row.mark_words import draw_mark_line
from scenes.row.sky import draw_sky

NOT_SOUNDING = 0.78
"""Opacity of the chords' names that do not sound."""
SECTION_CUT = 10.0
"""Pixels cut out of sky and line left of a section's first downbeat."""
POST_BELOW = 0.55
"""Opacity of the posts that run down to the foot of a tall picture."""


def draw_ground(
    row: Row, timeline: Timeline, harmony: Sequence[Harmony], alone: Sequence[tuple[int, int]], below: bool
) -> Picture:
    """Sky, sections, line and posts; `alone` are the stretches in which nobody keeps the meter, with `below` the posts
    run down to the picture's foot."""
    look = row.look
    drawn = [*draw_sky(row, harmony, seam_top=row.top), draw_line(row)]
    for section in timeline.sections:
        if row.holds(section.at):
            x = row.x(section.at)
            if section.at > row.start:
                cut = rectangle(x - SECTION_CUT, row.top, x, row.line + look.width_line / 2)
                drawn.append(draw(look.ground, cut))
            drawn += _section_name(row, section, timeline.sections)
    return drawn + _draw_posts(row, timeline, alone, below)


def draw_marks_over(
    row: Row, marks: Iterable[Mark], sections: Sequence[Section], said: frozenset[Mark]
) -> Picture:
    """The teacher's own words in the line of the sections' names; those in `said` stand out."""
    names = [shape for each in sections if row.holds(each.at) for shape in _section_name(row, each, sections)]
    shown = [mark for mark in marks if row.shows(mark.at, mark.to)]
    baseline = row.top - name_rise(row.look.canvas)
    return draw_mark_line(row, shown, baseline, row.look.size_least, map(across, names), said)


def _section_name(row: Row, section: Section, sections: Sequence[Section]) -> Picture:
    look, right = row.look, row.look.canvas.right
    later = [row.x(each.at) for each in sections if section.at < each.at < row.end]
    room = min([right, *(x - 20 for x in later)]) - row.x(section.at)
    size, lines = fit_name(look, section.name, look.size_least, room)
    x = min(row.x(section.at), right - text_width(lines[0], size, SEMIBOLD))
    return [draw_text(lines[0], x, row.top - name_rise(look.canvas), size, look.ink, SEMIBOLD)]


def _draw_posts(row: Row, timeline: Timeline, alone: Sequence[tuple[int, int]], below: bool) -> Picture:
    """Bars and beats under the line, dashed where nobody keeps the meter; in a tall picture those of the lower row
    run down to its foot."""
    look, style, canvas = row.look, row.style, row.look.canvas
    drawn: Picture = []
    for beat in timeline.beats:
        if not row.holds(beat.at):
            continue
        first = beat.number == 1
        length, width = (style.post, look.width_post) if first else (style.beat, look.width_beat)
        dashed = any(start <= beat.at < end for start, end in alone)
        drawn += _post(row, beat.at, length, width, dashed)
        if below:
            x, foot = row.x(beat.at), row.line + length + (18 if first else 60)
            whole = rectangle(x - width / 2, foot, x + width / 2, canvas.height)
            upright = _dashes(x, foot, canvas.height, width) if dashed else [whole]
            drawn.append(draw(look.meter_line, *upright, opacity=POST_BELOW))
    for bar in timeline.bars:
        x, text = row.x(bar.at) + 12, str(bar.number)
        if row.holds(bar.at) and x + text_width(text, style.bar, SEMIBOLD) <= canvas.right:
            drawn.append(draw_text(text, x, row.feet - 1, style.bar, look.meter_text, SEMIBOLD))
    return drawn


def draw_chords(
    row: Row, harmony: Sequence[Harmony], sounding: int | None, most: float, baseline: float
) -> Picture:
    """The chords' names in their lane, all of one size; the one that sounds stands out."""
    look = row.look
    size = max(CHORD_LEAST, chord_size(harmony, row.start, row.end, row.scale, most))
    drawn: Picture = []
    for number, each in enumerate(harmony):
        if not row.shows(each.at, each.end):
            continue
        x = row.x(max(each.at, row.start)) + CHORD_GAP
        end = min(row.x(min(each.end, row.end)) - 4, row.right - 4, look.canvas.right)
        sounds = number == sounding
        name = draw_chord(
            each.name,
            x,
            baseline,
            size,
            look.ink if sounds else look.harmony,
            BOLD if sounds else SEMIBOLD,
            opacity=1.0 if sounds else NOT_SOUNDING,
        )
        bold = draw_chord(each.name, x, baseline, size, look.ink, BOLD)
        if across(bold)[1] <= end:
            drawn.append(name)
    return drawn


def draw_present_bar(row: Row, beats: Iterable[Beat], bar: Bar, present: Beat) -> Picture:
    """The bar that sounds shows its other beats' numbers; the beat that sounds stands out."""
    look = row.look
    drawn: Picture = []
    number = text_width(str(bar.number), row.style.bar, SEMIBOLD)
    free = row.x(bar.at) + 12 + number + 8
    for beat in beats:
        sounds = beat == present
        colour = look.ink if sounds else look.meter_text
        if sounds and row.holds(beat.at):
            length = row.style.post if beat.number == 1 else row.style.beat
            width = look.width_post if beat.number == 1 else look.width_beat
            drawn.append(draw_post(row, beat.at, length, width + 1, colour))
        if beat.number == 1:
            continue
        text, size, weight = str(beat.number), min(row.style.bar, 36.0), BOLD if sounds else REGULAR
        x = row.x(beat.at) + 10
        end = x + text_width(text, size, BOLD)
        if row.holds(beat.at) and x >= free and end <= min(row.x(beat.end) - 4, look.canvas.right):
            drawn.append(draw_text(text, x, row.feet - 1, size, colour, weight))
            free = end + 8
    return drawn


def _post(row: Row, at: int, length: float, width: float, alone: bool) -> Picture:
    if not alone:
        return [draw_post(row, at, length, width, row.look.meter_line)]
    top = row.line + row.look.width_line / 2
    return [draw(row.look.meter_line, *_dashes(row.x(at), top, row.line + length, width))]


def _dashes(x: float, top: float, bottom: float, width: float) -> list[Contour]:
    """An upright dashed line."""
    dash = max(8.0, min(16.0, (bottom - top) / 5))
    pieces: list[Contour] = []
    while top < bottom:
        pieces.append(rectangle(x - width / 2, top, x + width / 2, min(top + dash * 0.6, bottom)))
        top += dash
    return pieces
