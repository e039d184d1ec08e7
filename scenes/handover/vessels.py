"""The vessels that meet at a section's line: whole, or drawn in where the line stands before them; and the accent that
is one too many."""

from collections.abc import Iterator, Sequence
from itertools import pairwise
from math import hypot

from renderer.schedule.handover_words import Meeting
from renderer.timeline.model import Repetition
from scenes.draw.look import BOLD, CAPITAL
from scenes.draw.paths import Contour, Point, clip_all, disc, hull, polygon, rectangle, sail, torn_hull
from scenes.draw.segment import Picture
from scenes.draw.shapes import draw, draw_text
from scenes.row.line import SOFT_EDGE, VESSEL_GAP, Row, draw_soft_vessel, draw_vessel, vessel_contours

THIN, APART, THICK = 4.0, 8.0, 10.0
"""The section's line: a thin stroke, the ground between, and a thick stroke on the downbeat."""
BEFORE, AFTER = THICK / 2 + APART + THIN + 3, THICK / 2 + 3
"""How much of the ground the line takes on either side of its downbeat."""
DASH, DASH_GAP, DASH_WIDTH = 9.0, 6.0, 3.0
SHARED, PARTED, RIM = 6.0, 4.0, 4.0
"""By how much the disc of two accents is larger than another one, what parts its halves from each other and from the
rim round both, and that rim's width, in pixels."""


class LineVessels:
    """The last vessel before a section's line and the first one after it. Where one of them runs across it, the line
    stands behind them."""

    def __init__(self, row: Row, meeting: Meeting) -> None:
        self.row, self.meeting, self.look = row, meeting, row.look
        self.line = meeting.handover.line
        self.crossed = any(r.at < self.line < r.end for r in (meeting.last, meeting.first))

    def contours(self, repetition: Repetition, inset: float = 0.0) -> tuple[Contour, ...]:
        """A vessel's outlines, clear of the line if that stands before it."""
        row, statement = self.row, repetition.statement
        if self.crossed or statement.kind == "tail":
            return vessel_contours(row, repetition, inset)
        if repetition.at >= self.line:
            left = row.x(self.line) + AFTER + inset
            return clip_all(vessel_contours(row, repetition, inset), left, row.right)
        if repetition.end < self.line:
            return vessel_contours(row, repetition, inset)
        right = row.x(self.line) - BEFORE - inset
        left, top, bottom = row.x(repetition.at) + inset, row.hull_top + inset, row.hull_bottom - inset
        found: list[Contour] = []
        for group in statement.groups:
            x, width = row.x(repetition.at + group.at), group.written * row.scale - row.look.gap
            height = row.base - row.mast(group.written)
            found.append(sail(x + inset, row.base - inset, width - 2.2 * inset, height - 2.2 * inset))
        if right > left:
            bow = min(1.15 * (bottom - top), 0.3 * (right - left), row.longest_bow)
            torn = statement.cut
            found.append(torn_hull(left, right, top, bottom) if torn else hull(left, right, top, bottom, bow))
        return clip_all(found, row.left, right)

    def soft(self, repetition: Repetition) -> Picture:
        """A vessel before it sounds."""
        look = self.look
        if repetition.statement.kind == "tail":
            return draw_soft_vessel(self.row, repetition)
        outer = [draw(look.soft_edge, *self.contours(repetition))]
        if look.soft_edge == look.sail_soft:
            return [*outer]
        return [*outer, draw(look.sail_soft, *self.contours(repetition, SOFT_EDGE))]

    def lit(self, repetition: Repetition, until: float | None = None) -> Picture:
        """A vessel as far as it has sounded, up to pixel `until`."""
        colour = self.look.sail_one if repetition is self.meeting.last else self.look.sail_two
        if repetition.statement.kind == "tail":
            return draw_vessel(self.row, repetition, colour, until)
        stop = self.row.right if until is None else until
        shown = clip_all(self.contours(repetition), self.row.left, stop)
        return [draw(colour, *shown)] if shown else []

    def stroke(self) -> Picture:
        """The section's line, with the ground beside it."""
        row, look, x = self.row, self.look, self.row.x(self.line)
        if not row.left < x < row.right:
            return []
        foot = row.line + row.style.post
        edge = x - THICK / 2 - APART
        return [
            draw(look.ground, rectangle(x - BEFORE, row.top, x + AFTER, row.line + 3)),
            draw(look.ink, rectangle(edge - THIN, row.top, edge, foot)),
            draw(look.ink, rectangle(x - THICK / 2, row.top, x + THICK / 2, foot)),
        ]

    # One too many

    def ghost(self) -> Picture:
        """What the line cuts off, if an accent would have come just there: a dashed sail that is not played."""
        row, look, meeting = self.row, self.look, self.meeting
        width, height = meeting.lacking * row.scale, row.base - row.mast(meeting.lacking)
        x = row.x(self.line) + (0 if self.crossed else AFTER)
        outline = sail(x + 2, row.base - 2, width - AFTER - 4, height)
        lit = self.meeting.on_line
        return [draw(look.on_sail if lit else look.line, *dashes(_points(outline), DASH_WIDTH))]

    def shared_sail(self) -> Picture:
        """The accent that is one too many, in front of the new figure's: its sail, its half of the hull, a count for
        either."""
        row, look, meeting = self.row, self.look, self.meeting
        left, width = row.x(self.line) + AFTER, meeting.lacking * row.scale - AFTER
        height, middle = row.base - row.mast(meeting.lacking), (row.hull_top + row.hull_bottom) / 2
        drawn: Picture = []
        for colour, inset in ((look.on_sail, 0.0), (look.sail_one, 3.0)):
            front = sail(left, row.base - inset, width - 1.6 * inset, height - inset)
            body = hull(left, left + width - inset - VESSEL_GAP, row.hull_top, middle - inset, 16)
            drawn += [draw(colour, front, body)]
        size = max(look.size_least, min(40.0, row.style.hull / 2 - 8))
        for top in (row.hull_top, middle):
            baseline = top + (row.style.hull / 2 + size * CAPITAL) / 2
            drawn.append(draw_text("1", left + 8, baseline, size, look.on_sail, BOLD))
        return drawn

    def shared_disc(self) -> Picture:
        """One stroke for two accents: a disc in the colours of both."""
        row, look, x = self.row, self.look, self.row.x(self.line)
        y, radius = row.mast(self.meeting.first.statement.groups[0].written), row.style.disc + SHARED
        whole, half = disc(x, y, radius), PARTED / 2
        return [
            draw(look.ground, disc(x, y, radius + PARTED + RIM + look.edge)),
            draw(look.ink, disc(x, y, radius + PARTED + RIM)),
            draw(look.ground, disc(x, y, radius + PARTED)),
            draw(look.sail_one, *clip_all([whole], x - radius, x - half)),
            draw(look.sail_two, *clip_all([whole], x + half, x + radius)),
        ]


def _points(contour: Contour) -> list[Point]:
    """A closed outline as points that lie close to each other."""
    found: list[Point] = []
    for a, b, c, d in contour.tolist():
        steps = max(2, int(hypot(d[0] - a[0], d[1] - a[1]) / 3))
        for number in range(steps):
            t = number / steps
            weights = ((1 - t) ** 3, 3 * (1 - t) ** 2 * t, 3 * (1 - t) * t**2, t**3)
            x, y = (sum(w * p[axis] for w, p in zip(weights, (a, b, c, d), strict=True)) for axis in (0, 1))
            found.append((x, y))
    return [*found, found[0]]


def dashes(points: Sequence[Point], width: float) -> Iterator[Contour]:
    """Dashes along a line of points."""
    walked = 0.0
    for (x0, y0), (x1, y1) in pairwise(points):
        length = hypot(x1 - x0, y1 - y0)
        if length and walked % (DASH + DASH_GAP) < DASH:
            right, down = -(y1 - y0) / length * width / 2, (x1 - x0) / length * width / 2
            yield polygon(
                [
                    (x0 + right, y0 + down),
                    (x1 + right, y1 + down),
                    (x1 - right, y1 - down),
                    (x0 - right, y0 - down),
                ]
            )
        walked += length
