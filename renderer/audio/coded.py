"""A film's coded sound: in parts that can be kept. It is named by what it is mixed from, so one that has not changed is
not mixed again."""

import struct
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate, pairwise
from typing import NamedTuple

import numpy as np

from renderer.audio.digest import digest_of
from renderer.audio.loudness import Samples, Sound
from renderer.audio.stem import Stem

MIXED = 32
"""Blocks that are mixed in one go."""


class CodedPart(NamedTuple):
    """A stretch of a sound and what a decoder has to know of it: the packets from number `first` on."""

    header: bytes
    first: int
    packets: tuple[bytes, ...]


@dataclass(frozen=True, slots=True)
class CodedSound:
    """A whole sound of so many samples; its parts come when they are asked for, by their number."""

    sample_count: int
    part_count: int
    part: Callable[[int], CodedPart]

    def parts(self) -> Iterator[CodedPart]:
        """All parts in order."""
        return map(self.part, range(self.part_count))


class SoundCoder(NamedTuple):
    """One way to code a sound."""

    count_parts: Callable[[int], int]
    """The parts of a sound of so many samples, at least one."""
    code_part: Callable[[Sound, int, int], CodedPart]
    """A part, by its number, of a sound that is cut or filled with silence to so many samples. Raises ValueError."""
    check_part: Callable[[CodedPart, int, int], None]
    """Raises ValueError if it can't be that part of a sound of so many samples."""


def code_sound(coder: SoundCoder, sound: Sound, sample_count: int) -> CodedSound:
    """Code a sound, shape (n, 2), cut or filled with silence to so many samples. Raises ValueError."""
    count = coder.count_parts(sample_count)
    parts = [coder.code_part(sound, sample_count, index) for index in range(count)]
    return CodedSound(sample_count, count, parts.__getitem__)


def blocks_of(sound: Sound, start: int, end: int, length: int) -> Iterator[tuple[int, Samples]]:
    """A sound from one sample up to another in blocks of so many samples, the last one shorter, each with its first
    sample's number; silence beyond its end. Raises ValueError if it is not of shape (n, 2)."""
    if len(sound.shape) != 2 or sound.shape[1] != 2:
        raise ValueError(f"sound is {sound.shape}, not (n, 2)")
    for first in range(start, end, MIXED * length):
        mixed = np.zeros((min(MIXED * length, end - first), 2), np.float32)
        heard = sound[first : first + len(mixed)]
        mixed[: len(heard)] = heard
        for at in range(0, len(mixed), length):
            yield first + at, mixed[at : at + length]


def name_sound(stems: Sequence[Stem], *settings: object) -> str:
    """A name for what is mixed from stems with these settings: a hash of all of it."""
    return digest_of([repr(settings).encode(), *(stem.digest() for stem in stems)]).hex()


def pack_part(part: CodedPart) -> bytes:
    """A coded part as bytes: its first packet's number, the sizes, then header and packets."""
    pieces = [part.header, *part.packets]
    sizes = struct.pack(f"<2I{len(pieces)}I", part.first, len(pieces), *map(len, pieces))
    return b"".join([sizes, *pieces])


def unpack_part(content: bytes) -> CodedPart:
    """What `pack_part` packed. Raises ValueError if it was anything else."""
    try:
        first, count = struct.unpack_from("<2I", content)
        sizes = struct.unpack_from(f"<{count}I", content, 8)
    except struct.error:
        raise ValueError("no packed sound") from None
    ends = [*accumulate(sizes, initial=8 + 4 * count)]
    if not sizes or ends[-1] != len(content):
        raise ValueError("no packed sound")
    header, *packets = (content[start:end] for start, end in pairwise(ends))
    return CodedPart(header, first, tuple(packets))
