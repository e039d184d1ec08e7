"""The click is heard through all else: measured in the mix, by filters that are not the product's own."""

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import butter, sosfilt

from renderer.audio.click_room import BEFORE, DEEPEST_DB, click_room, cut_response
from renderer.audio.click_sounds import KIND_SOUNDS
from renderer.audio.stem import Stem
from renderer.lesson.lesson import Lesson, open_lesson
from renderer.mix.stems import segment_master
from renderer.schedule.model import Schedule
from renderer.spec.sound import VOICE_SOUNDS
from tests.held import HeldSound
from tests.lessons import EXAMPLE, make_lesson
from tests.performances import RATE, perform, write_take

HEAD = "tempo: 120\nmeter: 4/4\npulse: 1/16\nfigures: {kiln: {hits: X.x.x X.x X.x}}\nclick: {every: [beat, figure]}\n"
FORM = "form: [{section: A, bars: 6, plays: kiln, harmony: {1: [Em, G, F#dim]}}]\nsegments: [play]\n"
CLEAR_DB = 6
"""What is promised."""
HEARD = RATE // 50
"""20 ms: a click's length to the ear; it has fallen by 29 dB then."""


def octave(track: NDArray[np.float32], hertz: float) -> NDArray[np.float64]:
    """What lies in the octave around a pitch (IEC 61260-1: its edges lie half an octave to each side)."""
    edges = [hertz / np.sqrt(2), hertz * np.sqrt(2)]
    return np.asarray(sosfilt(butter(3, edges, "bandpass", fs=RATE, output="sos"), track))


def clearances(lesson: Lesson, schedule: Schedule) -> list[float]:
    """How far each click lies above all else in its octave, in dB."""
    made = segment_master(lesson, schedule)
    names = [stem.name for stem in made.sources]
    click = made.stem(names.index("click")).sum(axis=1)
    others = made.mix.sum(axis=1) - click
    found = []
    bands = {
        kind: [octave(sound, KIND_SOUNDS[kind].hertz) for sound in (click, others)]
        for kind in {each.kind for each in schedule.clicks}
    }
    for each in schedule.clicks:
        onset = int(each.seconds * RATE + Fraction(1, 2))
        own, rest = (np.sum(band[onset : onset + HEARD] ** 2) for band in bands[each.kind])
        found.append(float(10 * np.log10(own / (rest + 1e-12))))
    return found


@pytest.mark.slow
@pytest.mark.parametrize("spec", sorted(EXAMPLE.parent.glob("*.yaml")), ids=lambda path: path.stem)
def test_every_click_of_the_examples_is_heard(spec: Path) -> None:
    lesson = open_lesson(spec)
    heard = 0
    for planned in lesson.segments():
        if planned.schedule.clicks:
            found = clearances(lesson, planned.schedule)
            assert min(found) >= CLEAR_DB, planned.name
            heard += len(found)
    assert heard > 50


@pytest.mark.parametrize("sound", VOICE_SOUNDS)
def test_through_any_voice(sound: str) -> None:
    lesson = make_lesson(HEAD + FORM + f"sound: {sound}\n")
    assert min(clearances(lesson, lesson.segments()[0].schedule)) >= CLEAR_DB


@pytest.mark.parametrize("sound", ["off", "low"])
def test_through_a_loud_recording(sound: str, tmp_path: Path) -> None:
    # Distorted, full from the lowest to the highest, with a drum on each beat, 6 dB louder than it would be.
    random = np.random.default_rng(1)
    take = np.tanh(
        4 * perform([Fraction(k, 2) for k in range(24)], 12) + random.normal(0, 0.3, (12 * RATE, 2))
    )
    write_take(tmp_path / "take.wav", take.astype(np.float32))
    more = (
        f"recording: take.wav\nsync: {{1: 0}}\nsound: {{figure: {sound}, recording: {{level: 6, duck: 0}}}}\n"
    )
    (tmp_path / "piece.yaml").write_text(HEAD + FORM + more, encoding="utf-8")
    lesson = open_lesson(tmp_path / "piece.yaml")
    found = clearances(lesson, lesson.segments()[0].schedule)
    assert min(found) >= CLEAR_DB


def stem(samples: NDArray[np.float32], name: str = "x") -> Stem:
    return Stem(name, HeldSound(samples))


def pulse(count: int, at: int, level: float = 0.5) -> NDArray[np.float32]:
    """A short tone of 1350 Hz, the pitch of a beat's click."""
    wave = np.zeros(count, np.float32)
    time = np.arange(1_500)
    wave[at : at + 1_500] = level * np.sin(2 * np.pi * 1350 * time / RATE) * np.exp(-time / 300)
    return wave


def test_where_nothing_is_in_its_way_nothing_steps_back() -> None:
    low = (0.3 * np.sin(2 * np.pi * 60 * np.arange(RATE) / RATE)).astype(np.float32)
    room = click_room(RATE, [(24_000, "beat")], stem(pulse(RATE, 24_000)), [stem(low)])
    assert room is not None
    assert room.shares.tolist() == [0]
    assert np.array_equal(room.applied(stem(low).part, 0, RATE), low)
    assert click_room(RATE, [], stem(low), [stem(low)]) is None
    assert click_room(RATE, [(5, "beat")], stem(low), []) is None


def test_nothing_sounds_earlier_and_all_is_back_soon() -> None:
    noise = np.random.default_rng(2).normal(0, 2, RATE).astype(np.float32)
    noise[:24_000] = 0
    click = stem(pulse(RATE, 24_000) + pulse(RATE, 36_000))
    room = click_room(RATE, [(24_000, "beat"), (36_000, "beat")], click, [stem(noise)])
    assert room is not None
    held = room.applied(stem(noise).part, 0, RATE)
    assert np.abs(held[:24_000]).max() < 1e-12
    assert np.array_equal(held[27_000 : 36_000 - BEFORE], noise[27_000 : 36_000 - BEFORE])
    assert not np.array_equal(held[24_000:25_000], noise[24_000:25_000])
    parts = [room.applied(stem(noise).part, start, min(RATE, start + 997)) for start in range(0, RATE, 997)]
    assert np.array_equal(np.concatenate(parts), held)


def test_it_steps_back_no_further_than_it_must() -> None:
    noise = np.random.default_rng(2).normal(0, 1, RATE).astype(np.float32)
    shares = []
    for level in (0.1, 0.3, 1, 3, 10):
        room = click_room(
            RATE, [(24_000, "beat")], stem(pulse(RATE, 24_000)), [stem(noise * np.float32(level))]
        )
        assert room is not None
        shares += room.shares.tolist()
    assert shares == sorted(shares)
    assert shares[0] == 0
    assert 0 < shares[2] < shares[3] <= 1


def test_the_cut_is_as_deep_as_it_says_and_leaves_the_rest() -> None:
    spectrum = 20 * np.log10(np.abs(np.fft.rfft(cut_response((1350.0,)), RATE)))
    assert spectrum[1350] == pytest.approx(-DEEPEST_DB, abs=0.1)
    assert spectrum[100] > -1.5
    assert spectrum[12_000] > -3
