"""From one picture to another in the same place, and pictures that come or go as a whole."""

from collections.abc import Iterable

from scenes.draw.look import WIDE
from scenes.draw.shapes import PIXEL, FilledShape


def faded(picture: Iterable[FilledShape], opacity: float) -> list[FilledShape]:
    """The same shapes, their opacity times `opacity`; the same objects at 1, none at 0."""
    if opacity >= 1:
        return list(picture)
    return [shape.placed(shape.points, opacity) for shape in picture] if opacity > 0 else []


def cross_fade(
    before: Iterable[FilledShape], after: Iterable[FilledShape], share: float
) -> list[FilledShape]:
    """Shapes fade over each other, texts one after the other."""
    drawn: list[FilledShape] = []
    for shape in before:
        drawn += [shape] if shape.text is None else faded([shape], 1 - 2 * share)
    for shape in after:
        drawn += faded([shape], share if shape.text is None else 2 * share - 1)
    return drawn


Box = tuple[float, float, float, float]
"""Left, top, right and bottom in pixels."""


def box_of(shape: FilledShape) -> Box:
    """What a shape covers; it must have points."""
    left, low, right, high = shape.extent
    x, y = WIDE.width / 2, WIDE.height / 2
    return left / PIXEL + x, y - high / PIXEL, right / PIXEL + x, y - low / PIXEL


def meet(one: Box, other: Box, apart: float = 0.0) -> bool:
    """Whether two boxes come nearer to each other than `apart` pixels."""
    return (
        one[0] < other[2] + apart
        and other[0] < one[2] + apart
        and one[1] < other[3] + apart
        and other[1] < one[3] + apart
    )


def clear_of(picture: Iterable[FilledShape], before: Iterable[FilledShape]) -> list[FilledShape]:
    """A picture without the texts that what is painted before it would cover in part."""
    covered = [box_of(shape) for shape in before if len(shape.points)]
    return [
        shape
        for shape in picture
        if not (shape.text and len(shape.points) and any(meet(box_of(shape), box, 6.0) for box in covered))
    ]


def part_texts(
    picture: Iterable[FilledShape], before: Iterable[FilledShape], apart: float = 4.0
) -> tuple[list[FilledShape], list[FilledShape]]:
    """A picture without the texts that would meet texts of what is painted before it, and those texts."""
    taken = [box_of(shape) for shape in before if shape.text and len(shape.points)]
    stays: list[FilledShape] = []
    goes: list[FilledShape] = []
    for shape in picture:
        hidden = shape.text and len(shape.points) and any(meet(box_of(shape), box, apart) for box in taken)
        (goes if hidden else stays).append(shape)
    return stays, goes


def part_numbers(
    picture: Iterable[FilledShape], before: Iterable[FilledShape], beside: float
) -> tuple[list[FilledShape], list[FilledShape]]:
    """A picture without the numbers that stand on a level with texts of what is painted before it and nearer beside
    them than so many pixels, and those numbers."""
    taken = [box_of(shape) for shape in before if shape.text and len(shape.points)]
    wide = [(left - beside, top, right + beside, bottom) for left, top, right, bottom in taken]
    stays: list[FilledShape] = []
    goes: list[FilledShape] = []
    for shape in picture:
        hidden = (shape.text or "").isdecimal() and any(meet(box_of(shape), box) for box in wide)
        (goes if hidden else stays).append(shape)
    return stays, goes
