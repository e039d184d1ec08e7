"""What red, green and blue weigh in luma and chroma (ITU-R BT.709-6, items 3.2 to 3.5), in whole numbers."""

import numpy as np
from numpy.typing import NDArray

Words = NDArray[np.uint32]
Plane = NDArray[np.uint8]

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
