"""A film's sound, coded once: what is kept is what was coded, and its name tells all that it is mixed from."""

import subprocess
import sys
from fractions import Fraction

import av
import numpy as np
import pytest
from av.audio.codeccontext import AudioCodecContext
from av.packet import Packet
from numpy.typing import NDArray

from renderer.audio.aac import AAC_CODER, AAC_FRAME, LEAD, PART, SETTLED, CodedPacket, _find_seam, join_parts
from renderer.audio.coded import CodedPart, CodedSound, code_sound, name_sound, pack_part, unpack_part
from renderer.lesson.lesson import Lesson
from renderer.mix.stems import segment_stems
from tests.lessons import SHORT, make_lesson

MORE = "sound: {figure: plucked}\n"


def name_of(lesson: Lesson) -> str:
    return name_sound(segment_stems(lesson, lesson.schedule_show("play")), 48_000)


def packets_of(sound: CodedSound) -> list[CodedPacket]:
    return list(join_parts(sound))


def noise_of(sample_count: int, seed: int = 5) -> NDArray[np.float32]:
    return np.random.default_rng(seed).normal(scale=0.1, size=(sample_count, 2)).astype(np.float32)


def test_what_is_kept_is_what_was_coded() -> None:
    noise = noise_of(5_000)
    coded = code_sound(AAC_CODER, noise, 6_000)
    assert unpack_part(pack_part(coded.part(0))) == coded.part(0)
    assert packets_of(code_sound(AAC_CODER, noise, 6_000)) == packets_of(coded)


@pytest.mark.parametrize("sample_count", [1, 1024, 6_000, PART * AAC_FRAME, (2 * PART - 1) * AAC_FRAME + 7])
def test_packets_follow_each_other(sample_count: int) -> None:
    # 1024 samples of priming, then all of the sound (ISO/IEC 14496-3 frames of 1024, the last one shorter).
    packets = packets_of(code_sound(AAC_CODER, noise_of(min(sample_count, 5_000)), sample_count))
    assert packets[0].start == -1024
    assert sum(packet.length for packet in packets) == sample_count + 1024
    ends = [packet.start + packet.length for packet in packets]
    assert ends[:-1] == [packet.start for packet in packets[1:]]


def ring(sample_count: int) -> NDArray[np.float32]:
    """Struck tones, twice a second, and clicks between them."""
    seconds = np.arange(sample_count) / 48_000
    tones = sum(np.sin(2 * np.pi * pitch * seconds) for pitch in (196.0, 392.5, 589.0, 2_351.0))
    struck = 0.2 * tones * np.exp(-8 * (seconds % 0.5))
    struck[5_000::24_000] += 0.5
    return np.stack([struck, 0.6 * struck], axis=1).astype(np.float32)


@pytest.mark.parametrize("sound", ["noise", "tones"])
def test_no_seam_is_heard(sound: str) -> None:
    """Decoded, the frames around a seam are as near to what was coded as all others; whatever comes of one part is
    not heard in the next."""
    count = 3 * PART * AAC_FRAME
    samples = noise_of(count) if sound == "noise" else ring(count)
    coded = code_sound(AAC_CODER, samples, count)
    parts = list(coded.parts())
    assert len(parts) == 4
    decoder = av.CodecContext.create("aac", "r")
    assert isinstance(decoder, AudioCodecContext)
    decoder.extradata = parts[0].header
    frames = [frame for packet in packets_of(coded) for frame in decoder.decode(Packet(packet.data))]
    heard = np.concatenate([frame.to_ndarray() for frame in [*frames, *decoder.decode(None)]], axis=1)
    wrong = (heard[:, AAC_FRAME : AAC_FRAME + count] - samples.T).reshape(2, -1, AAC_FRAME)
    errors = np.sqrt((wrong**2).mean(axis=(0, 2)))
    around = [PART * number + offset for number in (1, 2) for offset in range(-2, 3)]
    others = np.delete(errors, around)
    assert errors[around].max() <= others.max()
    assert errors[around].mean() < 1.5 * others.mean()


def test_encoders_meet_where_both_have_the_same_window() -> None:
    """ISO/IEC 14496-3, 4.4.2.1: a pair of channels that share a window tells it in its fifth nibble's first bits."""
    long, short, apart = b"\x21\x00", b"\x21\x40", b"\x20\x00"
    part = CodedPart(b"", 0, (long,) * PART + (long, apart, short, short, long))
    for others, seam in (
        ((long, long, long, long, long), PART),
        ((short, apart, short, long, long), PART + 3),
        ((long, apart, long, long, long), PART),
    ):
        before = (short if seam > PART else long,) * (LEAD - SETTLED)
        following = CodedPart(b"", PART - LEAD + SETTLED, before + others)
        assert _find_seam(part, following) == seam


def test_silence_beyond_a_short_sound_is_coded_as_silence() -> None:
    noise = noise_of(40_000)
    padded = np.concatenate([noise, np.zeros((10_000, 2), np.float32)])
    assert packets_of(code_sound(AAC_CODER, noise, 50_000)) == packets_of(
        code_sound(AAC_CODER, padded, 50_000)
    )


@pytest.mark.parametrize("shape", [(10,), (10, 1), (10, 3)], ids=str)
def test_other_shapes_are_refused(shape: tuple[int, ...]) -> None:
    with pytest.raises(ValueError, match="sound is"):
        code_sound(AAC_CODER, np.zeros(shape, np.float32), 10)


def test_the_same_sound_has_the_same_name() -> None:
    assert name_of(make_lesson(SHORT + MORE)) == name_of(make_lesson(SHORT + MORE))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("tempo: 137", "tempo: 138"),
        ("plucked", "struck"),
        ("{figure: plucked}", "{figure: plucked, pan: -10}"),
        ("{figure: plucked}", "{figure: plucked, level: -2}"),
        ("figure, spread, play]", "figure, spread, {show: play, speed: 75}]"),
    ],
)
def test_another_sound_has_another_name(old: str, new: str) -> None:
    text = SHORT + MORE
    assert old in text
    assert name_of(make_lesson(text.replace(old, new, 1))) != name_of(make_lesson(text))


def test_its_settings_are_in_its_name() -> None:
    stems = segment_stems(make_lesson(SHORT), make_lesson(SHORT).schedule_show("play"))
    names = {
        name_sound(stems, *settings) for settings in ((1,), (2,), (1, Fraction(-14)), (1, Fraction(-23)))
    }
    assert len(names) == 4


HELD = """
import resource
import numpy as np
from renderer.audio.CODING import NAMED as coder
from renderer.audio.coded import code_sound

class Silence:
    shape = (48_000 * 600, 2)
    def __getitem__(self, part):
        start, end, _ = part.indices(self.shape[0])
        return np.zeros((end - start, 2), np.float32)

def peak():
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024

code_sound(coder, Silence(), 48_000)
before = peak()
code_sound(coder, Silence(), Silence.shape[0])
print(peak() - before)
"""


@pytest.mark.slow
@pytest.mark.parametrize("coding", ["aac", "opus"])
def test_ten_minutes_are_never_held_whole(coding: str) -> None:
    """They are 230 MB of samples."""
    code = HELD.replace("CODING", coding).replace("NAMED", f"{coding.upper()}_CODER")
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert float(run.stdout) < 60
