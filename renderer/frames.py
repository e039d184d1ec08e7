"""Pictures to pixels: Manim's own camera draws a segment's picture at any time, without a scene and without a
file."""

from collections.abc import Iterator
from fractions import Fraction

import numpy as np
from manim import Camera, ManimColor
from numpy.typing import NDArray

from renderer.indices import frame_index_to_seconds
from scenes.look import HEIGHT, WIDTH
from scenes.segment import Moment, Picture, Segment

UNITS = 8.0
"""Manim's frame height; a picture of another shape than 16:9 shows all of it and ground beside it."""

Pixels = NDArray[np.uint8]


class Painter:
    """Draws pictures at one size. The array that it returns is drawn over by the next picture."""

    def __init__(self, width: int, height: int, ground: str) -> None:
        frame_height = max(UNITS, UNITS * WIDTH / HEIGHT * height / width)
        self._camera = Camera(
            pixel_width=width,
            pixel_height=height,
            frame_height=frame_height,
            frame_width=frame_height * width / height,
            background_color=ManimColor(ground),
        )
        self._last: Picture | None = None

    def paint(self, picture: Picture) -> Pixels:
        """The picture's pixels, shape (height, width, 4), RGBA."""
        if self._last is None or not _same(picture, self._last):
            self._camera.reset()
            self._camera.capture_mobjects(picture)
            self._last = picture
        pixels: Pixels = self._camera.pixel_array
        return pixels


def _same(picture: Picture, other: Picture) -> bool:
    """Whether two pictures are made of the same objects."""
    return len(picture) == len(other) and all(a is b for a, b in zip(picture, other, strict=True))


def draw_frames(
    segment: Segment, width: int, height: int, frames_per_second: Fraction, frame_indices: range
) -> Iterator[Pixels]:
    """The frames of a segment with these indices, one at a time; each stays valid until the next is asked
    for."""
    painter = Painter(width, height, segment.look.ground)
    for frame_index in frame_indices:
        seconds = frame_index_to_seconds(frame_index, frames_per_second)
        yield painter.paint(segment.picture(Moment(seconds, 1 / frames_per_second)))
