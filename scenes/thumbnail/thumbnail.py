"""The thumbnail: the figure over the whole frame and past its edges, its sum in its groups, at most three words.

It is read at 320 pixels: what is smaller then than ten pixels high is left out.
"""

from collections.abc import Sequence
from fractions import Fraction
from itertools import accumulate
from typing import NamedTuple

from renderer.timeline.model import Bar, Figure
from scenes.draw.look import BOLD, CAPITAL, Look
from scenes.draw.paths import Contour, clip_all, disc, hull, rectangle, sail, sail_height
from scenes.draw.segment import Picture
from scenes.draw.shapes import draw, draw_text
from scenes.draw.text import text_width

PAST_EDGES = 0.035
"""The share of the width by which the figure is wider than the frame."""
LINE, HULL, TOP = 0.885, 0.12, 0.03
"""The line, the height of the hull, and the top of the tallest group, as shares of the height."""
NUMBER_MOST, NUMBER_LEAST = 0.70, 0.085
"""Type sizes of the groups' numbers, as shares of the height."""
WORDS_MOST, WORDS_LEAST = 0.18, 0.10
DISC, GAP = 0.033, 0.008
MOST_WORDS, MOST_LETTERS = 3, 18


class Outline(NamedTuple):
    """One group: where it begins, how wide and how high it is, in pixels."""

    pulses: int
    x: float
    width: float
    height: float


def choose_words(title: str, words: str | None) -> str:
    """What stands beside the figure: what is asked for, else the title's first words if they are few and short.

    >>> choose_words("Lantern Ferry", None), choose_words("Variations on a rainy afternoon", None)
    ('Lantern Ferry', '')
    >>> choose_words("Lantern Ferry", "over four?")
    'over four?'
    """
    if words is not None:
        return words
    first = title.split()
    return title if len(first) <= MOST_WORDS and len(title) <= MOST_LETTERS else ""


def draw_thumbnail(look: Look, figure: Figure | None, bar: Bar, words: str) -> Picture:
    """The whole picture on the look's canvas."""
    canvas = look.canvas
    line = LINE * canvas.height
    drawn: Picture = [draw(look.sky_one, rectangle(-2, -2, canvas.width + 2, line))]
    half = 0.0065 * canvas.height
    beam = draw(look.line, rectangle(-2, line - half, canvas.width + 2, line + half))
    if figure is None:
        return [*drawn, beam, *_draw_words(look, words, [], 0.0)]
    outlines = _outlines(look, figure, 1.0)
    base = _base(look)
    if words and _place_words(look, words, outlines) is None:
        outlines = _outlines(look, figure, 0.72)
    drawn += _draw_figure(look, outlines)
    drawn.append(beam)
    drawn += _draw_posts(look, figure, bar, line + half)
    drawn += _draw_numbers(look, figure, outlines, base)
    drawn += _draw_discs(look, figure, outlines, base)
    return drawn + _draw_words(look, words, outlines, base)


def _base(look: Look) -> float:
    return (LINE - HULL - 2 * GAP - 0.0065) * look.canvas.height


def _outlines(look: Look, figure: Figure, tall: float) -> list[Outline]:
    canvas = look.canvas
    pulse = canvas.width * (1 + PAST_EDGES) / figure.pulses
    left = -0.25 * PAST_EDGES * canvas.width
    most, longest = (_base(look) - TOP * canvas.height) * tall, max(figure.groups)
    starts = accumulate(figure.groups, initial=0)
    return [
        Outline(n, left + at * pulse, n * pulse - GAP * canvas.height, most * (0.30 + 0.70 * n / longest))
        for at, n in zip(starts, figure.groups, strict=False)
    ]


def _draw_figure(look: Look, outlines: Sequence[Outline]) -> Picture:
    canvas, base = look.canvas, _base(look)
    bottom = base + (GAP + HULL) * canvas.height
    right = outlines[-1].x + outlines[-1].width
    contours: list[Contour] = [sail(each.x, base, each.width, each.height) for each in outlines]
    contours.append(hull(outlines[0].x, right, base + GAP * canvas.height, bottom, 0.06 * canvas.width))
    return [draw(look.sail_one, *clip_all(contours, -2, canvas.width + 2))]


def _draw_posts(look: Look, figure: Figure, bar: Bar, top: float) -> Picture:
    """The meter's beats, or its bars alone where beats would stand too close."""
    canvas = look.canvas
    pulse = canvas.width * (1 + PAST_EDGES) / figure.pulses
    left = -0.25 * PAST_EDGES * canvas.width
    half, posts, at, number = 0.011 * canvas.height, [], Fraction(0), 0
    lengths: Sequence[Fraction] = bar.meter.beats
    if float(min(lengths) / figure.pulse) * pulse < 6 * half:
        lengths = (bar.meter.length,)
    while float(at) <= figure.pulses and float(min(lengths) / figure.pulse) * pulse >= 6 * half:
        x = left + float(at) * pulse
        posts.append(rectangle(x - half, top, x + half, canvas.height + 2))
        at += lengths[number % len(lengths)] / figure.pulse
        number += 1
    return [draw(look.meter_line, *clip_all(posts, -2, canvas.width + 2))]


def _draw_numbers(look: Look, figure: Figure, outlines: Sequence[Outline], base: float) -> Picture:
    """The sum, a number in each group; where they would be too small, the total alone."""
    canvas = look.canvas
    texts = [f"{'+' if index else ''}{each.pulses}" for index, each in enumerate(outlines)]
    lift = 0.03 * canvas.height
    sizes = [_fit(text, each, lift) for text, each in zip(texts, outlines, strict=True)]
    if min(sizes) >= NUMBER_LEAST * canvas.height:
        smaller = {
            n: min(size for size, each in zip(sizes, outlines, strict=True) if each.pulses == n)
            for n in figure.groups
        }
        drawn = []
        for index, (text, each) in enumerate(zip(texts, outlines, strict=True)):
            size = smaller[each.pulses] if index else sizes[0]
            x = max(each.x + 0.05 * each.width, 0.035 * canvas.width if not index else 0.0)
            drawn.append(draw_text(text, x, base - lift, size, look.on_sail, BOLD))
        return drawn
    size = 0.34 * canvas.height
    text = str(figure.pulses)
    x = canvas.width / 2
    width = text_width(text, size, BOLD)
    box = (x - width / 2 - 30, base - lift - size * CAPITAL - 24, x + width / 2 + 30, base - lift + 24)
    return [
        draw(look.ground, rectangle(*box)),
        draw_text(text, x, base - lift, size, look.ink, BOLD, anchor=0.5),
    ]


def _fit(text: str, outline: Outline, lift: float) -> float:
    """The largest size at which a text stands in a group."""
    size = 1.4 * outline.height
    while size > 20:
        across = 0.05 * outline.width + text_width(text, size, BOLD) + 12
        if across < outline.width and lift + size * CAPITAL + 14 <= sail_height(
            outline.width, outline.height, across
        ):
            return size
        size *= 0.97
    return 0.0


def _draw_discs(look: Look, figure: Figure, outlines: Sequence[Outline], base: float) -> Picture:
    """A disc at the masthead of each group that begins with an accent, where it is in the frame."""
    canvas = look.canvas
    radius = min(DISC * canvas.height, min(each.width for each in outlines) / 3)
    starts = list(accumulate(figure.groups, initial=1))
    drawn: Picture = []
    for start, each in zip(starts, outlines, strict=False):
        if start in figure.accents and each.x > radius:
            x, y = each.x, base - each.height
            drawn.append(draw(look.sky_one, disc(x, y, radius * 1.3)))
            drawn.append(draw(look.ink, disc(x, y, radius)))
    return drawn


def _place_words(
    look: Look, words: str, outlines: Sequence[Outline]
) -> tuple[float, float, float, float] | None:
    """Where the words stand over the groups: x, baseline, size, and the share of them left of x; None without room."""
    canvas, base = look.canvas, _base(look)
    edge = 0.04 * canvas.width
    size = WORDS_MOST * canvas.height
    while size >= WORDS_LEAST * canvas.height:
        width = text_width(words, size, BOLD)
        baseline = 0.05 * canvas.height + size * CAPITAL * 1.05
        for left, x, anchor in ((canvas.width - edge - width, canvas.width - edge, 1.0), (edge, edge, 0.0)):
            lowest = min((base - _height_over(outlines, at) for at in _between(left, width)), default=base)
            clear = baseline + 0.25 * size + 1.4 * DISC * canvas.height
            inside = edge - 1 <= left and left + width <= canvas.width - edge + 1
            if inside and clear <= lowest:
                return x, baseline, size, anchor
        size *= 0.95
    return None


def _between(left: float, width: float) -> list[float]:
    return [left - 30 + (width + 60) * step / 40 for step in range(41)]


def _height_over(outlines: Sequence[Outline], x: float) -> float:
    """How high the figure stands at a place."""
    return max(
        (sail_height(o.width, o.height, x - o.x) for o in outlines if o.x <= x < o.x + o.width), default=0.0
    )


def _draw_words(look: Look, words: str, outlines: Sequence[Outline], base: float) -> Picture:
    if not words:
        return []
    found = _place_words(look, words, outlines)
    if found is None:
        return []
    x, baseline, size, anchor = found
    return [draw_text(words, x, baseline, size, look.ink, BOLD, anchor=anchor)]
