"""A sound file as it is mixed: read whole, judged, brought to 48,000 samples a second; and the spec's voice files."""

from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from pathlib import Path

import av
import numpy as np

from renderer.audio.click_sounds import SAMPLES_PER_SECOND
from renderer.audio.click_track import read_sound
from renderer.audio.loudness import SILENCE, Samples, integrated_loudness
from renderer.core.errors import FileError, Problem, SpecError
from renderer.spec.model import Spec

TORN_OFF = Fraction(1, 20)
"""A file that holds so much less than it says has lost something, and what follows would come too early."""
OPEN_ENDED = 2**31
"""Sizes from here on stand in wav files whose length was not known when they were begun."""


@dataclass(frozen=True, slots=True)
class Recording:
    """A recording as it is mixed: shape (n, 2), 48,000 samples a second."""

    path: Path
    samples: Samples
    lufs: float
    seconds: Fraction
    own_rate: int
    own_channels: int


def read_recorded(path: Path) -> Recording:
    """Read a file as it is mixed. Raises FileError if it is missing, damaged, silent or can't be decoded."""
    own, rate = read_sound(path)
    count, channels = own.shape
    stated = _stated_seconds(path)
    if stated - Fraction(count, rate) > TORN_OFF or not np.isfinite(own).all():
        readable = f"of {clock_text(stated)} only {clock_text(Fraction(count, rate))} can be read"
        raise FileError(f"{path}: it is damaged: {readable}. Export or copy it again.")
    samples = _resampled(own if channels <= 2 else _first_two(own), rate)
    if channels == 1:
        samples = np.broadcast_to(samples, (len(samples), 2))
    lufs = integrated_loudness(_long_enough(samples))
    if lufs == SILENCE:
        raise FileError(f"{path}: it is silent from beginning to end. Name the right file.")
    return Recording(path, samples, lufs, Fraction(count, rate), rate, channels)


@lru_cache(maxsize=8)
def _read_voice(path: Path, changed: int, size: int) -> Recording:
    return read_recorded(path)


def read_narration(path: Path) -> Recording:
    """A voice file, read once as long as it does not change. Raises FileError as read_recorded does."""
    try:
        state = path.stat()
    except (OSError, ValueError):
        raise FileError(f"{path}: no such file. Voice files are looked for beside the spec.") from None
    return _read_voice(path, state.st_mtime_ns, state.st_size)


def narration_lengths(spec: Spec, folder: Path) -> dict[str, Fraction]:
    """How long each voice file that the spec names lasts, in seconds.

    Raises SpecError, with all places, for those that are missing, silent or can't be decoded.
    """
    problems: list[Problem] = []
    lengths: dict[str, Fraction] = {}
    for line in (line for segment in spec.segments for line in segment.say):
        if line.file is None or line.file.name in lengths:
            continue
        path = folder / line.file.name
        try:
            lengths[line.file.name] = read_narration(path).seconds
        except FileError as error:
            wrong, _, mend = str(error).removeprefix(f"{path}: ").partition(". ")
            text = f"{line.file.name}: {wrong.removesuffix('.')}."
            problems.append(Problem(line.file.path, text, mend or "Name a sound file, such as a wav file."))
    if problems:
        raise SpecError(problems)
    return lengths


def _long_enough(samples: Samples) -> Samples:
    """The samples, those shorter than a second again and again: loudness is gated in blocks of 400 ms."""
    if not 0 < len(samples) < SAMPLES_PER_SECOND:
        return samples
    return np.tile(samples, (-(-SAMPLES_PER_SECOND // len(samples)), 1))


def _stated_seconds(path: Path) -> Fraction:
    """How long the file says it is; 0 if it does not say."""
    wave = _stated_by_wave(path)
    if wave:
        return wave
    with av.open(path) as container:
        stream = container.streams.audio[0]
        if stream.duration is None or stream.time_base is None:
            return Fraction(0)
        return stream.duration * stream.time_base


def _stated_by_wave(path: Path) -> Fraction:
    """How long a wav file's header says it is (its reader goes by what is there); 0 for other files."""
    with path.open("rb") as file:
        if file.read(4) != b"RIFF" or file.read(8)[4:] != b"WAVE":
            return Fraction(0)
        bytes_a_second = 0
        while len(head := file.read(8)) == 8:
            size = int.from_bytes(head[4:], "little")
            if head[:4] == b"fmt ":
                bytes_a_second = int.from_bytes(file.read(size)[8:12], "little")
            elif head[:4] == b"data":
                known = bytes_a_second and 0 < size < OPEN_ENDED
                return Fraction(size, bytes_a_second) if known else Fraction(0)
            else:
                file.seek(size + size % 2, 1)
    return Fraction(0)


def _first_two(samples: Samples) -> Samples:
    """Left and right of a sound with more channels, its center (the third) in both, 3 dB softer."""
    return np.asarray(samples[:, :2] + np.float32(np.sqrt(0.5)) * samples[:, 2:3], np.float32)


def _resampled(samples: Samples, rate: int) -> Samples:
    if rate == SAMPLES_PER_SECOND:
        return samples
    import soxr

    return np.asarray(soxr.resample(samples, rate, SAMPLES_PER_SECOND, "VHQ"), np.float32)


def clock_text(seconds: Fraction) -> str:
    """Seconds as `m:ss.s`."""
    minutes, rest = divmod(round(seconds * 10), 600)
    return f"{minutes}:{rest // 10:02}.{rest % 10}"
