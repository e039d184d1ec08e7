"""Encoded films reopened: their frames, their sound, what they say of themselves.

Nothing here is shared with the code that writes them: colours are turned back by the equations of ITU-R
BT.709, the boxes of the file are walked by ISO/IEC 14496-12, and times are taken from the file.
"""

import struct
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
from av.container import InputContainer
from av.video.plane import VideoPlane
from numpy.typing import NDArray

Plane = NDArray[np.uint8]

BOXES_OF_BOXES = ("moov", "trak", "edts", "mdia", "minf", "stbl")


@dataclass(frozen=True, slots=True)
class SoundTrack:
    """What a film says of its sound."""

    codec: str
    samples_per_second: int
    channel_count: int
    sample_count: int
    """The stated duration, in samples."""
    priming: int
    """Samples that the edit list skips."""


@dataclass(frozen=True, slots=True)
class Film:
    """What a film says of itself. The colour numbers are those of ITU-T H.273; range 1 is limited, 2 full."""

    codec: str
    pixel_format: str
    width: int
    height: int
    primaries: int
    transfer: int
    matrix: int
    range: int
    frames_per_second: Fraction
    frame_count: int
    seconds: Fraction
    """The picture track's stated duration."""
    sound: SoundTrack | None
    boxes: tuple[str, ...]
    """Top-level boxes in their order: a film with `moov` before `mdat` can be played while it loads."""
    metadata: tuple[tuple[str, str], ...]


def describe_film(path: Path) -> Film:
    """What the file says of itself, without decoding it."""
    with av.open(path) as container:
        stream = container.streams.video[0]
        context = stream.codec_context
        assert stream.duration is not None
        assert stream.time_base is not None
        assert stream.average_rate is not None
        return Film(
            codec=context.name,
            pixel_format=str(context.pix_fmt),
            width=context.width,
            height=context.height,
            primaries=int(context.color_primaries),
            transfer=int(context.color_trc),
            matrix=int(context.colorspace),
            range=int(context.color_range),
            frames_per_second=Fraction(stream.average_rate),
            frame_count=stream.frames,
            seconds=stream.duration * stream.time_base,
            sound=_describe_sound(container, path),
            boxes=tuple(name for name, _ in _boxes(path.read_bytes())),
            metadata=tuple(sorted(container.metadata.items())),
        )


def decode_frames(path: Path) -> Iterator[tuple[Fraction, NDArray[np.uint8]]]:
    """Each frame in the order of showing: seconds and RGB, shape (height, width, 3)."""
    for seconds, luma, blue, red in decode_planes(path):
        yield seconds, planes_to_rgb(luma, blue, red)


def planes_to_rgb(luma: Plane, blue: Plane, red: Plane) -> NDArray[np.uint8]:
    """A frame's planes as RGB, shape (height, width, 3)."""
    y = (luma.astype(float) - 16) / 219
    b, r = ((np.repeat(np.repeat(plane, 2, 0), 2, 1) - 128.0) / 224 for plane in (blue, red))
    rgb = np.stack([y + 1.5748 * r, y - 0.1873 * b - 0.4681 * r, y + 1.8556 * b], axis=2)
    return np.rint(np.clip(rgb, 0, 1) * 255).astype(np.uint8)


def pixel_of(planes: Sequence[Plane], x: int, y: int) -> NDArray[np.uint8]:
    """One pixel of `planes_to_rgb`, shape (3,)."""
    luma, blue, red = planes
    left, top = x // 2, y // 2
    block = luma[2 * top : 2 * top + 2, 2 * left : 2 * left + 2]
    chroma = (plane[top : top + 1, left : left + 1] for plane in (blue, red))
    return np.asarray(planes_to_rgb(block, *chroma)[y % 2, x % 2])


def decode_planes(path: Path) -> Iterator[tuple[Fraction, Plane, Plane, Plane]]:
    """Each frame as it is stored: seconds, luma (height, width), Cb and Cr (half as high and wide)."""
    with av.open(path) as container:
        for frame in container.decode(video=0):
            assert frame.pts is not None
            assert frame.time_base is not None
            assert frame.format.name == "yuv420p"
            luma, blue, red = (_plane(plane) for plane in frame.planes)
            yield frame.pts * frame.time_base, luma, blue, red


def decode_sound(path: Path) -> tuple[NDArray[np.float32], int]:
    """The sound as it is played: samples, shape (n, channels), from the file's 0 on, and samples a second.

    Each block is put where its own time says; padding beyond the stated duration is left out.
    """
    with av.open(path) as container:
        stream = container.streams.audio[0]
        rate, channel_count = stream.rate, stream.codec_context.channels
        assert stream.duration is not None
        assert stream.time_base is not None
        sample_count = round(stream.duration * stream.time_base * rate)
        samples = np.zeros((sample_count, channel_count), np.float32)
        for frame in container.decode(stream):
            assert frame.pts is not None
            assert frame.time_base is not None
            start = round(frame.pts * frame.time_base * rate)
            block = frame.to_ndarray()
            block = block.T if frame.format.is_planar else block.reshape(-1, channel_count)
            if block.dtype.kind == "i":
                block = block / 2.0 ** (8 * block.dtype.itemsize - 1)
            samples[start : start + len(block)] = block[: max(0, sample_count - start)]
    return samples, rate


def read_sound(path: Path) -> tuple[NDArray[np.float32], int]:
    """All that FFmpeg decodes of a sound file: samples, shape (n, channels), and samples a second."""
    with av.open(path) as container:
        stream = container.streams.audio[0]
        resampler = av.AudioResampler("flt", stream.layout, stream.rate)
        frames = [*container.decode(stream), None]
        blocks = [
            block.to_ndarray().reshape(-1, stream.codec_context.channels)
            for frame in frames
            for block in resampler.resample(frame)
        ]
        return np.concatenate(blocks), stream.rate


def find_onsets(samples: NDArray[np.float32], rate: int, threshold: float, quiet: float = 0.01) -> list[int]:
    """Samples at which the sound rises above `threshold` (1.0: full scale) after `quiet` seconds below it.

    `samples` has shape (n,) or (n, channels); the louder channel counts.
    """
    level = np.abs(samples) if samples.ndim == 1 else np.abs(samples).max(axis=1)
    loud = np.flatnonzero(level > threshold)
    starts = np.diff(loud, prepend=-rate) > quiet * rate
    return [int(index) for index in loud[starts]]


def walk_boxes(data: bytes, handler: str = "") -> Iterator[tuple[str, bytes, str]]:
    """Every box, outer before inner: name, content, and the handler (`vide`, `soun`) of its track."""
    for name, content in _boxes(data):
        if name == "trak":
            at = content.index(b"hdlr")
            handler = content[at + 12 : at + 16].decode()
        yield name, content, handler
        if name in BOXES_OF_BOXES:
            yield from walk_boxes(content, handler)


def _describe_sound(container: InputContainer, path: Path) -> SoundTrack | None:
    if not container.streams.audio:
        return None
    stream = container.streams.audio[0]
    assert stream.duration is not None
    assert stream.time_base is not None
    boxes = walk_boxes(path.read_bytes())
    (edit,) = (content for name, content, handler in boxes if (name, handler) == ("elst", "soun"))
    version = edit[0]
    (media_time,) = struct.unpack_from(">q", edit, 16) if version else struct.unpack_from(">i", edit, 12)
    return SoundTrack(
        codec=stream.codec_context.name,
        samples_per_second=stream.rate,
        channel_count=stream.codec_context.channels,
        sample_count=round(stream.duration * stream.time_base * stream.rate),
        priming=media_time,
    )


def _plane(plane: VideoPlane) -> Plane:
    """The plane's samples, without the padding of its rows."""
    rows = np.frombuffer(bytes(plane), np.uint8).reshape(plane.height, plane.line_size)
    return rows[:, : plane.width].copy()


def _boxes(data: bytes) -> Iterator[tuple[str, bytes]]:
    """Name and content of each box in `data` (ISO/IEC 14496-12, 4.2)."""
    at = 0
    while at < len(data):
        size, name = struct.unpack_from(">I4s", data, at)
        header = 8
        if size == 1:
            size, header = struct.unpack_from(">Q", data, at + 8)[0], 16
        elif size == 0:
            size = len(data) - at
        yield name.decode("latin-1"), data[at + header : at + size]
        at += size
