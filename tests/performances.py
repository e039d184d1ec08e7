"""Invented performances of known timing, as sound and as files."""

from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import av
import numpy as np
from av.audio.stream import AudioStream
from numpy.typing import NDArray

from renderer.audio.voice_sounds import build_tone

RATE = 48_000
CODECS = {"wav": "pcm_s24le", "flac": "flac", "mp3": "libmp3lame", "ogg": "libopus", "m4a": "aac"}


def drifting_bars(count: int, bar: float, start: float, seed: int = 1, drift: float = 0.02) -> list[Fraction]:
    """Where each bar of a performance begins, and its end, in thousandths of a second; the tempo wanders."""
    random = np.random.default_rng(seed)
    lengths = bar * (1 + drift * np.sin(np.arange(count) / 3) + random.normal(0, drift / 3, count))
    times = start + np.concatenate([[0], np.cumsum(lengths)])
    return [Fraction(round(1000 * time), 1000) for time in times]


def beats_between(bars: Sequence[Fraction], beats: int) -> list[Fraction]:
    """Even beats in each bar."""
    return [left + (right - left) * beat / beats for left, right in pairwise(bars) for beat in range(beats)]


def perform(
    times: Sequence[Fraction], seconds: float, sounds: Sequence[str] = ("drum",), noise: float = 0.0
) -> NDArray[np.float32]:
    """A sound of `seconds` with a tone on the sample nearest to each time, each stopped before the next:
    shape (n, 2), the right channel softer."""
    track = np.random.default_rng(5).normal(0, noise, round(seconds * RATE)).astype(np.float32)
    onsets = [int(time * RATE + Fraction(1, 2)) for time in times]
    for index, (onset, until) in enumerate(zip(onsets, [*onsets[1:], len(track)], strict=True)):
        tone = build_tone(sounds[index % len(sounds)], (index * 5) % 12, 0, index % 4 == 0)[
            : until - onset
        ].copy()
        release = min(480, len(tone))
        tone[-release:] *= np.linspace(1, 0, release, dtype=np.float32)
        track[onset : onset + len(tone)] += 0.5 * tone
    return np.stack([track, 0.7 * track]).T


def write_take(path: Path, samples: NDArray[np.float32], rate: int = RATE) -> None:
    """Write samples, shape (n, 1 or 2), as the kind of file that the ending names."""
    layout = "mono" if samples.shape[1] == 1 else "stereo"
    with av.open(path, "w", format="ipod" if path.suffix == ".m4a" else None) as container:
        stream = container.add_stream(CODECS[path.suffix[1:]], rate=rate, layout=layout)
        assert isinstance(stream, AudioStream)
        if path.suffix in (".mp3", ".ogg", ".m4a"):
            stream.bit_rate = 192_000
        frame = av.AudioFrame.from_ndarray(np.ascontiguousarray(samples.T), format="fltp", layout=layout)
        frame.sample_rate, frame.pts = rate, 0
        resampler = av.AudioResampler(stream.format, layout, rate, stream.frame_size or 4096)
        for part in [*resampler.resample(frame), *resampler.resample(None)]:
            container.mux(stream.encode(part))
        container.mux(stream.encode(None))
