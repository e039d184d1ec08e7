"""A film's sound, coded once: what is kept is what was coded, and its name tells all that it is mixed from."""

import subprocess
import sys
from fractions import Fraction

import numpy as np
import pytest

from renderer.coded_sound import code_sound, name_sound, pack_sound, unpack_sound
from renderer.lesson import Lesson
from renderer.stems import segment_stems
from tests.lessons import SHORT, make_lesson

MORE = "sound: {figure: plucked}\n"


def name_of(lesson: Lesson) -> str:
    return name_sound(segment_stems(lesson, lesson.schedule_show("play")), 48_000)


def test_what_is_kept_is_what_was_coded() -> None:
    noise = np.random.default_rng(5).normal(scale=0.1, size=(5_000, 2)).astype(np.float32)
    coded = code_sound(noise, 6_000)
    assert unpack_sound(pack_sound(coded)) == coded
    assert code_sound(noise, 6_000) == coded
    # 1024 samples of priming, then all of the sound (ISO/IEC 14496-3 frames of 1024, the last one shorter).
    assert coded.packets[0].start == -1024
    assert sum(packet.length for packet in coded.packets) == 6_000 + 1024
    ends = [packet.start + packet.length for packet in coded.packets]
    assert ends[:-1] == [packet.start for packet in coded.packets[1:]]


def test_silence_beyond_a_short_sound_is_coded_as_silence() -> None:
    noise = np.random.default_rng(6).normal(scale=0.1, size=(40_000, 2)).astype(np.float32)
    padded = np.concatenate([noise, np.zeros((10_000, 2), np.float32)])
    assert code_sound(noise, 50_000) == code_sound(padded, 50_000)


@pytest.mark.parametrize("shape", [(10,), (10, 1), (10, 3)], ids=str)
def test_other_shapes_are_refused(shape: tuple[int, ...]) -> None:
    with pytest.raises(ValueError, match="sound is"):
        code_sound(np.zeros(shape, np.float32), 10)


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
from renderer.coded_sound import code_sound

class Silence:
    shape = (48_000 * 600, 2)
    def __getitem__(self, part):
        start, end, _ = part.indices(self.shape[0])
        return np.zeros((end - start, 2), np.float32)

def peak():
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024

code_sound(Silence(), 48_000)
before = peak()
code_sound(Silence(), Silence.shape[0])
print(peak() - before)
"""


@pytest.mark.slow
def test_ten_minutes_are_never_held_whole() -> None:
    """They are 230 MB of samples."""
    run = subprocess.run([sys.executable, "-c", HELD], capture_output=True, text=True, check=True)
    assert float(run.stdout) < 60
