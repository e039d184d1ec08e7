"""The sound of a WebM film. libopus codes it; FFmpeg's own decoder, which others wrote, reads it back."""

from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest
from numpy.typing import NDArray

from renderer.audio.coded import CodedPart, code_sound, pack_part, unpack_part
from renderer.audio.loudness import Samples, decibels, true_peak
from renderer.audio.opus import OPUS_CODER
from renderer.core.files import whole_file
from renderer.mix.stems import segment_master
from renderer.video.codings import VP9
from renderer.video.mp4 import count_samples, join_chunks
from renderer.video.straight import StraightPlanes
from renderer.video.vp9 import encode_vp9
from tests.lessons import SHORT, make_lesson
from tests.test_loudness import second_meter

RATE = 48_000
FRAMES_PER_SECOND = Fraction(25)
CLICKS = ((0, 0), (12_345, 0), (48_000, 1), (90_001, 0))
"""Samples at which a click begins, and its channel."""


def click() -> NDArray[np.float64]:
    """From nothing to half of full scale in one sample: 1.5 kHz that dies away in 2 ms."""
    steps = np.arange(960)
    ringing: NDArray[np.float64] = 0.5 * np.exp(-steps / 100) * np.cos(2 * np.pi * 1_500 * steps / RATE)
    return ringing


def clicks(sample_count: int) -> Samples:
    sound = np.zeros((sample_count, 2), np.float32)
    for at, channel in CLICKS:
        sound[at : at + 960, channel] += click()
    return sound


def write(path: Path, sound: Samples, frame_count: int) -> Path:
    """A film without a picture in it."""
    planes = StraightPlanes(32, 32).planes
    chunk = encode_vp9(((planes, []) for _ in range(frame_count)), 32, 32, FRAMES_PER_SECOND)
    coded = code_sound(OPUS_CODER, sound, count_samples(frame_count, FRAMES_PER_SECOND))
    with whole_file(path) as file:
        join_chunks(file, [chunk], 32, 32, FRAMES_PER_SECOND, frame_count, coded, coding=VP9)
    return path


def heard(path: Path) -> Samples:
    """All that is played, shape (n, 2)."""
    with av.open(path) as container:
        stream = container.streams.audio[0]
        assert stream.codec_context.codec.long_name == "Opus", "FFmpeg's own, not libopus"
        assert (stream.rate, stream.layout.name) == (RATE, "stereo")
        blocks = [frame.to_ndarray() for frame in container.decode(stream)]
    return np.asarray(np.concatenate(blocks, axis=1).T, np.float32)


@pytest.mark.parametrize("frame_count", [48, 49])
def test_each_click_is_on_its_sample_in_its_channel(frame_count: int, tmp_path: Path) -> None:
    count = frame_count * 1_920  # 48,000 / 25
    sound = clicks(count)
    found = heard(write(tmp_path / "o.webm", sound, frame_count))
    assert found.shape == (count, 2), "what is before and after it is left out"
    for at, channel in CLICKS:
        first = max(0, at - 300)
        around = np.correlate(found[first : at + 1_300, channel], click(), "valid")
        assert first + int(np.argmax(around)) == at
        rise = np.flatnonzero(np.abs(found[first : at + 300, channel]) > 0.25)[0]
        assert first + rise == at
        assert np.abs(found[at : at + 960, 1 - channel]).max() < 1e-3


def test_the_file_says_what_a_player_leaves_out(tmp_path: Path) -> None:
    """RFC 9559: CodecDelay is the element 56AA, in nanoseconds, SeekPreRoll 56BB, DiscardPadding 75A2. Here they have
    3, 4 and 4 bytes. RFC 7845, 5.1: the pre-skip is the bytes 10 and 11 of OpusHead; 4.6: 80 ms are decoded before a
    place that is jumped to."""
    path = write(tmp_path / "o.webm", clicks(92_160), 48)
    content = path.read_bytes()
    head = content.index(b"OpusHead")
    pre_skip = int.from_bytes(content[head + 10 : head + 12], "little")
    assert (content[head + 9], pre_skip) == (2, 312)
    assert bytes.fromhex("56aa83") + (pre_skip * 10**9 // RATE).to_bytes(3, "big") in content
    assert bytes.fromhex("56bb84") + (80 * 10**6).to_bytes(4, "big") in content
    packets = -(-(92_160 + pre_skip) // 960)
    padding = (packets * 960 - 92_160 - pre_skip) * 10**9 // RATE
    assert bytes.fromhex("75a284") + padding.to_bytes(4, "big") in content


def test_packets_lie_20_ms_apart_and_the_first_picture_is_at_nothing(tmp_path: Path) -> None:
    """A frame of Opus is 20 ms here (RFC 6716, 2.1.4). FFmpeg takes the delay off in whole milliseconds: 7 for 6.5."""
    with av.open(write(tmp_path / "o.webm", clicks(92_160), 48)) as container:
        packets = [(packet.stream.type, packet.pts) for packet in container.demux() if packet.size]
    sound, picture = ([pts for of, pts in packets if of == kind] for kind in ("audio", "video"))
    assert sound == [20 * number - 7 for number in range(97)]
    assert picture == [40 * number for number in range(48)]


def test_the_same_sound_gives_the_same_bytes(tmp_path: Path) -> None:
    first, again = (write(tmp_path / name, clicks(92_160), 48).read_bytes() for name in ("a.webm", "b.webm"))
    assert first == again


def test_it_is_as_loud_as_aimed_at_and_no_peak_passes(tmp_path: Path) -> None:
    lesson = make_lesson(SHORT + "sound: {figure: plucked, pan: -30}\n")
    schedule = lesson.segments()[2].schedule
    count = int(schedule.seconds * FRAMES_PER_SECOND)
    sound = segment_master(lesson, schedule)
    found = heard(write(tmp_path / "o.webm", sound[0 : sound.shape[0]], count))
    assert second_meter(found) == pytest.approx(-14, abs=0.4)
    assert decibels(true_peak(found)) <= -1


def test_a_part_that_is_damaged_is_found() -> None:
    part = code_sound(OPUS_CODER, clicks(92_160), 92_160).part(0)
    OPUS_CODER.check_part(unpack_part(pack_part(part)), 92_160, 0)
    (content,) = part.packets
    for broken in (
        part._replace(header=b"x"),
        part._replace(first=1),
        part._replace(packets=()),
        part._replace(packets=(content, content)),
        part._replace(packets=(b"",)),
        part._replace(packets=(content[: len(content) // 2],)),
        part._replace(packets=(b"\xff" * 999,)),
    ):
        with pytest.raises(ValueError, match=r"sound|WebM"):
            OPUS_CODER.check_part(broken, 92_160, 0)
    with pytest.raises(ValueError, match="93120 samples"):
        OPUS_CODER.check_part(CodedPart(*part), 93_120, 0)


def test_other_shapes_are_refused() -> None:
    with pytest.raises(ValueError, match="sound is"):
        code_sound(OPUS_CODER, np.zeros((10, 3), np.float32), 10)
