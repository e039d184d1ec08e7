"""Red, green and blue to the encoder's luma and chroma, only where a picture has changed.

8-bit 4:2:0 as ITU-R BT.709-6 has it (items 3.2 to 3.5), limited range; a chroma sample is the mean of its 2 x 2
pixels. It is worked out in whole numbers, so all machines give the same samples: the exact values, rounded
(within 0.51). NumPy does it until so many pixels have been converted that it pays to load Numba's kernel, which gives
the same samples: a picture takes a quarter of the time that swscale takes, a small part of one less.
"""

from collections.abc import Iterable

import av
import numpy as np
from numpy.typing import NDArray

from renderer.video.bt709 import BITS, BLUENESS, LUMA, REDNESS, Plane, Words
from renderer.video.pixels import PixelBox, Pixels

PAYS = 30_000_000
"""Pixels that NumPy converts in a third of the second that Numba takes to load: from then on Numba does it, in a
quarter of the time. Drafts seldom come so far, films of full size within half a minute."""
BAND = 1 << 15
"""Pixels that NumPy converts at once: what it works on stays in the processor's cache."""


class Planes:
    """One frame for the encoder, kept and changed in place."""

    def __init__(self, width: int, height: int) -> None:
        self.frame = av.VideoFrame(width, height, "yuv420p")
        self._samples = [_view(plane) for plane in self.frame.planes]
        self.convert = convert
        self.converted = 0

    def update(self, pixels: Pixels, boxes: Iterable[PixelBox]) -> None:
        """Convert the given boxes of a picture; their sides are even."""
        words = pixels.view(np.uint32)[..., 0]
        luma, blueness, redness = self._samples
        for box in boxes:
            self.convert(words, luma, blueness, redness, *box)
            self.converted += box.area
        if self.converted > PAYS and self.convert is convert:
            from renderer.video.kernels import convert_fast

            self.convert = convert_fast


def _view(plane: av.video.plane.VideoPlane) -> NDArray[np.uint8]:
    """A plane's samples as an array that shares its memory, rows as long as they lie there."""
    return np.frombuffer(memoryview(plane), np.uint8).reshape(-1, plane.line_size)


def convert(
    words: Words, luma: Plane, blueness: Plane, redness: Plane, left: int, top: int, right: int, bottom: int
) -> None:
    """Fill a box of the planes from pixels as whole words, red lowest; its sides are even."""
    rows = max(2, BAND // max(1, right - left) & ~1)
    for start in range(top, bottom, rows):
        end = min(start + rows, bottom)
        pixels = words[start:end, left:right]
        luma[start:end, left:right] = _luma(pixels)
        place = np.s_[start // 2 : end // 2, left // 2 : right // 2]
        blueness[place], redness[place] = _chromas(pixels)


def _luma(pixels: Words) -> NDArray[np.integer]:
    value = (pixels & 255) * np.uint32(LUMA[0])
    value += (pixels >> 8 & 255) * np.uint32(LUMA[1])
    value += (pixels >> 16 & 255) * np.uint32(LUMA[2])
    value += np.uint32((16 << BITS) + (1 << BITS - 1))
    value >>= BITS
    return value


def _chromas(pixels: Words) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
    """Both chromas of each 2 x 2 pixels; red and blue are summed side by side in one word."""
    outer, inner = ((part[::2] + part[1::2]) for part in (pixels & 0xFF00FF, pixels >> 8 & 255))
    outer, inner = (part[:, ::2] + part[:, 1::2] for part in (outer, inner))
    red, green, blue = (part.view(np.int32) for part in (outer & 0xFFFF, inner, outer >> 16))
    grey = (128 << BITS + 2) + (1 << BITS + 1)
    one, other = (
        red * np.int32(weights[0]) + green * np.int32(weights[1]) + blue * np.int32(weights[2]) + grey
        >> BITS + 2
        for weights in (BLUENESS, REDNESS)
    )
    return one, other
