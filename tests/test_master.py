"""Stems to a programme: loudness as asked for, peaks below the limit, and stems that add up."""

from fractions import Fraction

import numpy as np
import pytest
from numpy.typing import NDArray

from renderer.audio.limiter import GRID
from renderer.audio.loudness import decibels, integrated_loudness, true_peak
from renderer.audio.master import Master, master
from renderer.audio.moving_gain import MovingGain
from renderer.audio.stem import Stem
from tests.held import HeldSound
from tests.test_loudness import second_meter, sine

RATE = 48_000


def noise(seconds: float, level: float, seed: int = 0) -> NDArray[np.float32]:
    count = round(seconds * RATE)
    return (np.random.default_rng(seed).normal(0, level, count)).astype(np.float32)


def plucks(seconds: float, level: float = 0.8) -> NDArray[np.float32]:
    """Tones that die away, two a second: peaks far above the mean."""
    time = np.arange(round(seconds * RATE)) / RATE
    wave = np.sin(2 * np.pi * 220 * time) * np.exp(-(time % 0.5) / 0.08) * level
    return wave.astype(np.float32)


def stem(name: str, samples: NDArray[np.float32], pan: int = 0) -> Stem:
    return Stem(name, HeldSound(samples), Fraction(pan))


def made(*stems: Stem, aim: float = -14) -> Master:
    source = stems[0].source
    assert isinstance(source, HeldSound)
    return master(stems, len(source.samples), aim)


@pytest.mark.parametrize("aim", [-14.0, -16.0, -23.0])
@pytest.mark.parametrize("level", [0.001, 0.1, 3.0])
def test_it_comes_out_as_loud_as_was_aimed_at(aim: float, level: float) -> None:
    programme = made(stem("a", noise(8, level)), stem("b", plucks(8, level), 30), aim=aim)
    assert programme.reached
    assert integrated_loudness(programme.mix) == pytest.approx(aim, abs=0.15)
    assert second_meter(programme.mix) == pytest.approx(aim, abs=0.2)


@pytest.mark.parametrize("level", [0.01, 0.5, 20.0])
@pytest.mark.parametrize("seed", range(3))
def test_no_peak_passes_the_limit_whatever_is_mixed(level: float, seed: int) -> None:
    random = np.random.default_rng(seed)
    spikes = np.zeros(RATE * 4, np.float32)
    spikes[random.integers(0, len(spikes), 60)] = random.uniform(-3, 3, 60)
    loud = stem("loud", noise(4, level, seed), -100)
    programme = made(loud, stem("spikes", spikes * level), stem("low", plucks(4, level)), aim=-9)
    assert np.abs(programme.mix).max() < 1
    assert decibels(true_peak(programme.mix)) <= -1
    assert programme.true_peak_db == decibels(true_peak(programme.mix))


def test_stems_that_cancel_each_other_do_not_pass_either() -> None:
    hum, tone = 3 * noise(3, 0.3, 1), noise(3, 0.05, 2)
    programme = made(stem("a", hum), stem("b", tone - hum), stem("c", plucks(3, 0.1)))
    for index in range(3):
        assert decibels(true_peak(programme.stem(index))) <= -0.9
    assert not np.any(programme.mix - sum(programme.stem(index) for index in range(3)))


def test_peaks_that_stand_in_the_way_are_told() -> None:
    spikes = np.zeros(RATE * 5, np.float32)
    spikes[::RATE] = 0.5
    programme = made(stem("spikes", spikes))
    assert not programme.reached
    assert programme.lufs < -20
    assert programme.true_peak_db <= -1


@pytest.mark.parametrize("aim", [-23.0, -12.0])
def test_stems_add_up_to_the_mix_exactly(aim: float) -> None:
    programme = made(
        stem("centre", plucks(5)),
        stem("left", noise(5, 0.05), -60),
        stem("both", np.stack([noise(5, 0.1, 1), noise(5, 0.1, 2)]).T),
        aim=aim,
    )
    stems = [programme.stem(index) for index in range(3)]
    assert not np.any(programme.mix - sum(stems))
    steps = programme.mix * 2.0**23
    assert np.array_equal(steps, np.rint(steps))


def test_below_the_limit_nothing_is_bent() -> None:
    wave = sine(500, 4, -20)[:, 0]
    programme = made(stem("sine", wave), aim=-23)
    assert isinstance(programme.gain, np.float32)
    ratio = programme.mix[:, 0] @ wave / (wave @ wave)
    assert np.abs(programme.mix[:, 0] - ratio * wave).max() < 2.0**-22


def test_the_limiter_moves_no_onset() -> None:
    clicks = np.zeros(RATE * 3, np.float32)
    clicks[10_000::12_000] = 0.9
    programme = made(stem("clicks", clicks), stem("noise", noise(3, 0.05)), aim=-12)
    limited = programme.stem(0)[:, 0]
    assert np.array_equal(np.flatnonzero(limited), np.flatnonzero(clicks))


def test_silence_stays_silence() -> None:
    programme = made(stem("none", np.zeros(RATE, np.float32)))
    assert not programme.mix.any()
    assert programme.reached
    assert master((), 100).mix.shape == (100, 2)


@pytest.mark.parametrize("pan", [-100, -40, 0, 70, 100])
def test_a_place_between_the_loudspeakers_keeps_the_loudness(pan: int) -> None:
    placed = stem("noise", noise(4, 0.1), pan)
    left, right = placed.channel_gains()
    assert left**2 + right**2 == pytest.approx(2)
    assert (left > right) == (pan < 0) or pan == 0


def test_a_moving_gain_is_the_same_in_parts_and_straight_between_its_values() -> None:
    gain = MovingGain(np.random.default_rng(4).uniform(0.2, 1, 40).astype(np.float32), GRID)
    whole = gain.part(0, 600)
    assert np.allclose(whole, np.interp(np.arange(600) / GRID, np.arange(40), gain.values), atol=1e-6)
    for start in range(0, 600, 37):
        assert np.array_equal(gain.part(start, min(600, start + 53)), whole[start : start + 53])
    assert np.allclose(gain.times(0.5).part(10, 90), whole[10:90] / 2)
