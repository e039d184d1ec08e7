"""What is heard in a recording: beginnings, and beats followed through them."""

import tracemalloc
from collections.abc import Sequence
from fractions import Fraction

import numpy as np
import pytest
from librosa.filters import mel
from librosa.onset import onset_strength
from numpy.typing import NDArray

from renderer.hearing import attacks
from renderer.hearing.attacks import MOMENTS_PER_SECOND, beginnings, mel_bands
from renderer.hearing.beats import Course, follow
from tests.performances import RATE, perform


def test_beginnings_are_those_of_librosa_however_long_the_sound(monkeypatch: pytest.MonkeyPatch) -> None:
    """librosa puts them as many moments later as half a window has, which is more than they are early."""
    take = perform([Fraction(k * k, 40) for k in range(1, 30)], 22, ("drum", "low"), 0.001)
    middle = np.ascontiguousarray(take.mean(axis=1))
    strength = onset_strength(y=middle, sr=RATE, hop_length=attacks.HOP, n_fft=attacks.WINDOW).astype(float)
    expected = np.minimum(strength / strength.std(), attacks.MOST_STRENGTH)
    later = attacks.WINDOW // (2 * attacks.HOP) - attacks.EARLY
    for at_once in (100, 2_000, 100_000):
        monkeypatch.setattr(attacks, "HEARD_AT_ONCE", at_once)
        assert beginnings(take)[:-later] == pytest.approx(expected[later:], abs=1e-3)


def test_mel_bands_are_those_of_librosa() -> None:
    expected = mel(sr=RATE, n_fft=attacks.WINDOW, n_mels=attacks.BANDS)
    np.testing.assert_allclose(mel_bands().T, expected, atol=1e-8)


def test_a_beginning_is_felt_where_it_is() -> None:
    take = perform([Fraction(1), Fraction(7, 3)], 4, ("plucked",), 0.0005)
    strength = beginnings(take)
    for at in (1, 7 / 3):
        moment = round(at * MOMENTS_PER_SECOND)
        near = strength[moment - 20 : moment + 21]
        assert abs(int(np.average(np.arange(41) - 20, weights=near**4))) <= 1


def test_progress_goes_from_nothing_to_all() -> None:
    told: list[float] = []
    beginnings(np.random.default_rng(1).normal(0, 0.1, (5 * RATE, 2)).astype(np.float32), told.append)
    assert told == sorted(told)
    assert told[-1] == 1


def strengths(seconds: Sequence[float], length: float, seed: int = 0) -> NDArray[np.float64]:
    """As if something began at those seconds, some of it softly, with a little of it everywhere."""
    random = np.random.default_rng(seed)
    strength = np.abs(random.normal(0, 0.1, round(length * MOMENTS_PER_SECOND)))
    for at in seconds:
        moment = round(at * MOMENTS_PER_SECOND)
        if 0 <= moment < len(strength):
            strength[moment] += random.uniform(1, 3)
    return strength


def wandering(count: int, length: float, start: float, seed: int, drift: float) -> NDArray[np.float64]:
    """Beats whose tempo wanders, and the end of the last."""
    random = np.random.default_rng(seed)
    lengths = length * (1 + drift * np.sin(np.arange(count) / 11) + random.normal(0, 0.004, count))
    return start + np.concatenate([[0], np.cumsum(lengths)])


def halves_of(beats: NDArray[np.float64]) -> list[float]:
    return sorted([*beats, *((beats[1:] + beats[:-1]) / 2)])


def worst(course: Course, beats: NDArray[np.float64]) -> float:
    """How far from the truth a beat was followed at most, in milliseconds."""
    assert len(course.seconds) == len(beats)
    return float(np.abs(course.seconds - beats).max()) * 1000


@pytest.mark.parametrize("off", [0.84, 0.955, 1.0, 1.045, 1.17])
def test_the_tempo_followed_is_the_recordings_own(off: float) -> None:
    beats = wandering(160, 0.5, 1.2, 3, 0.03)
    random = np.random.default_rng(4)
    heard = [at for at in halves_of(beats) if random.random() < 0.7]
    course = follow(strengths(heard, 90), MOMENTS_PER_SECOND, [0.5 / off] * 160, (1.18, 1.22))
    assert worst(course, beats) < 20
    assert course.leads.min() > 10


def test_music_off_the_beat_draws_no_beat_onto_itself() -> None:
    beats = wandering(160, 0.5, 1.2, 5, 0.02)
    halves = halves_of(beats)
    heard = [at for index, at in enumerate(halves) if index < 60 or index % 2 or not index % 16]
    course = follow(strengths(heard, 90), MOMENTS_PER_SECOND, [0.52] * 160, (1.18, 1.22))
    assert worst(course, beats) < 25


def test_beats_of_unlike_lengths_and_what_is_inside_them() -> None:
    """Bars of 7/8 in 2 + 2 + 3, and triplets in the last beat of each."""
    lengths = [0.4, 0.4, 0.6] * 30
    inside = [(0.5,), (0.5,), (1 / 3, 2 / 3)] * 30
    played = 1.07 * np.array(lengths)
    beats = 0.5 + np.concatenate([[0], np.cumsum(played)])
    heard = [
        at + share * long
        for at, long, shares in zip(beats, played, inside, strict=False)
        for share in (0, *shares)
    ]
    course = follow(strengths(heard, 60), MOMENTS_PER_SECOND, lengths, (0.5, 0.5), inside=inside)
    assert worst(course, beats) < 20


def test_the_start_is_sought_between_the_two_given() -> None:
    beats = wandering(60, 0.6, 1.35, 6, 0.01)
    strength = strengths(list(beats), 40)
    course = follow(strength, MOMENTS_PER_SECOND, [0.6] * 60, (1.2, 1.5))
    assert worst(course, beats) < 20
    elsewhere = follow(strength, MOMENTS_PER_SECOND, [0.6] * 60, (1.2, 1.21))
    assert elsewhere.score < course.score - 3


def test_on_to_the_end_of_the_sound() -> None:
    beats = wandering(60, 0.5, 1.0, 7, 0.02)
    strength = strengths(list(beats), 25)
    inside = beats[beats < 25]
    course = follow(strength, MOMENTS_PER_SECOND, [0.5] * 8, (0.98, 1.02), to_the_end=True)
    assert abs(len(course.seconds) - len(inside)) <= 1
    assert np.abs(course.seconds[: len(inside)] - inside[: len(course.seconds)]).max() < 0.02
    cut = follow(strength, MOMENTS_PER_SECOND, [0.5] * 60, (0.98, 1.02))
    assert list(cut.seconds) == list(course.seconds[: len(cut.seconds)])
    assert len(follow(strength, MOMENTS_PER_SECOND, [0.5] * 8, (0.98, 1.02)).seconds) == 9


def test_where_nothing_is_heard_nothing_is_sure() -> None:
    beats = wandering(120, 0.5, 1.0, 8, 0.01)
    heard = [at for index, at in enumerate(halves_of(beats)) if not 80 <= index < 160]
    course = follow(strengths(heard, 70), MOMENTS_PER_SECOND, [0.5] * 120, (0.98, 1.02))
    assert course.leads[10:35].min() > 15
    assert course.leads[55:65].min() < 8
    assert course.strengths[45:75].mean() < 0.2 < course.strengths[:40].mean()
    nothing = follow(np.zeros(0), MOMENTS_PER_SECOND, [0.5] * 4, (0.0, 0.0))
    assert not len(nothing.seconds)


def test_silence_fills_no_memory() -> None:
    """In it all courses are alike: what is kept at each beat must not grow with its length."""
    tracemalloc.start()
    course = follow(np.zeros(round(50 * MOMENTS_PER_SECOND)), MOMENTS_PER_SECOND, [0.5] * 80, (1.0, 1.0))
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 40_000_000
    assert course.seconds == pytest.approx(1 + np.arange(81) / 2, abs=0.01)
    assert course.leads[1:].max() < 8
