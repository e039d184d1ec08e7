"""The lengths that are told of a section's end: with a brace, and in words."""

from collections.abc import Sequence
from fractions import Fraction
from typing import NamedTuple

from renderer.schedule.fit import FitSchedule
from renderer.schedule.wording import mixed
from scenes.draw.look import BOLD, Look
from scenes.draw.paths import brace
from scenes.draw.segment import Picture
from scenes.draw.shapes import Words, draw, draw_words, words_width
from scenes.fit.layout import FitLayout

LABEL, LABEL_SMALL, LABEL_APART = 56.0, 48.0, 40.0
"""Type sizes, also in a tall picture and on a slide, and pixels between two."""


class Told(NamedTuple):
    """A length that is told with a brace, ticks, and its words."""

    start: int
    end: int
    colour: str
    words: tuple[Words, ...]


def draw_told(schedule: FitSchedule, layout: FitLayout, look: Look, filled: bool) -> Picture:
    """The lengths that are told of the section's end: before it is `filled`, and then."""
    row, canvas = layout.end, look.canvas
    lengths = _lengths(schedule, look, filled)
    size = LABEL_SMALL if canvas.tall or canvas.low < 1 else LABEL
    drawn: Picture = []
    widths = [words_width(each.words, size) for each in lengths]
    centres = [(max(row.left, row.x(each.start)) + min(row.right, row.x(each.end))) / 2 for each in lengths]
    for each, x in zip(lengths, _spread_out(centres, widths, canvas.left, canvas.right), strict=True):
        left, right = max(row.left, row.x(each.start)) + 3, min(row.right, row.x(each.end)) - 5
        if right - left > 12:
            outline = brace(left, right, layout.brace, look.width_line + 1, 16, layout.above)
            drawn.append(draw(each.colour, *outline))
        drawn += draw_words(each.words, x, layout.label, size)
    return drawn


def _lengths(schedule: FitSchedule, look: Look, filled: bool) -> list[Told]:
    """What is told of the section's end: before it is filled, and then."""
    line = schedule.section.end
    closing = schedule.parts[schedule.closing :]
    start, last = closing[0].at, closing[-1]
    count = schedule.pulses(line - start)
    over = schedule.sum.over
    if not filled or closing[0].repetition is None or (len(closing) == 1 and last.kind == "tail"):
        return [Told(start, line, look.ink, _words(look, count, " left over"))]
    if over:
        before = _words(look, schedule.pulses(line - last.at), " before the line")
        after = " over it" if last.kind == "over" else " cut off"
        return [
            Told(last.at, line, look.figure_text, before),
            Told(line, line + over, look.ink, _words(look, schedule.pulses(over), after)),
        ]
    if len(closing) == 1 and last.repetition:
        statement = last.repetition.statement
        length = mixed(Fraction(statement.length, statement.pulse))
        return [Told(start, line, look.ink, _words(look, count, f" of {length} played"))]
    return [
        Told(part.at, part.end, look.ink, _words(look, schedule.pulses(part.end - part.at), silent))
        for part in closing
        for silent in ("" if part.repetition else " silent",)
    ]


def _words(look: Look, number: str, text: str) -> tuple[Words, ...]:
    return (Words(number, look.ink, BOLD), *([Words(look.words.say(text), look.mute)] if text else []))


def _spread_out(centres: Sequence[float], widths: Sequence[float], left: float, right: float) -> list[float]:
    """Where texts begin that stand under these middles, moved apart where they would meet."""
    places = [max(left, min(centre - w / 2, right - w)) for centre, w in zip(centres, widths, strict=True)]
    for index in range(len(places) - 2, -1, -1):
        places[index] = min(places[index], places[index + 1] - widths[index] - LABEL_APART)
    return places
