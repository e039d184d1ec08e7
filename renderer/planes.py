"""Red, green and blue to the encoder's luma and chroma, only where a picture has changed.

8-bit 4:2:0 as ITU-R BT.709 has it, limited range; a chroma sample is the mean of its 2 x 2 pixels. swscale
converts, with the box filter, so each 2 x 2 pixels stand for themselves and a part converts to the same
samples as the whole.
"""

from collections.abc import Iterable

import av
import numpy as np
from av.video.reformatter import ColorRange, Colorspace, Interpolation, VideoReformatter
from numpy.typing import NDArray

from renderer.pixels import Box, Pixels

BOX_FILTER = Interpolation.AREA | Interpolation.ACCURATE_RND | Interpolation.FULL_CHR_H_INP
"""swscale's means over 2 x 2 pixels, rounded to the nearest: within 0.51 levels of the exact value."""

STEPS = (*range(64, 512, 64), *range(512, 8192, 128))
"""Widths of the parts that are converted: a converter is set up for each, so there are few."""
BAND = 64
"""Rows that are converted at a time: they stay in the processor's cache."""


class Planes:
    """One frame for the encoder, kept and changed in place."""

    def __init__(self, width: int, height: int) -> None:
        self.frame = av.VideoFrame(width, height, "yuv420p")
        self._bounds = Box(0, 0, width, height)
        self._samples = [_view(plane) for plane in self.frame.planes]
        self._converters: dict[tuple[int, ...], VideoReformatter] = {}

    def update(self, pixels: Pixels, boxes: Iterable[Box]) -> None:
        """Convert the given boxes of a picture; their sides are even."""
        for box in boxes:
            left, right = _stretch(box.left, box.right, self._bounds.right)
            for top in range(box.top, box.bottom, BAND):
                bottom = min(top + BAND, self._bounds.bottom)
                self._convert(pixels, Box(left, max(0, bottom - BAND), right, bottom))

    def _convert(self, pixels: Pixels, box: Box) -> None:
        part = np.ascontiguousarray(pixels[box.top : box.bottom, box.left : box.right])
        converter = self._converters.setdefault(part.shape, VideoReformatter())
        converted = converter.reformat(
            av.VideoFrame.from_numpy_buffer(part, format="rgba"),
            format="yuv420p",
            src_colorspace=Colorspace.ITU709,
            dst_colorspace=Colorspace.ITU709,
            src_color_range=ColorRange.JPEG,
            dst_color_range=ColorRange.MPEG,
            interpolation=BOX_FILTER,
            threads=1,
        )
        for samples, plane, share in zip(self._samples, converted.planes, (1, 2, 2), strict=True):
            rows = slice(box.top // share, box.bottom // share)
            columns = slice(box.left // share, box.right // share)
            samples[rows, columns] = _view(plane)


def _view(plane: av.video.plane.VideoPlane) -> NDArray[np.uint8]:
    """A plane's samples as an array that shares its memory."""
    rows: NDArray[np.uint8] = np.frombuffer(memoryview(plane), np.uint8).reshape(-1, plane.line_size)
    return rows[: plane.height, : plane.width]


def _stretch(start: int, end: int, limit: int) -> tuple[int, int]:
    length = next((step for step in STEPS if step >= end - start), limit)
    if length >= limit:
        return 0, limit
    start = min(start, limit - length)
    return start, start + length
