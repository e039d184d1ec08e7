"""A film's sound as Opus, for WebM, in one part: an encoder goes by what it has coded before, so two can't be joined.

The sound's first sample is heard with frame 0: the encoder's 312 samples of pre-skip come before it, and the file says
how many a decoder leaves out (RFC 7845, 4.2; RFC 9559, CodecDelay). It also says how many are left over at the end
(DiscardPadding).
"""

from collections.abc import Iterator
from fractions import Fraction
from io import BytesIO
from typing import Any

import av
from av.audio.stream import AudioStream
from av.container import OutputContainer
from av.packet import Packet

from renderer.audio.click_sounds import SAMPLES_PER_SECOND
from renderer.audio.coded import CodedPart, CodedSound, SoundCoder, blocks_of
from renderer.audio.loudness import Sound
from renderer.core.webm import EXACT

ENCODER = "libopus"
OPTIONS = {"b": "256000", "application": "audio"}
OPUS_FRAME, PRE_SKIP = 960, 312
"""Samples in a frame of 20 ms (RFC 6716, 2.1.4), and those that libopus needs to look ahead (6.5 ms)."""
DELAY = 7 * SAMPLES_PER_SECOND // 1000
"""Samples by which FFmpeg puts packets later in a WebM file: the pre-skip in whole milliseconds."""


def add_opus(container: OutputContainer) -> AudioStream:
    """A sound's stream."""
    stream = container.add_stream(ENCODER, rate=SAMPLES_PER_SECOND, layout="stereo", options=OPTIONS)
    assert isinstance(stream, AudioStream)
    return stream


def opus_packets(sound: CodedSound) -> Iterator["Packet[Any]"]:
    """A sound's packets, timed in samples so that the file's milliseconds are those of the frames, exactly."""
    for number, packet in enumerate(_packets(sound.part(0))):
        packet.pts = packet.dts = number * OPUS_FRAME - DELAY
        packet.duration = min(OPUS_FRAME, sound.sample_count + PRE_SKIP - number * OPUS_FRAME)
        yield packet


def _count_parts(sample_count: int) -> int:
    return 1


def _code_part(sound: Sound, sample_count: int, index: int) -> CodedPart:
    """All of it, as a WebM file: only that holds what is left over at the end."""
    file = BytesIO()
    with av.open(file, "w", format="webm", options=EXACT) as container:
        stream = add_opus(container)
        for at, block in blocks_of(sound, 0, sample_count, OPUS_FRAME):
            frame = av.AudioFrame.from_ndarray(block.reshape(1, -1), format="flt", layout="stereo")
            frame.sample_rate = SAMPLES_PER_SECOND
            frame.pts, frame.time_base = at, Fraction(1, SAMPLES_PER_SECOND)
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return CodedPart(b"", 0, (file.getvalue(),))


def _check_part(part: CodedPart, sample_count: int, index: int) -> None:
    if part.header or part.first or len(part.packets) != 1:
        raise ValueError("not a sound of one part")
    try:
        count = sum(1 for _ in _packets(part))
    except (av.FFmpegError, IndexError):
        raise ValueError("no WebM file") from None
    if count != -(-(sample_count + PRE_SKIP) // OPUS_FRAME):
        raise ValueError(f"not a sound of {sample_count} samples")


def _packets(part: CodedPart) -> Iterator["Packet[Any]"]:
    with av.open(BytesIO(part.packets[0]), "r", format="webm") as container:
        yield from (packet for packet in container.demux(audio=0) if packet.size)


OPUS_CODER = SoundCoder(_count_parts, _code_part, _check_part)
