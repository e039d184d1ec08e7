"""How loud a sound is: programme loudness and true peak by ITU-R BS.1770-4.

Sounds have shape (n, channels), 1 or 2 channels, 48,000 samples a second, 1.0 at full scale. Two channels
that are one memory (a centred sound) are measured once.
"""

from array import array
from collections.abc import Iterable, Iterator
from fractions import Fraction
from typing import Protocol

import numpy as np
from av import AudioFrame
from av.filter import Graph
from numpy.typing import NDArray

from renderer.audio.click_sounds import SAMPLES_PER_SECOND

Samples = NDArray[np.float32]


class Sound(Protocol):
    """A sound that is taken part by part: samples, or what makes them when they are asked for."""

    @property
    def shape(self) -> tuple[int, ...]:
        """Samples and channels."""

    def __getitem__(self, part: slice, /) -> Samples:
        """The samples of a part, shape (n, channels)."""


SILENCE = float("-inf")

K_WEIGHTING = (
    (1.53512485958697, -2.69169618940638, 1.19839281085285, 1.0, -1.69065929318241, 0.73248077421585),
    (1.0, -2.0, 1.0, 1.0, -1.99004745483398, 0.99007225036621),
)
"""Shelf and high pass at 48 kHz (ITU-R BS.1770-4, annex 1, tables 1 and 2). Tests compare with two other meters."""

SETTLING, STILL = 8, 1e-9
"""Once so many weighted samples are smaller than that, silence that follows is silence."""

LOUDNESS_STEP = SAMPLES_PER_SECOND // 10
"""A quarter of a block: blocks of 400 ms overlap by 75 %."""
ABSOLUTE_GATE = -70.0
RELATIVE_GATE = -10.0
OFFSET = -0.691

OVERSAMPLING = 4
REACH = 8
"""Samples on each side that a value between two samples is made from."""
CHUNK = 5 * LOUDNESS_STEP
"""Samples that are mixed and measured in one go, 0.5 s: they stay in a processor's nearest memory."""
PEAK_BLOCK = 4096
FILTERED = 1 << 14
"""Samples that stay in a processor's nearest memory while they are filtered."""


def _between_filters() -> NDArray[np.float32]:
    """Windowed sinc, shape (2 x REACH, 3): the values at a quarter, a half and three quarters of a step."""
    offsets = np.arange(1, OVERSAMPLING) / OVERSAMPLING
    distance = np.arange(-REACH + 1, REACH + 1)[:, np.newaxis] - offsets
    window = np.i0(6.0 * np.sqrt(1 - (distance / REACH) ** 2)) / np.i0(6.0)
    weights = np.sinc(distance) * window
    return np.asarray(weights / weights.sum(axis=0), np.float32)


BETWEEN = _between_filters()
OVERSHOOT = float(np.abs(BETWEEN).sum(axis=0).max())
"""No value between samples is larger than this times the largest sample around it."""


class LoudnessMeter:
    """Loudness and true peak of a sound that comes in blocks, or one of the two alone."""

    def __init__(self, loudness: bool = True, peaks: bool = True) -> None:
        self._measured = loudness, peaks
        self._channels: list[_ChannelMeter] = []
        self._sample_count = 0
        self._largest = 0.0

    def add(self, block: Samples) -> None:
        """Take the next samples, shape (n, channels). Before the last block n is a multiple of STEP."""
        shared = block.shape[1] == 2 and block.strides[1] == 0
        if not self._channels:
            self._channels = [_ChannelMeter(*self._measured) for _ in range(block.shape[1])]
        self._sample_count += len(block)
        for index, channel in enumerate(self._channels):
            if shared and index:
                channel.follow(self._channels[0])
            else:
                self._largest = channel.add(np.ascontiguousarray(block[:, index]), self._largest)

    def lufs(self) -> float:
        """Programme loudness in LUFS, gated; minus infinity for silence.

        Sound shorter than a block of 400 ms is measured as one block of its own length.
        """
        steps = np.sum([channel.steps for channel in self._channels if channel.steps], axis=0)
        if not np.any(steps):
            return SILENCE
        if len(steps) >= 4:
            energy = np.convolve(steps, np.full(4, 0.25), "valid")
        else:
            energy = np.array([steps.sum() * LOUDNESS_STEP / self._sample_count])
        gated = energy[energy > _energy(ABSOLUTE_GATE)]
        if not len(gated):
            return SILENCE
        gated = gated[gated > _energy(_lufs(float(gated.mean())) + RELATIVE_GATE)]
        return _lufs(float(gated.mean()))

    def true_peak(self) -> float:
        """The largest value so far, between the samples too, 1.0 at full scale: four times oversampled."""
        return max([self._largest, *(channel.closing_peak() for channel in self._channels)])


class _ChannelMeter:
    """One channel: the energy of its steps, and what its filters remember."""

    def __init__(self, loudness: bool, peaks: bool) -> None:
        self._loudness, self._peaks = loudness, peaks
        self.steps = array(
            "d"
        )  # many small pieces would lie between large ones, whose memory never came free
        self._weighting = _Weighting()
        self._tail = np.zeros(2 * REACH, np.float32)

    def add(self, block: NDArray[np.float32], largest: float) -> float:
        """Take the next samples; gives the larger of `largest` and the true peak up to near their end."""
        if self._loudness:
            self.steps.frombytes(self._weighted_steps(block).tobytes())
        if not self._peaks:
            return largest
        around = np.concatenate([self._tail, block])
        self._tail = around[-2 * REACH :]
        return _largest_between(around, largest)

    def follow(self, other: "_ChannelMeter") -> None:
        """Take what another channel took: this one is the same."""
        self.steps += other.steps[len(self.steps) :]

    def closing_peak(self) -> float:
        """The true peak at the sound's end, with silence after it."""
        return float(peaks_between(self._tail)[REACH:].max())

    def _weighted_steps(self, block: NDArray[np.float32]) -> NDArray[np.float64]:
        """Mean square after K-weighting for each 100 ms; the rest of the last one counts as silence."""
        weighted = self._weighting.filter(block)
        weighted = np.append(weighted, np.zeros(-len(weighted) % LOUDNESS_STEP)).reshape(-1, LOUDNESS_STEP)
        return np.asarray(np.einsum("ij,ij->i", weighted, weighted) / LOUDNESS_STEP, np.float64)


class _Weighting:
    """K-weighting of one channel that comes in blocks, by FFmpeg's filters: loaded sooner than others."""

    def __init__(self) -> None:
        self._quiet = True
        self._sample_count = 0
        self._graph = Graph()
        chain = [
            self._graph.add_abuffer(
                sample_rate=SAMPLES_PER_SECOND,
                format="dblp",
                layout="mono",
                time_base=Fraction(1, SAMPLES_PER_SECOND),
            )
        ]
        for section in K_WEIGHTING:
            values = zip(("b0", "b1", "b2", "a0", "a1", "a2"), section, strict=True)
            chain.append(self._graph.add("biquad", ":".join(f"{name}={value!r}" for name, value in values)))
        chain.append(self._graph.add("abuffersink"))
        self._graph.link_nodes(*chain).configure()

    def filter(self, block: NDArray[np.float32]) -> NDArray[np.float64]:
        """The next samples, weighted."""
        if self._quiet and not block.any():
            return np.zeros(len(block))
        frame = AudioFrame.from_ndarray(block[np.newaxis].astype(np.float64), format="dblp", layout="mono")
        frame.sample_rate, frame.time_base = SAMPLES_PER_SECOND, Fraction(1, SAMPLES_PER_SECOND)
        frame.pts = self._sample_count
        self._sample_count += len(block)
        self._graph.push(frame)
        weighted = np.asarray(self._graph.pull().to_ndarray()[0], np.float64)
        self._quiet = bool(np.abs(weighted[-SETTLING:]).max() < STILL)
        return weighted


def measure(blocks: Iterable[Samples], loudness: bool = True, peaks: bool = True) -> LoudnessMeter:
    """A meter that has taken all blocks."""
    meter = LoudnessMeter(loudness, peaks)
    for block in blocks:
        meter.add(block)
    return meter


def integrated_loudness(samples: Samples) -> float:
    """Programme loudness in LUFS, gated; minus infinity for silence."""
    return measure(_chunks(samples), peaks=False).lufs()


def true_peak(samples: Samples) -> float:
    """The largest value, between the samples too, 1.0 at full scale."""
    return measure(_chunks(samples), loudness=False).true_peak()


def _chunks(samples: Samples) -> Iterator[Samples]:
    for start in range(0, len(samples), CHUNK):
        yield samples[start : start + CHUNK]


def in_steps(blocks: Iterable[Samples]) -> Iterator[Samples]:
    """The same sound in blocks of CHUNK samples, the last one perhaps shorter."""
    held: Samples | None = None
    for block in blocks:
        held = block if held is None else np.concatenate([held, block])
        whole = len(held) // CHUNK * CHUNK
        for start in range(0, whole, CHUNK):
            yield held[start : start + CHUNK]
        held = held[whole:]
    if held is not None and len(held):
        yield held


def _energy(lufs: float) -> float:
    return float(10 ** ((lufs - OFFSET) / 10))


def _lufs(energy: float) -> float:
    return OFFSET + 10 * float(np.log10(energy))


def _largest_between(channel: NDArray[np.float32], largest: float) -> float:
    """The larger of `largest` and the true peak of `channel` but for its first and last REACH samples.

    Only stretches that can hold a larger value are looked at; the result is the same.
    """
    starts = np.arange(0, len(channel), PEAK_BLOCK)
    tops = np.maximum(np.maximum.reduceat(channel, starts), -np.minimum.reduceat(channel, starts))
    around = np.maximum(np.maximum(tops, np.append(tops[1:], 0)), np.append(0, tops[:-1]))
    largest = max(largest, float(tops.max()))
    for block in np.argsort(around)[::-1]:
        if around[block] * OVERSHOOT <= largest:
            break
        start = max(REACH, int(block) * PEAK_BLOCK)
        end = min(len(channel) - REACH, (int(block) + 1) * PEAK_BLOCK)
        loud = np.flatnonzero(np.abs(channel[start - REACH : end + REACH]) * OVERSHOOT > largest)
        if not len(loud) or start >= end:
            continue
        start, end = start + max(0, int(loud[0]) - 2 * REACH), min(end, start + int(loud[-1]) + 1)
        peaks = peaks_between(channel[start - REACH : end + REACH])[REACH : REACH + end - start]
        largest = max(largest, float(peaks.max(initial=0)))
    return largest


def peaks_between(channel: NDArray[np.float32]) -> NDArray[np.float32]:
    """The largest value from each sample up to the next one, shape (n,); silence lies around `channel`."""
    peaks = np.abs(channel)
    padded = np.zeros(len(channel) + 2 * REACH - 1, channel.dtype)  # numpy.pad takes ten times as long
    padded[REACH - 1 : REACH - 1 + len(channel)] = channel
    for start in range(0, len(channel), FILTERED):
        part = peaks[start : start + FILTERED]
        product = np.empty_like(part)
        for weights in BETWEEN.T:
            between = padded[start : start + len(part)] * weights[0]
            for offset, weight in enumerate(weights[1:], start + 1):
                np.multiply(padded[offset : offset + len(part)], weight, out=product)
                between += product
            np.maximum(part, np.abs(between, out=between), out=part)
    return peaks


def decibels(value: float) -> float:
    """A value as dB of full scale.

    >>> round(decibels(0.5), 2)
    -6.02
    """
    return 20 * float(np.log10(value)) if value > 0 else SILENCE
