"""Which pitch classes sound at each moment, the bass apart; how far a sound is out of tune is found on the way.

Spectral peaks are laid on one octave (pitch class profiles: T. Fujishima, ICMC 1999, from memory), first in fifths of
a half tone. Where the peaks gather tells the tuning; then they are put together to half tones.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
import soxr
from numpy.typing import NDArray

from renderer.audio.click_sounds import SAMPLES_PER_SECOND
from renderer.audio.loudness import Sound

Rows = NDArray[np.float32]

RATE = 8000
"""Samples a second that are listened to: chords lie below 2 kHz."""
HOP = 512
"""Of these samples, from one moment to the next: 64 ms."""
MOMENT = HOP / RATE
WINDOW = 4096
"""Of these samples: half a second, so that the bass's half tones can be told apart."""
BASS = 41.0, 185.0
"""Hertz."""
TREBLE = 185.0, 2000.0
FINE = 60
"""Steps of an octave in which peaks are gathered before the tuning is known."""
STEPS = FINE // 12
SPREAD = 0.22
"""How far around its own place a peak counts: standard deviation in half tones."""
LISTENED = 20 * SAMPLES_PER_SECOND
"""Samples that are taken at a time."""
CONCERT_A = 440.0
HEARD_AT_ONCE = 256
"""Moments whose spectra are held."""
FLOOR_DB = 60.0
"""What lies so far below the loudest moment's strongest peak is silence."""


@dataclass(frozen=True, eq=False)
class Chroma:
    """How strongly each pitch class, from C, sounds at each moment. Rows have length 1; of silence, 0."""

    treble: Rows
    """Shape (moments, 12)."""
    bass: Rows
    """Shape (moments, 12)."""
    tuning: float
    """How far the sound lies above A = 440 Hz, in half tones, -0.5 to 0.5."""


def hear_chroma(sound: Sound, told: Callable[[float], None] = lambda share: None) -> Chroma:
    """The pitch classes of a sound, moment by moment: moment k is around k x MOMENT seconds.

    The sound is read in pieces; `told` hears what share is done.
    """
    treble, bass = [], []
    count = max(1, sound.shape[0])
    for part, samples in _lower_parts(sound):
        for some in (samples[at : at + HEARD_AT_ONCE] for at in range(0, len(samples), HEARD_AT_ONCE)):
            high, low = _gathered(some)
            treble.append(high)
            bass.append(low)
        told(min(1.0, part / count))
    fine_treble, fine_bass = np.concatenate(treble), np.concatenate(bass)
    loudest = max(float(fine_treble.max(initial=0)), float(fine_bass.max(initial=0)))
    tuning = _tuning(fine_treble)
    quiet = loudest * 10 ** (-FLOOR_DB / 40)
    return Chroma(_folded(fine_treble, tuning, quiet), _folded(fine_bass, tuning, quiet), tuning)


def _lower_parts(sound: Sound) -> Iterator[tuple[int, Rows]]:
    """The sound at RATE in windows, shape (moments, WINDOW), some at a time, and how many samples have been read."""
    count = sound.shape[0]
    resampler = soxr.ResampleStream(SAMPLES_PER_SECOND, RATE, 1, "float32", "LQ")
    held = np.zeros(WINDOW // 2, np.float32)
    for begin in range(0, count + 1, LISTENED):
        end = min(count, begin + LISTENED)
        last = begin + LISTENED > count
        middle = np.asarray(sound[begin:end].mean(axis=1), np.float32)
        held = np.concatenate([held, resampler.resample_chunk(middle, last=last)])
        if last:
            held = np.pad(held, (0, WINDOW // 2))
        if len(held) >= WINDOW:
            windows = np.lib.stride_tricks.sliding_window_view(held, WINDOW)[::HOP]
            yield end, windows
            held = held[len(windows) * HOP :]


def _gathered(windows: Rows) -> tuple[Rows, Rows]:
    """The peaks of each window's spectrum on one octave of FINE steps from C: treble and bass, shape (n, FINE)."""
    spectrum = np.abs(np.fft.rfft(windows * np.hanning(WINDOW).astype(np.float32), axis=1)).astype(np.float32)
    top = int(TREBLE[1] * WINDOW / RATE) + 2
    spectrum = spectrum[:, : top + 1]
    middle, left, right = spectrum[:, 1:-1], spectrum[:, :-2], spectrum[:, 2:]
    row, column = np.nonzero((middle > left) & (middle >= right) & (middle > 1e-7))
    peak, before, after = middle[row, column], left[row, column], right[row, column]
    # The peak of a parabola through three values in dB: between two bins it is found to a few hundredths.
    heights = [np.log(np.maximum(value, 1e-12)) for value in (before, peak, after)]
    bend = heights[0] - 2 * heights[1] + heights[2]
    offset = np.where(bend < 0, 0.5 * (heights[0] - heights[2]) / np.minimum(bend, -1e-12), 0.0)
    hertz = (column + 1 + np.clip(offset, -0.5, 0.5)) * RATE / WINDOW
    place = np.rint(FINE * np.log2(np.maximum(hertz, 1.0) / CONCERT_A) + FINE * 9 / 12).astype(int) % FINE
    weight = np.sqrt(peak)
    rows = []
    for low, high in (TREBLE, BASS):
        inside = (hertz >= low) & (hertz < high)
        cells = row[inside] * FINE + place[inside]
        sums = np.bincount(cells, weight[inside], len(windows) * FINE)
        rows.append(sums.reshape(len(windows), FINE).astype(np.float32))
    return rows[0], rows[1]


def _tuning(fine: Rows) -> float:
    """Where between two half tones the peaks gather, in half tones, by the mean of their angles."""
    by_step = fine.sum(axis=0).reshape(12, STEPS).sum(axis=0)
    turns = np.exp(2j * np.pi * np.arange(STEPS) / STEPS)
    return float(np.angle((by_step * turns).sum()) / (2 * np.pi))


def _folded(fine: Rows, tuning: float, quiet: float) -> Rows:
    """Half tones out of fine steps, each row of length 1; what is softer than `quiet` is silence."""
    places = np.arange(FINE) / STEPS - tuning
    apart = (places[:, np.newaxis] - np.arange(12) + 6) % 12 - 6
    weights = np.exp(-0.5 * (apart / SPREAD) ** 2).astype(np.float32)
    rows = fine @ weights
    length = np.linalg.norm(rows, axis=1, keepdims=True)
    return np.where(length > quiet, rows / np.maximum(length, 1e-12), 0).astype(np.float32)
