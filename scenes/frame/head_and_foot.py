"""What stands round the music in every segment: title, counter, sentence, legend."""

from collections.abc import Sequence

from scenes.draw.look import BOLD, SEMIBOLD, Look
from scenes.draw.shapes import FilledShape, Words, across, draw_text, draw_words, moved, words_width
from scenes.draw.text import fit_size, shorten, text_width
from scenes.frame.head import break_words
from scenes.row.line import draw_side_sign

TITLE_BASELINE, SECOND_BASELINE, COUNTER_BASELINE = 95, 146, 106
COUNTER_LEFT = 1160
"""The title and its second line keep left of here, where a long counter may begin."""
SENTENCE_ROOM, LINE_PITCH = 1330.0, 46.0
ABSENT = "–"
"""What a counter shows where there is nothing to count."""


def draw_title(look: Look, title: str, second: str, opacity: float = 1.0) -> list[FilledShape]:
    """The title and a second line under it, made smaller where they are long."""
    room = COUNTER_LEFT - look.canvas.left
    size = fit_size(title, look.size_title, look.size_sentence, room, SEMIBOLD)
    drawn = [
        draw_text(
            shorten(title, size, room, SEMIBOLD), look.canvas.left, TITLE_BASELINE, size, look.ink, SEMIBOLD
        )
    ]
    if second:
        text = shorten(second, look.size_least, room)
        drawn.append(
            draw_text(text, look.canvas.left, SECOND_BASELINE, look.size_least, look.mute, opacity=opacity)
        )
    return [shape for line in drawn for shape in _inside(look, [line])]


def _inside(look: Look, line: list[FilledShape]) -> list[FilledShape]:
    """A line of text, moved right by what its first letter (a j) reaches out over the frame's left edge."""
    over = look.canvas.left - across(line[0])[0] if line and len(line[0].points) else 0.0
    return [moved(shape, over) for shape in line] if over > 0 else line


def draw_counter(look: Look, entries: Sequence[tuple[str, str, int]]) -> list[FilledShape]:
    """Numbers in boxes of fixed width at the top right: (word, number, digits of the box), from left to
    right."""
    drawn: list[FilledShape] = []
    x = float(look.canvas.right)
    digit = text_width("0", look.size_counter, BOLD)
    for word, number, digits in reversed(entries):
        box = digit * max(digits, len(number))
        if number == ABSENT:
            drawn.append(draw_text(number, x - box, COUNTER_BASELINE, look.size_sentence, look.mute))
        else:
            drawn.append(draw_text(number, x - box, COUNTER_BASELINE, look.size_counter, look.ink, BOLD))
        x -= box + 16
        colour = look.sail_one if word == "repetition" else look.meter_text
        drawn.append(draw_text(word, x, COUNTER_BASELINE, look.size_least, colour, anchor=1))
        x -= text_width(word, look.size_least) + 40
    return drawn


def draw_sentence(
    look: Look, words: Sequence[Words], opacity: float = 1.0, room: float = SENTENCE_ROOM
) -> list[FilledShape]:
    """One sentence in the foot, made smaller where it is long, on two lines where that is not enough."""
    width = words_width(words, look.size_sentence)
    size = max(look.size_least, look.size_sentence * min(1.0, room / max(1.0, width)))
    lines = break_words(words, size, room)
    drawn: list[FilledShape] = []
    for number, line in enumerate(reversed(lines)):
        drawn += _inside(
            look, draw_words(line, look.canvas.left, look.canvas.foot - number * LINE_PITCH, size, opacity)
        )
    return drawn


def draw_legend(look: Look) -> list[FilledShape]:
    """Which shapes are the figure's and which the meter's, at the bottom right."""
    drawn: list[FilledShape] = []
    x = float(look.canvas.right)
    for word, colour in (("meter", look.meter_text), ("figure", look.sail_one)):
        x -= text_width(word, look.size_least, SEMIBOLD)
        drawn.append(draw_text(word, x, look.canvas.foot, look.size_least, colour, SEMIBOLD))
        x -= 14 + 50
        drawn += draw_side_sign(word, x, look.canvas.foot, look)
        x -= 48
    return drawn
