"""Pictures with alpha as ProRes 4444 (SMPTE RDD 36), each frame by itself, at one fixed quantiser.

At a fixed quantiser a slice, eight macroblocks beside each other, is coded from its own pixels alone. So of the frames
of a chunk only the slices that have changed are coded again, and the frame is put together from slices: the same bytes
as if all of it had been coded.
"""

import struct
from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from typing import NamedTuple

import av
import numpy as np
from av.container import OutputContainer
from av.video.codeccontext import VideoCodecContext
from av.video.stream import VideoStream

from renderer.video.h264 import EncodedChunk, set_up
from renderer.video.pixels import PixelBox
from renderer.video.straight import Frame, Samples

ENCODER, PIXEL_FORMAT = "prores_ks", "yuva444p10le"
QUANTISER = 4
"""Of 1 to 224; at 4 an edge laid over a picture is nearer than 50 dB to one that was drawn there."""
LAMBDA = 118
"""FFmpeg's units to a quantiser, FF_QP2LAMBDA."""
OPTIONS = {
    "profile": "4444",
    "alpha_bits": "8",
    "flags": "qscale",
    "global_quality": str(QUANTISER * LAMBDA),
    "vendor": "bcss",
}
ROW, TILE = 16, 128
"""Pixels: a slice is so high and so wide, if that divides the width; else a tile is a whole row of slices."""
MAGIC = b"icpf"

Planes = tuple[Samples, ...]


class Packet(NamedTuple):
    """A coded frame apart: all before its table of slices, and each slice."""

    head: bytes
    slices: tuple[bytes, ...]


def take_apart(frame: bytes) -> Packet:
    """A frame as `put_together` takes it. Raises ValueError if it is none."""
    try:
        size, magic, header = struct.unpack_from(">I4sH", frame)
        picture = 8 + header
        header_bits, _, count = struct.unpack_from(">BIH", frame, picture)
        table = picture + (header_bits >> 3)
        sizes = struct.unpack_from(f">{count}H", frame, table)
    except struct.error:
        raise ValueError("no ProRes frame") from None
    at, slices = table + 2 * count, []
    for length in sizes:
        slices.append(frame[at : at + length])
        at += length
    if magic != MAGIC or size != len(frame) or at > size:
        raise ValueError("no ProRes frame")
    return Packet(frame[:table], tuple(slices))


def put_together(head: bytes, slices: Sequence[bytes]) -> bytes:
    """A frame from its slices, sizes as they are."""
    table = struct.pack(f">{len(slices)}H", *map(len, slices))
    body = table + b"".join(slices)
    whole = bytearray(head + body)
    (header,) = struct.unpack_from(">H", head, 8)
    picture = 8 + header
    struct.pack_into(">I", whole, 0, len(whole))
    struct.pack_into(">I", whole, picture + 1, len(whole) - picture)
    return bytes(whole)


class ProResEncoder:
    """Codes frames of one size; nothing of a frame goes into the next but tiles that are the same."""

    def __init__(self, width: int, height: int, frames_per_second: Fraction) -> None:
        self._width, self._height = width, height
        self._rate = frames_per_second
        self._tile = TILE if width % TILE == 0 else width
        self._across = width // self._tile
        self._contexts: dict[tuple[int, int], VideoCodecContext] = {}
        self._frames: dict[tuple[int, int], Frame] = {}

    def encode(self, frames: Iterable[tuple[Planes, Sequence[PixelBox]]]) -> EncodedChunk:
        """Frames as planes, each with the boxes outside of which it is as the one before."""
        coded: list[bytes] = []
        head, slices = b"", list[tuple[bytes, ...]]()
        for planes, boxes in frames:
            tiles = sorted({tile for box in boxes for tile in self._touched(box)})
            if not coded or 2 * len(tiles) > len(slices):
                head, all_slices = take_apart(self._code(planes, self._width, self._height))
                each = len(all_slices) // (self._across * -(-self._height // ROW))
                slices = [all_slices[at : at + each] for at in range(0, len(all_slices), each)]
            elif tiles:
                for tile, made in zip(tiles, self._code_tiles(planes, tiles), strict=True):
                    slices[tile] = made
            else:
                coded.append(coded[-1])
                continue
            coded.append(put_together(head, [part for tile in slices for part in tile]))
        return EncodedChunk(b"", tuple(coded))

    def _touched(self, box: PixelBox) -> Iterator[int]:
        """The tiles that a box touches, numbered from the left, then from the top."""
        for row in range(box.top // ROW, -(-box.bottom // ROW)):
            for column in range(box.left // self._tile, -(-box.right // self._tile)):
                yield row * self._across + column

    def _code_tiles(self, planes: Planes, tiles: Sequence[int]) -> list[tuple[bytes, ...]]:
        """Tiles one under the other in a narrow frame, whose height is a power of two of them."""
        count = 1 << (len(tiles) - 1).bit_length()
        stacks = tuple(np.zeros((count * ROW, self._tile), np.uint16) for _ in planes)
        for number, tile in enumerate(tiles):
            row, column = divmod(tile, self._across)
            top, left = row * ROW, column * self._tile
            for stack, plane in zip(stacks, planes, strict=True):
                part = plane[top : top + ROW, left : left + self._tile]
                stack[number * ROW : number * ROW + len(part)] = part
                stack[number * ROW + len(part) : (number + 1) * ROW] = part[
                    -1
                ]  # as the coder goes on below an edge
        slices = take_apart(self._code(stacks, self._tile, count * ROW)).slices
        each = len(slices) // count
        return [slices[number * each : (number + 1) * each] for number in range(len(tiles))]

    def _code(self, planes: Planes, width: int, height: int) -> bytes:
        size = width, height
        if size not in self._contexts:
            self._contexts[size] = self._open(*size)
            self._frames[size] = Frame(*size)
        frame = self._frames[size].filled(planes)
        frame.pts, frame.time_base = 0, 1 / self._rate
        (packet,) = self._contexts[size].encode(frame)
        return bytes(packet)

    def _open(self, width: int, height: int) -> VideoCodecContext:
        context = av.CodecContext.create(ENCODER, "w")
        assert isinstance(context, VideoCodecContext)
        context.options = OPTIONS
        set_up(context, width, height, self._rate)
        context.pix_fmt, context.gop_size = PIXEL_FORMAT, 1
        return context


def check_prores(chunk: EncodedChunk, frame_count: int, width: int, height: int) -> None:
    """Raises ValueError if such a film can't hold this chunk as so many frames."""
    if len(chunk.frames) != frame_count:
        raise ValueError(f"a chunk of {len(chunk.frames)} frames, not {frame_count}")
    for frame in chunk.frames:
        take_apart(frame)
        if struct.unpack_from(">HH", frame, 16) != (width, height):
            raise ValueError("a chunk was encoded in another way than this film")


def add_prores(
    container: OutputContainer, width: int, height: int, frames_per_second: Fraction
) -> VideoStream:
    """A film's stream."""
    stream = container.add_stream(ENCODER, rate=frames_per_second, options=OPTIONS)
    assert isinstance(stream, VideoStream)
    set_up(stream.codec_context, width, height, frames_per_second)
    stream.codec_context.pix_fmt, stream.codec_context.gop_size = PIXEL_FORMAT, 1
    return stream
