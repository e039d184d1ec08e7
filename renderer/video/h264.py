"""Pictures as H.264, in chunks of two seconds.

Each chunk is made by an encoder of its own and begins with a keyframe, so chunks can be made in any order, anywhere,
kept, and joined.
It is 8-bit 4:2:0, tagged as ITU-R BT.709, limited range, chroma in the middle of its 2 x 2 pixels. Two chunks of the
same frames are the same bytes.

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

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Any

import av
from av.codec.context import Flags
from av.packet import Packet
from av.video.codeccontext import VideoCodecContext

from renderer.core.time_grid import nearest

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
    set_up(context, width, height, frames_per_second)
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


def set_up(context: VideoCodecContext, width: int, height: int, frames_per_second: Fraction) -> None:
    """What has to be the same for every chunk and for the film that they are joined to."""
    context.width, context.height, context.pix_fmt = width, height, "yuv420p"
    context.framerate, context.time_base = frames_per_second, 1 / frames_per_second
    context.thread_count = 1
    context.gop_size = chunk_length(frames_per_second)
    context.color_primaries = context.color_trc = context.colorspace = BT709
    context.color_range = LIMITED_RANGE
