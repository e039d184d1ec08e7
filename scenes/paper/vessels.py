"""Repetitions on paper: the films' sails and hulls drawn round with a pen, with their numbers and marks."""

from collections.abc import Iterable, Sequence
from itertools import pairwise

import numpy as np

from renderer.paper.counting import count_text
from renderer.timeline.model import Bar, Beat, Landing, Realignment, Repetition
from scenes.draw.look import BOLD, CAPITAL
from scenes.draw.paths import clip_all, disc, edge, hull, lozenge, rectangle, ring, sail
from scenes.draw.text import text_width
from scenes.paper.print_look import FIGURE, METER, PEN
from scenes.paper.sheet import (
    BLACK,
    POINT,
    SMALLEST,
    TINY,
    WHITE,
    Label,
    Mark,
    Outline,
    drawn_round,
    filled,
    label,
    rule,
)
from scenes.row.line import Row, hull_contours, vessel_contours
from scenes.row.marks import landing_radius

Box = tuple[float, float, float, float]
SAIL_PEN_LEAST = 10.0
"""Units: a narrower repetition is a hull alone."""


def draw_repetition(row: Row, repetition: Repetition, tinted: bool, pen: float = PEN) -> list[Outline]:
    """A repetition's sails and hull; a tail and a tinted one differ in what they are filled with."""
    if (repetition.end - repetition.at) * row.scale < SAIL_PEN_LEAST:
        contours = clip_all(hull_contours(row, repetition, pen / 2), row.left, row.right)
    else:
        contours = vessel_contours(row, repetition, pen / 2)
    if not contours:
        return []
    fill = row.look.sail_two if tinted else WHITE
    dashed = repetition.statement.kind == "tail"
    return [drawn_round(contours, pen, FIGURE, fill, dashed)]


def draw_number_in_hull(row: Row, repetition: Repetition, marks: Iterable[float]) -> list[Label]:
    """Which repetition it is, right of the marks that stand in its hull; nothing where there is no room."""
    text, size = count_text(repetition), min(SMALLEST, row.style.hull * 0.92)
    if not text or size < TINY * 0.95 or not row.holds(repetition.at):
        return []
    size, width = max(size, TINY), text_width(text, max(size, TINY), BOLD)
    x, end = row.x(repetition.at) + 10, min(row.x(repetition.end) - 10, row.right - 4)
    for mark in sorted(marks):
        if mark - 14 < x + width and mark + 14 > x:
            x = mark + 20
    if x + width > end:
        return []
    return [label(text, x, row.hull_bottom - (row.style.hull - size * CAPITAL) / 2, size, BOLD)]


def draw_tops(row: Row, repetition: Repetition, radius: float) -> list[Outline]:
    """A dot at the masthead of each accent that begins a group."""
    accents = set(repetition.statement.accents)
    discs = [
        disc(row.x(repetition.at + group.at), row.mast(group.written), radius)
        for group in repetition.statement.groups
        if group.at in accents and row.left <= row.x(repetition.at + group.at) <= row.right
    ]
    return [filled(BLACK, *discs)] if discs else []


def draw_turn(row: Row, at: int) -> list[Outline]:
    """A lozenge in the hull where the chord turns."""
    x, y = row.x(at), (row.hull_top + row.hull_bottom) / 2
    size = min(17.0, row.style.hull * 0.36)
    return [
        filled(WHITE, lozenge(x, y, size * 0.78 + 4, size + 4)),
        filled(BLACK, lozenge(x, y, size * 0.78, size)),
    ]


def draw_landed(row: Row, landing: Landing, mast_length: int) -> list[Outline]:
    """An accent on a downbeat: one stroke from the masthead down the post, a disc on the line. One that is not played
    is dashed."""
    x, top, radius = row.x(landing.at), row.mast(mast_length), landing_radius(row)
    pen = 2 * POINT
    if not landing.sounds:
        return [
            rule(x, top, x, row.line - radius, pen / 2, dashed=True),
            drawn_round([disc(x, row.line, radius)], PEN, BLACK, WHITE, dashed=True),
        ]
    return [
        filled(WHITE, rectangle(x - pen / 2 - 3, top, x + pen / 2 + 3, row.line)),
        filled(BLACK, rectangle(x - pen / 2, top, x + pen / 2, row.feet)),
        filled(BLACK, disc(x, top, max(7.0, row.style.disc))),
        filled(WHITE, disc(x, row.line, radius + 3)),
        filled(BLACK, disc(x, row.line, radius)),
    ]


def draw_home(row: Row, home: Realignment) -> list[Outline]:
    """A ring round the landing's disc."""
    x, radius = row.x(home.at), landing_radius(row)
    return [
        filled(WHITE, disc(x, row.line, radius + 11)),
        filled(BLACK, *ring(x, row.line, radius + 9, 4)),
        filled(BLACK, disc(x, row.line, radius)),
    ]


def draw_line_and_posts(
    row: Row, bars: Sequence[Bar], beats: Iterable[Beat], dashed: Sequence[tuple[int, int]], every: int = 1
) -> list[Mark]:
    """The line, a post a bar with its number and one a beat; dashed where nobody keeps the meter."""
    look, style = row.look, row.style
    found: list[Mark] = [rule(row.left, row.line, row.right, row.line, look.width_line)]
    for beat in beats:
        if row.holds(beat.at) and beat.number > 1:
            x = row.x(beat.at)
            found.append(rule(x, row.line, x, row.line + style.beat, look.width_beat, METER))
    for index, bar in enumerate(bars):
        x = row.x(bar.at)
        loose = any(start <= bar.at < end for start, end in dashed)
        found.append(rule(x, row.line, x, row.feet, look.width_post, METER, dashed=loose))
        if index % every == 0:
            found.append(label(str(bar.number), x + 9, row.feet, style.bar, BOLD))
    return found


def draw_gaps(row: Row, repetitions: Sequence[Repetition]) -> list[Outline]:
    """A dashed line at the hulls' height where nothing is played between two repetitions."""
    y, found = (row.hull_top + row.hull_bottom) / 2, []
    for before, after in pairwise(repetitions):
        left, right = max(row.left, row.x(before.end) + 4), min(row.right, row.x(after.at) - 8)
        if before.end < after.at and right - left > 12:
            found.append(rule(left, y, right, y, PEN, BLACK, dashed=True))
    return found


def figure_sign(x: float, baseline: float) -> Outline:
    """The figure's sign: two sails on a hull."""
    base = baseline - 14
    return drawn_round(
        [sail(x, base, 22, 26), sail(x + 23, base, 15, 18), hull(x, x + 40, base + 3, baseline, 9)],
        PEN,
        FIGURE,
        WHITE,
    )


def meter_sign(x: float, baseline: float) -> Outline:
    """The meter's sign: three posts under a beam."""
    top = baseline - 26
    posts = [
        np.array([edge((x + across, top), (x + across, top + long))])
        for across, long in ((2, 24), (21, 15), (40, 15))
    ]
    beam = np.array([edge((x, top), (x + 42, top))])
    return Outline((beam, *posts), None, METER, PEN, closed=False)


def bracket(
    left: float, right: float, y: float, pen: float, colour: str = BLACK, up: bool = True
) -> list[Outline]:
    """A length told by a rule with turned ends."""
    end = y - 16 if up else y + 16
    return [
        rule(left, y, right, y, pen, colour),
        rule(left, end, left, y, pen, colour),
        rule(right, end, right, y, pen, colour),
    ]
