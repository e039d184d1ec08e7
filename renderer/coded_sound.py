"""A film's sound as AAC, coded once: packets that are joined to its pictures and can be kept.

The sound's first sample is heard with frame 0: the encoder's 1024 priming samples come before it, and the film's
edit list skips them. A sound is named by what it is mixed from, so one that has not changed is not mixed again.
"""

import struct
from collections.abc import Iterator, Sequence
from fractions import Fraction
from hashlib import blake2b
from itertools import chain
from typing import NamedTuple

import av
import numpy as np
from av.audio.codeccontext import AudioCodecContext
from av.codec.context import Flags

from renderer.bursts import SAMPLES_PER_SECOND
from renderer.loudness import Sound
from renderer.master import Stem
from renderer.strokes import Strokes

AAC = {"aac_coder": "fast"}
"""At AAC_BITS a click comes back within 0.01 of full scale, and what sounds before it is 0.005 of its peak;
the encoder's usual coder, "twoloop", gives 0.03 and 0.1."""
AAC_BITS = 320_000
"""The most that stereo AAC at 48 kHz is usually given. A click with silence around it takes about 80,000."""
AAC_FRAME = 1024
"""Samples in a frame of AAC (ISO/IEC 14496-3)."""
MIXED = 32 * AAC_FRAME
"""Samples that are mixed in one go."""
DIGEST = 20


class CodedPacket(NamedTuple):
    """Some sound: its first sample's place and how many there are, and its bytes."""

    start: int
    length: int
    data: bytes | memoryview


class CodedSound(NamedTuple):
    """A whole sound and what a decoder has to know of it."""

    header: bytes
    packets: tuple[CodedPacket, ...]


def set_up_sound(context: AudioCodecContext) -> None:
    """What has to be the same for the sound and for the film that it is joined to."""
    context.bit_rate = AAC_BITS
    context.time_base = Fraction(1, SAMPLES_PER_SECOND)


def code_sound(sound: Sound, sample_count: int) -> CodedSound:
    """Code a sound, shape (n, 2), cut or filled with silence to so many samples. Raises ValueError."""
    if len(sound.shape) != 2 or sound.shape[1] != 2:
        raise ValueError(f"sound is {sound.shape}, not (n, 2)")
    context = av.CodecContext.create("aac", "w")
    assert isinstance(context, AudioCodecContext)
    context.options = AAC
    context.flags |= Flags.global_header
    context.sample_rate, context.layout, context.format = SAMPLES_PER_SECOND, "stereo", "fltp"
    set_up_sound(context)
    packets = []
    for frame in chain(_frames(sound, sample_count), [None]):
        for packet in context.encode(frame):
            assert packet.pts is not None
            packets.append(CodedPacket(packet.pts, packet.duration or AAC_FRAME, bytes(packet)))
    return CodedSound(context.extradata or b"", tuple(packets))


def _frames(sound: Sound, sample_count: int) -> Iterator[av.AudioFrame]:
    """The sound in frames of AAC, the last one shorter."""
    for first in range(0, sample_count, MIXED):
        heard = sound[first : min(first + MIXED, sample_count)]
        part = np.zeros((2, min(MIXED, sample_count - first)), np.float32)
        part[:, : len(heard)] = heard.T
        for start in range(0, part.shape[1], AAC_FRAME):
            block = np.ascontiguousarray(part[:, start : start + AAC_FRAME])
            frame = av.AudioFrame.from_ndarray(block, format="fltp", layout="stereo")
            frame.sample_rate = SAMPLES_PER_SECOND
            frame.pts, frame.time_base = first + start, Fraction(1, SAMPLES_PER_SECOND)
            yield frame


def name_sound(stems: Sequence[Stem], *settings: object) -> str:
    """A name for what is mixed from stems with these settings: a hash of all of it."""
    state = blake2b(repr(settings).encode(), digest_size=DIGEST)
    sounds: dict[int, bytes] = {}
    for stem in stems:
        state.update(repr((stem.name, stem.pan, stem.spikes)).encode())
        if isinstance(stem.samples, Strokes):
            for stroke in stem.samples.strokes:
                if id(stroke.sound) not in sounds:
                    sounds[id(stroke.sound)] = _hash(stroke.sound)
                rest = (stroke.start, stroke.length, stroke.gain, stroke.let_go)
                state.update(repr(rest).encode() + sounds[id(stroke.sound)])
        else:
            state.update(_hash(stem.samples))
    return state.hexdigest()


def _hash(samples: np.ndarray) -> bytes:
    return blake2b(np.ascontiguousarray(samples).data, digest_size=DIGEST).digest()


def pack_sound(sound: CodedSound) -> bytes:
    """A coded sound as bytes: sizes and places, then the parts."""
    heads = [(packet.start, packet.length, len(packet.data)) for packet in sound.packets]
    table = np.array(heads, "<i8").reshape(-1, 3).tobytes()
    sizes = struct.pack("<2I", len(sound.header), len(heads))
    return b"".join([sizes, sound.header, table, *(packet.data for packet in sound.packets)])


def unpack_sound(content: bytes) -> CodedSound:
    """What `pack_sound` packed."""
    header_size, count = struct.unpack_from("<2I", content)
    header = content[8 : 8 + header_size]
    table = np.frombuffer(content, "<i8", 3 * count, 8 + header_size).reshape(-1, 3)
    at, packets, whole = 8 + header_size + table.nbytes, [], memoryview(content)
    for start, length, size in table.tolist():
        packets.append(CodedPacket(start, length, whole[at : at + size]))
        at += size
    return CodedSound(header, tuple(packets))
