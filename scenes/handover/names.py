"""Names at a handover: which repetition ends and what begins, in their sails, and the two sections at their line."""

from collections.abc import Iterator

from renderer.schedule.handover import HandoverSchedule
from renderer.schedule.handover_words import section_names
from renderer.schedule.wording import is_half, ordinal
from renderer.spec.model import Numbers
from renderer.timeline.model import Repetition
from scenes.draw.look import BOLD, CAPITAL, Look
from scenes.draw.paths import sail_height
from scenes.draw.segment import Picture
from scenes.draw.shapes import draw_text
from scenes.draw.text import text_width
from scenes.frame.head import fit_name
from scenes.handover.layout import HandoverLayout
from scenes.row.line import Row

SIZES = (52.0, 46.0, 40.0, 36.0)
IN, UP, STEP = 20.0, 26.0, 1.08
"""Pixels from a mast to a name, from a sail's foot to its baseline, and the step from line to line by the size."""
SECTION, LOW_SECTION, SECTION_PITCH = 64.0, 48.0, 38.0
"""The type size of a section's name, also on a slide, and from its first line to its second where it is too long for
one."""


def draw_section_names(schedule: HandoverSchedule, row: Row, layout: HandoverLayout) -> Picture:
    """The section that ends at the line and the one that begins there, on either side of it."""
    meeting, canvas, look = schedule.meeting, row.look.canvas, row.look
    if meeting is None:
        return []
    x = row.x(meeting.handover.line)
    drawn: Picture = []
    rooms = ((canvas.left, x - 40), (x + 30, canvas.right))
    for name, (left, right), side in zip(
        section_names(schedule.timeline, meeting), rooms, (1, 0), strict=True
    ):
        left, right = max(left, canvas.left), min(right, canvas.right)
        if right - left < 120:
            continue
        most, count = (SECTION, 2) if canvas.low == 1 else (LOW_SECTION, 1)
        size, lines = fit_name(look, name, most, right - left, BOLD, count)
        place, first = right if side else left, layout.names - (len(lines) - 1) * SECTION_PITCH / 2
        drawn += [
            draw_text(line, place, first + number * SECTION_PITCH, size, look.ink, BOLD, side)
            for number, line in enumerate(lines)
        ]
    return drawn


def draw_vessel_name(row: Row, repetition: Repetition, which: str, right: float, first: int = 0) -> Picture:
    """A name in the first sail that has room for it, left of pixel `right`: `which` one it is, and the figure's name
    under that if it fits too. `first`: the index of the first sail that is free."""
    look = row.look
    colour = look.figure_text if repetition.statement.kind == "tail" else look.on_sail
    for lines in _wordings(look, repetition, which):
        for size in SIZES:
            for group in repetition.statement.groups[first:]:
                x = row.x(repetition.at + group.at)
                width, height = group.written * row.scale - look.gap, row.base - row.mast(group.written)
                if x + IN < look.canvas.left or not _fits(lines, size, width, height, right - x):
                    continue
                return [
                    draw_text(
                        line,
                        x + IN,
                        row.base - UP - (len(lines) - 1 - place) * size * STEP,
                        size,
                        colour,
                        BOLD,
                    )
                    for place, line in enumerate(lines)
                ]
    return []


def _wordings(look: Look, repetition: Repetition, which: str) -> Iterator[tuple[str, ...]]:
    name = repetition.statement.figure or look.words.say("tail")
    if which and repetition.counted is not None:
        yield which, name
        yield (which,)
    yield (name,)


def which_text(repetition: Repetition, numbers: Numbers) -> str:
    """Which one a repetition is: `5th`, or `half`."""
    if numbers == "piece":
        return ordinal(repetition.number)
    return "half" if is_half(repetition) else ordinal(repetition.counted or 1)


def _fits(lines: tuple[str, ...], size: float, width: float, height: float, room: float) -> bool:
    """Whether lines stand under a sail's curve."""
    for place, line in enumerate(lines):
        end = IN + text_width(line, size, BOLD)
        top = UP + (len(lines) - 1 - place) * size * STEP + size * CAPITAL + 8
        if end + 6 > room or end > 0.92 * width or sail_height(width, height, end) < top:
            return False
    return True
