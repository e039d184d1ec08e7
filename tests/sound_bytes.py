"""Sound files made byte by byte or by FFmpeg's encoders, also such as no program should write."""

import struct
from pathlib import Path

import av
import numpy as np
from av.audio.stream import AudioStream
from numpy.typing import NDArray

RATE = 48_000
PCM, FLOAT, EXTENSIBLE = 1, 3, 0xFFFE


def tone(seconds: float, rate: int = RATE, hertz: float = 220) -> NDArray[np.float32]:
    """A soft sine, shape (n, 1)."""
    return (0.2 * np.sin(2 * np.pi * hertz * np.arange(round(seconds * rate)) / rate)).astype(np.float32)[
        :, None
    ]


def chunk(name: bytes, content: bytes) -> bytes:
    """A chunk of a RIFF file, padded to an even length."""
    return name + struct.pack("<I", len(content)) + content + b"\0" * (len(content) % 2)


def wave_bytes(
    data: bytes, bits: int = 16, rate: int = RATE, channels: int = 1, tag: int = PCM, more: bytes = b""
) -> bytes:
    """A wav file: RIFF WAVE as in Microsoft's and IBM's "Multimedia Programming Interface" (1991)."""
    align = channels * bits // 8
    layout = struct.pack("<HHIIHH", tag, channels, rate, rate * align, align, bits)
    content = b"WAVE" + chunk(b"fmt ", layout) + more + chunk(b"data", data)
    return b"RIFF" + struct.pack("<I", len(content)) + content


def pcm(samples: NDArray[np.float32]) -> bytes:
    """Samples as integers of 16 bits."""
    return np.rint(samples * 32767).astype("<i2").tobytes()


def encode(
    path: Path,
    codec: str,
    samples: NDArray[np.float32],
    rate: int = RATE,
    options: dict[str, str] | None = None,
) -> None:
    """Encode samples, shape (n, channels), by one of FFmpeg's encoders, into what the file's ending names."""
    layout = {1: "mono", 2: "stereo", 4: "4.0", 6: "5.1"}[samples.shape[1]]
    with av.open(path, "w", options=options or {}) as container:
        stream = container.add_stream(codec, rate=rate, layout=layout)
        assert isinstance(stream, AudioStream)
        whole = av.AudioFrame.from_ndarray(np.ascontiguousarray(samples.T), format="fltp", layout=layout)
        whole.sample_rate, whole.pts = rate, 0
        resampler = av.AudioResampler(stream.format, layout, rate, frame_size=stream.frame_size or 1024)
        for frame in [*resampler.resample(whole), *resampler.resample(None)]:
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
