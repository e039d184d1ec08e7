"""A gain that moves down before a peak and back after it, so that no true peak passes a limit."""

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from renderer.audio.click_sounds import SAMPLES_PER_SECOND, Track
from renderer.audio.loudness import OVERSHOOT, REACH, peaks_between
from renderer.audio.moving_gain import MovingGain

LIMIT_REACH = SAMPLES_PER_SECOND // 50
"""The gain begins to move 20 ms before a peak and is back 20 ms after it."""
STRETCH = 1 << 14

GRID = 64
"""Samples between two values of the gain that are kept: it bends so slowly that a straight line between them is off
by less than 0.03 dB, and an hour of it takes 11 MB."""
NEARLY = 0.999
"""Of full scale: what is rounded is not missed."""
CLOSE = 1024
"""Samples: to look at so many more takes less time than to look at two stretches."""
MARGIN = 2 * LIMIT_REACH + REACH + GRID
"""Samples on each side that the gain of a stretch, and of the next value kept, follows from."""

Window = Callable[[int, int], Sequence[Track]]
"""The channels from one index up to another, all that must stay below the limit."""


def limiting_gain(window: Window, sample_count: int, gain: float, limit: float) -> MovingGain | np.float32:
    """`gain`, moved down wherever a true peak of the sound with it would pass `limit` (1.0: full scale); one number
    where no peak does."""
    values: Track | None = None
    for start in range(0, sample_count, STRETCH):
        end = min(sample_count, start + STRETCH)
        low, high = max(0, start - MARGIN), min(sample_count, end + MARGIN)
        room = _room(window(low, high), gain / limit)
        if room is None:
            continue
        padded = np.pad(room, (MARGIN - (start - low), MARGIN - (high - end)), constant_values=1)
        lowest = _lowest(padded, 2 * LIMIT_REACH + 1)
        held = _mean(_mean(lowest, LIMIT_REACH + 1), LIMIT_REACH + 1)  # 2 x LIMIT_REACH shorter at each end
        if values is None:
            values = np.full(sample_count // GRID + 2, gain, np.float32)
        first = MARGIN - 2 * LIMIT_REACH
        kept = held[first : first + end - start + GRID : GRID] * gain
        values[start // GRID : start // GRID + len(kept)] = kept
    return np.float32(gain) if values is None else MovingGain(values, GRID)


def _lowest(values: Track, width: int) -> Track:
    """The smallest of each `width` values in a row: the lower of two that are counted from the ends of blocks as wide
    (van Herk 1992)."""
    blocks = np.pad(values, (0, -len(values) % width), mode="edge").reshape(-1, width)
    onward = np.minimum.accumulate(blocks, axis=1).reshape(-1)
    back = np.minimum.accumulate(blocks[:, ::-1], axis=1)[:, ::-1].reshape(-1)
    return np.minimum(back[: len(values) - width + 1], onward[width - 1 : len(values)])


def _mean(values: NDArray[np.floating[Any]], width: int) -> NDArray[np.float64]:
    """The mean of each `width` values in a row."""
    sums = np.cumsum(np.concatenate([[0.0], values]))
    return np.asarray((sums[width:] - sums[:-width]) / width, np.float64)


def _room(channels: Sequence[Track], share: float) -> Track | None:
    """By what each sample must be multiplied at most, 1 where it may stay; None where all may.

    The channels are held down together.
    """
    room = np.ones(len(channels[0]), np.float32)
    for channel in channels:
        if max(channel.max(), -channel.min()) * share * OVERSHOOT <= 1:
            continue
        for start, end in _loud_stretches(channel, share):
            first = max(0, start - REACH)
            heard = np.ascontiguousarray(channel[first : end + REACH])
            over = peaks_between(heard)[start - first : end - first]
            over *= np.float32(share)
            np.maximum(over, 1, out=over)
            np.reciprocal(over, out=over)
            np.minimum(room[start:end], over, out=room[start:end])
            # A value between two samples counts for both.
            after = room[start + 1 : end + 1]
            np.minimum(after, over[: len(after)], out=after)
    return room if np.any(room < 1) else None


def _loud_stretches(channel: Track, share: float) -> list[tuple[int, int]]:
    """From where up to where a value, also between two samples, may pass 1 with that share; stretches that lie close
    are taken together."""
    loud = np.flatnonzero(np.abs(channel) * share * OVERSHOOT > NEARLY)
    if not len(loud):
        return []
    gaps = np.flatnonzero(np.diff(loud) > CLOSE)
    starts, ends = loud[np.append(0, gaps + 1)], loud[np.append(gaps, len(loud) - 1)]
    most = len(channel)
    return [
        (max(0, start - REACH), min(most, end + REACH))
        for start, end in zip(starts.tolist(), ends.tolist(), strict=True)
    ]
