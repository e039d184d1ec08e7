"""Where `wheel` stands: the circle, and what is told beside it, on a canvas that is not wide under it."""

from dataclasses import dataclass
from math import cos, pi, sin

import numpy as np

from scenes.draw.look import Canvas
from scenes.draw.paths import Contour

SKY, RIM = 351.0, 396.0
"""Radii of the sky and of the numbers round it, at scale 1."""
SIDE, COLUMN = 424.0, 490.0
"""From the circle's middle to the left edge, and to what is told beside it."""
WIDE_ENOUGH, NARROWER = 1700.0, 0.86
"""A canvas that is not so wide has a smaller circle."""
COLUMN_MOST = 1200.0
LOW_FIRST, LOW_SIDE = 74.0, 12.0
"""On a slide, from the head down to the first sum, and how far the circle moves in, for its numbers."""
ABOVE, BELOW = 436.0, 236.0
"""What the circle needs above its middle with the numbers, and what is told under it needs, in pixels."""
ROUND = 840.0
"""The height of the circle with its numbers."""


@dataclass(frozen=True)
class WheelLayout:
    """Where all of it stands, in pixels."""

    x: float
    y: float
    scale: float
    left: float
    right: float
    """The room for what is told."""
    beside: bool
    top: float
    """The baseline of the first sum."""

    @property
    def sky(self) -> float:
        return SKY * self.scale

    @property
    def rim(self) -> float:
        return RIM * self.scale

    @property
    def number_size(self) -> float:
        """The type size of the numbers round the circle."""
        return max(34.0, 50.0 * self.scale)

    @property
    def number_room(self) -> float:
        """How wide they may be."""
        return 2 * (SIDE - RIM) * self.scale

    def point(self, turns: float, radius: float) -> tuple[float, float]:
        """A place round the circle, clockwise from the top, one turn a bar."""
        angle = 2 * pi * turns
        return self.x + radius * sin(angle), self.y - radius * cos(angle)

    def bent(self, points: Contour) -> Contour:
        """Points (turns, radius) laid round the circle."""
        angle = 2 * pi * points[:, 0]
        across, up = points[:, 1] * np.sin(angle), points[:, 1] * np.cos(angle)
        return np.stack([self.x + across, self.y - up], axis=1)


def lay_wheel(canvas: Canvas) -> WheelLayout:
    """Lay out the wheel on a canvas."""
    if canvas.width > canvas.height * 1.2:
        scale = 1.0 if canvas.width >= WIDE_ENOUGH else NARROWER
        middle, first = 600.0, 318.0
        if canvas.low < 1:
            head = canvas.lines[-1] + 16
            scale = (canvas.foot - head) / ROUND
            middle, first = head + ABOVE * scale, head + LOW_FIRST
        spare = max(0.0, canvas.right - canvas.left - SIDE - COLUMN - COLUMN_MOST)
        x = canvas.left + SIDE * scale + spare / 3
        x += LOW_SIDE if canvas.low < 1 else 0
        left = x + COLUMN * scale + spare / 3
        return WheelLayout(x, middle, scale, left, min(canvas.right, left + COLUMN_MOST), True, first)
    head = canvas.lines[-1] + 16
    scale = min(1.04, (canvas.foot - head - BELOW) / ROUND, (canvas.right - canvas.left) / (2 * SIDE))
    y = head + ABOVE * scale
    spare = canvas.foot - (y + (ROUND - ABOVE) * scale + BELOW)
    top = y + spare / 3 + (ROUND - ABOVE) * scale + 132 + spare / 3
    x = (canvas.left + canvas.right) / 2
    return WheelLayout(x, y + spare / 3, scale, canvas.left, canvas.right, False, top)
