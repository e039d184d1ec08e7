"""How loud a sound is: programme loudness and true peak by ITU-R BS.1770-4.

Sounds have shape (n, channels), 1 or 2 channels, 48,000 samples a second, 1.0 at full scale. Two channels
that are one memory (a centred sound) are measured once.
"""

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray
from scipy.signal import sosfilt

from renderer.bursts import SAMPLES_PER_SECOND

Samples = NDArray[np.float32]

SILENCE = float("-inf")

K_WEIGHTING = np.array(
    [
        [1.53512485958697, -2.69169618940638, 1.19839281085285, 1, -1.69065929318241, 0.73248077421585],
        [1, -2, 1, 1, -1.99004745483398, 0.99007225036621],
    ]
)
"""Shelf and high pass at 48 kHz (ITU-R BS.1770-4, annex 1, tables 1 and 2; from memory)."""

STEP = SAMPLES_PER_SECOND // 10
"""A quarter of a block: blocks of 400 ms overlap by 75 %."""
ABSOLUTE_GATE = -70.0
RELATIVE_GATE = -10.0
OFFSET = -0.691

OVERSAMPLING = 4
REACH = 12
"""Samples on each side that a value between two samples is made from."""
CHUNK = 50 * STEP


def _between_filters() -> NDArray[np.float32]:
    """Windowed sinc, shape (2 x REACH, 3): the values at a quarter, a half and three quarters of a step."""
    offsets = np.arange(1, OVERSAMPLING) / OVERSAMPLING
    distance = np.arange(-REACH + 1, REACH + 1)[:, np.newaxis] - offsets
    window = np.i0(6.0 * np.sqrt(1 - (distance / REACH) ** 2 * 0.999)) / np.i0(6.0)
    weights = np.sinc(distance) * window
    return np.asarray(weights / weights.sum(axis=0), np.float32)


BETWEEN = _between_filters()
OVERSHOOT = float(np.abs(BETWEEN).sum(axis=0).max())
"""No value between samples is larger than this times the largest sample around it."""


def integrated_loudness(samples: Samples) -> float:
    """Programme loudness in LUFS, gated; minus infinity for silence.

    Sound shorter than a block of 400 ms is measured as one block of its own length.
    """
    steps = np.zeros(-(-len(samples) // STEP))
    for channel in _channels(samples, doubled=True):
        steps += _channel_steps(channel)
    if len(steps) >= 4:
        energy = np.convolve(steps, np.full(4, 0.25), "valid")
    elif len(samples):
        energy = np.array([steps.sum() * STEP / len(samples)])
    else:
        return SILENCE
    gated = energy[energy > _energy(ABSOLUTE_GATE)]
    if not len(gated):
        return SILENCE
    gated = gated[gated > _energy(_lufs(float(gated.mean())) + RELATIVE_GATE)]
    return _lufs(float(gated.mean()))


def _channels(samples: Samples, doubled: bool = False) -> Iterator[NDArray[np.float32]]:
    """Each channel once; with `doubled`, a channel that stands for two is given twice as strong in energy."""
    if samples.shape[1] == 2 and samples.strides[1] == 0:
        yield samples[:, 0] * np.float32(np.sqrt(2)) if doubled else samples[:, 0]
        return
    for channel in range(samples.shape[1]):
        yield samples[:, channel]


def _channel_steps(channel: NDArray[np.float32]) -> NDArray[np.float64]:
    """Mean square after K-weighting, for each 100 ms; the rest of the last step counts as silence."""
    sections = K_WEIGHTING.astype(np.float32)
    state = np.zeros((len(sections), 2), np.float32)
    count = -(-len(channel) // STEP)
    steps = np.zeros(count)
    for start in range(0, len(channel), CHUNK):
        block = channel[start : start + CHUNK]
        if not state.any() and not block.any():
            continue
        weighted, state = sosfilt(sections, block, zi=state)
        state[np.abs(state) < 1e-12] = 0
        whole = len(weighted) // STEP
        first = start // STEP
        square = weighted[: whole * STEP].reshape(whole, STEP)
        steps[first : first + whole] = np.einsum("ij,ij->i", square, square) / STEP
        rest = weighted[whole * STEP :]
        if len(rest):
            steps[first + whole] = np.dot(rest, rest) / STEP
    return steps


def _energy(lufs: float) -> float:
    return float(10 ** ((lufs - OFFSET) / 10))


def _lufs(energy: float) -> float:
    return OFFSET + 10 * float(np.log10(energy))


def true_peak(samples: Samples) -> float:
    """The largest value, between the samples too, 1.0 at full scale: four times oversampled.

    Only stretches that can hold the largest value are looked at; the result is the same.
    """
    largest = 0.0
    for channel in _channels(samples):
        tops = _block_tops(channel)
        largest = max(largest, float(tops.max(initial=0)))
        for block in np.argsort(tops)[::-1]:
            if tops[max(0, block - 1) : block + 2].max() * OVERSHOOT <= largest:
                if tops[block] * OVERSHOOT <= largest:
                    break
                continue
            start = int(block) * PEAK_BLOCK
            before = max(0, start - REACH)
            around = channel[before : start + PEAK_BLOCK + REACH]
            peaks = peaks_between(around)[start - before : start - before + PEAK_BLOCK]
            largest = max(largest, float(peaks.max(initial=0)))
    return largest


PEAK_BLOCK = 4096


def _block_tops(channel: NDArray[np.float32]) -> NDArray[np.float32]:
    starts = np.arange(0, len(channel), PEAK_BLOCK)
    if not len(starts):
        return np.zeros(0, np.float32)
    return np.maximum(np.maximum.reduceat(channel, starts), -np.minimum.reduceat(channel, starts))


def peaks_between(channel: NDArray[np.float32]) -> NDArray[np.float32]:
    """The largest value from each sample up to the next one, shape (n,); silence lies around `channel`."""
    peaks = np.abs(channel)
    padded = np.pad(channel, (REACH - 1, REACH))
    windows = np.lib.stride_tricks.sliding_window_view(padded, 2 * REACH)
    for start in range(0, len(channel), 1 << 15):
        part = peaks[start : start + (1 << 15)]
        between = BETWEEN.T @ windows[start : start + len(part)].T
        for row in np.abs(between, out=between):
            np.maximum(part, row, out=part)
    return peaks


def decibels(value: float) -> float:
    """A value as dB of full scale.

    >>> round(decibels(0.5), 2)
    -6.02
    """
    return 20 * float(np.log10(value)) if value > 0 else SILENCE
