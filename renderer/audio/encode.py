"""Sound to files: wav and flac of 24 bits, mp3 and m4a, block by block."""

import wave
from collections.abc import Callable, Iterable

import av
import numpy as np
from av.audio.stream import AudioStream
from numpy.typing import NDArray

from renderer.audio.aac import AAC
from renderer.audio.click_sounds import SAMPLES_PER_SECOND
from renderer.audio.click_track import LARGEST_WAV
from renderer.audio.decode import open_sound
from renderer.audio.loudness import LOUDNESS_STEP, LoudnessMeter, Samples, decibels, in_steps, measure
from renderer.audio.master import CEILING_DB
from renderer.core.errors import FileError
from renderer.core.open_files import OutputFile

FORMATS = ("wav", "flac", "mp3", "m4a")
MP3_BIT_RATE = 320_000
CODECS = {"flac": "flac", "mp3": "libmp3lame", "m4a": "aac"}
LOSSY = ("mp3", "m4a")
MOST_TRIES = 3

Blocks = Callable[[], Iterable[Samples]]
"""Gives a sound's blocks, each of shape (n, 2), from the beginning."""


def write_sound(file: OutputFile, kind: str, blocks: Blocks, sample_count: int) -> LoudnessMeter | None:
    """Write a sound of 48,000 samples a second in one of the formats.

    What mp3 and m4a leave out changes loudness and peaks: they are read back, and written softer if a true peak passes
    -1 dBTP. Gives what was measured in the file; None for wav and flac, which hold the sound as it is.

    Raises FileError if it can't be written or is too long for a wav file.
    """
    if kind not in FORMATS:
        raise FileError(f"{file.path}: sound is written as {', '.join(FORMATS[:-1])} or {FORMATS[-1]}.")
    if kind == "wav":
        _write_wav_24(file, blocks(), sample_count)
        return None
    gain = 1.0
    for _ in range(MOST_TRIES):
        file.seek(0)
        file.truncate()
        _encode(file, kind, blocks(), gain)
        if kind not in LOSSY:
            return None
        with open_sound(file.path, file.reopen()) as sound:
            heard = measure(in_steps(sound.blocks()))
        top = decibels(heard.true_peak())
        if top <= CEILING_DB:
            break
        gain *= 10 ** ((CEILING_DB - 0.1 - top) / 20)
    return heard


def _write_wav_24(target: OutputFile, blocks: Iterable[Samples], sample_count: int) -> None:
    if sample_count * 6 + 44 > LARGEST_WAV:
        hours = LARGEST_WAV / (6 * SAMPLES_PER_SECOND * 3600)
        raise FileError(
            f"{target.path}: {sample_count / SAMPLES_PER_SECOND / 3600:.1f} hours are too long for one wav file, "
            f"which ends at 4 GiB: {hours:.1f} hours. Write it by section, or as flac."
        )
    with wave.open(target, "wb") as file:
        file.setnchannels(2)
        file.setsampwidth(3)
        file.setframerate(SAMPLES_PER_SECOND)
        file.setnframes(sample_count)
        for block in blocks:
            for start in range(0, len(block), LOUDNESS_STEP):
                file.writeframesraw(_packed(block[start : start + LOUDNESS_STEP]))


def _packed(block: Samples) -> bytes:
    """Samples as they stand in a wav file of 24 bits."""
    if not block.any():
        return bytes(6 * len(block))
    whole = np.ascontiguousarray(_integers(block), "<i4")
    return whole.view(np.uint8).reshape(-1, 4)[:, :3].tobytes()


def _integers(block: Samples) -> NDArray[np.int32]:
    """Samples as integers of 24 bits."""
    steps = np.rint(block * np.float32(2.0**23))
    return np.asarray(np.clip(steps, -(2**23), 2**23 - 1), np.int32)


def _encode(file: OutputFile, kind: str, blocks: Iterable[Samples], gain: float) -> None:
    with av.open(file, "w", format="ipod" if kind == "m4a" else kind) as container:
        options = AAC if kind == "m4a" else {}
        stream = container.add_stream(CODECS[kind], rate=SAMPLES_PER_SECOND, layout="stereo", options=options)
        assert isinstance(stream, AudioStream)
        if kind == "mp3":
            stream.bit_rate = MP3_BIT_RATE
        elif kind == "flac":
            stream.format = "s32"
        resampler = av.AudioResampler(stream.format, "stereo", SAMPLES_PER_SECOND, stream.frame_size or 4096)
        start = 0
        for block in blocks:
            frame = _frame(block, kind, gain)
            frame.pts = start
            start += len(block)
            for part in resampler.resample(frame):
                container.mux(stream.encode(part))
        for part in resampler.resample(None):
            container.mux(stream.encode(part))
        container.mux(stream.encode(None))


def _frame(block: Samples, kind: str, gain: float) -> av.AudioFrame:
    if kind in LOSSY:
        planes = np.ascontiguousarray((block * np.float32(gain)).T)
        frame = av.AudioFrame.from_ndarray(planes, format="fltp", layout="stereo")
    else:
        packed = np.ascontiguousarray(_integers(block) * 256).reshape(1, -1)
        frame = av.AudioFrame.from_ndarray(packed, format="s32", layout="stereo")
    frame.sample_rate = SAMPLES_PER_SECOND
    return frame
