"""Slower at the same pitch: length, attacks, pitch, level."""

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from renderer.audio import slow_down as module
from renderer.audio import slowed as nearby
from renderer.audio.slow_down import find_attacks, slow_down, slow_part
from renderer.audio.slowed import SlowedNearby, SlowedSound
from tests.held import HeldSound
from tests.performances import RATE, perform
from tests.test_tones import strongest

Wave = NDArray[np.float32]

SPEEDS = [Fraction(1, 4), Fraction(1, 2), Fraction(5, 8), Fraction(3, 4), Fraction(19, 20)]
TIMES = [Fraction(31 + 290 * k + (k * k * 37) % 40, 1000) for k in range(16)]


@pytest.mark.parametrize("speed", SPEEDS)
@pytest.mark.parametrize(
    "sounds", [("drum",), ("plucked",), ("struck",), ("low",), ("low", "drum", "plucked", "struck")]
)
def test_attacks_stay_within_a_millisecond(speed: Fraction, sounds: tuple[str, ...]) -> None:
    take = perform(TIMES, 5, sounds)
    slow = slowed(take, speed)
    assert max(lags(take, slow, speed)) <= RATE / 1000


@pytest.mark.parametrize("speed", [Fraction(1, 4), Fraction(3, 4)])
def test_attacks_over_noise_at_minus_66_decibels_stay_too(speed: Fraction) -> None:
    take = perform(TIMES, 5, ("drum", "plucked"), noise=0.0005)
    assert max(lags(take, slowed(take, speed), speed)) <= RATE / 1000


def slowed(take: Wave, speed: Fraction) -> Wave:
    return np.concatenate([*slow_down(take, speed)])


def lags(take: Wave, slow: Wave, speed: Fraction) -> list[int]:
    """How far from its place, in samples, each attack's first 8 ms are found again, looking 60 ms around."""
    found = []
    for time in TIMES:
        onset, place = (int(time * factor * RATE + Fraction(1, 2)) for factor in (1, 1 / speed))
        low = max(8, place - 2_880)
        attack = sharp(take[onset - 8 : onset + 376, 0])
        around = sharp(slow[low - 8 : place + 2_880 + 376, 0])
        energy = np.convolve(around**2, np.ones(len(attack)), "valid")
        likeness = np.correlate(around, attack, "valid") / np.sqrt(energy + 1e-9)
        found.append(abs(low + int(np.argmax(likeness)) - place))
    return found


def sharp(wave: Wave) -> Wave:
    """What bends sharply: the attack without what rings on below it."""
    return np.diff(wave, n=2)


@pytest.mark.parametrize("speed", SPEEDS)
def test_nothing_comes_before_its_attack(speed: Fraction) -> None:
    take = perform(TIMES, 5, ("drum",))
    slow = np.abs(slowed(take, speed)[:, 0])
    for time in TIMES[1:]:
        onset, place = round(float(time) * RATE), round(float(time / speed) * RATE)
        before = np.abs(take[onset - 960 : onset - 2, 0]).max()
        assert slow[place - 960 : place - 2].max() < 1.3 * before + 0.01


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 3 * RATE), st.fractions(Fraction(1, 4), 1, max_denominator=60))
def test_the_length_is_exact(count: int, speed: Fraction) -> None:
    take = perform([Fraction(1, 10), Fraction(1, 2)], 3)[:count]
    exact = Fraction(count) / speed
    assert len(slowed(take, speed)) == (2 * exact.numerator + exact.denominator) // (2 * exact.denominator)


@pytest.mark.parametrize("speed", SPEEDS)
def test_pitch_and_level_stay(speed: Fraction) -> None:
    angle = 2 * np.pi * 330 * np.arange(4 * RATE) / RATE
    sine = np.repeat((0.3 * np.sin(angle)).astype(np.float32)[:, np.newaxis], 2, axis=1)
    middle = slowed(sine, speed)[RATE : 3 * RATE, 0]
    assert strongest(middle) == pytest.approx(330, abs=0.5)
    assert np.sqrt(np.mean(middle**2)) == pytest.approx(0.3 / np.sqrt(2), rel=0.05)


def test_a_long_time_without_attacks_is_parted_where_it_is_quietest(monkeypatch: pytest.MonkeyPatch) -> None:
    take = perform([Fraction(1, 10)], 3) + perform([Fraction(11, 4)], 3)
    monkeypatch.setattr(module, "LONGEST", RATE)
    joints = module._joints(take)
    assert [joints[0], joints[-1]] == find_attacks(take)
    assert max(np.diff([0, *joints, len(take)])) <= RATE
    parted = slowed(take, Fraction(1, 2))
    assert len(parted) == 2 * len(take)
    monkeypatch.undo()
    whole = slowed(take, Fraction(1, 2))
    assert np.abs(np.diff(parted, axis=0)).max() <= 1.1 * np.abs(np.diff(whole, axis=0)).max()


def test_what_is_slowed_is_made_once_and_taken_in_parts() -> None:
    take = perform(TIMES, 5)
    sound = SlowedSound(HeldSound(take), Fraction(3, 4))
    whole = slowed(take, Fraction(3, 4))
    assert sound.shape == whole.shape
    parts = [sound[start : start + 7_777] for start in range(0, len(whole), 7_777)]
    assert np.array_equal(np.concatenate(parts), whole)
    other = SlowedSound(HeldSound(take), Fraction(1, 2))
    assert sound.mark != other.mark


def test_attacks_are_found_on_their_sample() -> None:
    take = perform(TIMES, 5, ("plucked", "drum", "struck"))
    assert find_attacks(take) == [int(time * RATE + Fraction(1, 2)) for time in TIMES]
    assert find_attacks(np.zeros((RATE, 2), np.float32)) == []


def test_it_sounds_the_same_every_time() -> None:
    take = perform(TIMES, 5, ("plucked", "drum"))
    assert np.array_equal(slowed(take, Fraction(1, 2)), slowed(take, Fraction(1, 2)))


@pytest.mark.parametrize("speed", SPEEDS)
def test_what_is_slowed_where_one_listens_has_its_attacks_and_level_too(speed: Fraction) -> None:
    take = perform(TIMES, 5, ("low", "drum", "plucked"))
    sound = SlowedNearby(HeldSound(take), speed)
    whole = slowed(take, speed)
    assert sound.shape == whole.shape
    heard = sound[0 : len(whole)]
    assert max(lags(take, heard, speed)) <= RATE / 1000
    for start in range(0, len(whole) - RATE, RATE):
        loud, same = (np.sqrt(np.mean(each[start : start + RATE] ** 2)) for each in (whole, heard))
        assert same == pytest.approx(loud, rel=0.15, abs=0.002)
    assert np.abs(np.diff(heard, axis=0)).max() <= 1.1 * np.abs(np.diff(whole, axis=0)).max(), (
        "no click at a joint"
    )


def test_only_what_is_listened_to_is_slowed(monkeypatch: pytest.MonkeyPatch) -> None:
    """From any place, in any order, the same."""
    made: list[tuple[int, int]] = []

    def counted(sound: HeldSound, start: int, end: int, length: int) -> Wave:
        made.append((start, end))
        return slow_part(sound, start, end, length)

    monkeypatch.setattr(nearby, "slow_part", counted)
    take = np.concatenate([perform(TIMES, 5, ("drum", "plucked"))] * 12)
    sound = SlowedNearby(HeldSound(take), Fraction(1, 4))
    middle = sound.shape[0] // 2
    one = sound[middle : middle + RATE]
    assert sum(end - start for start, end in made) <= 2 * RATE, "of 60 seconds"
    assert np.array_equal(one[::3], sound[middle : middle + RATE : 3])
    again = SlowedNearby(HeldSound(take), Fraction(1, 4))
    around = again[middle - 5_000 : middle + RATE + 777]
    assert np.array_equal(around[5_000:-777], one)
    assert len(sound[sound.shape[0] - 10 : sound.shape[0] + 10]) == 10


def test_silence_and_what_never_is_struck_are_slowed_where_one_listens_too() -> None:
    angle = 2 * np.pi * 330 * np.arange(4 * RATE) / RATE
    sine = np.repeat((0.3 * np.sin(angle)).astype(np.float32)[:, np.newaxis], 2, axis=1)
    for take in (np.zeros((5 * RATE // 2, 2), np.float32), sine):
        heard = SlowedNearby(HeldSound(take), Fraction(1, 4))[0 : 4 * len(take)]
        assert len(heard) == 4 * len(take)
        middle = heard[RATE : 2 * RATE, 0]
        assert np.sqrt(np.mean(middle**2)) == pytest.approx(np.sqrt(np.mean(take**2)), rel=0.1, abs=1e-6)
