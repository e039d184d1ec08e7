"""Sound files opened and decoded, block by block.

A file may be damaged, or made to do harm. So only a regular file is opened, by a handle of this program's own; FFmpeg
gets the handle and never the name. It may use the containers and codecs below and no others: none of them opens a
second file or a network address, as playlists do.
"""

from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from fractions import Fraction
from io import BufferedReader
from itertools import chain
from pathlib import Path
from typing import Any, BinaryIO

import av
import numpy as np
from av.audio.frame import AudioFrame
from av.audio.stream import AudioStream
from av.container import InputContainer

from renderer.audio.headers import WaveHeader, read_wave_header, states_length
from renderer.audio.loudness import Samples
from renderer.core import limits
from renderer.core.errors import FileError
from renderer.core.names import listed
from renderer.core.open_files import InputFile

CONTAINERS = ("wav", "w64", "aiff", "flac", "mp3", "mov", "ogg")
"""FFmpeg's names. `wav` reads RF64 too, `mov` m4a and mp4, `ogg` Vorbis, Opus and FLAC."""
CODECS = (
    *("pcm_u8", "pcm_s8", "pcm_s16le", "pcm_s16be", "pcm_s24le", "pcm_s24be", "pcm_s32le", "pcm_s32be"),
    *("pcm_f32le", "pcm_f32be", "pcm_f64le", "pcm_f64be", "pcm_alaw", "pcm_mulaw"),
    *("adpcm_ms", "adpcm_ima_wav", "adpcm_ima_qt", "flac", "alac", "aac", "vorbis", "opus", "libopus"),
    *("mp3float", "mp3", "mp2float", "mp2"),
)
FORMAT_NAMES = ("wav", "aiff", "flac", "mp3", "m4a", "ogg")
"""How users call them, in messages and in the reference."""
PYAV = int(av.__version__.partition(".")[0])
ANY_TAGS: dict[str, Any] = {"metadata_errors": "replace"} if PYAV < 19 else {}
"""Text of a file about itself may be in any coding. PyAV 19 no longer asks for this."""
OPTIONS = {
    "format_whitelist": ",".join(CONTAINERS),
    "codec_whitelist": ",".join(CODECS),
    "protocol_whitelist": "none",
}
BLOCK = 1 << 15
"""Samples of a block, at least, but for the last one."""
LEFT_RIGHT = ("FL", "FR")
CENTER, UNNAMED = "FC", "NONE"
LOST = Fraction(1, 20)
"""Seconds: a file that holds so much less than it says has lost something, and what follows would come too early."""
LOUDEST = 2.0**15
"""Full scale is 1.0. What is louder is no sound, but something else taken for floating-point samples."""


class SoundFileError(FileError):
    """A sound file that can't be used: what is wrong with it, and what to do."""

    def __init__(self, path: Path, wrong: str, mend: str) -> None:
        self.wrong, self.mend = wrong, mend
        super().__init__(f"{path}: {wrong} {mend}")


class SoundFile:
    """An open sound file, whose samples are taken once."""

    def __init__(
        self, path: Path, container: InputContainer, stated: Fraction | None, handle: "_Handle"
    ) -> None:
        """`stated`: how long the file says it is, in seconds; None if it does not say."""
        self.path = path
        self.sample_count = 0
        """So many have been taken."""
        self._container, self._stated, self._handle = container, stated, handle
        self._stream = container.streams.audio[0]
        self._frames = _decoded(container, self._stream)
        first = next((frame for frame in self._frames if frame is not None), None)
        if first is None:
            raise SoundFileError(path, "there is no sound in it.", COPY_AGAIN)
        _check_size(path, first)
        self._first = first
        self.rate = first.sample_rate
        """Samples a second."""
        self.channels = _channel_names(first)
        """FFmpeg's names of its channels, in order, such as FL and FR."""

    def blocks(self) -> Iterator[Samples]:
        """All of the sound, once: blocks of shape (n, channels), float32, 1.0 at full scale.

        An m4a or mp4 starts where its edit list says and ends with the track's stated duration, without the
        encoder's padding.

        Raises SoundFileError where the file is damaged, shorter than it says, longer than SOUND_FILE_SECONDS, or holds
        values that are no sound.
        """
        ends = self._ends_at()
        with _reporting_errors(self.path):
            for block in _gathered(self._converted()):
                kept = block if ends is None else block[: max(0, ends - self.sample_count)]
                self._check(kept)
                self.sample_count += len(kept)
                if self.sample_count > limits.SOUND_FILE_SECONDS * self.rate:
                    raise SoundFileError(self.path, TOO_LONG, CUT_IT)
                if len(kept):
                    yield kept
            self._handle.check()
        seconds = Fraction(self.sample_count, self.rate)
        if self._stated is not None and self._stated - seconds > LOST:
            raise SoundFileError(self.path, shorter_than_stated(self._stated, seconds), COPY_AGAIN)

    def _ends_at(self) -> int | None:
        """The number of samples that a track of an m4a or mp4 states."""
        duration, base = self._stream.duration, self._stream.time_base
        if not self._container.format.name.startswith("mov") or not duration or not base:
            return None
        return round(duration * base * self.rate)

    def _check(self, block: Samples) -> None:
        """Whether the block holds samples that can be heard."""
        if not len(block) or max(block.max(), -block.min()) <= LOUDEST:  # false for NaN, too
            return
        wrong = ~(np.abs(block) <= LOUDEST).all(axis=1)
        at = clock_text(Fraction(self.sample_count + int(wrong.argmax()), self.rate))
        what = (
            "values that are not numbers"
            if not np.isfinite(block).all()
            else "values far louder than any sound"
        )
        raise SoundFileError(self.path, f"at {at} it holds {what}.", "Export it again, as wav of 24 bits.")

    def _converted(self) -> Iterator[Samples]:
        """The frames as samples, all at the first one's rate and channels."""
        resampler, setup, damaged, count = None, None, False, 0
        for frame in chain([self._first], self._frames):
            if frame is None:
                damaged = True
                continue
            if damaged:  # if nothing followed, it was no sound, but what some programs leave at a file's end
                at = clock_text(Fraction(count, self.rate))
                raise SoundFileError(self.path, f"it is damaged at {at}.", COPY_AGAIN)
            now = frame.format.name, frame.layout.name, frame.layout.nb_channels, frame.sample_rate
            if now != setup:
                if resampler is not None:
                    yield from (self._samples(part) for part in resampler.resample(None))
                resampler, setup = av.AudioResampler("flt", self._first.layout, self.rate), now
            assert resampler is not None
            frame.pts = None
            for part in resampler.resample(frame):
                count += part.samples
                yield self._samples(part)
        assert resampler is not None
        yield from (self._samples(part) for part in resampler.resample(None))

    def _samples(self, part: AudioFrame) -> Samples:
        return np.asarray(part.to_ndarray().reshape(-1, len(self.channels)), np.float32)


NO_FORMAT = f"Use a {listed(FORMAT_NAMES)} file."
COPY_AGAIN = "Export or copy it again."
TOO_LONG = f"it is longer than {limits.SOUND_FILE_SECONDS // 3600} hours."
CUT_IT = "Cut it into shorter files."


def shorter_than_stated(stated: Fraction, own: Fraction) -> str:
    """What is wrong with a file that holds less than it says, both in seconds."""
    return f"it is damaged: of {clock_text(stated)} only {clock_text(own)} can be read."


def clock_text(seconds: Fraction) -> str:
    """Seconds as `m:ss.s`.

    >>> clock_text(Fraction(141, 2))
    '1:10.5'
    """
    minutes, rest = divmod(round(seconds * 10), 600)
    return f"{minutes}:{rest // 10:02}.{rest % 10}"


@contextmanager
def open_sound(path: Path, file: InputFile | None = None) -> Iterator[SoundFile]:
    """Open a sound file for as long as the block runs; from `file` if it is open already.

    Raises SoundFileError if there is no such file, or it is no regular file, or none of the formats and sizes that are
    read here; what its samples may show is raised while its blocks are taken.
    """
    with ExitStack() as opened:
        with _reporting_errors(path):
            source = opened.enter_context(BufferedReader(file or InputFile(path)))
            sound = _read_beginning(path, source, opened)
        yield sound


def _read_beginning(path: Path, file: BinaryIO, opened: ExitStack) -> SoundFile:
    """What the file says of itself, and its first samples. FFmpeg's part of it is closed with `opened`."""
    header = read_wave_header(file)
    if header is not None:
        _check_wave(path, header)
    file.seek(0)
    handle = _Handle(file)
    try:
        container = opened.enter_context(av.open(handle, options=OPTIONS, **ANY_TAGS))
    finally:
        handle.check()
    assert isinstance(container, InputContainer)
    if not container.streams.audio:
        raise SoundFileError(path, "there is no sound in it.", NO_FORMAT)
    stream = container.streams.audio[0]
    _check_stream(path, stream)
    stated = None if header else _stated_seconds(container, stream, file)
    if stated is not None and stated > limits.SOUND_FILE_SECONDS:
        raise SoundFileError(path, TOO_LONG, CUT_IT)
    return SoundFile(path, container, stated, handle)


@contextmanager
def _reporting_errors(path: Path) -> Iterator[None]:
    """What FFmpeg and the system say of a file, in a user's words. Raises SoundFileError."""
    try:
        yield
    except SoundFileError:
        raise
    except FileError as error:
        if isinstance(error.__cause__, FileNotFoundError):
            raise SoundFileError(
                path, "no such file.", "Sound files are looked for beside the spec."
            ) from error
        raise SoundFileError(path, str(error).removeprefix(f"{path}: "), "Name a sound file.") from error
    except (av.FFmpegError, ValueError, ArithmeticError, MemoryError):
        raise SoundFileError(path, "this is not a sound file, or it is damaged.", NO_FORMAT) from None


class _Handle:
    """A file for FFmpeg, without its name. What is raised inside FFmpeg would be printed, so nothing is."""

    def __init__(self, file: BinaryIO) -> None:
        self._file = file
        self._fault: FileError | None = None
        self.tell = file.tell

    def read(self, count: int) -> bytes:
        """The next bytes; none where the system refuses them."""
        try:
            return self._file.read(count)
        except FileError as error:
            self._fault = error
            return b""

    def seek(self, offset: int, whence: int = 0) -> int:
        """Go to a byte; -1 where there can be none, as damaged files ask for."""
        try:
            return self._file.seek(offset, whence)
        except (FileError, ValueError, OverflowError):
            return -1

    def check(self) -> None:
        """Raises FileError if the system has refused something."""
        if self._fault:
            raise self._fault


def _check_stream(path: Path, stream: AudioStream) -> None:
    """Whether the sound is coded in a way that is read here."""
    context = stream.codec_context
    name = context.name if context is not None else None
    if name not in CODECS:
        coded = f"its sound is coded as {name}." if name else "its sound is coded in an unknown way."
        raise SoundFileError(path, coded, "Export it as wav or flac.")


def _check_size(path: Path, frame: AudioFrame) -> None:
    """Whether rate and channels are those of sound."""
    rate, low, high = frame.sample_rate, limits.SAMPLE_RATE_LEAST, limits.SAMPLE_RATE_MOST
    if not low <= rate <= high:
        samples = "1 sample" if rate == 1 else f"{rate:,} samples"
        text = f"it has {samples} a second; from {low:,} to {high:,} are read."
        raise SoundFileError(path, text, "Export it again, at 48,000.")
    if not 1 <= frame.layout.nb_channels <= limits.SOUND_CHANNELS:
        text = f"it has {frame.layout.nb_channels} channels; at most {limits.SOUND_CHANNELS} are read."
        raise SoundFileError(path, text, "Export it again, in stereo.")


def _channel_names(frame: AudioFrame) -> tuple[str, ...]:
    """The channels' names; where there are none, those of wav files: left, right, center."""
    names = tuple(channel.name for channel in frame.layout.channels)
    if len(names) >= 5 and set(names) == {UNNAMED}:
        return (*LEFT_RIGHT, CENTER, *names[3:])
    return names


def _decoded(container: InputContainer, stream: AudioStream) -> Iterator[AudioFrame | None]:
    """The stream's frames; None for a packet that can't be decoded."""
    for packet in container.demux(stream):
        try:
            frames = packet.decode()
        except av.InvalidDataError:
            yield None
            continue
        for frame in frames:
            assert isinstance(frame, AudioFrame)
            yield frame


def _check_wave(path: Path, header: WaveHeader) -> None:
    """Whether a wav file holds as much as it says: FFmpeg goes by what is there."""
    if header.is_plain and not header.bits:
        raise SoundFileError(path, "its header says that a sample has 0 bits.", COPY_AGAIN)
    if header.stated_bytes - header.own_bytes > LOST * header.bytes_a_second > 0:
        stated, own = (
            Fraction(size, header.bytes_a_second) for size in (header.stated_bytes, header.own_bytes)
        )
        raise SoundFileError(path, shorter_than_stated(stated, own), COPY_AGAIN)


def _stated_seconds(container: InputContainer, stream: AudioStream, file: BinaryIO) -> Fraction | None:
    """How long a file says it is. For an mp3 that doesn't say, FFmpeg guesses; that counts for nothing."""
    if stream.duration is None or stream.time_base is None:
        return None
    if container.format.name == "mp3" and not states_length(file):
        return None
    return stream.duration * stream.time_base


def _gathered(parts: Iterator[Samples]) -> Iterator[Samples]:
    """The parts in blocks of some size."""
    held: list[Samples] = []
    count = 0
    for part in parts:
        held.append(part)
        count += len(part)
        if count >= BLOCK:
            yield np.concatenate(held)
            held, count = [], 0
    if count:
        yield np.concatenate(held)
