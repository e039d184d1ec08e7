"""Where the parts of a handover stand on each canvas, and the row that is seen close up."""

from dataclasses import replace
from typing import NamedTuple

from renderer.schedule.handover import HandoverSchedule
from scenes.draw.look import Canvas, Look
from scenes.row.line import Row

WIDE_PULSES, NARROW_PULSES, BESIDE = 28, 17, 1
"""So many pulses a row shows at least on a wide canvas and on another one, and beside what is heard."""
EDGE = 3
"""Pulses between the line and a row's end at least."""


class HandoverLayout(NamedTuple):
    """Upright places, in pixels: the sky's top, the sections' names, the line, and from the line down what is counted,
    the bars' names, the braces, their words and the sum."""

    top: float
    names: float
    line: float
    sail: float
    hull: float
    spoken: float
    bars: float
    braces: float
    words: float
    sum: float


def lay_out(canvas: Canvas) -> HandoverLayout:
    """The places on a canvas."""
    if canvas.tall:
        top = canvas.stage_top + 10
        return HandoverLayout(top, top + 82, top + 578, 290, 100, 96, 152, 214, 276, 404)
    if canvas.width < 1.25 * canvas.height:
        top, more = canvas.stage_top + 16, max(0.0, canvas.height - 1080)
        sail, hull, line = 206 + 0.45 * more, 80 + 0.08 * more, top + 410 + 0.6 * more
        below = 0.08 * more
        told = (206 + below, 266 + below, 376 + 2 * below)
        return HandoverLayout(top, top + 62, line, sail, hull, 90, 144, *told)
    if canvas.low < 1:
        return HandoverLayout(146, 190, 410, 130, 58, 90, 148, 182, 234, 312)
    return HandoverLayout(178, 238, 640, 236, 84, 90, 144, 206, 268, 372)


def lay_row(schedule: HandoverSchedule, look: Look, layout: HandoverLayout) -> Row:
    """The row: the line near its middle, but all that is heard on it."""
    canvas, pulse = look.canvas, schedule.pulse
    least = WIDE_PULSES if canvas.width >= 1.25 * canvas.height and canvas.low == 1 else NARROW_PULSES
    start, stop = schedule.start - BESIDE * pulse, schedule.stop + BESIDE * pulse
    line = schedule.meeting.handover.line if schedule.meeting else start
    if start <= line + EDGE * pulse and schedule.meeting:
        start, stop = min(start, line - EDGE * pulse), max(stop, line + EDGE * pulse)
    width = max(least * pulse, stop - start)
    first = min(start, max(stop - width, line - width // (2 * pulse) * pulse))
    style = replace(look.row_close, sail=layout.sail, hull=layout.hull, number=46, bar=40, disc=15)
    body = style.sail + 2 * look.gap + style.hull + look.width_line / 2
    style = replace(style, headroom=layout.line - layout.top - body, post=54, beat=46)
    shown = [] if schedule.meeting is None else [schedule.meeting.last, schedule.meeting.first]
    near = [r for r in schedule.timeline.repetitions if r.voice == schedule.voice]
    near = [r for r in near if r.at < first + width and r.end > first] or shown
    longest = max((group.written for r in near for group in r.statement.groups), default=1)
    scale = (canvas.music_right - canvas.music_left) / width
    row = Row(first, first + width, scale, layout.top, style, look, longest)
    return replace(row, longest_bow=0.5 * pulse * scale)
