"""Sums in large type: numbers and signs on one line, with even room on both sides of each sign."""

from collections.abc import Sequence

from scenes.draw.look import BOLD, Look
from scenes.draw.shapes import FilledShape, Words, draw_words
from scenes.draw.text import text_width

SIGNS = "+−×="
SIGN_GAP = 30.0
"""Pixels on either side of a sign, at size 104."""
WORD_GAP = 0.28
"""Before a word, by the size."""


def number(text: str, colour: str) -> Words:
    """A number of a sum."""
    return Words(text, colour, BOLD)


def sign(look: Look, text: str) -> Words:
    """A sign of a sum."""
    return Words(text, look.mute, BOLD)


def sum_places(terms: Sequence[Words], size: float, tight: float = 1.0) -> tuple[list[float], float]:
    """Where the numbers and signs begin, from 0, and the whole width; `tight` is the share of the room that signs
    get. What begins with a letter is a word and stands a blank behind what it follows."""
    gap = SIGN_GAP * size / 104 * tight
    places, x = [], 0.0
    for index, term in enumerate(terms):
        if index:
            x += gap if term.text in SIGNS else WORD_GAP * size if term.text[:1].isalpha() else 0
        places.append(x)
        x += text_width(term.text, size, term.weight)
        x += gap if term.text in SIGNS else 0
    return places, x


def sum_width(terms: Sequence[Words], size: float, tight: float = 1.0) -> float:
    """How wide a sum is, in pixels."""
    return sum_places(terms, size, tight)[1]


def draw_sum(
    terms: Sequence[Words], x: float, baseline: float, size: float, opacity: float = 1.0, tight: float = 1.0
) -> list[FilledShape]:
    """A sum, or a part of one, from `x` on."""
    drawn: list[FilledShape] = []
    for place, term in zip(sum_places(terms, size, tight)[0], terms, strict=True):
        drawn += draw_words([term], x + place, baseline, size, opacity)
    return drawn
