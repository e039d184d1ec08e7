"""How much of a film flashes, by the definitions of WCAG 2.2, success criterion 2.3.1.

A general flash is a pair of opposed changes of relative luminance of 10 % or more, the darker image below 0.80; a red
flash is a pair of opposed changes that involve saturated red: R/(R+G+B) of 0.8 or more in linear light, and a change
of (R-G-B) x 320 by more than 20. More than three of either within a second is too much where they fill more than a
quarter of any 10 degrees of view, which is a third of the picture's width and height (341 x 256 of 1024 x 768). Here
all pixels of such a field that flash within the same second are counted, at once or one after another: that is
stricter.
"""

from collections import deque
from collections.abc import Iterable
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

LIMIT_SHARE = 0.25
"""Of a field of 10 degrees."""
FIELDS_ACROSS = 3
FLASHES_A_SECOND = 3
_LEVELS = np.arange(256) / 255
LINEAR = np.where(_LEVELS <= 0.04045, _LEVELS / 12.92, ((_LEVELS + 0.055) / 1.055) ** 2.4).astype(np.float32)
"""sRGB levels (IEC 61966-2-1) in linear light."""

Field = NDArray[np.float32]


class _Swings:
    """Counts, pixel by pixel, the swings of a value to and fro, and forgets those older than a second."""

    def __init__(self, shape: tuple[int, ...], frames_per_second: Fraction) -> None:
        self.anchor = np.zeros(shape, np.float32)
        self.direction = np.zeros(shape, np.int8)
        self.recent: deque[NDArray[np.bool_]] = deque()
        self.swings = np.zeros(shape, np.int16)
        self.window = int(frames_per_second)
        self.started = False

    def add(self, value: Field, allowed: NDArray[np.bool_], least: float) -> float:
        """The largest share of any field that has swung more often than allowed within the last second."""
        if not self.started:
            self.anchor[...], self.started = value, True
        change = value - self.anchor
        sign = np.sign(change).astype(np.int8)
        turned = allowed & (np.abs(change) >= least) & (sign != self.direction)
        moved = turned | ((sign == self.direction) & (sign != 0))
        np.copyto(self.direction, sign, where=turned)
        np.copyto(self.anchor, value, where=moved)
        self.recent.append(turned)
        self.swings += turned
        if len(self.recent) > self.window:
            self.swings -= self.recent.popleft()
        return _largest_share(self.swings > 2 * FLASHES_A_SECOND)


def _largest_share(marked: NDArray[np.bool_]) -> float:
    """The largest share of marked pixels in any window of a third of the width and height."""
    if not marked.any():
        return 0.0
    height, width = (max(1, side // FIELDS_ACROSS) for side in marked.shape)
    sums = np.pad(marked.astype(np.int64).cumsum(0).cumsum(1), ((1, 0), (1, 0)))
    counts = sums[height:, width:] - sums[:-height, width:] - sums[height:, :-width] + sums[:-height, :-width]
    return float(counts.max() / (height * width))


def flashing_share(frames: Iterable[NDArray[np.uint8]], frames_per_second: Fraction) -> float:
    """The largest share of any 10 degrees of the picture that flashes more than three times in any second."""
    general = red = None
    worst = 0.0
    previous = None
    for frame in frames:
        linear = _linear(frame)
        luminance = linear @ np.array([0.2126, 0.7152, 0.0722], np.float32)
        saturation = np.maximum(0, (linear[..., 0] - linear[..., 1] - linear[..., 2]) * 320)
        total = linear.sum(axis=-1)
        is_red = linear[..., 0] >= 0.8 * np.maximum(total, 1e-6)
        if general is None or red is None or previous is None:
            general, red = (_Swings(luminance.shape, frames_per_second) for _ in range(2))
            previous = luminance, is_red
        dark = np.minimum(luminance, general.anchor) < 0.80
        worst = max(worst, general.add(luminance, dark, 0.1))
        worst = max(worst, red.add(saturation, is_red | previous[1], 20.0))
        previous = luminance, is_red
    return worst


def _linear(frame: NDArray[np.uint8]) -> Field:
    return LINEAR[frame[..., :3]]
