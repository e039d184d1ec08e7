"""A picture's shapes as DrawingML (ISO/IEC 29500-1, 20.1.9): custom geometry, which stays sharp at any size.

A path with several outlines is filled even and odd there, but ours are filled where they wind round at all. So each
outer outline is a path of its own, with the holes in it.
"""

from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache
from itertools import groupby
from typing import NamedTuple

import numpy as np

from scenes.draw.paths import Contour
from scenes.draw.shapes import MIDDLE, TURNED, FilledShape

PIXEL = 6350
"""English Metric Units, 914,400 to an inch, to a pixel of 1920 across 13 1/3 inches."""
FINE = 10
"""Units of a path to a pixel."""
CHORDS, NEAR = 8, 1e-6
"""Chords to a curve, where crossings are looked for; two that meet in an end don't cross."""
SLIVER = 0.05
"""Square pixels: a loop of less is an end that overshoots."""
STRAIGHT = 0.02
"""Pixels: a curve that bends less is written as a line."""


class Painted(NamedTuple):
    """Shapes that are painted one after another in one colour, as outlines in pixels."""

    colour: str
    opacity: float
    shapes: tuple[tuple[Contour, ...], ...]


def paint(picture: Iterable[FilledShape]) -> Iterator[Painted]:
    """A picture's shapes, neighbours of one colour together."""
    seen = [shape for shape in picture if len(shape.points) and shape.fill_opacity > 0.004]
    for (colour, opacity), group in groupby(seen, key=_fill):
        yield Painted(colour, opacity, tuple(_plain_outlines(shape) for shape in group))


def _plain_outlines(shape: FilledShape) -> tuple[Contour, ...]:
    """A shape's outlines, those of letters uncrossed: the face draws some in one stroke over itself."""
    found = outlines(shape)
    return tuple(loop for contour in found for loop in uncrossed(contour)) if shape.text else found


def _fill(shape: FilledShape) -> tuple[str, float]:
    red, green, blue, alpha = shape.fill
    return "".join(f"{round(channel * 255):02X}" for channel in (red, green, blue)), round(alpha, 3)


def outlines(shape: FilledShape) -> tuple[Contour, ...]:
    """A shape's closed outlines in pixels of the canvas, y down."""
    curves = (shape.points[:, :2] / TURNED + MIDDLE).reshape(-1, 4, 2)
    breaks = np.flatnonzero(np.abs(curves[1:, 0] - curves[:-1, 3]).max(axis=1) > 0.01) + 1
    return tuple(np.split(curves, breaks))


def uncrossed(contour: Contour) -> tuple[Contour, ...]:
    """An outline that crosses itself as loops that don't: how often they wind round a place adds up to the same."""
    start = contour[0, 0]
    shape = np.round(contour - start, 3)
    return tuple(loop + start for loop in _loops(shape.tobytes()) if abs(_area(loop)) > SLIVER)


@lru_cache(maxsize=4096)
def _loops(shape: bytes) -> tuple[Contour, ...]:
    contour = np.frombuffer(shape).reshape(-1, 4, 2)
    found = _crossing(contour)
    if found is None:
        return (contour,)
    (first, share), (second, other) = found
    head, middle = _cut(contour[first], share)
    end, tail = _cut(contour[second], other)
    inner = np.concatenate([middle[None], contour[first + 1 : second], end[None]])
    outer = np.concatenate([contour[:first], head[None], tail[None], contour[second + 1 :]])
    return (*_loops(np.ascontiguousarray(inner).tobytes()), *_loops(np.ascontiguousarray(outer).tobytes()))


def _crossing(contour: Contour) -> tuple[tuple[int, float], tuple[int, float]] | None:
    """The first place where two curves cross: which they are, and the share of each; a curve is taken as chords."""
    shares = np.linspace(0, 1, CHORDS + 1)[:, None]
    a, b, c, d = (contour[:, None, k] for k in range(4))
    points = (
        (1 - shares) ** 3 * a
        + 3 * (1 - shares) ** 2 * shares * b
        + 3 * (1 - shares) * shares**2 * c
        + shares**3 * d
    )
    start, step = points[:, :-1].reshape(-1, 2), np.diff(points, axis=1).reshape(-1, 2)
    one, two = np.triu_indices(len(start), k=2)
    between, across = start[two] - start[one], _cross(step[one], step[two])
    with np.errstate(divide="ignore", invalid="ignore"):
        along, beside = _cross(between, step[two]) / across, _cross(between, step[one]) / across
    met = np.flatnonzero((along > NEAR) & (along < 1 - NEAR) & (beside > NEAR) & (beside < 1 - NEAR))
    if not len(met):
        return None
    here = met[0]
    first, second = divmod(int(one[here]), CHORDS), divmod(int(two[here]), CHORDS)
    if first[0] == second[0]:
        return None
    return (first[0], (first[1] + float(along[here])) / CHORDS), (
        second[0],
        (second[1] + float(beside[here])) / CHORDS,
    )


def _cross(one: Contour, two: Contour) -> Contour:
    product: Contour = one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]
    return product


def _cut(curve: Contour, share: float) -> tuple[Contour, Contour]:
    """De Casteljau's construction."""
    ab, bc, cd = (curve[k] + (curve[k + 1] - curve[k]) * share for k in range(3))
    abc, bcd = ab + (bc - ab) * share, bc + (cd - bc) * share
    middle = abc + (bcd - abc) * share
    return np.array([curve[0], ab, abc, middle]), np.array([middle, bcd, cd, curve[3]])


def nest(contours: Sequence[Contour]) -> list[list[Contour]]:
    """Outer outlines, each with the holes in it: those that run the other way round and lie inside. A hole in none is
    an outline by itself."""
    areas = [_area(contour) for contour in contours]
    if not areas:
        return []
    way = max(areas, key=abs) > 0
    outer = [[contour] for contour, area in zip(contours, areas, strict=True) if (area > 0) == way]
    sizes = [abs(area) for area in areas if (area > 0) == way]
    for contour, area in zip(contours, areas, strict=True):
        if (area > 0) == way:
            continue
        holding = [
            (size, number)
            for number, (group, size) in enumerate(zip(outer, sizes, strict=False))
            if size >= abs(area) and _inside(contour, group[0])
        ]
        if holding:
            outer[min(holding)[1]].append(contour)
        else:
            outer.append([contour])
    return outer


def _area(contour: Contour) -> float:
    points = contour[:, :3].reshape(-1, 2)
    x, y = points[:, 0], points[:, 1]
    return float((x * np.roll(y, -1) - y * np.roll(x, -1)).sum() / 2)


def _inside(inner: Contour, outer: Contour) -> bool:
    """Whether an outline's first point lies in another, by how often a level line to the left meets it."""
    (x, y), corners = inner[0, 0], outer[:, :3].reshape(-1, 2)
    (x0, y0), (x1, y1) = corners.T, np.roll(corners, -1, axis=0).T
    crosses = (y0 > y) != (y1 > y)
    rise = np.where(crosses, y1 - y0, 1.0)
    return bool(np.count_nonzero(crosses & (x > x0 + (y - y0) / rise * (x1 - x0))) % 2)


def shape_xml(painted: Painted, number: int, name: str) -> str:
    """One `p:sp` with these outlines; `number` is its id on the slide."""
    every = np.concatenate([contour.reshape(-1, 2) for contours in painted.shapes for contour in contours])
    left, top = np.floor(every.min(axis=0) * FINE).astype(int)
    width, height = np.maximum(1, np.ceil(every.max(axis=0) * FINE).astype(int) - (left, top))
    unit = PIXEL // FINE
    paths = "".join(
        f'<a:path w="{width}" h="{height}">{"".join(_path(contour, left, top) for contour in group)}</a:path>'
        for contours in painted.shapes
        for group in nest(contours)
    )
    alpha = "" if painted.opacity >= 1 else f'<a:alpha val="{round(painted.opacity * 100_000)}"/>'
    return (
        f'<p:sp><p:nvSpPr><p:cNvPr id="{number}" name="{name}"/><p:cNvSpPr/><p:nvPr/></p:nvSpPr><p:spPr>'
        f'<a:xfrm><a:off x="{left * unit}" y="{top * unit}"/><a:ext cx="{width * unit}" cy="{height * unit}"/></a:xfrm>'
        f"<a:custGeom><a:avLst/><a:gdLst/><a:ahLst/><a:cxnLst/><a:rect l='0' t='0' r='r' b='b'/>"
        f"<a:pathLst>{paths}</a:pathLst></a:custGeom>"
        f'<a:solidFill><a:srgbClr val="{painted.colour}">{alpha}</a:srgbClr></a:solidFill><a:ln><a:noFill/></a:ln>'
        "</p:spPr></p:sp>"
    )


def _path(contour: Contour, left: int, top: int) -> str:
    chord = contour[:, 3] - contour[:, 0]
    length = np.hypot(chord[:, 0], chord[:, 1]) + 1e-9
    bends = [
        np.abs((contour[:, k] - contour[:, 0]) @ np.array([[0, -1], [1, 0]]) * chord).sum(axis=1) / length
        for k in (1, 2)
    ]
    straight = np.maximum(*bends) < STRAIGHT
    points = (np.rint(contour * FINE).astype(int) - (left, top)).tolist()
    parts = [f"<a:moveTo>{_point(points[0][0])}</a:moveTo>"]
    for curve, line in zip(points, straight.tolist(), strict=True):
        if line:
            parts.append(f"<a:lnTo>{_point(curve[3])}</a:lnTo>")
        else:
            parts.append(f"<a:cubicBezTo>{''.join(map(_point, curve[1:]))}</a:cubicBezTo>")
    return "".join(parts) + "<a:close/>"


def _point(point: Sequence[int]) -> str:
    return f'<a:pt x="{point[0]}" y="{point[1]}"/>'
