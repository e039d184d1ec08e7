"""A sum with a word under each number: laid out once for all its numbers, shown as they come."""

from collections.abc import Sequence
from typing import NamedTuple

from scenes.draw.look import BOLD, Look
from scenes.draw.shapes import FilledShape, draw_text
from scenes.draw.text import shorten, text_width

SIGN_GAP, WORD_DROP, SMALL_DROP = 34.0, 46.0, 40.0
"""Pixels beside a sign, and from a number's baseline to its word's, also where the sum has two lines."""
LINE_PITCH, LINE_RISE, MOST_ON_TWO = 108.0, 76.0, 60.0
"""Of a sum on two lines: from one to the next, how much higher the first stands, and the largest size."""
WORD_MOST = 300.0


class SumPlace(NamedTuple):
    """One number or sign of a sum, with its word and where it stands."""

    text: str
    colour: str
    word: str = ""
    word_colour: str = ""
    x: float = 0.0
    baseline: float = 0.0
    size: float = 0.0


def lay_sum(
    look: Look,
    places: Sequence[SumPlace],
    baseline: float,
    left: float | None = None,
    right: float | None = None,
    most: float = 0.0,
) -> list[SumPlace] | None:
    """The sum from `left` to `right`, as large as it fits, on two lines if it must; None where even that has no room.
    A sign is a place without a word."""
    left = look.canvas.left if left is None else left
    right = look.canvas.right if right is None else right
    largest = most or look.size_sum
    for lines in (1, 2):
        size = min(largest, MOST_ON_TWO) if lines > 1 else largest
        while size >= look.size_title:
            laid = _lay(look, places, size, baseline - (lines - 1) * LINE_RISE, left, right, lines)
            if laid is not None:
                return laid
            size -= 4
    return None


def _lay(
    look: Look,
    places: Sequence[SumPlace],
    size: float,
    baseline: float,
    left: float,
    right: float,
    lines: int,
) -> list[SumPlace] | None:
    laid: list[SumPlace] = []
    x, line = left, 0
    for index, place in enumerate(places):
        word = shorten(place.word, look.size_least, WORD_MOST) if place.word else ""
        width = max(text_width(place.text, size, BOLD), text_width(word, look.size_least) if word else 0)
        sign = not place.word
        following = places[index + 1] if sign and index + 1 < len(places) else None
        needed = width + (2 * _gap(size) + _width(look, following, size) if following else 0)
        if x + needed > right:
            line += 1
            x = left
            if line >= lines or x + needed > right:
                return None
        x += _gap(size) if sign and x > left else 0
        laid.append(place._replace(word=word, x=x, baseline=baseline + line * LINE_PITCH, size=size))
        x += width + (_gap(size) if sign else 0)
    return laid


def _width(look: Look, place: SumPlace, size: float) -> float:
    word = shorten(place.word, look.size_least, WORD_MOST) if place.word else ""
    return max(text_width(place.text, size, BOLD), text_width(word, look.size_least) if word else 0)


def _gap(size: float) -> float:
    return SIGN_GAP * size / 104 + 6


def draw_place(look: Look, place: SumPlace, opacity: float = 1.0) -> list[FilledShape]:
    """A number or sign with its word under it."""
    drawn = [draw_text(place.text, place.x, place.baseline, place.size, place.colour, BOLD, opacity=opacity)]
    if place.word:
        drop = WORD_DROP if place.size > MOST_ON_TWO else SMALL_DROP
        drawn.append(
            draw_text(
                place.word,
                place.x,
                place.baseline + drop,
                look.size_least,
                place.word_colour,
                opacity=opacity,
            )
        )
    return drawn
