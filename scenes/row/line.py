"""A row of music: where it lies, and what stands on it.

The line runs across. Above it each repetition is a vessel: its groups are sails on one hull. Below it bars
and beats are posts. Harmony is the sky behind the sails. Everything is placed by ticks, clipped to the row
and a margin beyond its ends, into which a repetition that goes on in the next row runs out.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import inf

import numpy as np

from renderer.timeline.model import Repetition
from scenes.draw.look import Look, RowStyle
from scenes.draw.paths import Contour, clip_all, hull, rectangle, sail, torn_hull
from scenes.draw.shapes import FilledShape, draw

VESSEL_GAP = 4
DASH, DECK_GAP = 14.0, 12.0
SOFT_EDGE = 2.5
"""Pixels of the edge of what does not sound, where it has one."""


@dataclass(frozen=True)
class Row:
    """A row from tick `start` to `end`: `scale` pixels to a tick, its sky's top at `top`, measures by
    `style`."""

    start: int
    end: int
    scale: float
    top: float
    style: RowStyle
    look: Look
    longest: int
    """The longest group of the piece in ticks: its sail has the full height."""
    lift: float = 0.0
    """How far the hulls lie above the line, where other voices lie between."""
    longest_bow: float = inf
    """How long a bow may be: half a pulse where counts stand in the hulls."""

    def __hash__(self) -> int:
        return hash((self.start, self.end, self.top))

    def deck(self, number: int, count: int) -> "Row":
        """The same row for one of several voices, from the lowest up: its hulls stand over those before it."""
        if count == 1:
            return self
        style = self.style
        share = (style.sail + style.hull + DECK_GAP) / count - DECK_GAP
        body = min(style.hull, max(0.45 * share, min(share, 34.0)))
        smaller = replace(style, sail=max(0.0, share - body), hull=body, disc=min(style.disc, share / 9))
        number_size = min(style.number, max(self.look.size_least, body * 0.8))
        headroom = style.headroom + style.sail + style.hull - smaller.sail - smaller.hull
        return replace(
            self,
            style=replace(smaller, headroom=headroom, number=number_size),
            lift=number * (share + DECK_GAP),
        )

    def x(self, at: float) -> float:
        """Where a tick stands, in pixels."""
        return self.look.canvas.music_left + (at - self.start) * self.scale

    @property
    def left(self) -> float:
        """Where the row's sky begins."""
        return self.look.canvas.sky_left

    @property
    def margin(self) -> float:
        """How far the sky reaches beyond the last tick."""
        return self.look.canvas.sky_right - self.look.canvas.music_right

    @property
    def right(self) -> float:
        """Where the row's sky ends."""
        return min(self.look.canvas.sky_right, self.x(self.end) + self.margin)

    @property
    def line(self) -> float:
        """The middle of the line."""
        return self.top + self.style.line(self.look)

    @property
    def hull_bottom(self) -> float:
        return self.line - self.look.width_line / 2 - self.look.gap - self.lift

    @property
    def hull_top(self) -> float:
        return self.hull_bottom - self.style.hull

    @property
    def base(self) -> float:
        """Where the sails stand."""
        return self.hull_top - self.look.gap

    @property
    def feet(self) -> float:
        """Where the bars' posts end."""
        return self.line + self.style.post

    @property
    def levels(self) -> tuple[float, ...]:
        """The heights between which all upright lengths lie, from the top down."""
        tallest = self.base - self.style.sail
        return self.top, tallest, self.base, self.hull_top, self.hull_bottom, self.line, self.feet

    def mast(self, length: int) -> float:
        """The top of a group's sail."""
        return self.base - self.style.sail * (0.30 + 0.70 * length / self.longest)

    def shows(self, at: int, end: int) -> bool:
        """Whether anything between two ticks lies in the row."""
        return at < self.end and end > self.start

    def holds(self, at: int) -> bool:
        """Whether a tick begins in the row."""
        return self.start <= at < self.end


def number_left(row: Row, repetition: Repetition, inset: float, width: float) -> float | None:
    """Where a text of that width begins in a repetition's hull: so far inside its left end; on the next row, where the
    repetition lies over a row's end and the text has no room before that; None where it stands on another row."""
    if row.holds(repetition.at):
        return row.x(repetition.at) + inset
    if not repetition.at < row.start < repetition.end:
        return None
    canvas = row.look.canvas
    ends = min(canvas.right, canvas.sky_right - VESSEL_GAP) - canvas.music_right
    before = (row.start - repetition.at) * row.scale + ends
    return row.x(row.start) + inset if before < inset + width else None


def make_rows(breaks: Sequence[tuple[int, int]], style: RowStyle, look: Look) -> list[Row]:
    """Rows with these starts and ends on one scale, the longest over the full width; all of them at the top."""
    scale = (look.canvas.music_right - look.canvas.music_left) / max(end - start for start, end in breaks)
    return [Row(start, end, scale, 0.0, style, look, 1) for start, end in breaks]


def vessel_contours(row: Row, repetition: Repetition, inset: float = 0.0) -> tuple[Contour, ...]:
    """A repetition's sails and hull, clipped to the row and its margins; `inset` draws all edges in by so much."""
    statement = repetition.statement
    left, end = row.x(repetition.at), row.x(repetition.end)
    right = end - min(VESSEL_GAP, 0.3 * (end - left))
    contours: list[Contour] = []
    for group in statement.groups:
        x, width = row.x(repetition.at + group.at), group.written * row.scale - row.look.gap
        height = row.base - row.mast(group.written)
        if width > 3 * inset and height > 3 * inset:
            whole = sail(x + inset, row.base - inset, width - 2.2 * inset, height - 2.2 * inset)
            contours += clip_all([whole], x, right if group.written > group.length else end)
    return clip_all([*contours, *hull_contours(row, repetition, inset)], row.left, row.right)


def hull_contours(row: Row, repetition: Repetition, inset: float = 0.0) -> list[Contour]:
    """A repetition's hull, wherever it ends."""
    left, end = row.x(repetition.at) + inset, row.x(repetition.end)
    right = end - min(VESSEL_GAP, 0.3 * (end - row.x(repetition.at))) - inset
    top, bottom = row.hull_top + inset, row.hull_bottom - inset
    if repetition.statement.cut:
        return [torn_hull(left, right, top, bottom)]
    if right <= left:
        return []
    bow = min(1.15 * (bottom - top), 0.3 * (right - left + 2 * inset), row.longest_bow)
    return [hull(left, right, top, bottom, bow)]


def draw_vessel(
    row: Row,
    repetition: Repetition,
    colour: str,
    until: float | None = None,
    shift: float = 0.0,
    opacity: float = 1.0,
    since: float | None = None,
) -> list[FilledShape]:
    """A repetition's body. With `until` only what lies left of that pixel, with `since` right of that one; with
    `shift` that far to the right. A tail is an outline."""
    contours = vessel_contours(row, repetition)
    if repetition.statement.kind == "tail":
        inner = vessel_contours(row, repetition, row.look.width_line)
        contours = (*contours, *(contour[::-1, ::-1] for contour in inner))
    moved = [contour + np.array([shift, 0.0]) for contour in contours] if shift else contours
    left, right = row.left if since is None else since, row.right if until is None else until
    clipped = clip_all(moved, left, right) if left < right else ()
    return [draw(colour, *clipped, opacity=opacity)] if clipped else []


def draw_soft_vessel(row: Row, repetition: Repetition, opacity: float = 1.0) -> list[FilledShape]:
    """A repetition that does not sound, or not yet: soft, with an edge where the look tells it from the sky by one."""
    look = row.look
    if repetition.statement.kind == "tail" or look.soft_edge == look.sail_soft:
        return draw_vessel(row, repetition, look.sail_soft, opacity=opacity)
    inner = vessel_contours(row, repetition, SOFT_EDGE)
    outer = draw_vessel(row, repetition, look.soft_edge, opacity=opacity)
    return [*outer, draw(look.sail_soft, *inner, opacity=opacity)] if inner else outer


def draw_rests(row: Row, repetitions: Sequence[Repetition]) -> list[FilledShape]:
    """A dashed line where a hull would lie, wherever nothing is played between two repetitions."""
    y = (row.hull_top + row.hull_bottom) / 2
    dashes: list[Contour] = []
    for before, after in pairwise(repetitions):
        if before.end < after.at and row.shows(before.end, after.at):
            x, stop = row.x(before.end) + DASH / 2, row.x(after.at) - DASH
            while x < stop:
                dashes.append(rectangle(x, y - 2, min(x + DASH, stop), y + 2))
                x += 2 * DASH
    clipped = clip_all(dashes, row.left, row.right)
    return [draw(row.look.line, *clipped)] if clipped else []


def draw_line(row: Row, from_x: float | None = None) -> FilledShape:
    """The line that everything stands on or hangs from."""
    left = row.left if from_x is None else from_x
    return draw(
        row.look.line,
        rectangle(left, row.line - row.look.width_line / 2, row.right, row.line + row.look.width_line / 2),
    )


def draw_post(
    row: Row, at: float, length: float, width: float, colour: str, opacity: float = 1.0
) -> FilledShape:
    """A post under the line, `length` pixels long."""
    x = row.x(at)
    top = row.line + row.look.width_line / 2
    return draw(colour, rectangle(x - width / 2, top, x + width / 2, row.line + length), opacity=opacity)


def draw_side_sign(side: str, x: float, baseline: float, look: Look) -> list[FilledShape]:
    """The sign of a side, 50 pixels wide: two sails on a hull for the figure, three posts for the meter."""
    if side == "meter":
        beam = rectangle(x, baseline - 24, x + 50, baseline - 20)
        posts = [
            rectangle(x + left, baseline - 22, x + left + w, baseline - 22 + h) for left, w, h in _SIGN_POSTS
        ]
        return [draw(look.meter_line, beam, *posts)]
    base = baseline - 10
    sails = [sail(x, base, 29, 26), sail(x + 31, base, 19, 20)]
    body = hull(x, x + 50, base + 3, baseline + 2, 11)
    return [draw(look.sail_one, *sails, body)]


_SIGN_POSTS = ((2, 5, 25), (24, 4, 14), (44, 4, 14))
