"""Frames and sound into one mp4 that plays in a browser.

H.264 and AAC, muxed in one pass while the frames are drawn. The picture is 8-bit 4:2:0, converted and tagged
as ITU-R BT.709, limited range; each chroma sample is the mean of its 2 x 2 pixels, and tagged as standing in
their middle. Frame n is shown from n / frames_per_second on, exactly; the sound's first sample is heard with
frame 0, the encoder's 1024 priming samples being skipped by the file's edit list. The index (moov) stands
before the data, so a player can begin while the file still loads. Nothing in the file depends on the time or
the machine's core count: the same input gives the same bytes.

Encoder settings, measured at 1920 x 1080 on 180 frames of a playhead and a fading cell over two drawn
pictures: milliseconds of CPU per frame, kbit/s at 60 frames a second, and the largest error of any sample:

    medium, crf 18                                  14.2   600 to 1420   55
    veryfast, crf 18                                 6.2   570 to 1380   55
    superfast, qp 18, plain                          2.8   960 to 2560   49
    veryfast, qp 18, plain                           2.8   830 to 2270   49
    veryfast, qp 16, plain, no deblocking (taken)    2.8   900 to 2480   11

"Plain" leaves out all that looks ahead or weighs frames against each other (rc-lookahead, bframes, weightp,
scenecut, mbtree, aq): a drawn picture stands still but for small spots, so little is gained by it. The
deblocking filter is off because it softens thin lines beside flat ground, of which these pictures are made;
that was the large error. Without B frames the decoding order is the showing order. A keyframe every two
seconds lets a viewer or an editor jump.
"""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from fractions import Fraction
from heapq import merge
from operator import itemgetter
from pathlib import Path
from typing import Any

import av
import numpy as np
from av.audio.stream import AudioStream
from av.container import OutputContainer
from av.packet import Packet
from av.video.reformatter import ColorRange, Colorspace, Interpolation, VideoReformatter
from av.video.stream import VideoStream
from numpy.typing import NDArray

from renderer.errors import BarcrossError
from renderer.files import whole_file, writing
from renderer.indices import frame_index_to_seconds, nearest, seconds_to_sample_index
from renderer.sound import SAMPLES_PER_SECOND, Samples

Pixels = NDArray[np.uint8]
"""One picture, (height, width, 3 or 4): rows from the top; red, green, blue, and alpha, which is ignored."""

BT709 = 1
"""ITU-T H.273: primaries, transfer and matrix of BT.709 all have this number."""
LIMITED_RANGE = 1

X264 = {
    "preset": "veryfast",
    "qp": "16",
    "x264-params": "rc-lookahead=0:bframes=0:weightp=0:scenecut=0:mbtree=0:aq-mode=0"
    ":no-deblock=1:chromaloc=1",
}
ENCODER_THREADS = 2
KEYFRAME_SECONDS = 2

BOX_FILTER = Interpolation.AREA | Interpolation.ACCURATE_RND | Interpolation.FULL_CHR_H_INP
"""swscale's means over 2 x 2 pixels, rounded to the nearest: within 0.51 levels of the exact value."""

AAC = {"aac_coder": "fast"}
"""At AAC_BITS a click comes back within 0.01 of full scale, and what sounds before it is 0.005 of its peak;
the encoder's usual coder, "twoloop", gives 0.03 and 0.1."""
AAC_BITS = 320_000
"""The most that stereo AAC at 48 kHz is usually given. A click with silence around it takes about 80,000."""
AAC_FRAME = 1024
"""Samples in a frame of AAC (ISO/IEC 14496-3)."""

Timed = tuple[Fraction, list["Packet[Any]"]]
"""When something starts, in seconds, and the packets that came out when it went in."""


def write_film(
    path: Path,
    frames: Iterable[Pixels],
    width: int,
    height: int,
    frames_per_second: Fraction,
    frame_count: int,
    sound: Samples | None = None,
) -> None:
    """Encode `frames` and `sound` into `path`, whole or not at all.

    `frames` are taken one at a time, and a frame's memory may be drawn over once the next one is asked for.
    `sound`, shape (n, 2), 48,000 samples a second, begins with frame 0; it is cut or filled with silence to
    end with the last frame. What `frames` raises passes through, and nothing is left behind.

    Raises BarcrossError for a size that H.264 can't hold, FileError if the file can't be written, ValueError
    if `frames` are not `frame_count` pictures of that size.
    """
    _check_size(width, height)
    if frame_count < 1 or frames_per_second <= 0:
        raise ValueError(f"a film has frames: got {frame_count} at {frames_per_second} a second")
    with whole_file(path) as unfinished, _open_mp4(unfinished, path) as container:
        picture = _add_picture(container, width, height, frames_per_second)
        checked = _checked(frames, width, height, frame_count)
        tracks = [_encode_picture(picture, checked, frames_per_second)]
        if sound is not None:
            seconds = frame_index_to_seconds(frame_count, frames_per_second)
            tracks.append(_encode_sound(_add_sound(container), sound, seconds))
        for _, packets in merge(*tracks, key=itemgetter(0)):
            with writing(path):
                container.mux(packets)


@contextmanager
def _open_mp4(unfinished: Path, path: Path) -> Iterator[OutputContainer]:
    """A container that writes `unfinished`, closed at the end; faults are told of `path`."""
    with writing(path):
        # Edit lists count in this timescale: with the usual 1000 a sound's end is off by up to 1 ms.
        options = {"movflags": "+faststart", "movie_timescale": str(SAMPLES_PER_SECOND)}
        container = av.open(unfinished, "w", format="mp4", options=options)
    try:
        yield container
    except BaseException:
        with suppress(OSError, av.FFmpegError):  # what went wrong first is what is told
            container.close()
        raise
    with writing(path):
        container.close()


def _check_size(width: int, height: int) -> None:
    if width < 2 or height < 2 or width % 2 or height % 2:
        even_width, even_height = (max(2, size + size % 2) for size in (width, height))
        raise BarcrossError(
            f"a film of {width}x{height} can't be made: width and height must be even. "
            f"The nearest size is {even_width}x{even_height}."
        )


def _checked(frames: Iterable[Pixels], width: int, height: int, frame_count: int) -> Iterator[Pixels]:
    """The same frames; ValueError for a wrong size or number."""
    count = 0
    for frame in frames:
        if frame.dtype != np.uint8 or frame.shape not in ((height, width, 3), (height, width, 4)):
            expected = f"({height}, {width}, 3 or 4) uint8"
            raise ValueError(f"frame {count} is {frame.shape} {frame.dtype}, not {expected}")
        count += 1
        if count > frame_count:
            break
        yield frame
    if count != frame_count:
        raise ValueError(f"{'more' if count > frame_count else 'fewer'} than {frame_count} frames")


def _add_picture(
    container: OutputContainer, width: int, height: int, frames_per_second: Fraction
) -> VideoStream:
    stream = container.add_stream("libx264", rate=frames_per_second, options=X264)
    stream.width, stream.height, stream.pix_fmt = width, height, "yuv420p"
    context = stream.codec_context
    context.time_base = 1 / frames_per_second
    context.thread_count = ENCODER_THREADS
    context.gop_size = max(1, nearest(KEYFRAME_SECONDS * frames_per_second))
    context.color_primaries = context.color_trc = context.colorspace = BT709
    context.color_range = LIMITED_RANGE
    return stream


def _encode_picture(
    stream: VideoStream, frames: Iterable[Pixels], frames_per_second: Fraction
) -> Iterator[Timed]:
    """Packets of each frame in turn, and at the end what the encoder still holds."""
    reformatter = VideoReformatter()
    index = 0
    for index, pixels in enumerate(frames):
        layout = "rgba" if pixels.shape[2] == 4 else "rgb24"
        picture = reformatter.reformat(
            av.VideoFrame.from_numpy_buffer(np.ascontiguousarray(pixels), format=layout),
            format="yuv420p",
            src_colorspace=Colorspace.ITU709,
            dst_colorspace=Colorspace.ITU709,
            src_color_range=ColorRange.JPEG,
            dst_color_range=ColorRange.MPEG,
            interpolation=BOX_FILTER,
            threads=1,
        )
        picture.pts, picture.time_base = index, 1 / frames_per_second
        yield frame_index_to_seconds(index, frames_per_second), stream.encode(picture)
    yield frame_index_to_seconds(index + 1, frames_per_second), stream.encode(None)


def _add_sound(container: OutputContainer) -> AudioStream:
    stream = container.add_stream("aac", rate=SAMPLES_PER_SECOND, layout="stereo", options=AAC)
    stream.bit_rate = AAC_BITS
    stream.codec_context.time_base = Fraction(1, SAMPLES_PER_SECOND)
    return stream


def _encode_sound(stream: AudioStream, sound: Samples, seconds: Fraction) -> Iterator[Timed]:
    """Packets of each block of 1024 samples, the last one shorter, and at the end what is still held."""
    if sound.ndim != 2 or sound.shape[1] != 2:
        raise ValueError(f"sound is {sound.shape}, not (n, 2)")
    sample_count = seconds_to_sample_index(seconds, SAMPLES_PER_SECOND)
    for start in range(0, sample_count, AAC_FRAME):
        block = np.zeros((2, min(AAC_FRAME, sample_count - start)), np.float32)
        heard = sound[start : start + block.shape[1]].T
        block[:, : heard.shape[1]] = heard
        frame = av.AudioFrame.from_ndarray(block, format="fltp", layout="stereo")
        frame.sample_rate = SAMPLES_PER_SECOND
        frame.pts, frame.time_base = start, Fraction(1, SAMPLES_PER_SECOND)
        yield Fraction(start, SAMPLES_PER_SECOND), stream.encode(frame)
    yield seconds, stream.encode(None)
