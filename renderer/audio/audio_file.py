"""A sound file as it is mixed: judged, and brought to 48,000 samples a second in two channels, block by block."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from functools import lru_cache
from hashlib import blake2b
from pathlib import Path
from threading import Lock

import numpy as np
import soxr

from renderer.audio.click_sounds import SAMPLES_PER_SECOND
from renderer.audio.decode import CENTER, LEFT_RIGHT, SoundFile, SoundFileError, open_sound
from renderer.audio.digest import DIGEST
from renderer.audio.loudness import SILENCE, LoudnessMeter, Samples, in_steps, integrated_loudness
from renderer.audio.scratch import ScratchSound
from renderer.core.errors import Problem, SpecError
from renderer.spec.model import Spec

RECORDINGS_HELD = 16
"""Files whose samples, once decoded, are kept for as long as the program runs; of more, those that were used last."""


@dataclass(frozen=True, eq=False)
class Recording:
    """A sound file as it is mixed: 48,000 samples a second, shape (n, 2). It is decoded when samples are asked for."""

    path: Path
    sample_count: int
    lufs: float
    seconds: Fraction
    """Of the file: its own samples over its own rate."""
    own_rate: int
    own_channels: tuple[str, ...]
    mark: bytes
    """The same for the same samples alone."""
    _lock: Lock = field(default_factory=Lock, repr=False)
    _decoded: list[ScratchSound] = field(default_factory=list, repr=False)

    @property
    def shape(self) -> tuple[int, int]:
        """Samples and channels."""
        return self.sample_count, 2

    def __getitem__(self, part: slice) -> Samples:
        """Some of it, shape (n, 2), read-only. Raises FileError if the file has changed or gone since it was judged."""
        with self._lock:
            if not self._decoded:
                self._decoded.append(self._decode())
        samples = self._decoded[0][part]
        return np.broadcast_to(samples, (len(samples), 2))

    def _decode(self) -> ScratchSound:
        scratch: ScratchSound | None = None
        with open_sound(self.path) as sound:
            for block in mixable_blocks(sound):
                if scratch is None:
                    scratch = ScratchSound(block.shape[1])
                scratch.add(block)
        if scratch is None or scratch.shape[0] != self.sample_count:
            raise SoundFileError(self.path, "it has changed since it was read.", "Run the command again.")
        return scratch


def read_recording(path: Path) -> Recording:
    """Judge a sound file: all of it is decoded once, and nothing of it held.

    Raises SoundFileError if it is missing, damaged, silent or can't be decoded.
    """
    try:
        state = path.stat()
    except (OSError, ValueError):
        return _judge(path)  # which says what is wrong with it
    return _judge_once(path, state.st_mtime_ns, state.st_size)


@lru_cache(maxsize=RECORDINGS_HELD)
def _judge_once(path: Path, changed: int, size: int) -> Recording:
    """As long as a file does not change, it is judged once."""
    return _judge(path)


def _judge(path: Path) -> Recording:
    meter, mark, count, beginning = LoudnessMeter(peaks=False), blake2b(digest_size=DIGEST), 0, []
    with open_sound(path) as sound:
        for block in in_steps(mixable_blocks(sound)):
            meter.add(np.broadcast_to(block, (len(block), 2)))
            mark.update(np.ascontiguousarray(block).data)
            if count < SAMPLES_PER_SECOND:
                beginning.append(block)
            count += len(block)
        own_count, rate, channels = sound.sample_count, sound.rate, sound.channels
    lufs = meter.lufs()
    if 0 < count < SAMPLES_PER_SECOND:
        # Loudness is gated in blocks of 400 ms: what is shorter than a second is heard again and again.
        times = -(-SAMPLES_PER_SECOND // count)
        lufs = integrated_loudness(
            np.broadcast_to(np.tile(np.concatenate(beginning), (times, 1)), (times * count, 2))
        )
    if lufs == SILENCE:
        raise SoundFileError(path, "it is silent from beginning to end.", "Name the right file.")
    return Recording(path, count, lufs, Fraction(own_count, rate), rate, channels, mark.digest())


def mixable_blocks(sound: SoundFile) -> Iterator[Samples]:
    """The sound in one or two channels, 48,000 samples a second: blocks of shape (n, 1) or (n, 2)."""
    count = min(2, len(sound.channels))
    if sound.rate == SAMPLES_PER_SECOND:
        yield from (_front(block, sound.channels) for block in sound.blocks())
        return
    resampler = soxr.ResampleStream(sound.rate, SAMPLES_PER_SECOND, count, "float32", "VHQ")
    for block in sound.blocks():
        yield resampler.resample_chunk(np.ascontiguousarray(_front(block, sound.channels)))
    yield resampler.resample_chunk(np.zeros((0, count), np.float32), last=True)


def _front(block: Samples, channels: tuple[str, ...]) -> Samples:
    """Left and right of a sound, or its one channel; a center between more than two is heard in both, 3 dB softer."""
    if len(channels) <= 2:
        return block
    left, right = map(channels.index, LEFT_RIGHT) if {*LEFT_RIGHT} <= {*channels} else (0, 1)
    front = block[:, [left, right]]
    if CENTER in channels:
        center = channels.index(CENTER)
        front += np.float32(np.sqrt(0.5)) * block[:, center : center + 1]
    return front


def narration_lengths(spec: Spec, folder: Path) -> dict[str, Fraction]:
    """How long each voice file that the spec names lasts, in seconds.

    Raises SpecError, with all places, for those that are missing, silent or can't be decoded.
    """
    problems: list[Problem] = []
    lengths: dict[str, Fraction] = {}
    for line in (line for segment in spec.segments for line in segment.say):
        if line.file is None or line.file.name in lengths:
            continue
        try:
            lengths[line.file.name] = read_recording(folder / line.file.name).seconds
        except SoundFileError as error:
            problems.append(Problem(line.file.path, f"{line.file.name}: {error.wrong}", error.mend))
    if problems:
        raise SpecError(problems)
    return lengths
