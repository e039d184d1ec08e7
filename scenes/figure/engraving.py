"""A figure's notes as outlines, engraved by verovio: group by group, in staff spaces.

verovio draws one line of music without end; each group is a measure of it. What it draws is read as shapes and
nothing else: its styles and colours are left behind, so the look decides. A staff space is the height of a note's
head; x runs to the right from a group's first sign, y down from the staff's line. verovio is only loaded when a
figure is engraved, which takes about a twentieth of a second.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from math import hypot
from typing import NamedTuple
from xml.etree import ElementTree

import numpy as np
from svgelements import Close, CubicBezier, Line, Matrix, Move, Path, QuadraticBezier

from renderer.schedule.mei import figure_mei
from renderer.timeline.model import Figure
from scenes.draw.paths import Contour, contour_from_points, disc, edge, polygon

SPACE = 180.0
"""verovio's units to a staff space."""
OPTIONS = {
    "adjustPageHeight": True,
    "adjustPageWidth": True,
    "breaks": "none",
    "footer": "none",
    "header": "none",
    "svgRemoveXlink": True,
    "tieMidpointThickness": 0.7,
    "tieEndpointThickness": 0.2,
}
SVG = "{http://www.w3.org/2000/svg}"


@dataclass(frozen=True)
class EngravedGroup:
    """One group: its notes, its accents, and the middle of the head of each note on which a hit begins."""

    notes: tuple[Contour, ...]
    accents: tuple[Contour, ...]
    heads: tuple[tuple[int, float], ...]
    """(pulse of the figure from 0, x)."""
    width: float
    """With the room after its last sign."""


@dataclass(frozen=True)
class Engraving:
    """A whole figure. `top` (above the line, negative) and `bottom` hold all that is drawn."""

    groups: tuple[EngravedGroup, ...]
    clef: tuple[Contour, ...]
    """At the left of a system; x from its own left edge."""
    clef_width: float
    top: float
    bottom: float


class _Shape(NamedTuple):
    """One element as outlines in verovio's units, the kinds of all that it stands in, and the note's pulse."""

    contours: tuple[Contour, ...]
    kinds: tuple[str, ...]
    pulse: int | None


@lru_cache(maxsize=64)
def engrave(figure: Figure, spread: float, least: float) -> Engraving:
    """A figure's notes. `spread` is how much a longer note is given more room, `least` the room of any."""
    from verovio import toolkit

    tools = toolkit()
    tools.setOptions({**OPTIONS, "spacingLinear": spread, "spacingNonLinear": least})
    if not tools.loadData(figure_mei(figure)):
        raise ValueError(f"verovio does not take the notes of {figure.name}")
    root = ElementTree.fromstring(tools.renderToSVG(1))
    symbols = {str(glyph.get("id")): glyph for glyph in root.iterfind(f"{SVG}defs/{SVG}g")}
    measures = [g for g in root.iter(f"{SVG}g") if g.get("class") == "measure"]
    clef: list[Contour] = []
    groups = [_group(measure, symbols, clef) for measure in measures]
    drawn = [contour for group in groups for contour in (*group.notes, *group.accents)]
    left = min(_ends(contour)[0] for contour in clef)
    clef = [contour - np.array([left, 0.0]) for contour in clef]
    return Engraving(
        groups=tuple(groups),
        clef=tuple(clef),
        clef_width=max(_ends(contour)[1] for contour in clef),
        top=min(float(contour[:, :, 1].min()) for contour in drawn),
        bottom=max(float(contour[:, :, 1].max()) for contour in drawn),
    )


def _group(
    measure: ElementTree.Element, symbols: dict[str, ElementTree.Element], clef: list[Contour]
) -> EngravedGroup:
    """A measure as a group; a clef that stands in it goes into `clef`."""
    staff = measure.find(f"{SVG}g[@class='staff']/{SVG}path")
    if staff is None:
        raise ValueError("verovio drew a measure without a staff")
    (_, height), (end, _) = _numbers(str(staff.get("d")))
    shapes = [shape for shape in _shapes(measure, symbols, (), None) if shape.contours]
    signs = [shape for shape in shapes if "clef" not in shape.kinds]
    left = min(_ends(contour)[0] for shape in signs for contour in shape.contours)
    origin = np.array([left, height])

    def settled(shape: _Shape) -> list[Contour]:
        return [(contour - origin) / SPACE for contour in shape.contours]

    clef += [contour for shape in shapes if "clef" in shape.kinds for contour in settled(shape)]
    heads = [
        (shape.pulse, float(np.mean(_ends(settled(shape)[0]))))
        for shape in signs
        if "notehead" in shape.kinds and shape.pulse is not None
    ]
    return EngravedGroup(
        notes=tuple(c for shape in signs if "artic" not in shape.kinds for c in settled(shape)),
        accents=tuple(c for shape in signs if "artic" in shape.kinds for c in settled(shape)),
        heads=tuple(sorted(heads)),
        width=(end - left) / SPACE,
    )


def _shapes(
    element: ElementTree.Element,
    symbols: dict[str, ElementTree.Element],
    kinds: tuple[str, ...],
    pulse: int | None,
) -> Iterator[_Shape]:
    """All that is drawn in an element, but the staff's line."""
    for child in element:
        name = child.tag.removeprefix(SVG)
        if name == "g":
            of_note = re.fullmatch(r"hit-(\d+)", child.get("id", ""))
            inner = (*kinds, *child.get("class", "").split())
            yield from _shapes(child, symbols, inner, int(of_note[1]) if of_note else pulse)
        elif not (name == "path" and kinds and kinds[-1] == "staff"):
            yield _Shape(_upright(_outlines(name, child, symbols)), kinds, pulse)


def _outlines(
    name: str, element: ElementTree.Element, symbols: dict[str, ElementTree.Element]
) -> list[Contour]:
    """One element's outlines. Raises ValueError for one that verovio has not drawn before."""
    if name == "use":
        glyph = symbols[element.get("href", "").removeprefix("#")][0]
        place = Matrix(glyph.get("transform", "")) * Matrix(element.get("transform", ""))
        return _path_outlines(abs(Path(str(glyph.get("d"))) * place))
    if name == "path":
        path = Path(str(element.get("d")))
        if any(isinstance(piece, CubicBezier) for piece in path):
            return _path_outlines(path)
        return _stroke(_numbers(str(element.get("d"))), _number(element, "stroke-width"))
    if name == "polyline":
        return _stroke(_numbers(str(element.get("points"))), _number(element, "stroke-width"))
    if name == "polygon":
        return [polygon(_numbers(str(element.get("points"))))]
    if name == "ellipse":
        return [disc(_number(element, "cx"), _number(element, "cy"), _number(element, "rx"))]
    if name == "rect":
        x, y, width, height = (_number(element, key) for key in ("x", "y", "width", "height"))
        return [polygon([(x, y), (x + width, y), (x + width, y + height), (x, y + height)])]
    raise ValueError(f"verovio drew a {name}, which is not read")


def _number(element: ElementTree.Element, key: str) -> float:
    return float(element.get(key, "0"))


def _numbers(text: str) -> list[tuple[float, float]]:
    """The points of a row of numbers."""
    numbers = [float(number) for number in re.findall(r"-?\d+(?:\.\d+)?", text)]
    return list(zip(numbers[::2], numbers[1::2], strict=True))


def _path_outlines(path: Path) -> list[Contour]:
    """A filled path's outlines."""
    contours: list[Contour] = []
    curves: list[list[tuple[float, float]]] = []
    for piece in path:
        if isinstance(piece, Move):
            contours += [contour_from_points(curves)] if curves else []
            curves = []
            continue
        start, end = (piece.start.x, piece.start.y), (piece.end.x, piece.end.y)
        if isinstance(piece, Line | Close):
            curves += [edge(start, end)] if start != end else []
        elif isinstance(piece, CubicBezier):
            one, two = piece.control1, piece.control2
            curves.append([start, (one.x, one.y), (two.x, two.y), end])
        elif isinstance(piece, QuadraticBezier):
            middle = (piece.control.x, piece.control.y)
            first, second = (
                tuple(a + (b - a) * 2 / 3 for a, b in zip(p, middle, strict=True)) for p in (start, end)
            )
            curves.append([start, (first[0], first[1]), (second[0], second[1]), end])
        else:
            raise ValueError(f"verovio drew a {type(piece).__name__}, which is not read")
    return [*contours, contour_from_points(curves)] if curves else contours


def _stroke(points: list[tuple[float, float]], width: float) -> list[Contour]:
    """A line of straight strokes as a box for each; where two meet, both reach round the corner."""
    boxes = []
    for index, ((x0, y0), (x1, y1)) in enumerate(pairwise(points)):
        length = hypot(x1 - x0, y1 - y0) or 1.0
        along_x, along_y = (x1 - x0) / length * width / 2, (y1 - y0) / length * width / 2
        if index:
            x0, y0 = x0 - along_x, y0 - along_y
        if index < len(points) - 2:
            x1, y1 = x1 + along_x, y1 + along_y
        corners = [
            (x0 - along_y, y0 + along_x),
            (x1 - along_y, y1 + along_x),
            (x1 + along_y, y1 - along_x),
            (x0 + along_y, y0 - along_x),
        ]
        boxes.append(polygon(corners))
    return boxes


def _upright(contours: list[Contour]) -> tuple[Contour, ...]:
    """The outlines of a shape turned so that its largest runs one way round, as those of all shapes: where two shapes
    meet in one painting they then join and cut no hole."""
    areas = [_area(contour) for contour in contours]
    if not areas or max(areas, key=abs) >= 0:
        return tuple(contours)
    return tuple(contour[::-1, ::-1] for contour in contours)


def _ends(contour: Contour) -> tuple[float, float]:
    """The left and right end of an outline."""
    return float(contour[:, :, 0].min()), float(contour[:, :, 0].max())


def _area(contour: Contour) -> float:
    """The area inside a contour's corners, below 0 where it runs the other way round."""
    x, y = contour[:, 0, 0], contour[:, 0, 1]
    return float((x * np.roll(y, -1) - y * np.roll(x, -1)).sum() / 2)
