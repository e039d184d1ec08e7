"""What stands on the rows of `parts`: who keeps what, the changes of side, sections, bars."""

from collections.abc import Sequence

from renderer.schedule.parts_sentences import place_text
from renderer.timeline.model import Timeline
from renderer.timeline.sides import SideChange, clocks
from scenes.draw.look import REGULAR, SEMIBOLD
from scenes.draw.paths import Contour, clip_all, disc, hull, rectangle, sail
from scenes.draw.segment import Picture
from scenes.draw.shapes import draw, draw_text
from scenes.draw.text import fit_size, shorten, text_width, wrap
from scenes.frame.head import fit_name
from scenes.parts.layout import (
    BEAM,
    HULL,
    NAME_OVER,
    POST,
    REACH_DOWN,
    REACH_UP,
    SAIL,
    PartRow,
    PartsLayout,
)

SAIL_LEAST, TICK_LEAST = 5.0, 10.0
"""Pixels: narrower repetitions have no sail of their own, and ticks closer than this are left out."""
DISC = 12.0
NAME, NAME_LEAST = 48.0, 34.0
DOT, DOT_STEP = 3.0, 14.0
SECTION_GAP = 14.0
NUMBER, FAINT = 42.0, 0.4
NAME_PITCH, LEAST_CUT = 36.0, 4
"""From one line of a section's name to the next; one of which fewer letters stand on its first line is left out."""
FOOT, FOOT_OPACITY = 160.0, 0.55
"""From the rows to the posts that run down to the foot of a tall picture, under the words of a brace."""

Span = tuple[int, int]


def draw_names(layout: PartsLayout) -> Picture:
    """The parts' names before their rows, or over them in a tall frame: smaller where they are long, then on two lines,
    then cut off."""
    look, canvas, drawn = layout.look, layout.look.canvas, []
    for row in layout.rows:
        text = row.part
        if canvas.tall:
            size = fit_size(text, NAME_OVER, NAME_LEAST, canvas.right - canvas.left, SEMIBOLD)
            shown = shorten(text, size, canvas.right - canvas.left, SEMIBOLD)
            drawn.append(draw_text(shown, canvas.left, row.top + 34, size, look.ink, SEMIBOLD))
            continue
        room = layout.left - canvas.left - 22
        most = max(NAME_LEAST, min(NAME, row.scale * NAME))
        size = fit_size(text, most, NAME_LEAST, room, SEMIBOLD)
        lines = [text] if text_width(text, size, SEMIBOLD) <= room else wrap(text, size, room, SEMIBOLD)
        allowed = 2 if row.scale * 100 >= 84 else 1
        if len(lines) > allowed:
            lines = [*lines[: allowed - 1], shorten(" ".join(lines[allowed - 1 :]), size, room, SEMIBOLD)]
        for number, line in enumerate(lines):
            lift = (len(lines) - 1 - number) * size * 1.05
            baseline = row.line + size * 0.2 - lift + (size * 0.35 if len(lines) > 1 else 0)
            drawn.append(draw_text(line, canvas.left, baseline, size, look.ink, SEMIBOLD))
    return drawn


def draw_lines(layout: PartsLayout, span: Span) -> Picture:
    """Each row's line, faint, before anything stands on it."""
    lines = [rectangle(layout.left, row.line - 1, layout.right(span), row.line + 1) for row in layout.rows]
    return [draw(layout.look.line, *lines, opacity=FAINT)]


def draw_sections(layout: PartsLayout, span: Span) -> Picture:
    """The sections' names over the rows, with their bars, and lines where they begin."""
    look, canvas, timeline = layout.look, layout.look.canvas, layout.timeline
    top, bottom = layout.top, layout.bottom
    shown = [section for section in timeline.sections if section.at < span[1] and section.end > span[0]]
    baseline = layout.top - (36 if canvas.tall else 22)
    drawn: Picture = []
    lines: list[Contour] = []
    for index, section in enumerate(shown):
        x = layout.x(span, max(section.at, span[0]))
        end = layout.x(span, shown[index + 1].at) - 18 if index + 1 < len(shown) else canvas.right
        if section.at > span[0]:
            lines += [rectangle(x - 9, top - 60, x - 6, bottom), rectangle(x - 3, top - 60, x + 3, bottom)]
        left = x + (SECTION_GAP if section.at > span[0] else 0)
        room = min(end, canvas.right) - left
        size, named = fit_name(
            look, section.name, NUMBER, max(1.0, room), SEMIBOLD, 1 if canvas.legend else 2
        )
        text = named[-1]
        cut = text.endswith("…") and len(named[0]) < LEAST_CUT
        if cut or any(text_width(line, size, SEMIBOLD) > room for line in named):
            continue
        begins = section.at >= span[0]
        colour = look.ink if begins else look.mute
        drawn += [
            draw_text(line, left, baseline - place * NAME_PITCH, size, colour, SEMIBOLD)
            for place, line in enumerate(reversed(named))
        ]
        left += text_width(text, size, SEMIBOLD) + SECTION_GAP
        if len(named) > 1:
            continue
        bars = look.words.say(f"{section.bar_count} bar{'s' if section.bar_count > 1 else ''}")
        if begins and left + text_width(bars, look.size_least) <= min(end, canvas.right):
            drawn.append(draw_text(bars, left, baseline, look.size_least, look.mute, REGULAR))
    foot = [
        rectangle(x - 4, layout.bottom + FOOT, x + 4, canvas.height)
        for x in (layout.x(span, max(section.at, span[0])) + 4 for section in shown)
    ]
    if canvas.tall:
        drawn.append(draw(look.meter_line, *foot, opacity=FOOT_OPACITY))
    return [*([draw(look.line, *lines)] if lines else []), *drawn]


def draw_numbers(layout: PartsLayout, span: Span, changes: Sequence[SideChange]) -> Picture:
    """The numbers of the bars at which sections begin and sides are changed, under the rows."""
    look, canvas, timeline = layout.look, layout.look.canvas, layout.timeline
    sections = [s.at for s in timeline.sections if span[0] <= s.at < span[1]]
    changed = [change.at for change in changes if span[0] <= change.at < span[1]]
    drawn: Picture = []
    taken: list[tuple[float, float]] = []
    for at in dict.fromkeys([max(span[0], 0), *changed, *sections]):
        text = place_text(timeline, at)
        width = text_width(text, NUMBER, SEMIBOLD)
        x = max(canvas.left, layout.x(span, at) - width / 2)
        if x + width <= canvas.right and all(x - 14 > b or x + width + 14 < a for a, b in taken):
            taken.append((x, x + width))
            drawn.append(draw_text(text, x, layout.bottom + 44, NUMBER, look.meter_text, SEMIBOLD))
    return drawn


Kept = tuple[tuple[str, tuple[Contour, ...]], ...]
"""What stands on a row, by colour."""


def draw_row(layout: PartsLayout, kept: Kept, until: float) -> Picture:
    """What stands on a row, up to a place in pixels."""
    drawn: Picture = []
    for colour, contours in kept:
        shown = clip_all(contours, layout.left - 1, until)
        if shown:
            drawn.append(draw(colour, *shown))
    return drawn


def row_contours(layout: PartsLayout, span: Span, row: PartRow) -> Kept:
    """Who keeps what on a row: sails on a hull over the line, a beam with posts on it, or dots where it is silent."""
    look = layout.look
    found: dict[str, list[Contour]] = {look.line: [], look.sail_one: [], look.meter_line: []}
    for start, end, clock in clocks(layout.timeline, row.part):
        first, last = max(start, span[0]), min(end, span[1])
        if first >= last:
            continue
        left, right = layout.x(span, first), layout.x(span, last)
        if clock == "figure":
            found[look.sail_one] += _figure(layout, span, row, first, last)
            found[look.line].append(rectangle(left, row.line - 1.5, right, row.line + 1.5))
        elif clock == "meter":
            found[look.meter_line] += _meter(layout, span, row, first, last)
        else:
            found[look.line] += _dots(left, right, row.line)
    return tuple((colour, tuple(contours)) for colour, contours in found.items())


def _figure(layout: PartsLayout, span: Span, row: PartRow, first: int, last: int) -> list[Contour]:
    """A hull over the line with one small sail for each repetition that begins there."""
    gap = layout.look.gap * min(1.0, row.scale)
    bottom = row.line - 1.5 - gap
    top = bottom - HULL * row.scale
    left, right = layout.x(span, first), layout.x(span, last)
    contours = [hull(left, right, top, bottom, min(HULL * row.scale, (right - left) / 2))]
    for side in layout.timeline.sides:
        if side.part != row.part or side.end <= first or side.at >= last:
            continue
        for repetition in layout.timeline.repetitions:
            if repetition.voice != side.side or not max(side.at, first) <= repetition.at < min(
                side.end, last
            ):
                continue
            x, end = layout.x(span, repetition.at), layout.x(span, repetition.end)
            stop = layout.x(span, min(side.end, last))
            if end - x >= SAIL_LEAST and min(end, stop) - x >= SAIL_LEAST:
                contours += clip_all([sail(x, top - gap, end - x - gap, SAIL * row.scale)], x, stop)
    return contours


def _meter(layout: PartsLayout, span: Span, row: PartRow, first: int, last: int) -> list[Contour]:
    """A beam on the line with a post a bar, or fewer where bars are narrow."""
    half = BEAM * max(0.6, row.scale) / 2
    left, right = layout.x(span, first), layout.x(span, last)
    bars = [bar.at for bar in layout.timeline.bars if first <= bar.at < last]
    every = 1
    narrowest = min((bar.end - bar.at for bar in layout.timeline.bars), default=1) * layout.scale
    while narrowest * every < TICK_LEAST:
        every *= 2
    posts = [layout.x(span, at) for at in bars[::every]]
    width = 2.0 if every > 1 or narrowest < 24 else 2.5
    foot = row.line + half + POST * row.scale
    return [
        rectangle(left, row.line - half, right, row.line + half),
        *(rectangle(x - width, row.line, x + width, foot) for x in posts),
    ]


def _dots(left: float, right: float, line: float) -> list[Contour]:
    count = int((right - left) / DOT_STEP)
    return [
        rectangle(x, line - DOT / 2, x + DOT, line + DOT / 2)
        for x in (left + DOT_STEP * (n + 0.5) for n in range(count))
    ]


def draw_change(layout: PartsLayout, span: Span, row: PartRow, at: int, share: float) -> Picture:
    """The stroke of a change of side through a row's line as far as it is drawn, then its disc."""
    look, x = layout.look, layout.x(span, at)
    half, edge = look.width_post / 2, look.edge
    top = row.line - REACH_UP * row.scale
    foot = top + (REACH_UP + REACH_DOWN) * row.scale * min(1.0, share / 0.7)
    drawn = [
        draw(look.ground, rectangle(x - half - edge, top, x + half + edge, foot)),
        draw(look.ink, rectangle(x - half, top, x + half, foot)),
    ]
    opacity = max(0.0, min(1.0, (share - 0.6) / 0.4))
    if opacity:
        radius = DISC * max(0.7, min(1.0, row.scale))
        drawn += [
            draw(look.ground, disc(x, row.line, radius + edge), opacity=opacity),
            draw(look.ink, disc(x, row.line, radius), opacity=opacity),
        ]
    return drawn


def occurring(timeline: Timeline, layout: PartsLayout, changes: Sequence[SideChange]) -> list[str]:
    """Which signs occur, in the order of the legend."""
    kept = {
        clock
        for row in layout.rows
        for start, end, clock in clocks(timeline, row.part)
        if any(start < last and end > first for first, last in layout.spans)
    }
    signs = [
        sign
        for sign, clock in (("figure", "figure"), ("meter", "meter"), ("silent", "tacet"))
        if clock in kept
    ]
    return [*signs, *(["changes sides"] if any(change.crosses for change in changes) else [])]
