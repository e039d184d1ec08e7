"""What each coding does with chunks: is one whole, its stream in a file, its packets; and the same for its sound."""

from collections.abc import Iterator
from fractions import Fraction
from typing import Any

from av.audio.stream import AudioStream
from av.container import OutputContainer
from av.packet import Packet
from av.video.stream import VideoStream

from renderer.audio.aac import AAC, AAC_CODER, join_parts
from renderer.audio.click_sounds import SAMPLES_PER_SECOND
from renderer.audio.coded import CodedSound, SoundCoder
from renderer.audio.opus import OPUS_CODER, add_opus, opus_packets
from renderer.video.codings import PRORES, VP9, Coding
from renderer.video.h264 import X264, EncodedChunk, check_chunk, set_up

# Codings for films without a ground are imported where they are used: they bring Numba, which takes a second to load.


def check_coded(
    coding: Coding,
    chunk: EncodedChunk,
    frame_count: int,
    width: int,
    height: int,
    frames_per_second: Fraction,
) -> None:
    """Raises ValueError if a film of that coding can't hold this chunk as so many frames."""
    if coding == PRORES:
        from renderer.video.prores import check_prores

        check_prores(chunk, frame_count, width, height)
    elif coding == VP9:
        from renderer.video.vp9 import check_vp9

        check_vp9(chunk)
    else:
        check_chunk(chunk, frame_count, width, height, frames_per_second)


def add_picture(
    container: OutputContainer, coding: Coding, width: int, height: int, frames_per_second: Fraction
) -> VideoStream:
    """The picture's stream in a file."""
    if coding == PRORES:
        from renderer.video.prores import add_prores

        return add_prores(container, width, height, frames_per_second)
    if coding == VP9:
        from renderer.video.vp9 import add_vp9

        return add_vp9(container, width, height, frames_per_second)
    stream = container.add_stream("libx264", rate=frames_per_second, options=X264)
    set_up(stream.codec_context, width, height, frames_per_second)
    return stream


def packets_of(coding: Coding, chunk: EncodedChunk) -> Iterator["Packet[Any]"]:
    """A chunk's frames as packets."""
    if coding == VP9:
        from renderer.video.vp9 import vp9_packets

        return vp9_packets(chunk)
    return (Packet(data) for data in chunk.frames)


def sound_coder(coding: Coding) -> SoundCoder:
    """What codes a film's sound."""
    return OPUS_CODER if coding.sound == "opus" else AAC_CODER


def add_sound(container: OutputContainer, coding: Coding) -> AudioStream:
    """The sound's stream in a file."""
    if coding.sound == "opus":
        return add_opus(container)
    return container.add_stream("aac", rate=SAMPLES_PER_SECOND, layout="stereo", options=AAC)


def sound_packets(coding: Coding, sound: CodedSound, header: bytes | None) -> Iterator["Packet[Any]"]:
    """A sound's packets, timed in samples, the encoder's priming first. Raises ValueError if it was coded in another
    way than a stream with this header."""
    if coding.sound == "opus":
        yield from opus_packets(sound)
        return
    if sound.part(0).header != header:
        raise ValueError("the sound was coded in another way than this film")
    for start, length, data in join_parts(sound):
        packet = Packet(data)
        packet.pts, packet.dts, packet.duration = start, start, length
        yield packet
