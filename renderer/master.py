"""Stems to a programme: mixed, brought to the loudness aimed at, its peaks held below the limit.

The same gain, also where it moves to hold a peak down, is laid on every stem, and the mix is their sum: mix
minus stems is silence. Samples are whole steps of 24 bits, so that this holds in the written files too.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import minimum_filter1d, uniform_filter1d

from renderer.bursts import SAMPLES_PER_SECOND, Track
from renderer.loudness import Samples, decibels, integrated_loudness, peaks_between, true_peak
from renderer.sound_spec import WEB_LUFS

CEILING_DB = -1.0
"""EBU R 128 (2020): true peak at most -1 dBTP."""
MARGIN_DB = 0.05
"""What the limiter stays below the ceiling: the gain moves between samples too."""
MOST_LIMITED_DB = 8.0
"""Peaks are held down by so much at most; a sound with higher ones stays softer than what is aimed at."""
NEAR_LU = 0.1
LIMIT_REACH = SAMPLES_PER_SECOND // 50
"""The gain begins to move 20 ms before a peak and comes back in 20 ms."""
STEPS_24_BIT = np.float32(2.0**23)


@dataclass(frozen=True, slots=True)
class Stem:
    """One source of a mix: shape (n,), or (n, 2) with its own picture; `pan` -100 (left) to 100 (right)."""

    name: str
    samples: Track | Samples
    pan: Fraction = Fraction(0)

    @property
    def centred(self) -> bool:
        """Whether both channels are the same."""
        return self.samples.ndim == 1 and not self.pan

    def channel_gains(self) -> tuple[float, float]:
        """Left and right, equal power: 1 and 1 in the middle, 1.41 and 0 at the left."""
        angle = (float(self.pan) / 100 + 1) * np.pi / 4
        return float(np.sqrt(2) * np.cos(angle)), float(np.sqrt(2) * np.sin(angle))

    def channel(self, index: int) -> Track:
        """Left (0) or right (1), placed."""
        if self.samples.ndim == 2:
            return self.samples[:, index] * np.float32(min(1.0, self.channel_gains()[index]))
        gain = self.channel_gains()[index]
        return self.samples if not self.pan else self.samples * np.float32(gain)


@dataclass(frozen=True, slots=True)
class Master:
    """A finished programme. `mix` and stems have shape (n, 2)."""

    mix: Samples
    lufs: float
    """Its loudness as it came out; minus infinity for silence."""
    true_peak_db: float
    aim: float
    """The loudness aimed at, in LUFS."""
    limited_db: float
    """By how much the highest peak is held down."""
    sources: tuple[Stem, ...]
    gain: Track | np.float32 = field(repr=False)

    @property
    def reached(self) -> bool:
        """Whether it is as loud as was aimed at (to 0.5 LU: EBU R 128 allows that)."""
        return self.lufs == float("-inf") or abs(self.lufs - self.aim) <= 0.5

    def stem(self, index: int) -> Samples:
        """One stem as it stands in the mix, shape (n, 2)."""
        return _placed(self.sources[index], self.gain)


def master(stems: Sequence[Stem], sample_count: int, aim: float = float(WEB_LUFS)) -> Master:
    """Mix `stems` (each `sample_count` long) and bring the mix to `aim` LUFS, true peak at most -1 dBTP."""
    raw = _sum(stems, sample_count, np.float32(1))
    loudness, peak = integrated_loudness(raw), decibels(true_peak(raw))
    if loudness == float("-inf"):
        quiet = np.float32(min(1.0, 10 ** ((CEILING_DB - MARGIN_DB - peak) / 20)))
        mix = _sum(stems, sample_count, quiet)
        return Master(mix, loudness, decibels(true_peak(mix)), aim, 0.0, tuple(stems), quiet)
    most = CEILING_DB - peak + MOST_LIMITED_DB
    wanted = min(aim - loudness, most)
    gain: Track | np.float32 = np.float32(0)
    mix = raw
    for _ in range(4):
        gain = _limiting_gain(raw, 10 ** (wanted / 20))
        mix = _sum(stems, sample_count, gain)
        came_out = integrated_loudness(mix)
        if abs(aim - came_out) <= NEAR_LU or (wanted >= most and came_out < aim):
            break
        wanted = min(wanted + aim - came_out, most)
    top = decibels(true_peak(mix))
    if top > CEILING_DB:
        gain = gain * np.float32(10 ** ((CEILING_DB - MARGIN_DB - top) / 20))
        mix = _sum(stems, sample_count, gain)
        top = decibels(true_peak(mix))
    limited = max(0.0, peak + wanted - CEILING_DB)
    return Master(mix, integrated_loudness(mix), top, aim, limited, tuple(stems), gain)


def _limiting_gain(samples: Samples, gain: float) -> Track | np.float32:
    """`gain`, moved down smoothly wherever a peak would pass the ceiling: shape (n,), or one number."""
    limit = 10 ** ((CEILING_DB - MARGIN_DB) / 20)
    if true_peak(samples) * gain <= limit:
        return np.float32(gain)
    channels = 1 if samples.strides[1] == 0 else 2
    room = np.ones(len(samples), np.float32)
    for channel in range(channels):
        over = peaks_between(np.ascontiguousarray(samples[:, channel]))
        over *= np.float32(gain / limit)
        np.maximum(over, 1, out=over)
        np.reciprocal(over, out=over)
        np.minimum(room, over, out=room)
        # A value between two samples counts for both.
        np.minimum(room[1:], over[:-1], out=room[1:])
    lowest = minimum_filter1d(room, 2 * LIMIT_REACH + 1, mode="constant", cval=1.0)
    for _ in range(2):
        lowest = uniform_filter1d(lowest, LIMIT_REACH + 1, mode="nearest")
    smooth: Track = np.asarray(lowest * np.float32(gain), np.float32)
    return smooth


def _sum(stems: Sequence[Stem], sample_count: int, gain: Track | np.float32) -> Samples:
    if all(stem.centred for stem in stems):
        centre = np.zeros(sample_count, np.float32)
        for stem in stems:
            centre += _quantised(stem.samples, gain)
        return np.broadcast_to(centre[:, np.newaxis], (sample_count, 2))
    mix = np.zeros((2, sample_count), np.float32)
    for stem in stems:
        for channel in range(2):
            mix[channel] += _quantised(stem.channel(channel), gain)
    return mix.T


def _placed(stem: Stem, gain: Track | np.float32) -> Samples:
    if stem.centred:
        channel = _quantised(stem.samples, gain)
        return np.broadcast_to(channel[:, np.newaxis], (len(channel), 2))
    return np.stack([_quantised(stem.channel(0), gain), _quantised(stem.channel(1), gain)]).T


def _quantised(channel: NDArray[np.float32], gain: Track | np.float32) -> Track:
    """The channel with its gain, in whole steps of 24 bits."""
    steps = channel * gain
    steps *= STEPS_24_BIT
    np.rint(steps, out=steps)
    steps /= STEPS_24_BIT
    return np.asarray(steps, np.float32)
