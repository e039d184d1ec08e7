"""Pictures with alpha as VP9: alpha is a second picture that WebM keeps beside each frame (BlockAdditions)."""

from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from io import BytesIO
from typing import Any

import av
from av.container import OutputContainer
from av.packet import Packet
from av.video.stream import VideoStream

from renderer.core.webm import EBML, EXACT
from renderer.video.h264 import EncodedChunk, set_up
from renderer.video.pixels import PixelBox
from renderer.video.straight import Samples, SmallFrame

ENCODER, PIXEL_FORMAT = "libvpx-vp9", "yuva420p"
OPTIONS = {
    "deadline": "realtime",
    "cpu-used": "8",
    "crf": "12",
    "b": "0",
    "auto-alt-ref": "0",
    "lag-in-frames": "0",
}
"""No frame looks ahead: one goes in, one comes out."""


def encode_vp9(
    frames: Iterable[tuple[tuple[Samples, ...], Sequence[PixelBox]]],
    width: int,
    height: int,
    frames_per_second: Fraction,
) -> EncodedChunk:
    """Frames as 10-bit planes, each with the boxes outside of which it is as the one before. A chunk is a WebM file,
    since only that holds a frame and its alpha together."""
    file = BytesIO()
    with av.open(file, "w", format="webm", options=EXACT) as container:
        stream = add_vp9(container, width, height, frames_per_second)
        kept, whole = SmallFrame(width, height), [PixelBox(0, 0, width, height)]
        for index, (planes, boxes) in enumerate(frames):
            frame = kept.changed(planes, boxes if index else whole)
            frame.pts, frame.time_base = index, 1 / frames_per_second
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return EncodedChunk(b"", (file.getvalue(),))


def vp9_packets(chunk: EncodedChunk) -> Iterator["Packet[Any]"]:
    """A chunk's packets, each with its alpha beside it."""
    with av.open(BytesIO(chunk.frames[0]), "r", format="webm") as container:
        yield from (packet for packet in container.demux(video=0) if packet.size)


def check_vp9(chunk: EncodedChunk) -> None:
    """Raises ValueError if this is no chunk of such a film. How many frames it has shows when it is joined."""
    if len(chunk.frames) != 1 or not chunk.frames[0].startswith(EBML):
        raise ValueError("a chunk is no WebM file")


def add_vp9(container: OutputContainer, width: int, height: int, frames_per_second: Fraction) -> VideoStream:
    """A film's stream."""
    stream = container.add_stream(ENCODER, rate=frames_per_second, options=OPTIONS)
    assert isinstance(stream, VideoStream)
    set_up(stream.codec_context, width, height, frames_per_second)
    stream.codec_context.pix_fmt = PIXEL_FORMAT
    stream.metadata["alpha_mode"] = "1"
    return stream
