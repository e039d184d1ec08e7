"""Loudness and true peak, against the published calibration, the EBU's cases and a second meter."""

import subprocess
import sys
from typing import Any

import numpy as np
import pyloudnorm
import pytest
from numpy.typing import NDArray

from renderer.audio import loudness
from renderer.audio.loudness import decibels, integrated_loudness, true_peak

RATE = 48_000
Wave = NDArray[np.float32]


def sine(hertz: float, seconds: float, level_db: float, channels: int = 2) -> Wave:
    """A sine whose peak is at `level_db` dBFS, alike in all channels."""
    angle = 2 * np.pi * hertz * np.arange(round(seconds * RATE)) / RATE
    wave = np.sin(angle) * 10 ** (level_db / 20)
    return np.repeat(wave[:, np.newaxis], channels, axis=1).astype(np.float32)


def second_meter(samples: NDArray[np.floating[Any]]) -> float:
    meter = pyloudnorm.Meter(RATE, filter_class="DeMan")
    return float(meter.integrated_loudness(np.asarray(samples, float)))


def test_a_full_scale_sine_in_one_channel_reads_what_the_standard_says() -> None:
    # ITU-R BS.1770-4 (from memory): 997 Hz at 0 dBFS in one front channel is -3.01 LKFS.
    wave = sine(997, 20, 0, channels=1)
    assert integrated_loudness(wave) == pytest.approx(-3.01, abs=0.01)
    beside_silence = np.concatenate([wave, np.zeros_like(wave)], axis=1)
    assert integrated_loudness(beside_silence) == pytest.approx(-3.01, abs=0.01)


@pytest.mark.parametrize(
    "parts",
    [
        [(-23.0, 20.0)],
        [(-36.0, 10.0), (-23.0, 60.0), (-36.0, 10.0)],
        [(-72.0, 10.0), (-36.0, 10.0), (-23.0, 60.0), (-36.0, 10.0), (-72.0, 10.0)],
        [(-26.0, 20.0), (-20.0, 20.1), (-26.0, 20.0)],
    ],
)
def test_cases_of_the_ebu_read_minus_23(parts: list[tuple[float, float]]) -> None:
    # EBU Tech 3341, cases 1, 3, 4, 5 (recipes from memory): stereo sine of 1 kHz, -23 +- 0.1 LUFS.
    wave = np.concatenate([sine(1000, seconds, level) for level, seconds in parts])
    assert integrated_loudness(wave) == pytest.approx(-23, abs=0.1)


def test_ten_decibels_softer_reads_ten_less() -> None:
    # EBU Tech 3341, case 2 (from memory).
    assert integrated_loudness(sine(1000, 20, -33)) == pytest.approx(-33, abs=0.1)


@pytest.mark.parametrize("seed", range(4))
def test_a_second_meter_reads_the_same(seed: int) -> None:
    random = np.random.default_rng(seed)
    envelope = np.interp(np.arange(RATE * 12), np.arange(0, RATE * 12, RATE), 10 ** random.uniform(-4, 0, 12))
    noise = (random.normal(0, 0.2, (RATE * 12, 2)) * envelope[:, np.newaxis]).astype(np.float32)
    low = np.cumsum(noise, axis=0) * 0.05  # much of it below 50 Hz, where single precision is weakest
    for wave in (noise, low.astype(np.float32)):
        # pyloudnorm computes the filters' coefficients by formula: 0.03 LU from the published ones.
        assert integrated_loudness(wave) == pytest.approx(second_meter(wave), abs=0.03)


def test_silence_and_very_short_sounds() -> None:
    assert integrated_loudness(np.zeros((RATE, 2), np.float32)) == float("-inf")
    assert integrated_loudness(np.zeros((0, 2), np.float32)) == float("-inf")
    assert integrated_loudness(sine(997, 0.2, 0, channels=1)) == pytest.approx(-3.0, abs=0.5)


def test_two_channels_that_are_one_memory_read_as_two() -> None:
    wave = sine(440, 5, -12)
    shared = np.broadcast_to(wave[:, :1], wave.shape)
    assert integrated_loudness(shared) == pytest.approx(integrated_loudness(wave), abs=1e-4)
    assert true_peak(shared) == true_peak(wave)


@pytest.mark.parametrize(
    ("share", "degrees", "amplitude", "peak_db"),
    [(4, 0, 0.5, -6.0), (4, 45, 0.5, -6.0), (6, 60, 0.5, -6.0), (8, 67.5, 0.5, -6.0), (4, 45, 1.41, 3.0)],
)
def test_true_peaks_of_the_ebu(share: int, degrees: float, amplitude: float, peak_db: float) -> None:
    # EBU Tech 3341, cases 15 to 19 (recipes from memory): sines at rate / share; +0.2, -0.4 dB.
    angle = 2 * np.pi * np.arange(RATE) / share + np.radians(degrees)
    faded = np.clip(np.minimum(np.arange(RATE), np.arange(RATE)[::-1]) / 2400, 0, 1)
    wave = (amplitude * np.sin(angle) * faded).astype(np.float32)[:, np.newaxis]
    assert -0.4 <= decibels(true_peak(wave)) - peak_db <= 0.2


@pytest.mark.parametrize("seed", range(5))
def test_true_peaks_are_those_of_a_finer_oversampling(seed: int) -> None:
    wave = np.random.default_rng(seed).normal(0, 0.1, (20_000, 1)).astype(np.float32)
    # Band-limited to 20 kHz, as music is, and oversampled eight times by Fourier transform.
    spectrum = np.fft.rfft(wave[:, 0] * np.hanning(20_000))
    spectrum[round(20_000 / RATE * 20_000) :] = 0
    wave = np.fft.irfft(spectrum).astype(np.float32)[:, np.newaxis]
    fine = np.fft.irfft(np.pad(spectrum, (0, 70_000)), 160_000) * 8
    assert decibels(true_peak(wave)) == pytest.approx(decibels(float(np.abs(fine).max())), abs=0.25)


def test_looking_only_where_it_can_be_finds_the_same_peak() -> None:
    wave = np.random.default_rng(9).normal(0, 0.1, (50_000, 2)).astype(np.float32)
    wave[7_000:7_010] *= 4
    everywhere = max(float(loudness.peaks_between(wave[:, channel]).max()) for channel in (0, 1))
    assert true_peak(wave) == pytest.approx(everywhere, rel=1e-5)


HELD = """
from pathlib import Path

import numpy as np

from renderer.audio.loudness import CHUNK, LoudnessMeter


def megabytes():
    return int(Path("/proc/self/status").read_text().partition("VmHWM:")[2].split()[0]) / 1024


noise = np.random.default_rng(1).normal(0, 0.1, (2, CHUNK)).astype(np.float32)
blocks = [noise.T.copy(order="F") for _ in range(200)]
meter, before = LoudnessMeter(peaks=False), megabytes()
for _ in range(2):
    for block in blocks:
        meter.add(block)
print(megabytes() - before)
"""


def test_a_meter_takes_no_more_memory_the_longer_the_sound_is() -> None:
    """200 seconds of it. Small pieces that are kept among large ones that come and go keep the place of all of them."""
    done = subprocess.run([sys.executable, "-c", HELD], capture_output=True, text=True, check=True)
    assert float(done.stdout) < 20
