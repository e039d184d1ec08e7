"""Stems to a programme: mixed, brought to the loudness aimed at, its peaks held below the limit.

The same gain, also where it moves to hold a peak down, is laid on every stem, and the mix is their sum: mix
minus stems is silence. Samples are whole steps of 24 bits, so that this holds in the written files too.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from renderer.audio.click_sounds import Track
from renderer.audio.limiter import limiting_gain
from renderer.audio.loudness import CHUNK, SILENCE, LoudnessMeter, Samples, decibels, measure
from renderer.audio.moving_gain import MovingGain
from renderer.audio.stem import Stem
from renderer.spec.sound import WEB_LUFS

CEILING_DB = -1.0
"""EBU R 128 (2020): true peak at most -1 dBTP."""
MARGIN_DB = 0.2
"""What is kept below the ceiling: a coder such as a film's AAC lifts peaks a little."""
MOST_LIMITED_DB = 12.0
"""Peaks are held down by so much at most; a sound with higher ones stays softer than what is aimed at."""
NEAR_LU = 0.1
SOFTER_LU = 0.5
"""What lies within it is as loud as was aimed at (EBU R 128 allows so much)."""
MOST_TRIES = 6
STEPS_24_BIT = np.float32(2.0**23)

Gain = MovingGain | np.float32


@dataclass(frozen=True, slots=True)
class Master:
    """A finished programme."""

    sources: tuple[Stem, ...]
    sample_count: int
    lufs: float
    """Its loudness as it came out; minus infinity for silence."""
    true_peak_db: float
    aim: float
    """The loudness aimed at, in LUFS."""
    gain: Gain = field(repr=False)

    @property
    def reached(self) -> bool:
        """Whether it is as loud as was aimed at."""
        return self.lufs == SILENCE or abs(self.lufs - self.aim) <= SOFTER_LU

    @property
    def shape(self) -> tuple[int, int]:
        """Samples and channels."""
        return self.sample_count, 2

    def __getitem__(self, part: slice) -> Samples:
        """Some of the programme, shape (n, 2), mixed when it is asked for."""
        start, end, step = part.indices(self.sample_count)
        return _mixed(self.sources, start, max(start, end), self.gain)[::step]

    @property
    def mix(self) -> Samples:
        """The programme, shape (n, 2)."""
        return _whole(self.sources, self.sample_count, self.gain)

    def stem(self, index: int) -> Samples:
        """One stem as it stands in the mix, shape (n, 2)."""
        return _whole(self.sources[index : index + 1], self.sample_count, self.gain)

    def blocks(self, index: int | None = None) -> Iterator[Samples]:
        """The programme, or one of its stems, in blocks of shape (n, 2): for what is too long to be held."""
        sources = self.sources if index is None else self.sources[index : index + 1]
        return _blocks(sources, self.sample_count, self.gain)


def master(stems: Sequence[Stem], sample_count: int, aim: float = float(WEB_LUFS)) -> Master:
    """Mix `stems` (each `sample_count` long) and bring the mix to `aim` LUFS, true peak at most -1 dBTP."""
    sources = tuple(stems)
    raw = _metered(sources, sample_count, np.float32(1))
    alone = [
        _metered([stem], sample_count, np.float32(1), loudness=False) for stem in sources[1:] and sources
    ]
    loudness, peak = raw.lufs(), decibels(max(meter.true_peak() for meter in [raw, *alone]))
    ceiling = CEILING_DB - MARGIN_DB
    if loudness == SILENCE:
        still = np.float32(10 ** (min(0.0, ceiling - peak) / 20))
        top = decibels(raw.true_peak() * float(still))
        return Master(sources, sample_count, loudness, top, aim, still)
    most = ceiling - peak + (0 if all(stem.spikes for stem in sources) else MOST_LIMITED_DB)
    wanted = min(aim - loudness, most)
    if wanted <= ceiling - peak:
        even = np.float32(10 ** (wanted / 20))
        top = decibels(raw.true_peak()) + wanted
        return Master(sources, sample_count, loudness + wanted, top, aim, even)
    gain: Gain = np.float32(1)
    for _ in range(MOST_TRIES):
        del gain  # an hour's is large: two are never held
        gain = limiting_gain(
            lambda start, end: _all_channels(sources, start, end),
            sample_count,
            10 ** (wanted / 20),
            10 ** (ceiling / 20),
        )
        came_out = _metered(sources, sample_count, gain)
        missing = aim - came_out.lufs()
        if abs(missing) <= NEAR_LU or (wanted >= most and missing > 0):
            break
        wanted = min(wanted + missing, most)
    over = max(0.0, decibels(came_out.true_peak()) - CEILING_DB)
    if over:
        softer = 10 ** (-(over + MARGIN_DB) / 20)
        gain = gain.times(softer) if isinstance(gain, MovingGain) else gain * np.float32(softer)
        came_out = _metered(sources, sample_count, gain)
    top = decibels(came_out.true_peak())
    return Master(sources, sample_count, came_out.lufs(), top, aim, gain)


def _metered(stems: Sequence[Stem], sample_count: int, gain: Gain, loudness: bool = True) -> LoudnessMeter:
    return measure(_blocks(stems, sample_count, gain), loudness)


def _all_channels(stems: Sequence[Stem], start: int, end: int) -> list[Track]:
    """The channels of the mix and of each stem: a stem alone may be louder than a mix that cancels some of it."""
    sounds = [
        _mixed(some, start, end, np.float32(1))
        for some in (stems, *((stem,) for stem in stems[1:] and stems))
    ]
    return [sound[:, index] for sound in sounds for index in range(1 if sound.strides[1] == 0 else 2)]


def _blocks(stems: Sequence[Stem], sample_count: int, gain: Gain) -> Iterator[Samples]:
    for start in range(0, sample_count, CHUNK):
        yield _mixed(stems, start, min(sample_count, start + CHUNK), gain)


def _whole(stems: Sequence[Stem], sample_count: int, gain: Gain) -> Samples:
    if not all(stem.centred for stem in stems):
        return _mixed(stems, 0, sample_count, gain)
    centre = np.empty(sample_count, np.float32)
    for start, block in zip(range(0, sample_count, CHUNK), _blocks(stems, sample_count, gain), strict=True):
        centre[start : start + CHUNK] = block[:, 0]
    return np.broadcast_to(centre[:, np.newaxis], (sample_count, 2))


def _mixed(stems: Sequence[Stem], start: int, end: int, gain: Gain) -> Samples:
    """The sum of the stems from one sample up to another, shape (n, 2), read-only if it is centred."""
    held = gain.part(start, end) if isinstance(gain, MovingGain) else gain
    if all(stem.centred for stem in stems):
        centre = np.zeros(end - start, np.float32)
        for stem in stems:
            centre += _quantised(stem.part(start, end), held)
        return np.broadcast_to(centre[:, np.newaxis], (len(centre), 2))
    mix = np.zeros((2, end - start), np.float32)
    for stem in stems:
        part = stem.part(start, end)
        for channel in range(2):
            mix[channel] += _quantised(stem.channel(part, channel), held)
    return mix.T


def _quantised(channel: NDArray[np.float32], gain: Track | np.float32) -> Track:
    """The channel with its gain, in whole steps of 24 bits."""
    steps = channel * gain
    steps *= STEPS_24_BIT
    np.rint(steps, out=steps)
    steps /= STEPS_24_BIT
    return np.asarray(steps, np.float32)
