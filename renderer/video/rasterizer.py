"""Pictures to pixels, at any time, without a scene and without a file: what Manim's camera would draw, to the
last pixel, but only where it differs from the picture before.

Each shape's cairo path is built once, in device coordinates. From one picture to the next the shapes that
came, went or changed places give the damage: a few rectangles. There the ground is put back and the shapes
that reach in are painted again, in order.

Cairo's antialiasing of a slanted edge changes when a clip cuts it from the side, because its rows are then
sampled in another way; a clip along whole rows changes nothing. So a rectangle is painted on a second surface and
copied from there: shapes that reach in are painted as wide as they are and only cut above and below.
Plain upright rectangles may be cut anywhere.
"""

from collections.abc import Sequence
from itertools import compress, count
from math import ceil, floor, isfinite, nan
from operator import is_not
from typing import TYPE_CHECKING, NamedTuple, TypeAlias
from weakref import WeakKeyDictionary

import cairo
import numpy as np

from renderer.video.pixels import NOWHERE, PixelBox, Pixels, merge_boxes
from scenes.draw.look import WIDE, Canvas
from scenes.draw.shapes import FilledShape, Outline, red_green_blue, view_of

if TYPE_CHECKING:
    from scenes.draw.segment import Picture

Context: TypeAlias = "cairo.Context[cairo.ImageSurface]"

Paths: TypeAlias = "WeakKeyDictionary[Outline, cairo.Path | None]"
"""The paths of outlines in device coordinates, None where they have been painted once."""

WHOLE_ROWS = 0.85
"""A share of the picture's width from which on whole rows are painted."""


class PixelTransform(NamedTuple):
    """How Manim's units fall on the pixels of a frame: x and y times `scale`, plus `shift`; the same as a
    matrix."""

    frame: PixelBox
    scale: tuple[float, float]
    shift: tuple[float, float]
    matrix: cairo.Matrix


def transform_to_pixels(canvas: Canvas, width: int, height: int) -> PixelTransform:
    """The whole canvas, in the middle of a frame of any size."""
    view = view_of(canvas, width, height)
    x_scale, y_scale = width / view.width, -(height / view.height)
    shift = width / 2 - view.x * x_scale, height / 2 - view.y * y_scale
    matrix = cairo.Matrix(x_scale, 0, 0, y_scale, *shift)
    return PixelTransform(PixelBox(0, 0, width, height), (x_scale, y_scale), shift, matrix)


class PaintedShape:
    """One shape, ready to be painted: its box and, once its outline has been painted twice, its path in device
    coordinates. What moves is painted once only; what fades keeps its path, which lies in `paths`."""

    __slots__ = ("_fill", "_path", "_paths", "_plain", "box", "shape", "transform")

    def __init__(self, shape: FilledShape, transform: PixelTransform, paths: Paths) -> None:
        self.shape = shape
        self.transform = transform
        self._path: cairo.Path | None = None
        self._paths = paths
        self._plain: bool | None = None
        red, green, blue, alpha = shape.fill
        self._fill = blue, green, red, alpha  # blue comes first, as in Manim's surfaces
        self.box = self._find_box()

    def _find_box(self) -> PixelBox:
        """The pixels that it may touch: around all points, handles too."""
        if len(self.shape.points) < 4:
            return NOWHERE
        left, low, right, high = self.shape.extent
        (x_scale, y_scale), (x_shift, y_shift) = self.transform.scale, self.transform.shift
        if not all(map(isfinite, (left, low, right, high))):
            return NOWHERE
        box = PixelBox(
            floor(left * x_scale + x_shift - 1),
            floor(high * y_scale + y_shift - 1),
            ceil(right * x_scale + x_shift + 1),
            ceil(low * y_scale + y_shift + 1),
        )
        return box.within(self.transform.frame) if box.meets(self.transform.frame) else NOWHERE

    @property
    def plain(self) -> bool:
        """Whether all edges are upright or level."""
        if self._plain is None:
            curves = self.shape.points[:, :2].reshape(-1, 4, 2)
            level = (curves == curves[:, :1]).all(axis=1).any(axis=1).all()
            self._plain = bool(level)
        return self._plain

    def cut_by(self, box: PixelBox) -> bool:
        """Whether the box's left or right side cuts it where that would show."""
        return (self.box.left < box.left or self.box.right > box.right) and not self.plain

    def paint(self, context: Context) -> None:
        """Paint it as Manim does. The context's matrix is left as identity."""
        context.new_path()
        if self._path is None:
            self._path = self._find_path(context)
        else:
            context.append_path(self._path)
        context.set_source_rgba(*self._fill)
        context.fill()

    def _find_path(self, context: Context) -> cairo.Path | None:
        """Put its path into the context; the path, if its outline was painted before."""
        outline = self.shape.outline
        path = self._paths.get(outline)
        if path is not None:
            context.append_path(path)
            return path
        seen = outline in self._paths
        context.set_matrix(self.transform.matrix)
        _trace(context, self.shape)
        context.identity_matrix()
        path = self._paths[outline] = context.copy_path() if seen else None
        return path


def _trace(context: Context, shape: FilledShape) -> None:
    """A shape's outline as the context's path in Manim's units. A new part begins where a curve doesn't start where
    the last one ended; a part that ends where it began is closed."""
    curve_to = context.curve_to
    last_x = last_y = begin_x = begin_y = nan
    for x0, y0, x1, y1, x2, y2, x3, y3 in shape.points[:, :2].reshape(-1, 8).tolist():
        if (x0 != last_x or y0 != last_y) and not (_same(last_x, x0) and _same(last_y, y0)):
            if _same(begin_x, last_x) and _same(begin_y, last_y):
                context.close_path()
            context.move_to(x0, y0)
            begin_x, begin_y = x0, y0
        curve_to(x1, y1, x2, y2, x3, y3)
        last_x, last_y = x3, y3
    if _same(begin_x, last_x) and _same(begin_y, last_y):
        context.close_path()


def _same(one: float, other: float) -> bool:
    """Whether Manim takes two coordinates for the same, as `numpy.isclose` does with its own `rtol`."""
    return one == other or (abs(one - other) <= 1e-6 + 1e-5 * abs(other) and isfinite(one - other))


class Painter:
    """Draws pictures of one size one after another. The array that it returns is drawn over by the next
    picture."""

    def __init__(self, width: int, height: int, ground: str | None, canvas: Canvas = WIDE) -> None:
        """Without a `ground` colours are multiplied by their alpha."""
        self.transform = transform_to_pixels(canvas, width, height)
        self.frame = self.transform.frame
        self.pixels: Pixels = np.zeros((height, width, 4), np.uint8)
        self._ground: tuple[float, float, float] | None = None
        if ground is not None:
            red, green, blue = red_green_blue(ground)
            self._ground = blue, green, red
            self.pixels[:] = *(round(255 * share) for share in (red, green, blue)), 255
        self._context = _surface(self.pixels)
        self._spare: Pixels = np.zeros_like(self.pixels)
        self._spare_context = _surface(self._spare)
        self._picture: Picture = []
        self._painted: list[PaintedShape] = []
        self._paths: Paths = WeakKeyDictionary()

    def paint(self, picture: "Picture") -> Pixels:
        """The picture's pixels, shape (height, width, 4), RGBA."""
        self.repaint(picture)
        return self.pixels

    def repaint(self, picture: "Picture") -> list[PixelBox]:
        """Turn `pixels` into the picture; the boxes outside of which nothing has changed."""
        start, end = find_difference(self._picture, picture)
        before = self._painted[start : len(self._painted) - end]
        known = {id(painted.shape): painted for painted in before}
        fresh = picture[start : len(picture) - end]
        now = [known.get(id(shape)) or PaintedShape(shape, self.transform, self._paths) for shape in fresh]
        self._painted = [*self._painted[:start], *now, *self._painted[len(self._painted) - end :]]
        self._picture = picture.copy()
        boxes = [self._fitting(box) for box in merge_boxes(find_damage(before, now))]
        for box in boxes:
            self._fill(box)
        return boxes

    def _put_ground(self, context: Context) -> None:
        if self._ground is not None:
            context.set_source_rgb(*self._ground)
            context.paint()
            return
        context.set_operator(cairo.OPERATOR_CLEAR)
        context.paint()
        context.set_operator(cairo.OPERATOR_OVER)

    def _fitting(self, box: PixelBox) -> PixelBox:
        """A box with even sides; nearly as wide as the picture, it is as wide: whole rows need no copy."""
        box = box.even()
        return box if box.right - box.left < WHOLE_ROWS * self.frame.right else self._rows(box)

    def _rows(self, box: PixelBox) -> PixelBox:
        return PixelBox(0, box.top, self.frame.right, box.bottom)

    def _fill(self, box: PixelBox) -> None:
        """Paint what shows in a box, ground first."""
        left, top, right, bottom = box
        inside = [
            painted
            for painted in self._painted  # the loop that runs most: box.meets, without the calls
            if (its := painted.box)[0] < right and left < its[2] and its[1] < bottom and top < its[3]
        ]
        rows = self._rows(box)
        straight = box == rows
        context = self._context if straight else self._spare_context
        clip = box
        _clip(context, clip)
        self._put_ground(context)
        for painted in inside:
            needed = rows if painted.cut_by(box) else box
            if needed is not clip:
                clip = needed
                _clip(context, clip)
            painted.paint(context)
        if not straight:
            place = np.s_[box.top : box.bottom, box.left : box.right]
            self.pixels[place] = self._spare[place]


def _surface(pixels: Pixels) -> Context:
    height, width, _ = pixels.shape
    return cairo.Context(cairo.ImageSurface.create_for_data(pixels.data, cairo.FORMAT_ARGB32, width, height))


def _clip(context: Context, box: PixelBox) -> None:
    context.reset_clip()
    context.new_path()
    context.rectangle(box.left, box.top, box.right - box.left, box.bottom - box.top)
    context.clip()


def find_difference(before: "Picture", now: "Picture") -> tuple[int, int]:
    """How many shapes are the same at the start of two pictures, and then at their ends."""
    shorter = min(len(before), len(now))
    start = next(compress(count(), map(is_not, before, now)), shorter)
    end = next(compress(count(), map(is_not, reversed(before), reversed(now))), shorter)
    return start, min(end, shorter - start)


def find_damage(before: Sequence[PaintedShape], now: Sequence[PaintedShape]) -> list[PixelBox]:
    """The boxes of all shapes that came or went, and of those that changed places in the order of
    painting."""
    were, are = set(before), set(now)
    damage = [painted.box for painted in now if painted not in were] + [
        painted.box for painted in before if painted not in are
    ]
    stayed = [painted for painted in now if painted in were]
    order = [painted for painted in before if painted in are]
    if stayed != order:
        damage += [painted.box for painted, other in zip(stayed, order, strict=True) if painted is not other]
    return [box for box in damage if box is not NOWHERE]
