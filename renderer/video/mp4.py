"""Frames and sound into one mp4 that plays in a browser.

H.264 and AAC. The picture is encoded in chunks of two seconds, each by an encoder of its own and beginning
with a keyframe, so chunks can be made in any order, anywhere, kept, and joined by copying their packets. It is
8-bit 4:2:0, tagged as ITU-R BT.709, limited range, chroma in the middle of its 2 x 2 pixels. Frame n is shown
from n / frames_per_second on, exactly; the sound's first sample is heard with frame 0, the encoder's 1024
priming samples being skipped by the file's edit list. The index (moov) stands before the data, so a player
can begin while the file still loads. Nothing in the file depends on the time or the machine's core count: the
same input gives the same bytes.

Encoder settings, measured at 1920 x 1080 on 180 frames of a playhead and a fading cell over two drawn
pictures: milliseconds of CPU per frame, kbit/s at 60 frames a second, and the largest error of any sample:

    medium, crf 18                                  14.2   600 to 1420   55
    veryfast, crf 18                                 6.2   570 to 1380   55
    superfast, qp 18, plain                          2.8   960 to 2560   49
    veryfast, qp 18, plain                           2.8   830 to 2270   49
    veryfast, qp 16, plain, no deblocking            2.8   900 to 2480   11

And on another machine, of the last one, on chunks of the example's play with a row turning, spread, figure and
crossings: milliseconds, kbit/s, and PSNR of luma in dB:

    subme 2, the preset's own      8.7  5.9  5.6  5.3   3972  841  360  552   58.5  60.9  63.5  63.0
    subme 1                        7.6  5.9  6.1  5.8   4208  908  368  565   58.4  60.8  63.4  62.8
    subme 0 (taken)                6.1  4.0  4.2  4.3   4905  928  407  592   58.4  60.8  63.3  62.8
    ultrafast with cabac           5.5  3.7  3.6  3.8   5346 1065  511  722   57.9  60.3  62.6  62.2

What moves here moves by smooth curves over flat ground, so a search between pixels finds little: without it
a quarter to a third of the time is saved for a tenth to a quarter of the bytes.

"Plain" leaves out all that looks ahead or weighs frames against each other (rc-lookahead, bframes, weightp,
scenecut, mbtree, aq): a drawn picture stands still but for small spots, so little is gained by it. The
deblocking filter is off because it softens thin lines beside flat ground, of which these pictures are made;
that was the large error. Without B frames the decoding order is the showing order. The keyframe that begins a
chunk also lets a viewer or an editor jump. One thread an encoder: two processes of one thread are 1.25 to 1.8
times as fast as one of two.
"""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from heapq import merge
from itertools import chain, islice
from operator import itemgetter
from typing import Any

import av
import numpy as np
from av.audio.stream import AudioStream
from av.codec.context import Flags
from av.container import OutputContainer
from av.packet import Packet
from av.video.codeccontext import VideoCodecContext
from av.video.stream import VideoStream

from renderer.audio.aac import AAC, CodedSound, code_sound, join_parts
from renderer.audio.click_sounds import SAMPLES_PER_SECOND
from renderer.audio.loudness import Sound
from renderer.core.errors import BarcrossError, FileError
from renderer.core.files import OutputFile
from renderer.core.time_grid import frame_index_to_seconds, nearest, seconds_to_sample_index
from renderer.video.pixels import PixelBox, Pixels

BT709 = 1
"""ITU-T H.273: primaries, transfer and matrix of BT.709 all have this number."""
LIMITED_RANGE = 1

X264 = {
    "preset": "veryfast",
    "qp": "16",
    "x264-params": "rc-lookahead=0:bframes=0:weightp=0:scenecut=0:mbtree=0:aq-mode=0"
    ":subme=0:no-deblock=1:chromaloc=1",
}
SLICE, KEYFRAME_SLICE = 1, 5
"""ITU-T H.264, table 7-1: a coded slice of a picture, and of one that needs no other."""
CHUNK_SECONDS = 2

Timed = tuple[Fraction, list["Packet[Any]"]]
"""When something starts, in seconds, and the packets that came out when it went in."""


@dataclass(frozen=True, slots=True)
class EncodedChunk:
    """A stretch of encoded frames that stands for itself: the first is a keyframe, no other is."""

    header: bytes
    """The decoder's parameters, the same for all chunks of a film."""
    frames: tuple[bytes, ...]


def chunk_length(frames_per_second: Fraction) -> int:
    """Frames to a chunk.

    >>> chunk_length(Fraction(30000, 1001))
    60
    """
    return max(1, nearest(CHUNK_SECONDS * frames_per_second))


def split_frames(frame_count: int, frames_per_second: Fraction) -> list[range]:
    """A film's frames, chunk by chunk.

    >>> split_frames(130, Fraction(30))
    [range(0, 60), range(60, 120), range(120, 130)]
    """
    length = chunk_length(frames_per_second)
    return [range(start, min(start + length, frame_count)) for start in range(0, frame_count, length)]


def check_chunk(
    chunk: EncodedChunk, frame_count: int, width: int, height: int, frames_per_second: Fraction
) -> None:
    """Raises ValueError if such a film can't hold this chunk as so many frames."""
    if len(chunk.frames) != frame_count:
        raise ValueError(f"a chunk of {len(chunk.frames)} frames, not {frame_count}")
    if chunk.header != _picture_header(width, height, frames_per_second):
        raise ValueError("a chunk was encoded in another way than this film")
    if [_slice_type(frame) for frame in chunk.frames] != [KEYFRAME_SLICE, *[SLICE] * (frame_count - 1)]:
        raise ValueError("a chunk is not a keyframe and the frames that follow from it")


@lru_cache
def _picture_header(width: int, height: int, frames_per_second: Fraction) -> bytes:
    context = _new_encoder(width, height, frames_per_second)
    context.open()
    return context.extradata or b""


def _slice_type(frame: bytes) -> int | None:
    """The kind of the first unit that holds pixels (ITU-T H.264, 7.4.1 and annex B)."""
    at = -1
    while (at := frame.find(b"\0\0\1", at + 1)) >= 0 and at + 3 < len(frame):
        kind = frame[at + 3] & 31
        if kind in (SLICE, KEYFRAME_SLICE):
            return kind
    return None


def _new_encoder(width: int, height: int, frames_per_second: Fraction) -> VideoCodecContext:
    context = av.CodecContext.create("libx264", "w")
    assert isinstance(context, VideoCodecContext)
    context.options = X264
    context.flags |= Flags.global_header
    _set_up(context, width, height, frames_per_second)
    return context


def encode_chunk(
    frames: Iterable[av.VideoFrame], width: int, height: int, frames_per_second: Fraction
) -> EncodedChunk:
    """Encode some frames, yuv420p. They are taken one at a time; it may be one frame that is drawn over."""
    context = _new_encoder(width, height, frames_per_second)
    packets: list[Packet[Any]] = []
    for index, frame in enumerate(frames):
        frame.pts, frame.time_base = index, 1 / frames_per_second
        packets += context.encode(frame)
    packets += context.encode(None)
    return EncodedChunk(context.extradata or b"", tuple(bytes(packet) for packet in packets))


def encode_pixels(
    frames: Iterable[Pixels], width: int, height: int, frames_per_second: Fraction
) -> Iterator[EncodedChunk]:
    """Pictures as chunks, one after another. A picture's memory may be drawn over once the next one is asked
    for."""
    from renderer.video.planes import Planes  # who only joins chunks needs no compiler

    planes, whole = Planes(width, height), [PixelBox(0, 0, width, height)]

    def convert(pixels: Pixels) -> av.VideoFrame:
        planes.update(pixels, whole)
        return planes.frame

    left = iter(frames)
    length = chunk_length(frames_per_second)
    for first in left:
        stretch = chain([first], islice(left, length - 1))
        yield encode_chunk(map(convert, stretch), width, height, frames_per_second)


def write_film(
    file: OutputFile,
    frames: Iterable[Pixels],
    width: int,
    height: int,
    frames_per_second: Fraction,
    frame_count: int,
    sound: Sound | None = None,
) -> None:
    """Encode `frames` and `sound` into `file`.

    `frames` are taken one at a time, and a frame's memory may be drawn over once the next one is asked for.
    `sound`, shape (n, 2), 48,000 samples a second, begins with frame 0; it is cut or filled with silence to
    end with the last frame. What `frames` raises passes through.

    Raises BarcrossError for a size that H.264 can't hold, FileError if the file can't be written, ValueError
    if `frames` are not `frame_count` pictures of that size.
    """
    checked = _checked(frames, width, height, frame_count)
    chunks = encode_pixels(checked, width, height, frames_per_second)
    coded = None if sound is None else code_sound(sound, count_samples(frame_count, frames_per_second))
    join_chunks(file, chunks, width, height, frames_per_second, frame_count, coded)


def count_samples(frame_count: int, frames_per_second: Fraction) -> int:
    """How many samples sound with so many frames."""
    seconds = frame_index_to_seconds(frame_count, frames_per_second)
    return seconds_to_sample_index(seconds, SAMPLES_PER_SECOND)


def join_chunks(
    file: OutputFile,
    chunks: Iterable[EncodedChunk],
    width: int,
    height: int,
    frames_per_second: Fraction,
    frame_count: int,
    sound: CodedSound | None = None,
) -> None:
    """Join encoded chunks, in their order, and coded `sound` into `file`.

    As `write_film`; ValueError also if the chunks were not all encoded in the same way.
    """
    check_size(width, height)
    if frame_count < 1 or frames_per_second <= 0:
        raise ValueError(f"a film has frames: got {frame_count} at {frames_per_second} a second")
    with _open_mp4(file) as container:
        picture = _add_picture(container, width, height, frames_per_second)
        tracks = [_copy_picture(picture, chunks, frames_per_second, frame_count)]
        if sound is not None:
            tracks.append(_copy_sound(_add_sound(container), sound))
        container.start_encoding()
        for _, packets in merge(*tracks, key=itemgetter(0)):
            container.mux(packets)


@contextmanager
def _open_mp4(file: OutputFile) -> Iterator[OutputContainer]:
    """A container that writes to `file`, closed at the end."""
    # Edit lists count in this timescale: with the usual 1000 a sound's end is off by up to 1 ms.
    options = {"movflags": "+faststart", "movie_timescale": str(SAMPLES_PER_SECOND)}
    # To put the index before the data, the file is read while it is written.
    container = av.open(
        file, "w", format="mp4", options=options, io_open=lambda url, flags, options: file.reopen()
    )
    try:
        yield container
    except BaseException:
        with suppress(OSError, FileError, av.FFmpegError):  # what went wrong first is what is reported
            container.close()
        raise
    container.close()


def check_size(width: int, height: int) -> None:
    """Raises BarcrossError for a size that H.264 can't hold."""
    if width < 2 or height < 2 or width % 2 or height % 2:
        even_width, even_height = (max(2, size + size % 2) for size in (width, height))
        raise BarcrossError(
            f"a film of {width}x{height} can't be made: width and height must be even. "
            f"The nearest size is {even_width}x{even_height}."
        )


def _checked(frames: Iterable[Pixels], width: int, height: int, frame_count: int) -> Iterator[Pixels]:
    """The same frames, with alpha; ValueError for a wrong size or number."""
    count = 0
    for frame in frames:
        if frame.dtype != np.uint8 or frame.shape not in ((height, width, 3), (height, width, 4)):
            expected = f"({height}, {width}, 3 or 4) uint8"
            raise ValueError(f"frame {count} is {frame.shape} {frame.dtype}, not {expected}")
        count += 1
        if count > frame_count:
            break
        yield frame if frame.shape[2] > 3 else np.insert(frame, 3, 255, axis=2)
    if count != frame_count:
        raise ValueError(f"{'more' if count > frame_count else 'fewer'} than {frame_count} frames")


def _add_picture(
    container: OutputContainer, width: int, height: int, frames_per_second: Fraction
) -> VideoStream:
    stream = container.add_stream("libx264", rate=frames_per_second, options=X264)
    _set_up(stream.codec_context, width, height, frames_per_second)
    return stream


def _set_up(context: VideoCodecContext, width: int, height: int, frames_per_second: Fraction) -> None:
    """What has to be the same for every chunk and for the film that they are joined to."""
    context.width, context.height, context.pix_fmt = width, height, "yuv420p"
    context.framerate, context.time_base = frames_per_second, 1 / frames_per_second
    context.thread_count = 1
    context.gop_size = chunk_length(frames_per_second)
    context.color_primaries = context.color_trc = context.colorspace = BT709
    context.color_range = LIMITED_RANGE


def _copy_picture(
    stream: VideoStream, chunks: Iterable[EncodedChunk], frames_per_second: Fraction, frame_count: int
) -> Iterator[Timed]:
    """The packets of one frame after another."""
    index = 0
    for chunk in chunks:
        if chunk.header != stream.codec_context.extradata:
            raise ValueError("a chunk was encoded in another way than this film")
        for data in chunk.frames:
            packet = Packet(data)
            packet.stream, packet.time_base = stream, 1 / frames_per_second
            packet.pts, packet.dts, packet.duration = index, index, 1
            packet.is_keyframe = data is chunk.frames[0]
            yield frame_index_to_seconds(index, frames_per_second), [packet]
            index += 1
    if index != frame_count:
        raise ValueError(f"the chunks hold {index} frames, not {frame_count}")


def _add_sound(container: OutputContainer) -> AudioStream:
    return container.add_stream("aac", rate=SAMPLES_PER_SECOND, layout="stereo", options=AAC)


def _copy_sound(stream: AudioStream, sound: CodedSound) -> Iterator[Timed]:
    """The packets of the sound, the encoder's priming first."""
    if sound.part(0).header != stream.codec_context.extradata:
        raise ValueError("the sound was coded in another way than this film")
    for start, length, data in join_parts(sound):
        packet = Packet(data)
        packet.stream, packet.time_base = stream, Fraction(1, SAMPLES_PER_SECOND)
        packet.pts, packet.dts, packet.duration = start, start, length
        packet.is_keyframe = True
        yield max(Fraction(0), Fraction(start, SAMPLES_PER_SECOND)), [packet]
