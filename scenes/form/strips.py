"""Where `form` puts everything: the piece on one strip to scale, or on several where names or the frame ask for it."""

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

from renderer.schedule.form import FormSchedule
from renderer.schedule.form_sentences import section_text
from renderer.schedule.pace import share_pages
from renderer.spec.words import Vocabulary
from renderer.timeline.model import Section, Timeline
from scenes.draw.look import CAPITAL, SEMIBOLD, Canvas, Look, RowStyle
from scenes.draw.text import fit_size, shorten, text_width
from scenes.row.line import Row
from scenes.row.mark_words import MarkWords, braces_foot, lay_braces

NAME_GAP, STEM_GAP, BARS_GAP = 14.0, 18.0, 16.0
"""From a section's line to its name, from the name's end to the next line, and to its bars beside it."""
HULL_MOST, HULL_LEAST, SAIL_MOST, SAIL_LEAST = 84.0, 34.0, 230.0, 24.0
VOICE_MOST, VOICE_LEAST = 66.0, 36.0
"""Pixels that each of several voices gets for sails and hull."""
GUTTER = 180.0
"""Left of the music, for the names of several voices."""
SHORT_FORM, MOST_STRIPS = 6, 8
"""A form of fewer bars stands on one strip, however tall the frame is."""
WHOLE = 1.7
"""A section is not parted where it is so many times as long as a strip ought to be, or shorter."""
NAME_LEAST = 110.0
"""Pixels: a name that would be cut off to less is left out."""
BRACES = 14.0
"""From the feet of a strip's posts to the ends of the marks' braces."""
LEGEND_GAP, APART = 77.0, 16.0
"""From the lowest strip to the legend's baseline, and between two strips at least."""


class Spacing(NamedTuple):
    """The upright measures of a strip, from the top of its names down."""

    sizes: tuple[float, ...]
    """A section's name is as large as lets it stand over its own bars; where the least is too wide it stands higher."""
    over: float
    """From the top of the names to that of the sky."""
    raised: float
    """How much higher names stand that are too wide."""
    name: float
    """From a name's baseline to the sky."""
    bars: float
    """From the baseline of the number of bars to the sky; the same where it stands beside the name."""
    lane: float
    air: float
    post: float
    drop: float
    """How much longer a post is where its number has no room beside the one before."""
    chord: float
    number: float

    def least(self, voices: int) -> float:
        """The height that a strip of so many voices needs at least, without raised names."""
        played = max(SAIL_LEAST + HULL_LEAST, VOICE_LEAST * voices)
        return self.over + self.lane + self.air + played + 10 + self.post + self.drop


ROOMY = Spacing((56.0, 48.0, 42.0), 132, 64, 80, 29, 60, 8, 58, 40, 42, 42)
CLOSE = Spacing((42.0, 38.0, 34.0), 44, 40, 12, 12, 40, 2, 36, 0, 34, 34)


class NamePlace(NamedTuple):
    """A section's name over a strip, and what is told of its bars under it."""

    section: Section
    begins: bool
    """Whether the section begins here; else it goes on from the strip before."""
    x: float
    """Where its line stands."""
    left: float
    """Where its name begins."""
    text: str
    size: float
    raised: bool
    bars: str
    whole: bool
    """Whether all of its name is there."""


class Strip(NamedTuple):
    """A row of bars with the sections' names over it."""

    row: Row
    names: tuple[NamePlace, ...]
    spacing: Spacing
    marks: tuple[MarkWords, ...]

    def baseline(self, name: NamePlace) -> float:
        """Where a section's name stands."""
        return self.row.top - self.spacing.name - (self.spacing.raised if name.raised else 0.0)

    def bars_place(self, name: NamePlace) -> tuple[float, float]:
        """Where the number of its bars begins, across and up: under the name, or beside it."""
        beside = self.spacing.bars == self.spacing.name and not name.raised
        width = text_width(name.text, name.size, SEMIBOLD) + BARS_GAP if beside else 0.0
        return name.x + NAME_GAP + width, self.row.top - self.spacing.bars

    @property
    def braces(self) -> float:
        """Where the braces of marks begin, under the bars' numbers."""
        return self.row.feet + self.spacing.drop + BRACES

    def stem_top(self, name: NamePlace) -> float:
        """Where a section's line begins: beside its name, or under it where that has been moved to the left, or beside
        its bars where it has none."""
        if not name.text:
            return self.row.top - self.spacing.bars - self.row.look.size_least * CAPITAL
        if name.left < name.x:
            return self.baseline(name) + 10
        return self.baseline(name) - name.size * CAPITAL - 12


def lay_strips(schedule: FormSchedule, look: Look) -> list[Strip]:
    """As few strips as let all names stand whole; a tall frame has at least three."""
    timeline, stretches, canvas = schedule.timeline, schedule.course.stretches, look.canvas
    own = _beside_gutter(look) if len(timeline.voices) > 1 else look
    total = sum(end - start for start, end in stretches)
    bars = sum(section.bar_count for section in schedule.sections)
    top, bottom = _stage(canvas)
    best: list[Strip] = []
    fewest = 3 if canvas.tall and bars >= SHORT_FORM else 1
    longest = max(section.end - section.at for section in schedule.sections)
    for count in (*range(fewest, MOST_STRIPS), *range(fewest - 1, 0, -1)):
        if best and count < fewest:
            break
        share = -(-total // count)
        breaks = share_pages(timeline, stretches, max(share, longest) if longest < WHOLE * share else share)
        for spacing in (ROOMY, CLOSE):
            names = _name_rows(timeline, breaks, own, canvas, spacing)
            raised = spacing.raised if any(name.raised for row in names for name in row) else 0.0
            below = marks_room(timeline, breaks, spacing)
            needed = len(breaks) * (spacing.least(len(timeline.voices)) + raised + below + APART) - APART
            if needed > bottom - top and (count > 1 or spacing is ROOMY):
                continue
            strips = _lay(timeline, breaks, names, own, spacing, raised, below)
            if all(name.whole for row in names for name in row):
                return strips
            if not best or _whole_count(strips) > _whole_count(best):
                best = strips
    return best


def _whole_count(strips: Sequence[Strip]) -> int:
    return sum(name.whole for strip in strips for name in strip.names)


def _stage(canvas: Canvas) -> tuple[float, float]:
    if canvas.legend is None:
        return canvas.stage_top, canvas.bottom - 20
    return canvas.stage_top + 8, canvas.legend - LEGEND_GAP


def _beside_gutter(look: Look) -> Look:
    canvas = look.canvas
    left = canvas.left + min(GUTTER, canvas.music_width / 5)
    return look.on(replace(canvas, sky_left=left, music_left=left + canvas.sky_right - canvas.music_right))


def _bare_row(start: int, end: int, scale: float, look: Look) -> Row:
    return Row(start, end, scale, 0.0, RowStyle(0, 0, 0, 0, 0, 0, 0, 0, 0), look, 1)


def _scale(breaks: Sequence[tuple[int, int]], look: Look) -> float:
    return look.canvas.music_width / max(end - start for start, end in breaks)


def _name_rows(
    timeline: Timeline, breaks: Sequence[tuple[int, int]], look: Look, canvas: Canvas, spacing: Spacing
) -> list[list[NamePlace]]:
    rows = [_bare_row(start, end, _scale(breaks, look), look) for start, end in breaks]
    return [_place_names(row, _entries(timeline, row), canvas, spacing) for row in rows]


def _lay(
    timeline: Timeline,
    breaks: Sequence[tuple[int, int]],
    names: Sequence[Sequence[NamePlace]],
    look: Look,
    spacing: Spacing,
    raised: float,
    below: float,
) -> list[Strip]:
    """Strips of one size from the top of the stage on, or in its middle."""
    top, bottom = _stage(look.canvas)
    count, scale = len(breaks), _scale(breaks, look)
    pitch = (bottom - top + APART) / count
    over = spacing.over + raised
    style = _measure(pitch - APART - over - below, len(timeline.voices), spacing)
    height = over + style.height(look) + spacing.drop + below
    apart = min(pitch, height + 3 * APART)
    first = top if look.canvas.tall else top + (bottom - top - (count - 1) * apart - height) / 2
    sizes, levels = mark_sizes(breaks, spacing)
    strips = []
    for index, (start, end) in enumerate(breaks):
        row = Row(start, end, scale, first + index * apart + over, style, look, 1)
        room = (look.canvas.left, look.canvas.right)
        marks = lay_braces(timeline.marks, row.x, (start, end), room, sizes, levels)
        strips.append(Strip(row, tuple(names[index]), spacing, marks))
    return strips


def mark_sizes(breaks: Sequence[tuple[int, int]], spacing: Spacing) -> tuple[tuple[float, ...], int]:
    """The sizes of marks' words under a strip, and on how many levels they stand."""
    if len(breaks) > 1 or spacing is CLOSE:
        return (42.0, 34.0), 1
    return (60.0, 48.0, 42.0, 34.0), 2


def marks_room(timeline: Timeline, breaks: Sequence[tuple[int, int]], spacing: Spacing) -> float:
    """The height that marks take under each strip."""
    if not any(start < mark.to and mark.at < end for start, end in breaks for mark in timeline.marks):
        return 0.0
    sizes, levels = mark_sizes(breaks, spacing)
    return BRACES + braces_foot(0.0, levels - 1, sizes[0])


def _measure(body: float, voices: int, spacing: Spacing) -> RowStyle:
    """A strip's upright measures in so many pixels, from its sky's top down."""
    room = body - spacing.post - spacing.drop - spacing.lane - spacing.air - 10
    most = HULL_MOST + SAIL_MOST if voices < 2 else max(HULL_MOST + SAIL_MOST, VOICE_MOST * voices)
    room = max(SAIL_LEAST + HULL_LEAST, min(room, most))
    hull = max(HULL_LEAST, min(HULL_MOST, room * 0.36))
    return RowStyle(
        headroom=spacing.lane + spacing.air,
        sail=room - hull,
        hull=hull,
        post=spacing.post,
        beat=spacing.post * 0.28,
        number=max(34.0, min(40.0, hull * 0.48)),
        bar=spacing.number,
        name=spacing.chord,
        disc=0,
    )


def _entries(timeline: Timeline, row: Row) -> list[tuple[Section, bool]]:
    """The sections of a strip, and whether each begins there."""
    shown = [s for s in timeline.sections if s.at < row.end and s.end > row.start]
    return [(section, section.at >= row.start) for section in shown]


def _place_names(
    row: Row, entries: Sequence[tuple[Section, bool]], canvas: Canvas, spacing: Spacing
) -> list[NamePlace]:
    """Each name over its own bars, or higher where it has no room there; shortened only where neither is enough."""
    places: list[NamePlace] = []
    edges = [row.x(max(section.at, row.start)) for section, _ in entries]
    rooms = [_room(edges, index, canvas) for index in range(len(edges))]
    widths = [text_width(section_text(section), spacing.sizes[-1], SEMIBOLD) for section, _ in entries]
    high = [width > room for width, room in zip(widths, rooms, strict=True)]
    free = canvas.left
    for index, (section, begins) in enumerate(entries):
        text, left, room = section_text(section), edges[index] + NAME_GAP, rooms[index]
        if high[index]:
            later = [edge for edge, up in zip(edges[index + 1 :], high[index + 1 :], strict=True) if up]
            left, room = _raise(left, widths[index], free, later, canvas)
        size, shown = _fit(text, room, spacing)
        if high[index] and shown:
            free = left + text_width(shown, size, SEMIBOLD) + STEM_GAP
        beside = spacing.bars == spacing.name and not high[index]
        taken = text_width(shown, size, SEMIBOLD) + BARS_GAP if beside else 0.0
        bars = _bars_text(section, row.look.words, rooms[index] - taken) if begins else ""
        places.append(
            NamePlace(section, begins, edges[index], left, shown, size, high[index], bars, shown == text)
        )
    return places


def _raise(
    left: float, width: float, free: float, later: Sequence[float], canvas: Canvas
) -> tuple[float, float]:
    """Where a raised name begins, and its room: up to the next raised one, unless that is too near for any name; the
    last one may begin further left."""
    if not later:
        left = max(free, min(left, canvas.right - width))
        return left, canvas.right - left
    if left < free:
        return left, 0.0
    room = later[0] - STEM_GAP - left
    return left, room if room >= min(width, NAME_LEAST) else canvas.right - left


def _fit(text: str, room: float, spacing: Spacing) -> tuple[float, str]:
    """The size of a name and what is shown of it: as large as it fits, then smaller, then cut off, then nothing."""
    fitting = [size for size in spacing.sizes if text_width(text, size, SEMIBOLD) <= room]
    size = fitting[0] if fitting else fit_size(text, spacing.sizes[-1], 34.0, max(1.0, room), SEMIBOLD)
    if text_width(text, size, SEMIBOLD) > room < NAME_LEAST:
        return size, ""
    return size, shorten(text, size, room, SEMIBOLD)


def _room(edges: Sequence[float], index: int, canvas: Canvas) -> float:
    """How wide a name over its own bars may be."""
    end = edges[index + 1] - STEM_GAP if index + 1 < len(edges) else canvas.right
    return min(end, canvas.right) - edges[index] - NAME_GAP


def _bars_text(section: Section, words: Vocabulary, room: float) -> str:
    count = section.bar_count
    for text in (words.say(f"{count} bar{'s' if count > 1 else ''}"), str(count)):
        if text_width(text, 34.0, SEMIBOLD) <= room:
            return text
    return ""
