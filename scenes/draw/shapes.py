"""Shapes: the one place where pixels become Manim's units.

Everything is a filled outline without a stroke, so an edge stands exactly where its pixel is. A picture is a
list of shapes in the order in which they are painted; what does not change from frame to frame is the same
object. Manim itself is not needed for them: it takes long to load. `scenes/stage.py` makes its mobjects of them.
"""

from collections.abc import Iterable, Sequence
from functools import cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from scenes.draw.look import REGULAR, WIDE, Canvas
from scenes.draw.paths import Contour
from scenes.draw.text import Lettering, letter

Points = NDArray[np.float64]
"""An outline in Manim's units, shape (4 n, 3): four points a curve."""

Extent = tuple[float, float, float, float]
"""Left, low, right and high end in Manim's units."""

UNITS = 8.0
"""Manim's frame height."""
PIXEL = UNITS / WIDE.height
MIDDLE, TURNED = np.array([WIDE.width / 2, WIDE.height / 2]), np.array([PIXEL, -PIXEL])
"""Manim counts upwards, and from the middle of a wide picture, whatever the canvas."""


class View(NamedTuple):
    """What a frame shows, in Manim's units: its middle and its size."""

    x: float
    y: float
    width: float
    height: float


def view_of(canvas: Canvas, width: int, height: int) -> View:
    """What a frame of so many pixels shows so that the whole canvas is seen, in the middle and as large as can be."""
    shown_height = PIXEL * max(canvas.height, canvas.width * height / width)
    x, y = (np.array([canvas.width, canvas.height]) / 2 - MIDDLE) * TURNED
    return View(float(x), float(y), shown_height * width / height, shown_height)


class Words(NamedTuple):
    """A stretch of a line of text in one colour and weight."""

    text: str
    colour: str
    weight: int = REGULAR


Fill = tuple[float, float, float, float]
"""Red, green, blue and opacity, each 0 to 1."""


class Outline:
    """What is known of some points, once it has been asked for; shapes that share points share it."""

    __slots__ = ("__weakref__", "digest", "extent")

    def __init__(self, extent: Extent | None = None) -> None:
        self.extent = extent
        self.digest: bytes | None = None


class FilledShape:
    """A filled shape, never changed once it is made. `text` and its type size in pixels where it is text."""

    __slots__ = ("__weakref__", "digest", "fill", "outline", "points", "size_px", "text")

    points: Points
    fill: Fill
    outline: Outline
    text: str | None
    size_px: float
    digest: bytes | None
    """A hash of all that its pixels follow from, once that has been asked for."""

    def __init__(
        self,
        contours: Iterable[Contour],
        colour: str,
        opacity: float = 1.0,
        text: str | None = None,
        size: float = 0,
    ) -> None:
        self.fill = (*red_green_blue(colour), opacity)
        self.text = text
        self.size_px = size
        self.digest = None
        outlines = [contour.reshape(-1, 2) for contour in contours]
        flat = np.concatenate(outlines) if outlines else np.zeros((0, 2))
        points = np.zeros((len(flat), 3))
        np.multiply(flat - MIDDLE, TURNED, out=points[:, :2])
        self.points = points
        self.outline = Outline()

    @property
    def fill_opacity(self) -> float:
        """0 to 1."""
        return self.fill[3]

    @property
    def extent(self) -> Extent:
        """How far its points reach, handles too; there must be some."""
        if self.outline.extent is None:
            left, low, _ = np.minimum.reduce(self.points).tolist()
            right, high, _ = np.maximum.reduce(self.points).tolist()
            self.outline.extent = left, low, right, high
        return self.outline.extent

    def placed(self, points: Points, opacity: float = 1.0, extent: Extent | None = None) -> "FilledShape":
        """The same shape with another outline, its opacity times `opacity`; `extent` if it is known."""
        copy = FilledShape.__new__(FilledShape)
        copy.text, copy.size_px, copy.digest, copy.points = self.text, self.size_px, None, points
        copy.outline = self.outline if points is self.points else Outline(extent)
        red, green, blue, full = self.fill
        copy.fill = self.fill if opacity >= 1 else (red, green, blue, full * opacity)
        return copy


@cache
def red_green_blue(colour: str) -> tuple[float, float, float]:
    """A colour, `#RRGGBB`, as shares from 0 to 1."""
    red, green, blue = bytes.fromhex(colour.removeprefix("#"))
    return red / 255, green / 255, blue / 255


def draw(colour: str, *contours: Contour, opacity: float = 1.0) -> FilledShape:
    """One filled shape."""
    return FilledShape(contours, colour, opacity)


def moved(shape: FilledShape, right: float, opacity: float = 1.0, down: float = 0.0) -> FilledShape:
    """The same shape so many pixels further right and down, its opacity times `opacity`."""
    x, y = right * PIXEL, -down * PIXEL
    left, low, far, high = shape.extent if len(shape.points) else (0.0, 0.0, 0.0, 0.0)
    extent = left + x, low + y, far + x, high + y
    return shape.placed(shape.points + np.array([x, y, 0.0]), opacity, extent)


def across(shape: FilledShape) -> tuple[float, float]:
    """A shape's left and right end in pixels."""
    if not len(shape.points):
        return 0.0, 0.0
    left, _, right, _ = shape.extent
    return left / PIXEL + WIDE.width / 2, right / PIXEL + WIDE.width / 2


def place(lettering: Lettering, x: float, baseline: float) -> list[Contour]:
    """Move a line of text to where it begins."""
    return [contour + np.array([x, baseline]) for contour in lettering.contours]


def draw_text(
    text: str,
    x: float,
    baseline: float,
    size: float,
    colour: str,
    weight: int = REGULAR,
    anchor: float = 0.0,
    opacity: float = 1.0,
) -> FilledShape:
    """One line of text. `anchor` is the share of its width that lies left of `x`: 0 begins there, 1 ends
    there."""
    lettering = letter(text, size, weight)
    return FilledShape(place(lettering, x - anchor * lettering.width, baseline), colour, opacity, text, size)


def draw_words(
    words: Sequence[Words], x: float, baseline: float, size: float, opacity: float = 1.0
) -> list[FilledShape]:
    """A line of text whose stretches differ in colour or weight, from `x` on."""
    drawn = []
    for stretch in words:
        lettering = letter(stretch.text, size, stretch.weight)
        drawn.append(FilledShape(place(lettering, x, baseline), stretch.colour, opacity, stretch.text, size))
        x += lettering.width
    return drawn


def words_width(words: Sequence[Words], size: float) -> float:
    """How far such a line advances, in pixels."""
    return sum(letter(stretch.text, size, stretch.weight).width for stretch in words)
