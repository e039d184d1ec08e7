"""Pixels with alpha to straight colour and alpha, as films that are laid over others have them.

Cairo's colours are multiplied by their alpha; here they are divided by it again. Where nothing is painted a colour does
not show, but a coder smears it over what does. So a block that is painted in part is filled with the mean of what is
painted in it, and nothing dark or bright stands beside an edge. ITU-R BT.709-6, limited range.
"""

from collections.abc import Iterable

import av
import numpy as np
from numpy.typing import NDArray

from renderer.video.bt709 import BITS, BLUENESS, LUMA, REDNESS, Words
from renderer.video.kernels import compiled
from renderer.video.pixels import PixelBox, Pixels

BLOCK = 8
"""Pixels to the side of what is coded together."""
Samples = NDArray[np.uint16]
Bytes = NDArray[np.uint8]


class StraightPlanes:
    """Luma, two chromas and alpha at full size, 10 bits each, changed in place; alpha is the 8 bits of the picture,
    spread to 10."""

    def __init__(self, width: int, height: int) -> None:
        self.width, self.height = width, height
        self.planes = tuple(np.zeros((height, width), np.uint16) for _ in range(4))

    def update(self, pixels: Pixels, boxes: Iterable[PixelBox]) -> list[PixelBox]:
        """Convert the blocks that the given boxes of a picture touch; those blocks as boxes."""
        words = pixels.view(np.uint32)[..., 0]
        whole = PixelBox(0, 0, self.width, self.height)
        grown = [
            PixelBox(
                box.left // BLOCK * BLOCK,
                box.top // BLOCK * BLOCK,
                -(-box.right // BLOCK) * BLOCK,
                -(-box.bottom // BLOCK) * BLOCK,
            ).within(whole)
            for box in boxes
        ]
        seen = [box for box in grown if box.area]
        luma, blueness, redness, alpha = self.planes
        for box in seen:
            _straighten(words, luma, blueness, redness, alpha, *box)
        return seen


class Frame:
    """A frame of 10-bit planes for the encoder, kept and filled again."""

    def __init__(self, width: int, height: int) -> None:
        self._frame = av.VideoFrame(width, height, "yuva444p10le")
        self._lines = [
            np.frombuffer(memoryview(plane), np.uint16).reshape(-1, plane.line_size // 2)[:height, :width]
            for plane in self._frame.planes
        ]

    def filled(self, planes: Iterable[Samples]) -> av.VideoFrame:
        """The frame with these samples."""
        for lines, plane in zip(self._lines, planes, strict=True):
            lines[:] = plane
        return self._frame


class SmallFrame:
    """A frame of 8-bit 4:2:0 with alpha, kept and changed in place; a chroma sample is the mean of its 2 x 2 pixels."""

    def __init__(self, width: int, height: int) -> None:
        self._frame = av.VideoFrame(width, height, "yuva420p")
        self._lines = [
            np.frombuffer(memoryview(plane), np.uint8).reshape(-1, plane.line_size)
            for plane in self._frame.planes
        ]

    def changed(self, planes: tuple[Samples, ...], boxes: Iterable[PixelBox]) -> av.VideoFrame:
        """The frame with what 10-bit planes hold in these boxes, whose sides are even."""
        luma, blueness, redness, alpha = self._lines
        for left, top, right, bottom in boxes:
            y, b, r, a = (plane[top:bottom, left:right] for plane in planes)
            luma[top:bottom, left:right] = (y + 2) >> 2
            alpha[top:bottom, left:right] = a >> 2
            for lines, part in ((blueness, b), (redness, r)):
                four = part[::2, ::2] + part[1::2, ::2] + part[::2, 1::2] + part[1::2, 1::2]
                lines[top // 2 : bottom // 2, left // 2 : right // 2] = (four + 8) >> 4
        return self._frame


@compiled
def _straighten(
    words: Words,
    luma: Samples,
    blueness: Samples,
    redness: Samples,
    alpha: Samples,
    left: int,
    top: int,
    right: int,
    bottom: int,
) -> None:
    """Fill whole blocks of the planes from pixels as whole words, red lowest, alpha highest."""
    half = np.int64(1) << (BITS - 1)
    grey = (np.int64(512) << BITS) + half
    for y0 in range(top, bottom, BLOCK):
        for x0 in range(left, right, BLOCK):
            reds, greens, blues, whole = np.int64(0), np.int64(0), np.int64(0), np.int64(0)
            y1, x1 = min(y0 + BLOCK, bottom), min(x0 + BLOCK, right)
            for y in range(y0, y1):
                for x in range(x0, x1):
                    word = np.int64(words[y, x])
                    reds += word & 255
                    greens += word >> 8 & 255
                    blues += word >> 16 & 255
                    whole += word >> 24 & 255
            if whole > 0:
                mean_red = min(np.int64(255), (reds * 255 + whole // 2) // whole)
                mean_green = min(np.int64(255), (greens * 255 + whole // 2) // whole)
                mean_blue = min(np.int64(255), (blues * 255 + whole // 2) // whole)
            else:
                mean_red, mean_green, mean_blue = np.int64(0), np.int64(0), np.int64(0)
            for y in range(y0, y1):
                for x in range(x0, x1):
                    word = np.int64(words[y, x])
                    a = word >> 24 & 255
                    if a == 0:
                        red, green, blue = mean_red, mean_green, mean_blue
                    elif a == 255:
                        red, green, blue = word & 255, word >> 8 & 255, word >> 16 & 255
                    else:
                        red = min(np.int64(255), ((word & 255) * 255 + a // 2) // a)
                        green = min(np.int64(255), ((word >> 8 & 255) * 255 + a // 2) // a)
                        blue = min(np.int64(255), ((word >> 16 & 255) * 255 + a // 2) // a)
                    value = LUMA[0] * red + LUMA[1] * green + LUMA[2] * blue
                    luma[y, x] = ((np.int64(64) << BITS) + 4 * value + half) >> BITS
                    value = BLUENESS[0] * red + BLUENESS[1] * green + BLUENESS[2] * blue
                    blueness[y, x] = (grey + 4 * value) >> BITS
                    value = REDNESS[0] * red + REDNESS[1] * green + REDNESS[2] * blue
                    redness[y, x] = (grey + 4 * value) >> BITS
                    alpha[y, x] = a << 2 | a >> 6
