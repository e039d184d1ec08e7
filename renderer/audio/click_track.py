"""The click as sound, and sound files.

Samples are float32, 1.0 at full scale, one row a sample and one column a channel. A click's first sample
stands on the sample nearest to its exact time, counted from the first sample of the sound and never from the
click before, so it does not drift at any tempo or length. Levels follow EBU R 128 (2020): a true peak of at
most -1 dBTP; the meter's clicks as they come stay at or below -6 dBFS by construction.
"""

import warnings
import wave
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

import numpy as np

from renderer.audio.click_sounds import SAMPLES_PER_SECOND, Track, build_click_sound
from renderer.audio.event_track import EventTrack, SoundEvent, in_order
from renderer.audio.loudness import Samples, Sound
from renderer.core.errors import FileError
from renderer.core.open_files import OutputFile
from renderer.core.time_grid import seconds_to_sample_index
from renderer.spec.click import CLICK_KINDS, Click, ClickKind
from renderer.spec.sound import ClickSpec

with warnings.catch_warnings():
    # It looks for a program to decode files with, and complains; here PyAV decodes, and no program is needed.
    warnings.simplefilter("ignore")
    from pydub import AudioSegment

FIGURE_KINDS = ("figure", "group")
PLAIN_CLICK = ClickSpec()
TOP = 10 ** (-3 / 20)
"""Beyond -3 dBFS clicks are made softer, all alike: where one begins at once, it rises higher between samples."""

LARGEST_WAV = 2**32 - 1
"""Bytes that the length field of a RIFF chunk can name."""


def click_events(
    clicks: Iterable[Click],
    seconds: Fraction,
    samples_per_second: int = SAMPLES_PER_SECOND,
    text: ClickSpec = PLAIN_CLICK,
) -> EventTrack:
    """All clicks as a track of nearest(seconds x rate) samples.

    The meter's clicks and the figure's sound beside each other. Among themselves a click ends where the next
    one begins, so neither is ever louder than one click, and none runs past the end; of clicks on one sample
    the weightiest kind sounds.
    """
    sample_count = seconds_to_sample_index(seconds, samples_per_second)
    layers: tuple[dict[int, ClickKind], dict[int, ClickKind]] = ({}, {})
    for click in clicks:
        onset = seconds_to_sample_index(click.seconds, samples_per_second)
        if 0 <= onset < sample_count:
            kinds = layers[click.kind in FIGURE_KINDS]
            kinds[onset] = min(click.kind, kinds.get(onset, click.kind), key=CLICK_KINDS.index)
    bursts = _bursts(samples_per_second, text)
    events = []
    for kinds in layers:
        for onset, next_onset in pairwise([*sorted(kinds), sample_count]):
            burst = bursts[kinds[onset]]
            events.append(SoundEvent(onset, min(len(burst), next_onset - onset), burst))
    return in_order(sample_count, events)


def _bursts(samples_per_second: int, text: ClickSpec) -> dict[ClickKind, Track]:
    """Each kind's burst at its level; all softer alike if the loudest of meter and figure could pass the top."""
    bursts = {kind: build_click_sound(kind, samples_per_second, text.sound.get(kind)) for kind in CLICK_KINDS}
    gains = {kind: 10 ** (float(text.level + text.balance.get(kind, 0)) / 20) for kind in CLICK_KINDS}
    peaks = {kind: gains[kind] * float(np.abs(burst).max()) for kind, burst in bursts.items()}
    meter, figure = (
        max((peaks[kind] for kind in CLICK_KINDS if (kind in FIGURE_KINDS) is heard), default=0)
        for heard in (False, True)
    )
    both = meter + (figure if {"figure", "group"} & set(text.every) else 0)
    scale = min(1.0, TOP / both)
    return {
        kind: burst if gains[kind] * scale == 1 else burst * np.float32(gains[kind] * scale)
        for kind, burst in bursts.items()
    }


@dataclass(frozen=True, slots=True)
class JoinedSounds:
    """Sounds one after another, the n-th from sample edges[n] up to edges[n + 1], cut or with silence."""

    sounds: Sequence[Sound | None]
    edges: Sequence[int]

    @property
    def shape(self) -> tuple[int, int]:
        """Samples and channels."""
        return self.edges[-1], 2

    def __getitem__(self, part: slice) -> Samples:
        """Some of it, shape (n, 2)."""
        start, end, step = part.indices(self.edges[-1])
        joined = np.zeros((max(0, end - start), 2), np.float32)
        for sound, (first, stop) in zip(self.sounds, pairwise(self.edges), strict=True):
            low, high = max(first, start), min(stop, end)
            if sound is not None and low < high:
                heard = sound[low - first : high - first]
                joined[low - start : low - start + len(heard)] = heard
        return joined[::step]


def write_wav(target: OutputFile, samples: Sound, samples_per_second: int = SAMPLES_PER_SECOND) -> None:
    """Write `samples`, shape (n, channels), as a wav file of 16 bits.

    16 bits because every editor reads them and a click has no use for more: silence is exact, and the
    rounding of half a step lies 90 dB below the softest click's peak. Samples beyond full scale are clipped.

    Raises FileError if it can't be written or is too long for a wav file.
    """
    sample_count, channel_count = samples.shape
    if sample_count * channel_count * 2 + 36 > LARGEST_WAV:
        hours = LARGEST_WAV / (2 * channel_count * samples_per_second * 3600)
        raise FileError(
            f"{target.path}: {sample_count / samples_per_second / 3600:.1f} hours of sound are too long for one wav "
            f"file, which ends at 4 GiB: {hours:.1f} hours. Write it section by section."
        )
    with wave.open(target, "wb") as file:
        file.setnchannels(channel_count)
        file.setsampwidth(2)
        file.setframerate(samples_per_second)
        file.setnframes(sample_count)
        for start in range(0, sample_count, samples_per_second):
            second = samples[start : start + samples_per_second]
            pcm = np.clip(np.rint(second * np.float32(2.0**15)), -(2**15), 2**15 - 1).astype("<i2")
            segment = AudioSegment(
                data=pcm.tobytes(), sample_width=2, frame_rate=samples_per_second, channels=channel_count
            )
            file.writeframesraw(segment.raw_data)
