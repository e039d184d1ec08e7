"""A film's sound as AAC, in parts that are coded by themselves and joined to its pictures.

The sound's first sample is heard with frame 0: the encoder's 1024 priming samples come before it, and the film's
edit list skips them.

A part's encoder begins LEAD frames before the part and goes on for OVER frames after it, so around a seam there
are two encoders' packets for the same samples. What is heard in a frame is the sum of two packets' windows, so one
encoder may take over from the other after a frame for which both have chosen the same window.
"""

from collections.abc import Iterator
from fractions import Fraction
from functools import cache
from itertools import chain, pairwise
from typing import NamedTuple

import av
import numpy as np
from av.audio.codeccontext import AudioCodecContext

from renderer.audio.click_sounds import SAMPLES_PER_SECOND
from renderer.audio.coded import CodedPart, CodedSound, SoundCoder, blocks_of
from renderer.audio.loudness import Sound

AAC = {"aac_coder": "fast", "flags": "+qscale", "global_quality": "826"}
"""AAC-LC of even quality: 118 is the encoder's unit, and beyond seven of them nothing is gained. Measured, in times
as long as the first, kbit/s, and dB from the sound to what the coder adds, for a click, the example's `play`, and
tones in loud noise:

    fast, 826 (taken)               1     14   79  432   45  56  36
    fast, 320 kbit/s                2.7   14   77  320   43  54  21
    twoloop (usual), 320 kbit/s     9     22  186   -    37  43   -

To keep to a rate, the encoder codes each frame several times over."""
AAC_FRAME = 1024
"""Samples in a frame of AAC (ISO/IEC 14496-3)."""
PART = 720
"""Frames of a part, 15.4 s: all cores have some to code, and few are coded twice."""
LEAD, OVER = 16, 32
"""Frames before a part, in which its encoder comes to know the sound, and after it, in which a seam is found."""
SETTLED = 4
"""Packets at either end of what an encoder was given that are made otherwise than in the middle: of silence."""
SHORTEST = 2
"""Bytes in which a packet says which window it has."""


class CodedPacket(NamedTuple):
    """Some sound: its first sample's place and how many there are, and its bytes."""

    start: int
    length: int
    data: bytes


def count_packets(sample_count: int) -> int:
    """The packets of a sound: the first one is the encoder's priming."""
    return 1 + -(-sample_count // AAC_FRAME)


def count_parts(sample_count: int) -> int:
    """The parts of a sound, at least one."""
    return -(-count_packets(sample_count) // PART)


def code_part(sound: Sound, sample_count: int, index: int) -> CodedPart:
    """Code one part of such a sound, with what its seams are found in. Raises ValueError."""
    first, end = _heard(sample_count, index)
    context = _new_encoder()
    packets: list[bytes] = []
    for frame in chain(_frames(sound, first * AAC_FRAME, end), [None]):
        packets += map(bytes, context.encode(frame))
    begin, count = _extent(sample_count, index)
    kept = packets[begin - first : begin - first + count]
    return CodedPart(context.extradata or b"", begin, tuple(kept))


def _frames(sound: Sound, start: int, end: int) -> Iterator[av.AudioFrame]:
    """The sound from one sample up to another in frames of AAC, the last one shorter."""
    for at, block in blocks_of(sound, start, end, AAC_FRAME):
        frame = av.AudioFrame.from_ndarray(np.ascontiguousarray(block.T), format="fltp", layout="stereo")
        frame.sample_rate = SAMPLES_PER_SECOND
        frame.pts, frame.time_base = at - start, Fraction(1, SAMPLES_PER_SECOND)
        yield frame


def join_parts(sound: CodedSound) -> Iterator[CodedPacket]:
    """A sound's packets in order, each of them once."""
    count, begin = count_packets(sound.sample_count), 0
    for part, following in pairwise(chain(sound.parts(), [None])):
        assert part is not None
        end = count if following is None else _find_seam(part, following)
        for number in range(begin, end):
            start = (number - 1) * AAC_FRAME
            length = min(AAC_FRAME, sound.sample_count - start)
            yield CodedPacket(start, length, part.packets[number - part.first])
        begin = end


def _find_seam(part: CodedPart, following: CodedPart) -> int:
    """The number of the first packet that the following part gives."""
    start = following.first - SETTLED + LEAD
    numbers = range(start, part.first + len(part.packets))
    for number in numbers:
        windows = {_window(some.packets[number - 1 - some.first]) for some in (part, following)}
        if len(windows) == 1 and None not in windows:
            return number
    return numbers[-1]  # encoders that have heard the same for LEAD frames and more do agree


def _window(packet: bytes) -> int | None:
    """The window that both channels share; None if they don't (ISO/IEC 14496-3, 4.4.2.1: a channel pair's
    element is 1 in three bits, 0 in four, 1 for a shared window, and then window sequence and shape)."""
    return packet[1] >> 4 if packet[0] == 0b001_0000_1 else None


def check_part(part: CodedPart, sample_count: int, index: int) -> None:
    """Raises ValueError if it can't be that part of such a sound."""
    if part.header != _header() or (part.first, len(part.packets)) != _extent(sample_count, index):
        raise ValueError(f"not part {index} of a sound of {sample_count} samples")
    if min(map(len, part.packets)) < SHORTEST:
        raise ValueError("a packet that holds nothing")


def _extent(sample_count: int, index: int) -> tuple[int, int]:
    """The number of a part's first packet, and how many it has."""
    first, end = _heard(sample_count, index)
    begins = SETTLED if first else 0
    ends = SETTLED if end < sample_count else 0
    return first + begins, count_packets(end - first * AAC_FRAME) - begins - ends


def _heard(sample_count: int, index: int) -> tuple[int, int]:
    """What a part's encoder is given: from the beginning of a frame, by its number, up to a sample."""
    return max(0, index * PART - LEAD), min(sample_count, ((index + 1) * PART + OVER) * AAC_FRAME)


@cache
def _header() -> bytes:
    context = _new_encoder()
    context.open()
    return context.extradata or b""


def _new_encoder() -> AudioCodecContext:
    context = av.CodecContext.create("aac", "w")
    assert isinstance(context, AudioCodecContext)
    context.options = AAC | {"flags": AAC["flags"] + "+global_header"}
    context.sample_rate, context.layout, context.format = SAMPLES_PER_SECOND, "stereo", "fltp"
    context.time_base = Fraction(1, SAMPLES_PER_SECOND)
    return context


AAC_CODER = SoundCoder(count_parts, code_part, check_part)
