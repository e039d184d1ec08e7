"""The bar as a circle: the line closed to a ring, posts and beats inside it, the starts' numbers round the sky."""

from collections.abc import Sequence
from fractions import Fraction
from itertools import accumulate
from math import cos, pi, sin

from scenes.draw.fading import Box, meet
from scenes.draw.look import BOLD, CAPITAL, REGULAR, Look
from scenes.draw.paths import Contour, disc, polygon, ring
from scenes.draw.segment import Picture
from scenes.draw.shapes import draw, draw_text
from scenes.draw.text import text_width
from scenes.wheel.layout import WheelLayout

MOST_PULSES = 64
"""A bar of more pulses has posts for its beats only."""
BEAT_SIZE = 46.0
ARROW, HEAD = 96.0, 17.0
"""Radius of the arrow in the middle, and half the width of its head."""
ARROW_FROM, ARROW_TO, ARROW_STEP = -0.11, -0.4, 0.01
"""In turns from the top, and how finely it is bent."""


def draw_disc_of_sky(look: Look, layout: WheelLayout) -> Picture:
    """The sky that the figure is laid on."""
    return [draw(look.sky_one, disc(layout.x, layout.y, layout.sky))]


def beat_places(beats: Sequence[Fraction], pulse: Fraction) -> list[Fraction]:
    """Where the beats of a bar begin, in pulses."""
    return [Fraction(0), *accumulate(length / pulse for length in beats)][:-1]


def draw_ring(
    look: Look, layout: WheelLayout, radius: float, pulses: Fraction, beats: tuple[Fraction, ...]
) -> Picture:
    """The line as a ring of that radius, its posts pointing inwards, the beats numbered."""
    drawn: Picture = [draw(look.ground, disc(layout.x, layout.y, radius))]
    if pulses <= MOST_PULSES:
        between = [Fraction(n) for n in range(int(pulses)) if Fraction(n) not in beats]
        posts = [_post(layout, at / pulses, radius, 12, look.width_pulse + 1) for at in between]
        drawn.append(draw(look.meter_line, *posts))
    for number, at in enumerate(beats):
        length, width = (36, look.width_post + 1) if number == 0 else (26, look.width_beat + 1)
        drawn.append(draw(look.meter_line, _post(layout, at / pulses, radius, length, width)))
    drawn.append(draw(look.line, *ring(layout.x, layout.y, radius + 2, look.width_line)))
    return [*drawn, *_beat_numbers(look, layout, radius, [at / pulses for at in beats])]


def _post(layout: WheelLayout, turns: Fraction, radius: float, length: float, width: float) -> Contour:
    angle = 2 * pi * float(turns)
    along, aside = (sin(angle), -cos(angle)), (cos(angle), sin(angle))
    corners = [(-1, radius), (1, radius), (1, radius - length), (-1, radius - length)]
    return polygon(
        [
            (
                layout.x + s * width / 2 * aside[0] + r * along[0],
                layout.y + s * width / 2 * aside[1] + r * along[1],
            )
            for s, r in corners
        ]
    )


def _beat_numbers(look: Look, layout: WheelLayout, radius: float, turns: Sequence[Fraction]) -> Picture:
    size = max(look.size_least, BEAT_SIZE * layout.scale)
    texts = [(str(number), float(place)) for number, place in enumerate(turns, start=1)]
    inner = radius - 36 - 0.62 * size
    return [
        draw_text(text, x, baseline, size, look.meter_text, BOLD, 0.5)
        for text, x, baseline in clear_texts(layout, texts, inner, size, 6).values()
    ]


def clear_texts(
    layout: WheelLayout, texts: Sequence[tuple[str, float]], radius: float, size: float, apart: float
) -> dict[int, tuple[str, float, float]]:
    """Texts round the circle, each at its turn, that do not stand in each other's way, the first ones first: by index,
    with the middle and the baseline of each."""
    placed: dict[int, tuple[str, float, float]] = {}
    taken: list[Box] = []
    for index, (text, turns) in enumerate(texts):
        x, y = layout.point(turns, radius)
        half, high = text_width(text, size, BOLD) / 2, size * CAPITAL / 2
        box = (x - half, y - high, x + half, y + high)
        if not any(meet(box, other, apart) for other in taken):
            taken.append(box)
            placed[index] = (text, x, y + high)
    return placed


def draw_rim_number(
    look: Look, size: float, place: tuple[str, float, float], played: bool, opacity: float
) -> Picture:
    """The number of the repetition that starts at a place."""
    text, x, baseline = place
    colour, weight = (look.figure_text, BOLD) if played else (look.mute, REGULAR)
    return [draw_text(text, x, baseline, size, colour, weight, 0.5, opacity)]


def draw_arrow(look: Look, layout: WheelLayout, radius: float, text: str, back: bool) -> Picture:
    """In the ring's middle how far each start moves, and which way; nothing where there is no room."""
    size = max(look.size_least, BEAT_SIZE * layout.scale)
    room = radius - 36 - 1.1 * size
    width, arc = text_width(text, size, BOLD), ARROW * layout.scale
    if width / 2 > room - 14 or arc > room + 14 or width / 2 > arc - 6:
        return []
    steps = round((ARROW_FROM - ARROW_TO) / ARROW_STEP)
    turns = [ARROW_FROM - ARROW_STEP * step for step in range(steps + 1)]
    outer = [layout.point(turn, arc + 2.5) for turn in turns]
    inner = [layout.point(turn, arc - 2.5) for turn in reversed(turns)]
    tip_turn, way = (ARROW_TO, -1) if back else (ARROW_FROM, 1)
    half = HEAD * layout.scale
    tip = layout.point(tip_turn + way * 0.048, arc)
    head = polygon([layout.point(tip_turn, arc - half), layout.point(tip_turn, arc + half), tip])
    return [
        draw(look.ink, polygon([*outer, *inner])),
        draw(look.ink, head),
        draw_text(text, layout.x + 8, layout.y + size * CAPITAL / 2, size, look.ink, BOLD, 0.5),
    ]
