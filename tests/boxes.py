"""The texts of a picture as boxes, to check that none meet, none is too small, none leaves the room for text."""

from collections.abc import Iterable
from fractions import Fraction
from itertools import combinations
from typing import NamedTuple

from scenes.draw.look import WIDE, Canvas
from scenes.draw.segment import Moment, Segment
from scenes.draw.shapes import PIXEL, FilledShape

FRAME = Fraction(1, 60)
SEEN = 0.1
"""Text fainter than this is on its way in or out."""
LEAST_SIZE = 34
"""Capitals are 0.66 of the size: 22 pixels."""
TIMES = 24
"""Evenly spread times at which a segment is looked at, beside its steps."""


class TextBox(NamedTuple):
    """What a line of text covers, in pixels of a 1920 x 1080 picture, y down."""

    text: str
    size: float
    left: float
    top: float
    right: float
    bottom: float


def text_boxes(picture: Iterable[FilledShape]) -> list[TextBox]:
    """The boxes of all texts that can be seen."""
    boxes = []
    for drawn in picture:
        if drawn.text and drawn.text.strip() and len(drawn.points) and drawn.fill_opacity >= SEEN:
            x = drawn.points[:, 0] / PIXEL + WIDE.width / 2
            y = WIDE.height / 2 - drawn.points[:, 1] / PIXEL
            boxes.append(TextBox(drawn.text, drawn.size_px, x.min(), y.min(), x.max(), y.max()))
    return boxes


def same(one: TextBox, other: TextBox) -> bool:
    """Whether one is the other, painted once more on top of what steps back."""
    places = zip(one[2:], other[2:], strict=True)
    return one.text == other.text and all(abs(a - b) < 0.5 for a, b in places)


def overlaps(boxes: Iterable[TextBox]) -> list[tuple[str, str]]:
    """The texts that meet, in pairs."""
    return [
        (a.text, b.text)
        for a, b in combinations(boxes, 2)
        if a.left < b.right and b.left < a.right and a.top < b.bottom and b.top < a.bottom and not same(a, b)
    ]


def faults(picture: Iterable[FilledShape], canvas: Canvas = WIDE) -> list[str]:
    """What is wrong with a picture's texts, in words; nothing if all stand well."""
    boxes = text_boxes(picture)
    found = [f"{a!r} and {b!r} meet" for a, b in overlaps(boxes)]
    for box in boxes:
        if box.size < LEAST_SIZE:
            found.append(f"{box.text!r} is {box.size} pixels")
        across = canvas.left - 0.5 <= box.left and box.right <= canvas.right + 0.5
        if not across or box.top < canvas.top - 0.5 or box.bottom > canvas.bottom + 0.5:
            found.append(f"{box.text!r} leaves the room for text: {box[2:]}")
    return found


def segment_faults(segment: Segment, count: int = TIMES) -> list[str]:
    """The faults of a segment's pictures at even distances, at each step and in the last frame, with their times."""
    length = segment.schedule.seconds
    times = [length * number / count for number in range(count)]
    times += [step.seconds for step in segment.schedule.steps if step.seconds < length]
    return [
        f"{float(seconds):.2f} s: {fault}"
        for seconds in (*times, length - FRAME)
        for fault in faults(segment.picture(Moment(seconds, FRAME)), segment.canvas)
    ]
