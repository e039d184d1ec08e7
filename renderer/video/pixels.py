"""Pictures as pixels, and boxes of them: where a picture has changed."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Pixels = NDArray[np.uint8]
"""One picture, (height, width, 3 or 4): rows from the top; red, green, blue, and alpha, which is ignored."""

MOST_APART = 100
"""Where more shapes change than this, those at one height are taken together."""
MOST_RECTANGLES = 6
"""Damage in more pieces is drawn together: each piece costs a search through the picture's shapes."""
PIECE_COST = 4000
"""Pixels that could be painted in the time that one more rectangle takes."""


class PixelBox(NamedTuple):
    """Whole pixels, half-open."""

    left: int
    top: int
    right: int
    bottom: int

    @property
    def area(self) -> int:
        """Pixels in it; none if it is turned inside out."""
        return max(0, self.right - self.left) * max(0, self.bottom - self.top)

    def joined(self, other: "PixelBox") -> "PixelBox":
        """The smallest box around both."""
        return PixelBox(
            min(self.left, other.left),
            min(self.top, other.top),
            max(self.right, other.right),
            max(self.bottom, other.bottom),
        )

    def within(self, other: "PixelBox") -> "PixelBox":
        """What of it lies in another one."""
        return PixelBox(
            max(self.left, other.left),
            max(self.top, other.top),
            min(self.right, other.right),
            min(self.bottom, other.bottom),
        )

    def meets(self, other: "PixelBox") -> bool:
        """Whether they share a pixel."""
        return (
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
        )

    def even(self) -> "PixelBox":
        """Grown to even pixels, for chroma samples of 2 x 2."""
        return PixelBox(
            self.left & ~1, self.top & ~1, self.right + (self.right & 1), self.bottom + (self.bottom & 1)
        )


NOWHERE = PixelBox(0, 0, 0, 0)


def merge_boxes(boxes: Sequence[PixelBox]) -> list[PixelBox]:
    """Few boxes that hold all of these, with little between them."""
    merged: list[PixelBox] = []
    for box in boxes if len(boxes) <= MOST_APART else _levels(boxes):
        while merged:
            waste, nearest = min((_waste(box, other), other) for other in merged)
            if waste > PIECE_COST and len(merged) < MOST_RECTANGLES:
                break
            merged.remove(nearest)
            box = box.joined(nearest)
        merged.append(box)
    return merged


def _levels(boxes: Sequence[PixelBox]) -> list[PixelBox]:
    """One box around all those that share rows of pixels, from the top down."""
    levels: list[PixelBox] = []
    for box in sorted(boxes, key=lambda box: box.top):
        if levels and box.top < levels[-1].bottom:
            levels[-1] = levels[-1].joined(box)
        else:
            levels.append(box)
    return levels


def _waste(box: PixelBox, other: PixelBox) -> int:
    """Pixels around both that are in neither, less those that are in both."""
    left, top, right, bottom = box
    other_left, other_top, other_right, other_bottom = other
    width = (right if right > other_right else other_right) - (left if left < other_left else other_left)
    height = (bottom if bottom > other_bottom else other_bottom) - (top if top < other_top else other_top)
    area = (right - left) * (bottom - top)
    return width * height - area - (other_right - other_left) * (other_bottom - other_top)
