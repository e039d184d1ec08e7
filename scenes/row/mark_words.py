"""The teacher's own words at a row of music: under braces below it, or in a line over it or under it."""

from collections.abc import Callable, Collection, Iterable, Sequence
from typing import NamedTuple

from renderer.timeline.model import Mark
from scenes.draw.look import BOLD, CAPITAL, REGULAR, SEMIBOLD, Look
from scenes.draw.paths import brace, rectangle
from scenes.draw.segment import Picture
from scenes.draw.shapes import draw, draw_text
from scenes.draw.text import fit_size, shorten, text_width
from scenes.row.line import Row

APART = 34.0
"""Pixels between two marks' words."""
LEAST = 90.0
"""Words that would be cut off to less are left out."""
BRACE, RISE, UNDER = 5.0, 16.0, 16.0
"""Width of a brace's rule, how high its ends are, and from the rule to the top of the words."""
LEVEL = 1.4
"""From one level of words to the next, in their size."""
RULE = 5.0


class MarkWords(NamedTuple):
    """A mark under a row: its brace from `left` to `right`, and its words where they have room."""

    mark: Mark
    left: float
    right: float
    x: float
    level: int
    text: str
    size: float


def lay_braces(
    marks: Iterable[Mark],
    place: Callable[[int], float],
    span: tuple[int, int],
    room: tuple[float, float],
    sizes: Sequence[float],
    levels: int,
) -> tuple[MarkWords, ...]:
    """The marks between two ticks, each under its bars on one of so many levels, all in one of the sizes: the largest
    in which all words are whole, else the least with what has no room cut off. `place` tells where a tick stands."""
    shown = [mark for mark in marks if mark.at < span[1] and mark.to > span[0]]
    laid: list[MarkWords] = []
    for size in sizes:
        laid = _lay(shown, place, span, room, size, levels)
        if all(words.text == words.mark.text for words in laid):
            break
    return tuple(laid)


def _lay(
    marks: Sequence[Mark],
    place: Callable[[int], float],
    span: tuple[int, int],
    room: tuple[float, float],
    size: float,
    levels: int,
) -> list[MarkWords]:
    free = [room[0]] * levels
    laid = []
    for mark in marks:
        left, right = place(max(mark.at, span[0])), place(min(mark.to, span[1]))
        width = text_width(mark.text, size, BOLD)
        middle = max(room[0], min(room[1] - width, (left + right - width) / 2))
        clear = [level for level in range(levels) if max(middle, free[level]) <= max(left, middle)]
        fitting = [level for level in clear if max(middle, free[level]) + width <= room[1]]
        level = fitting[0] if fitting else min(range(levels), key=lambda each: free[each])
        x = max(middle, free[level])
        text = shorten(mark.text, size, room[1] - x, BOLD) if x + width > room[1] else mark.text
        if x > max(right, middle) or (text != mark.text and text_width(text, size, BOLD) < LEAST):
            text = ""
        if text:
            free[level] = x + text_width(text, size, BOLD) + APART
        laid.append(MarkWords(mark, left, right, x, level, text, size))
    return laid


def draw_braces(look: Look, laid: Sequence[MarkWords], top: float, said: Collection[Mark]) -> Picture:
    """Braces whose ends begin at `top`, with the words under them; those in `said` stand out. A line leads down to
    words that stand lower."""
    drawn: Picture = []
    rule = top + RISE
    for words in laid:
        colour = look.ink if words.mark in said else look.mute
        drawn.append(
            draw(colour, *brace(words.left, max(words.right, words.left + 2 * BRACE), rule, BRACE, RISE))
        )
        if not words.text:
            continue
        baseline = braces_foot(top, words.level, words.size) - words.size * 0.24
        weight = BOLD if words.mark in said else SEMIBOLD
        if words.level:
            end = words.x + text_width(words.text, words.size, weight)
            x = max(words.x + 4, min(end - 4, (words.left + words.right) / 2))
            stem = rectangle(x - 1.5, rule, x + 1.5, baseline - words.size * CAPITAL - 8)
            drawn.append(draw(colour, stem))
        drawn.append(draw_text(words.text, words.x, baseline, words.size, colour, weight))
    return drawn


def braces_foot(top: float, level: int, size: float) -> float:
    """Where the words of a level end below, with their descenders."""
    return top + RISE + UNDER + size * (CAPITAL + 0.24 + LEVEL * level)


def draw_mark_line(
    row: Row,
    marks: Iterable[Mark],
    baseline: float,
    size: float,
    taken: Iterable[tuple[float, float]],
    said: Collection[Mark],
    ahead: float = 0.0,
) -> Picture:
    """Marks' words in a line, each from where it begins on, `ahead` pixels further right, where nothing else is
    `taken`; a rule in the sky's upper edge tells over which bars. Those in `said` stand out."""
    look, right = row.look, row.look.canvas.right
    full = sorted(taken)
    drawn: Picture = []
    for mark in marks:
        if not row.shows(mark.at, mark.to):
            continue
        colour = look.ink if mark in said else look.mute
        left, end = row.x(max(mark.at, row.start)), row.x(min(mark.to, row.end))
        drawn.append(draw(colour, rectangle(left, row.top, max(end, left + RULE), row.top + RULE)))
        x = left + ahead
        for start, stop in full:
            if x < stop + APART / 2 and start < x + LEAST:
                x = stop + APART / 2
        room = min([right, *(start - APART / 2 for start, _ in full if start > x)]) - x
        fitted = fit_size(mark.text, size, min(size, look.size_least), max(1.0, room), REGULAR)
        text = shorten(mark.text, fitted, room, REGULAR) if room > 0 else ""
        if not text or (text != mark.text and text_width(text, fitted, REGULAR) < LEAST):
            continue
        drawn.append(draw_text(text, x, baseline, fitted, colour, REGULAR))
        full = sorted([*full, (x, x + text_width(text, fitted, REGULAR))])
    return drawn


def said_at(marks: Iterable[Mark], position: float) -> frozenset[Mark]:
    """The marks over whose bars the music is."""
    return frozenset(mark for mark in marks if mark.at <= position < mark.to)
