"""A segment's sound as a stream that a browser plays from its first piece on: WAV, 16 bits, 48,000 samples a second.

A loop is laid out in the stream, so it is exact to the sample: what follows the loop's last sample is its first one.
The 5 ms before the seam fade over into the 5 ms before the loop's start, so nothing that rings is cut off with a click,
and no attack is touched.
"""

from collections.abc import Iterator
from struct import pack

import numpy as np
from numpy.typing import NDArray

from renderer.audio.click_sounds import SAMPLES_PER_SECOND
from renderer.audio.loudness import Samples, Sound
from renderer.audio.master import CEILING_DB

FIRST_PIECE, PIECE = SAMPLES_PER_SECOND // 10, SAMPLES_PER_SECOND // 2
SEAM = SAMPLES_PER_SECOND // 200
FRAME_BYTES = 4
ENDLESS = 0x7FFFFF00
"""Bytes that a stream says it has whose end is not known: over three hours."""
CEILING = np.float32(10 ** (CEILING_DB / 20))


def wav_head(sample_count: int | None) -> bytes:
    """The head of a WAV file of so many samples; None: as long as one listens. Source: RIFF, IBM and Microsoft 1991."""
    size = min(ENDLESS, sample_count * FRAME_BYTES) if sample_count is not None else ENDLESS
    form = pack("<HHIIHH", 1, 2, SAMPLES_PER_SECOND, SAMPLES_PER_SECOND * FRAME_BYTES, FRAME_BYTES, 16)
    return b"RIFF" + pack("<I", 36 + size) + b"WAVEfmt " + pack("<I", 16) + form + b"data" + pack("<I", size)


def pieces(sound: Sound, start: int, loop: tuple[int, int] | None = None) -> Iterator[Samples]:
    """The sound from a sample on, piece by piece, shape (n, 2): to its end, or from `loop` on round and round."""
    count = sound.shape[0]
    if loop is None:
        yield from _cut(sound, start, count)
        return
    first, last = loop
    if not first < last:
        raise ValueError(f"a loop from {first} to {last}: at least one sample")
    at = start if start < last else first
    while True:
        yield from _cut(sound, at, max(at, last - SEAM))
        yield _seam(sound, max(at, last - SEAM), last, first)
        at = first


def _cut(sound: Sound, start: int, end: int) -> Iterator[Samples]:
    at, length = start, FIRST_PIECE
    while at < end:
        yield _part(sound, at, min(end, at + length))
        at, length = at + length, PIECE


def _seam(sound: Sound, start: int, end: int, first: int) -> Samples:
    """The last samples before a loop's end, fading over into those before its start."""
    out, into = _part(sound, start, end), _part(sound, first - (end - start), first)
    share = np.linspace(0, 1, end - start, endpoint=False, dtype=np.float32)[:, np.newaxis]
    return np.asarray(out * (1 - share) + into * share, np.float32)


def _part(sound: Sound, start: int, end: int) -> Samples:
    """Some samples; silence where the sound has none."""
    count = sound.shape[0]
    low, high = min(count, max(0, start)), min(count, max(0, end))
    part = np.zeros((end - start, 2), np.float32)
    if low < high:
        part[low - start : high - start] = sound[low:high]
    return part


def coded(samples: NDArray[np.float32]) -> bytes:
    """Samples as they stand in the stream; none is louder than a finished mix may be."""
    held = np.clip(samples, -CEILING, CEILING)
    return np.rint(held * 32767).astype("<i2").tobytes()
