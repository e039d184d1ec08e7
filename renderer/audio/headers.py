"""What wav and mp3 files say of themselves, where FFmpeg does not tell it on."""

from dataclasses import dataclass
from typing import BinaryIO

UNKNOWN_SIZE = 2**31
"""Sizes from here on stand in wav files whose length was not known when they were begun."""
INTEGERS, FLOATS, EXTENSIBLE = 1, 3, 0xFFFE
"""How samples are written: the format tags of RIFF WAVE (Microsoft's mmreg.h)."""
LENGTH_MARKS = (b"Xing", b"Info", b"VBRI")
"""One of these begins what an encoder writes into an mp3's first frame: its number of frames, above all."""
FIRST_FRAME = 4096
"""Bytes in which an mp3's first frame ends."""
MOST_CHUNKS = 1000
"""A wav file has a dozen at most; one with more was made to keep its reader busy."""


@dataclass(frozen=True, slots=True)
class WaveHeader:
    """What a wav file's header says."""

    tag: int
    """How samples are written."""
    bits: int
    """Of one sample."""
    bytes_a_second: int
    stated_bytes: int
    """Of sound; 0 if the header does not say."""
    own_bytes: int
    """From where the sound begins to the file's end."""

    @property
    def is_plain(self) -> bool:
        """Whether samples stand in it as they are, as integers or as floating-point numbers."""
        return self.tag in (INTEGERS, FLOATS, EXTENSIBLE)


def read_wave_header(file: BinaryIO) -> WaveHeader | None:
    """What a wav file says of its sound; None for other files, and where there is no sound."""
    size = file.seek(0, 2)
    file.seek(0)
    if file.read(4) != b"RIFF" or file.read(8)[4:] != b"WAVE":
        return None
    tag = bits = bytes_a_second = 0
    for _ in range(MOST_CHUNKS):
        head = file.read(8)
        length = int.from_bytes(head[4:], "little")
        if head[:4] == b"data":
            stated = length if length < UNKNOWN_SIZE else 0
            return WaveHeader(tag, bits, bytes_a_second, stated, size - file.tell())
        begin = file.tell()
        if head[:4] == b"fmt ":
            content = file.read(min(length, 16))
            tag, bits = int.from_bytes(content[:2], "little"), int.from_bytes(content[14:16], "little")
            bytes_a_second = int.from_bytes(content[8:12], "little")
        file.seek(begin + length + length % 2)
    return None


def states_length(file: BinaryIO) -> bool:
    """Whether an mp3 says how long it is. The file is left where it stood."""
    stood = file.tell()
    file.seek(0)
    head = file.read(10)
    begin = 0
    if head[:3] == b"ID3" and len(head) == 10:
        # A tag's size stands in four bytes of seven bits each (ID3v2.4, section 3.1).
        begin = 10 + sum(byte << shift for byte, shift in zip(head[6:10], (21, 14, 7, 0), strict=True))
    file.seek(begin)
    first = file.read(FIRST_FRAME)
    file.seek(stood)
    return any(mark in first for mark in LENGTH_MARKS)
