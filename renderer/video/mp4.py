"""Frames and sound into one film, an mp4 that plays in a browser or one without a ground.

The picture comes in chunks that were encoded by themselves and are joined by copying their packets. Frame n is shown
from n / frames_per_second on, exactly; the sound's first sample is heard with frame 0, the encoder's priming samples
being skipped as the file says: an mp4's edit list, a WebM file's delay. The index (moov) of an mp4 stands before the
data, so a player can begin while the file still loads. Nothing in the file depends on the time or the machine's core
count: the same input gives the same bytes.
"""

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from fractions import Fraction
from heapq import merge
from itertools import chain, islice
from operator import itemgetter
from typing import Any

import av
import numpy as np
from av.audio.stream import AudioStream
from av.container import OutputContainer
from av.packet import Packet
from av.video.stream import VideoStream

from renderer.audio.aac import AAC_CODER
from renderer.audio.click_sounds import SAMPLES_PER_SECOND
from renderer.audio.coded import CodedSound, code_sound
from renderer.audio.loudness import Sound
from renderer.core.errors import BarcrossError, FileError
from renderer.core.open_files import OutputFile
from renderer.core.time_grid import frame_index_to_seconds, seconds_to_sample_index
from renderer.core.webm import EXACT
from renderer.video.chapters import Chapter
from renderer.video.coders import add_picture, add_sound, packets_of, sound_packets
from renderer.video.codings import H264, PRORES, VP9, Coding
from renderer.video.h264 import EncodedChunk, chunk_length, encode_chunk
from renderer.video.pixels import PixelBox, Pixels

Timed = tuple[Fraction, list["Packet[Any]"]]
"""When something starts, in seconds, and the packets that came out when it went in."""


def encode_pixels(
    frames: Iterable[Pixels], width: int, height: int, frames_per_second: Fraction
) -> Iterator[EncodedChunk]:
    """Pictures as chunks, one after another. A picture's memory may be drawn over once the next one is asked
    for."""
    from renderer.video.planes import Planes

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
    count = count_samples(frame_count, frames_per_second)
    coded = None if sound is None else code_sound(AAC_CODER, sound, count)
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
    chapters: Sequence[Chapter] = (),
    coding: Coding = H264,
) -> None:
    """Join encoded chunks, in their order, and coded `sound` into `file`, with chapters that players list.

    `coding` is that of the chunks; the file is of its kind.

    As `write_film`; ValueError also if the chunks were not all encoded in the same way.
    """
    check_size(width, height)
    if frame_count < 1 or frames_per_second <= 0:
        raise ValueError(f"a film has frames: got {frame_count} at {frames_per_second} a second")
    with _open_film(file, coding) as container:
        container.set_chapters(
            [
                {
                    "id": number,
                    "start": chapter.start_frame,
                    "end": chapter.end_frame,
                    "time_base": 1 / frames_per_second,
                    "metadata": {"title": chapter.title},
                }
                for number, chapter in enumerate(chapters, start=1)
            ]
        )
        picture = add_picture(container, coding, width, height, frames_per_second)
        tracks = [_copy_picture(picture, chunks, frames_per_second, frame_count, coding)]
        if sound is not None:
            tracks.append(_copy_sound(add_sound(container, coding), coding, sound))
        container.start_encoding()
        for _, packets in merge(*tracks, key=itemgetter(0)):
            container.mux(packets)


@contextmanager
def _open_film(file: OutputFile, coding: Coding) -> Iterator[OutputContainer]:
    """A container that writes to `file`, closed at the end."""
    # Edit lists count in this timescale: with the usual 1000 a sound's end is off by up to 1 ms.
    options = {"movflags": "+faststart", "movie_timescale": str(SAMPLES_PER_SECOND)}
    if coding == VP9:
        options = EXACT
    # To put the index before the data, the file is read while it is written.
    container = av.open(
        file, "w", format=coding.container, options=options, io_open=lambda url, flags, options: file.reopen()
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
            f"A film can't be {width}x{height}: width and height must be even. "
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


def _copy_picture(
    stream: VideoStream,
    chunks: Iterable[EncodedChunk],
    frames_per_second: Fraction,
    frame_count: int,
    coding: Coding,
) -> Iterator[Timed]:
    """The packets of one frame after another."""
    index = 0
    for chunk in chunks:
        if coding == H264 and chunk.header != stream.codec_context.extradata:
            raise ValueError("a chunk was encoded in another way than this film")
        for number, packet in enumerate(packets_of(coding, chunk)):
            packet.stream, packet.time_base = stream, 1 / frames_per_second
            packet.pts, packet.dts, packet.duration = index, index, 1
            packet.is_keyframe = coding == PRORES or not number
            yield frame_index_to_seconds(index, frames_per_second), [packet]
            index += 1
    if index != frame_count:
        raise ValueError(f"the chunks hold {index} frames, not {frame_count}")


def _copy_sound(stream: AudioStream, coding: Coding, sound: CodedSound) -> Iterator[Timed]:
    """The packets of the sound, the encoder's priming first."""
    for packet in sound_packets(coding, sound, stream.codec_context.extradata):
        packet.stream, packet.time_base = stream, Fraction(1, SAMPLES_PER_SECOND)
        packet.is_keyframe = True
        yield max(Fraction(0), Fraction(packet.pts or 0, SAMPLES_PER_SECOND)), [packet]
