"""Closed outlines made of cubics, as arrays: built, clipped at upright lines, never drawn here.

A contour is an array of shape (n, 4, 2), n cubic curves end to start, in pixels, y down. A straight edge is a
cubic with its handles at the thirds.
"""

from collections.abc import Callable, Iterable, Sequence
from itertools import pairwise
from math import cos, pi, sin

import numpy as np
from numpy.typing import NDArray

Contour = NDArray[np.float64]
Point = tuple[float, float]

ROUND = 4 / 3 * (2**0.5 - 1)
"""Handle length of a cubic that stands for a quarter circle of radius 1, the common approximation."""
STRAIGHT = 1e-9
"""Pixels: a cubic that bends less is a straight edge."""
MOST_STEPS = 60
"""A place on a cubic is found in a few."""


def _circle(turn: int) -> Contour:
    """The circle of radius 1 about 0, one way round or the other."""
    curves = []
    for quarter in range(4):
        a, b = (turn * pi / 2 * (quarter + step) for step in (0, 1))
        handle = ROUND * turn
        curves.append(
            [
                (cos(a), sin(a)),
                (cos(a) - handle * sin(a), sin(a) + handle * cos(a)),
                (cos(b) + handle * sin(b), sin(b) - handle * cos(b)),
                (cos(b), sin(b)),
            ]
        )
    return np.array(curves)


CIRCLE, TURNED_CIRCLE = _circle(1), _circle(-1)


def contour_from_points(curves: Sequence[Sequence[Point]]) -> Contour:
    """A contour from lists of four points."""
    return np.array(curves, dtype=np.float64).reshape(-1, 4, 2)


def edge(start: Point, end: Point) -> list[Point]:
    """A straight edge as a cubic."""
    (x0, y0), (x1, y1) = start, end
    return [
        start,
        (x0 + (x1 - x0) / 3, y0 + (y1 - y0) / 3),
        (x0 + (x1 - x0) * 2 / 3, y0 + (y1 - y0) * 2 / 3),
        end,
    ]


def polygon(points: Sequence[Point]) -> Contour:
    """A closed polygon."""
    return contour_from_points([edge(a, b) for a, b in zip(points, [*points[1:], points[0]], strict=True)])


def rectangle(left: float, top: float, right: float, bottom: float) -> Contour:
    """An upright rectangle."""
    return polygon([(left, top), (right, top), (right, bottom), (left, bottom)])


def disc(x: float, y: float, radius: float, reverse: bool = False) -> Contour:
    """A circle; `reverse` runs the other way round, to cut a hole."""
    circle: Contour = (TURNED_CIRCLE if reverse else CIRCLE) * radius + np.array([x, y])
    return circle


def ring(x: float, y: float, radius: float, width: float) -> tuple[Contour, Contour]:
    """A ring of `width` inside `radius`, as two contours."""
    return disc(x, y, radius), disc(x, y, radius - width, reverse=True)


def lozenge(x: float, y: float, half_width: float, half_height: float) -> Contour:
    """A square on its corner."""
    return polygon([(x, y - half_height), (x + half_width, y), (x, y + half_height), (x - half_width, y)])


def sail(x: float, base: float, width: float, height: float) -> Contour:
    """An upright edge at `x`, falling away in one curve to (x + width, base)."""
    foot, top, end = (x, base), (x, base - height), (x + width, base)
    curve = [top, (x + 0.46 * width, base - 0.97 * height), (x + 0.94 * width, base - 0.62 * height), end]
    return contour_from_points([edge(foot, top), curve, edge(end, foot)])


def sail_between(
    x: float, base: float, width: float, height: float, left: float, right: float
) -> Contour | None:
    """The part of a sail between two upright lines: what `clip` gives of it, in a fraction of the time."""
    left, right = max(left, x), min(right, x + width)
    if right <= left:
        return None
    across = (0.0, 0.46 * width, 0.94 * width, width)
    first, last = (_crossing(across, place - x) for place in (left, right))
    points = list(zip((x + part for part in across), (base - height * part for part in _SAIL), strict=True))
    top = _sub_curve(points, first, last)
    foot, end = (left, base), (right, base)
    return contour_from_points([edge(foot, top[0]), top, edge(top[3], end), edge(end, foot)])


_SAIL = (1.0, 0.97, 0.62, 0.0)
"""Heights of the points of a sail's curve, as shares of its own."""


def _sub_curve(points: Sequence[Point], first: float, last: float) -> list[Point]:
    """A cubic from one share of it to another."""

    def at(*shares: float) -> Point:
        row = list(points)
        for share in shares:
            row = [(ax + (bx - ax) * share, ay + (by - ay) * share) for (ax, ay), (bx, by) in pairwise(row)]
        return row[0]

    return [at(first, first, first), at(first, first, last), at(first, last, last), at(last, last, last)]


def sail_height(width: float, height: float, across: float) -> float:
    """How high a sail stands `across` pixels from its upright edge."""
    x, y = (0.0, 0.46 * width, 0.94 * width, width), (1.0, 0.97, 0.62, 0.0)
    low, high = 0.0, 1.0
    for _ in range(40):
        t = (low + high) / 2
        low, high = (t, high) if _cubic(x, t) < across else (low, t)
    return height * _cubic(y, low)


def _cubic(values: Sequence[float], t: float) -> float:
    a, b, c, d = values
    return (1 - t) ** 3 * a + 3 * (1 - t) ** 2 * t * b + 3 * (1 - t) * t**2 * c + t**3 * d


def brace(
    left: float, right: float, y: float, width: float, rise: float = 16.0, above: bool = False
) -> tuple[Contour, ...]:
    """A length told from below: a rule at `y` with upturned ends; `above`: told from above, they turn down."""
    ends = (y, y + rise) if above else (y - rise, y)
    rule = (y, y + width) if above else (y - width, y)
    return (
        rectangle(left, rule[0], right, rule[1]),
        rectangle(left, ends[0], left + width, ends[1]),
        rectangle(right - width, ends[0], right, ends[1]),
    )


def hull(left: float, right: float, top: float, bottom: float, bow: float) -> Contour:
    """A bar with a round lower left corner whose right end is a bow of that length."""
    height = bottom - top
    radius = min(0.28 * height, (right - left) / 2)
    stem = [
        (right, top),
        (right - 0.10 * bow, top + 0.62 * height),
        (right - 0.50 * bow, bottom),
        (right - bow, bottom),
    ]
    corner = [
        (left + radius, bottom),
        (left + radius * (1 - ROUND), bottom),
        (left, bottom - radius * (1 - ROUND)),
        (left, bottom - radius),
    ]
    return contour_from_points(
        [
            edge((left, top), (right, top)),
            stem,
            edge((right - bow, bottom), (left + radius, bottom)),
            corner,
            edge((left, bottom - radius), (left, top)),
        ]
    )


def hull_between(contour: Contour, left: float, right: float) -> Contour | None:
    """The part of a `hull` between two upright lines right of its round corner: what `clip` gives of it, in a fraction
    of the time."""
    (far, top), bow, (_, bottom) = contour[0, 3], contour[1], contour[1, 3]
    right = min(right, float(far))
    if right <= left:
        return None
    stem = [(float(x), float(y)) for x, y in bow]
    low = stem[3][0]
    if right <= low:
        return rectangle(left, float(top), right, float(bottom))
    across = (stem[0][0], stem[1][0], stem[2][0], low)
    first = _crossing(across, right) if right < far else 0.0
    last = _crossing(across, left) if left > low else 1.0
    part = _sub_curve(stem, first, last)
    upper: list[Point] = [(left, float(top)), (right, float(top))]
    edges = [edge(upper[0], upper[1]), edge(upper[1], part[0]), part]
    if left <= low:
        edges.append(edge(part[3], (left, float(bottom))))
    return contour_from_points([*edges, edge(edges[-1][3], upper[0])])


def torn_hull(left: float, right: float, top: float, bottom: float) -> Contour:
    """A bar whose right end is torn off: three teeth."""
    height = bottom - top
    radius = min(0.28 * height, (right - left) / 2)
    depth = min(8.0, (right - left) / 2)
    teeth: list[Point] = [(right - (depth if step % 2 else 0), top + height * step / 6) for step in range(7)]
    corner = [
        (left + radius, bottom),
        (left + radius * (1 - ROUND), bottom),
        (left, bottom - radius * (1 - ROUND)),
        (left, bottom - radius),
    ]
    upper = [(left, top), *teeth, (left + radius, bottom)]
    return contour_from_points(
        [
            *(edge(a, b) for a, b in pairwise(upper)),
            corner,
            edge((left, bottom - radius), (left, top)),
        ]
    )


def bend(contour: Contour, place: Callable[[Contour], Contour], longest: float) -> Contour:
    """A contour moved point by point by `place`, which takes and gives arrays of (x, y); curves wider than `longest`
    pixels are split first, so that what bends stays smooth."""
    pieces: list[Contour] = []
    for curve in contour:
        count = max(1, int(np.ceil((curve[:, 0].max() - curve[:, 0].min()) / longest)))
        pieces += _split(curve, [number / count for number in range(1, count)])
    return place(np.array(pieces).reshape(-1, 2)).reshape(-1, 4, 2)


def clip(contour: Contour, left: float, right: float) -> Contour | None:
    """The part of a contour between two upright lines; None if nothing is there.

    Curves are split exactly where they cross a line; what lies outside is laid flat onto the line, where it
    has no area, so the filled shape inside is untouched.
    """
    x = contour[:, :, 0]
    if x.min() >= left and x.max() <= right:
        return contour
    if x.max() <= left or x.min() >= right:
        return None
    pieces: list[Contour] = []
    for curve, least, most in zip(contour, x.min(axis=1), x.max(axis=1), strict=True):
        if left <= least and most <= right:
            pieces.append(curve)
        elif most < left or least > right:
            pieces.append(_laid_flat(curve, left if most < left else right))
        else:
            for piece in _split(curve, _crossings(curve, (left, right))):
                x0, x1, x2, x3 = piece[:, 0].tolist()
                middle = (x0 + 3 * x1 + 3 * x2 + x3) / 8
                inside = left <= middle <= right
                pieces.append(piece if inside else _laid_flat(piece, min(max(middle, left), right)))
    return np.array(pieces)


def _laid_flat(curve: Contour, x: float) -> Contour:
    """A curve's ends on an upright line, joined along it."""
    return np.array(edge((x, float(curve[0, 1])), (x, float(curve[3, 1]))))


def clip_all(contours: Iterable[Contour], left: float, right: float) -> tuple[Contour, ...]:
    """`clip` for several contours; what has nothing left falls away."""
    clipped = (clip(contour, left, right) for contour in contours)
    return tuple(contour for contour in clipped if contour is not None)


def _crossing(values: tuple[float, float, float, float], line: float) -> float:
    """Where a cubic that only rises or only falls takes a value, as a share of it, as near as a float can be: Newton's
    steps, halving where one would leave the stretch in which the place lies."""
    a, b, c, d = values
    one, two, three = 3 * (b - a), 3 * (c - 2 * b + a), d - 3 * c + 3 * b - a
    rising, low, high = a <= d, 0.0, 1.0
    share = min(1.0, max(0.0, (line - a) / (d - a))) if d != a else 0.5
    for _ in range(MOST_STEPS):
        over = a + share * (one + share * (two + share * three)) - line
        if over == 0:
            return share
        if (over < 0) == rising:
            low = share
        else:
            high = share
        slope = one + share * (2 * two + share * 3 * three)
        step = share - over / slope if slope else low
        if not low < step < high:
            step = (low + high) / 2
        if abs(step - share) < STRAIGHT * STRAIGHT or not low < step < high:
            return step
        share = step
    return share


def _crossings(curve: Contour, lines: Iterable[float]) -> list[float]:
    """Where a curve crosses upright lines, as shares of it."""
    x0, x1, x2, x3 = curve[:, 0].tolist()
    powers = [x3 - 3 * x2 + 3 * x1 - x0, 3 * (x2 - 2 * x1 + x0), 3 * (x1 - x0)]
    straight = abs(powers[0]) + abs(powers[1]) < STRAIGHT
    found = set()
    for line in lines:
        if min(x0, x1, x2, x3) <= line <= max(x0, x1, x2, x3):
            roots: Iterable[complex]
            if straight and x3 != x0:
                roots = [(line - x0) / (x3 - x0)]
            elif x0 <= x1 <= x2 <= x3 or x0 >= x1 >= x2 >= x3:
                roots = [_crossing((x0, x1, x2, x3), line)]
            else:
                roots = np.roots([*powers, x0 - line])
            found |= {float(root.real) for root in roots if abs(root.imag) < 1e-9}
    return sorted(share for share in found if 1e-9 < share < 1 - 1e-9)


def _split(curve: Contour, shares: list[float]) -> list[Contour]:
    pieces, done = [], 0.0
    for share in shares:
        t = (share - done) / (1 - done)
        first, curve = _halves(curve, t)
        pieces.append(first)
        done = share
    return [*pieces, curve]


def _halves(curve: Contour, t: float) -> tuple[Contour, Contour]:
    """De Casteljau's construction."""
    ab, bc, cd = (curve[i] + (curve[i + 1] - curve[i]) * t for i in range(3))
    abc, bcd = ab + (bc - ab) * t, bc + (cd - bc) * t
    middle = abc + (bcd - abc) * t
    return np.array([curve[0], ab, abc, middle]), np.array([middle, bcd, cd, curve[3]])
