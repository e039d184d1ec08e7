"""How strongly something begins at each moment of a sound, read in pieces.

It is the spectral flux of mel bands in dB: how much louder each band is than a moment before, the mean over the bands
(S. Böck and G. Widmer, DAFx 2013, from memory, call it that; tests compare with librosa's `onset_strength`).
"""

from collections.abc import Callable, Iterator
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from renderer.audio.click_sounds import SAMPLES_PER_SECOND
from renderer.audio.loudness import Samples, Sound

HOP = 256
"""Samples from one moment to the next: 5.3 ms."""
MOMENTS_PER_SECOND = SAMPLES_PER_SECOND / HOP
WINDOW = 2048
"""Samples from which a moment's spectrum is made."""
EARLY = 2
"""So many moments before its window's middle a beginning is felt (measured): the strengths stand as much later."""
BANDS = 128
HEARD_AT_ONCE = 500
"""Moments whose spectra are held: 2.7 s."""
DEEPEST_DB = 80.0
"""What lies further below the loudest is silence."""
SMALLEST = 1e-10
"""Power that counts as none."""
MOST_STRENGTH = 3.0
"""What is stronger counts no more: the beat is not always the loudest."""

Progress = Callable[[float], None]
"""Told what share is done, from 0 to 1."""


def beginnings(sound: Sound, progress: Progress | None = None) -> NDArray[np.float64]:
    """How strongly something begins at each moment, HOP samples apart, in standard deviations; at most MOST_STRENGTH.

    The sound has shape (n, channels), 48,000 samples a second. There are 1 + n // HOP moments.
    """
    moments = 1 + sound.shape[0] // HOP

    def tell(done: int) -> None:
        if progress:
            progress(min(1.0, done / (2 * moments)))

    # Levels are cut off 80 dB below the loudest of all, so that one is sought first.
    loudest, heard = -np.inf, 0
    for levels in _mel_levels(sound):
        loudest = max(loudest, float(levels.max()))
        heard += len(levels)
        tell(heard)
    rises: list[NDArray[np.float32]] = [np.zeros(1 + EARLY, np.float32)]
    before: NDArray[np.float32] | None = None
    for levels in _mel_levels(sound):
        np.maximum(levels, loudest - DEEPEST_DB, out=levels)
        row = levels if before is None else np.concatenate([before, levels])
        rises.append(np.maximum(0, np.diff(row, axis=0)).mean(axis=1))
        before = levels[-1:]
        heard += len(levels)
        tell(heard)
    strength = np.concatenate(rises).astype(float)[:moments]
    spread = strength.std()
    return np.minimum(strength / spread, MOST_STRENGTH) if spread else strength


def _mel_levels(sound: Sound) -> Iterator[NDArray[np.float32]]:
    """The sound's mel spectrogram in dB, shape (moments, bands), some moments at a time; each is a window's middle."""
    bands = mel_bands()
    shape = np.hanning(WINDOW + 1)[:-1].astype(np.float32)
    for piece in windows(sound, HEARD_AT_ONCE):
        spectrum = np.fft.rfft(piece * shape)
        power = (spectrum.real**2 + spectrum.imag**2).astype(np.float32)
        yield 10 * np.log10(np.maximum(power @ bands, np.float32(SMALLEST)))


def windows(sound: Sound, at_once: int) -> Iterator[Samples]:
    """The windows round the sound's moments, both channels' mean, silence beyond its ends: shape (at most `at_once`,
    WINDOW), read-only."""
    count = sound.shape[0]
    moments = 1 + count // HOP
    for first in range(0, moments, at_once):
        begin = first * HOP - WINDOW // 2
        end = (min(moments, first + at_once) - 1) * HOP + WINDOW // 2
        middle = np.asarray(sound[max(0, begin) : min(count, end)].mean(axis=1), np.float32)
        middle = np.pad(middle, (max(0, -begin), max(0, end - count)))
        yield np.lib.stride_tricks.sliding_window_view(middle, WINDOW)[::HOP]


@lru_cache(maxsize=1)
def mel_bands() -> NDArray[np.float32]:
    """Triangles over a spectrum's lines, each as high as its band is narrow: shape (1 + WINDOW / 2, BANDS).

    Their corners are evenly spaced on the mel scale (M. Slaney, Auditory Toolbox, 1998): linear up to 1,000 Hz,
    then logarithmic, 27 steps to a factor of 6.4.
    """
    top = SAMPLES_PER_SECOND / 2
    straight, factor = 200 / 3, np.log(6.4) / 27
    mels = np.linspace(0, 1000 / straight + np.log(top / 1000) / factor, BANDS + 2)
    corners = np.where(
        mels * straight < 1000, mels * straight, 1000 * np.exp(factor * (mels - 1000 / straight))
    )
    lines = np.linspace(0, top, 1 + WINDOW // 2)[:, np.newaxis]
    left, middle, right = corners[:-2], corners[1:-1], corners[2:]
    rising, falling = (lines - left) / (middle - left), (right - lines) / (right - middle)
    bands = np.maximum(0, np.minimum(rising, falling)) * 2 / (right - left)
    return np.asarray(bands, np.float32)
