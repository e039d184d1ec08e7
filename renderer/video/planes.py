"""Red, green and blue to the encoder's luma and chroma, only where a picture has changed.

8-bit 4:2:0 as ITU-R BT.709-6 has it (items 3.2 to 3.5), limited range; a chroma sample is the mean of its 2 x 2
pixels. It is worked out in whole numbers, so all machines give the same samples: the exact values, rounded
(within 0.51). Numba compiles it, once for an install; a picture takes a quarter of the time that swscale
takes, a small part of one less.
"""

from collections.abc import Callable, Iterable
from typing import TypeVar, cast

import av
import numpy as np
from numba import njit
from numpy.typing import NDArray

from renderer.video.pixels import PixelBox, Pixels

Words = NDArray[np.uint32]
Plane = NDArray[np.uint8]
Kernel = TypeVar("Kernel", bound=Callable[..., None])

BITS = 16
"""Of the weights' fractions."""


def _weights() -> tuple[tuple[int, int, int], ...]:
    """What red, green and blue of 0 to 255 give to luma (16 to 235) and to the two chromas (16 to 240); white
    gives the most luma and grey no chroma, exactly."""
    red, blue = 0.2126, 0.0722
    luma = np.array([red, 1 - red - blue, blue])
    rows = [219 * luma, 112 * (np.eye(3)[2] - luma) / (1 - blue), 112 * (np.eye(3)[0] - luma) / (1 - red)]
    weights = np.rint(np.array(rows) / 255 * (1 << BITS)).astype(int)
    weights[:, 1] += np.rint(np.array([219, 0, 0]) / 255 * (1 << BITS)).astype(int) - weights.sum(axis=1)
    return tuple((int(r), int(g), int(b)) for r, g, b in weights)


LUMA, BLUENESS, REDNESS = _weights()


class Planes:
    """One frame for the encoder, kept and changed in place."""

    def __init__(self, width: int, height: int) -> None:
        self.frame = av.VideoFrame(width, height, "yuv420p")
        self._samples = [_view(plane) for plane in self.frame.planes]

    def update(self, pixels: Pixels, boxes: Iterable[PixelBox]) -> None:
        """Convert the given boxes of a picture; their sides are even."""
        words = pixels.view(np.uint32)[..., 0]
        luma, blueness, redness = self._samples
        for box in boxes:
            _convert(words, luma, blueness, redness, *box)


def _view(plane: av.video.plane.VideoPlane) -> NDArray[np.uint8]:
    """A plane's samples as an array that shares its memory, rows as long as they lie there."""
    return np.frombuffer(memoryview(plane), np.uint8).reshape(-1, plane.line_size)


def compiled(function: Kernel) -> Kernel:
    """Compiled once for an install where that can be kept, else once a process."""
    try:
        return cast(Kernel, njit(cache=True)(function))
    except RuntimeError:  # neither the install nor a home can be written
        return cast(Kernel, njit(function))


@compiled
def _luma(pixels: Words, luma: Plane) -> None:
    """A row's luma."""
    for x in range(len(luma)):
        word = pixels[x]
        red, green, blue = np.int32(word & 255), np.int32(word >> 8 & 255), np.int32(word >> 16 & 255)
        value = LUMA[0] * red + LUMA[1] * green + LUMA[2] * blue
        luma[x] = (16 << BITS) + value + (1 << BITS - 1) >> BITS


@compiled
def _chroma(upper: Words, lower: Words, blueness: Plane, redness: Plane) -> None:
    """Two rows' chroma; red and blue are summed side by side in one word."""
    bits = BITS + 2
    grey = (128 << bits) + (1 << bits - 1)
    for x in range(len(blueness)):
        a, b, c, d = upper[2 * x], upper[2 * x + 1], lower[2 * x], lower[2 * x + 1]
        outer = (a & 0xFF00FF) + (b & 0xFF00FF) + (c & 0xFF00FF) + (d & 0xFF00FF)
        inner = (a >> 8 & 255) + (b >> 8 & 255) + (c >> 8 & 255) + (d >> 8 & 255)
        red, green, blue = np.int32(outer & 0xFFFF), np.int32(inner), np.int32(outer >> 16)
        blueness[x] = grey + BLUENESS[0] * red + BLUENESS[1] * green + BLUENESS[2] * blue >> bits
        redness[x] = grey + REDNESS[0] * red + REDNESS[1] * green + REDNESS[2] * blue >> bits


@compiled
def _convert(
    words: Words,
    luma: Plane,
    blueness: Plane,
    redness: Plane,
    left: int,
    top: int,
    right: int,
    bottom: int,
) -> None:
    """Fill a box of the planes from pixels as whole words, red lowest."""
    for y in range(top, bottom):
        _luma(words[y, left:right], luma[y, left:right])
    for y in range(top // 2, bottom // 2):
        upper, lower = words[2 * y, left:right], words[2 * y + 1, left:right]
        _chroma(upper, lower, blueness[y, left // 2 : right // 2], redness[y, left // 2 : right // 2])
