"""Loops over pixels, compiled by Numba once for an install. Numba takes a second to load: import this only where there
are many pixels."""

from collections.abc import Callable
from typing import TypeVar, cast

import numpy as np
from numba import njit

from renderer.video.bt709 import BITS, BLUENESS, LUMA, REDNESS, Plane, Words

Kernel = TypeVar("Kernel", bound=Callable[..., None])


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
def convert_fast(
    words: Words,
    luma: Plane,
    blueness: Plane,
    redness: Plane,
    left: int,
    top: int,
    right: int,
    bottom: int,
) -> None:
    """What `convert` does."""
    for y in range(top, bottom):
        _luma(words[y, left:right], luma[y, left:right])
    for y in range(top // 2, bottom // 2):
        upper, lower = words[2 * y, left:right], words[2 * y + 1, left:right]
        _chroma(upper, lower, blueness[y, left // 2 : right // 2], redness[y, left // 2 : right // 2])
