"""The click: where it starts, how loud it is, and what comes back from files."""

import os
import subprocess
import sys
import wave
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from renderer.audio.click_sounds import build_click_sound
from renderer.audio.click_track import JoinedSounds, click_events
from renderer.core.errors import FileError
from renderer.spec.click import CLICK_KINDS, Click, ClickKind
from renderer.spec.sound import ClickPlace, ClickSpec
from tests.films import find_onsets, read_sound
from tests.mixed_clicks import mix_clicks
from tests.whole_files import write_wav

RATE = 48_000
KINDS: list[ClickKind] = ["downbeat", "beat", "pulse"]
AUDIBLE = 0.05
"""-26 dBFS, 10 dB below the softest kind's peak."""


def sample_peak_db(samples: NDArray[np.floating[Any]]) -> float:
    return float(20 * np.log10(np.abs(samples).max()))


def true_peak_db(samples: NDArray[np.float32]) -> float:
    """Peak between the samples too, oversampled eight times (ITU-R BS.1770-4, annex 2: at least four)."""
    padded = np.pad(samples, 500)
    spectrum = np.fft.rfft(padded)
    count = 8 * len(padded)
    return sample_peak_db(np.fft.irfft(np.pad(spectrum, (0, count // 2 + 1 - len(spectrum))), count) * 8)


def level_db(samples: NDArray[np.float32]) -> float:
    return float(10 * np.log10(np.mean(np.square(samples, dtype=float))))


def pitch(samples: NDArray[np.float32]) -> float:
    """The strongest frequency, in hertz."""
    return float(np.argmax(np.abs(np.fft.rfft(samples, RATE))))


def read_wave(path: Path) -> NDArray[np.int16]:
    """The standard library's reading of a wav file of 16 bits: shape (n, channels)."""
    with wave.open(str(path)) as file:
        assert (file.getsampwidth(), file.getframerate()) == (2, RATE)
        return np.frombuffer(file.readframes(file.getnframes()), "<i2").reshape(-1, file.getnchannels())


def test_importing_says_nothing_where_no_decoding_program_is_installed(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-W", "always", "-c", "import renderer.audio.click_track"],
        env={**os.environ, "PATH": str(tmp_path)},
        capture_output=True,
        check=True,
        text=True,
    )
    assert done.stdout + done.stderr == ""


class TestOnsets:
    def test_repetitions_of_eleven_sixteenths_at_132_stand_60000_samples_apart(self) -> None:
        length = Fraction(11, 16) * Fraction(240, 132)
        clicks = [Click(k * length, "beat") for k in range(16)]
        mix = mix_clicks(clicks, 11 * Fraction(240, 132))
        assert mix.shape == (960_000, 2)
        assert find_onsets(mix, RATE, AUDIBLE) == [60_000 * k for k in range(16)]

    def test_beats_at_132_do_not_add_up_their_rounding(self) -> None:
        beat = Fraction(60, 132)
        mix = mix_clicks([Click(k * beat, "beat") for k in range(44)], 44 * beat)
        onsets = find_onsets(mix, RATE, AUDIBLE)
        assert onsets[-1] == 938_182  # 43 x 21818.18 ...; 43 x 21,818 would be 938,174
        assert len(onsets) == 44
        assert len(mix) == 960_000

    @settings(max_examples=30, deadline=None)
    @given(st.fractions(20, 400, max_denominator=1000), st.fractions(0, 1, max_denominator=10**6))
    def test_every_onset_is_the_nearest_sample_at_any_tempo(self, tempo: Fraction, start: Fraction) -> None:
        times = [start + k * 60 / tempo for k in range(8)]
        mix = mix_clicks([Click(time, KINDS[k % 3]) for k, time in enumerate(times)], times[-1] + 1)
        # Nearest in whole numbers, halves up, without the code under test.
        expected = [(2 * t.numerator * RATE + t.denominator) // (2 * t.denominator) for t in times]
        assert find_onsets(mix, RATE, AUDIBLE) == expected

    def test_no_drift_in_an_hour_at_97(self) -> None:
        beat_count = 97 * 60
        mix = mix_clicks((Click(Fraction(60 * k, 97), "beat") for k in range(beat_count)), Fraction(3600))
        onsets = [(2 * 60 * k * RATE + 97) // (2 * 97) for k in range(beat_count)]
        assert len(mix) == 172_800_000
        assert np.all(mix[onsets, 0] == build_click_sound("beat")[0])
        assert np.all(mix[np.array(onsets[1:]) - 1, 0] == 0)

    def test_the_track_is_not_held_twice_for_two_channels(self) -> None:
        mix = mix_clicks([Click(Fraction(0), "beat")], Fraction(1))
        assert np.shares_memory(mix[:, 0], mix[:, 1])


class TestMix:
    def test_a_click_is_cut_off_by_the_end(self) -> None:
        mix = mix_clicks([Click(Fraction(99, 100), "downbeat")], Fraction(1))
        assert mix.shape == (48_000, 2)
        assert np.array_equal(mix[47_520:, 0], build_click_sound("downbeat")[:480])

    def test_clicks_before_the_start_or_from_the_end_on_are_not_heard(self) -> None:
        outside = [Click(Fraction(-1, 100), "beat"), Click(Fraction(1), "beat"), Click(Fraction(2), "beat")]
        assert not mix_clicks(outside, Fraction(1)).any()

    def test_no_clicks_are_silence(self) -> None:
        assert mix_clicks([], Fraction(1, 2)).shape == (24_000, 2)
        assert mix_clicks([], Fraction(0)).shape == (0, 2)

    @pytest.mark.parametrize("order", [[0, 1, 2], [2, 1, 0], [1, 0, 2]])
    def test_of_clicks_on_one_sample_the_loudest_sounds(self, order: list[int]) -> None:
        mix = mix_clicks([Click(Fraction(1, 2), KINDS[k]) for k in order], Fraction(1))
        assert np.array_equal(mix, mix_clicks([Click(Fraction(1, 2), "downbeat")], Fraction(1)))

    def test_the_order_of_the_clicks_does_not_matter(self) -> None:
        clicks = [Click(Fraction(k, 7), KINDS[k % 3]) for k in range(7)]
        assert np.array_equal(mix_clicks(clicks, Fraction(1)), mix_clicks(clicks[::-1], Fraction(1)))

    @settings(max_examples=60, deadline=None)
    @given(st.lists(st.tuples(st.integers(0, 9_600), st.sampled_from(KINDS)), min_size=1, max_size=60))
    def test_however_dense_it_stays_below_the_limits(self, onsets: list[tuple[int, ClickKind]]) -> None:
        mix = mix_clicks([Click(Fraction(at, RATE), kind) for at, kind in onsets], Fraction(1, 4))[:, 0]
        assert sample_peak_db(mix) <= -6
        assert true_peak_db(mix) <= -1  # EBU R 128 (2020)


@pytest.mark.parametrize("every", [("beat",), ("beat", "figure"), ("pulse", "group", "figure")])
@pytest.mark.parametrize("sound", ["chime", "wood", "stick", "beep"])
def test_as_loud_as_it_can_be_asked_for_no_peak_passes(every: tuple[ClickPlace, ...], sound: str) -> None:
    kinds = CLICK_KINDS
    text = ClickSpec(
        every, sound=dict.fromkeys(kinds, sound), level=Fraction(12), balance={"figure": Fraction(12)}
    )
    clicks = [Click(Fraction(k, 50), kind) for k in range(40) for kind in kinds if k % 3 or kind != "beat"]
    if "figure" not in every:
        clicks = [click for click in clicks if click.kind in KINDS]
    mix = mix_clicks(clicks, Fraction(1), text=text)[:, 0]
    assert -5 < true_peak_db(mix) <= -1  # EBU R 128 (2020)


def test_balance_and_sound_are_each_kinds_own() -> None:
    text = ClickSpec(level=Fraction(-6), balance={"beat": Fraction(-6)}, sound={"downbeat": "wood"})
    clicks = [Click(Fraction(0), "downbeat"), Click(Fraction(1, 2), "beat")]
    mix = mix_clicks(clicks, Fraction(1), text=text)[:, 0]
    wood = build_click_sound("downbeat", RATE, "wood")
    assert np.allclose(mix[: len(wood)], wood * 10 ** (-6 / 20), atol=1e-6)
    beat = build_click_sound("beat")
    assert np.allclose(mix[24_000 : 24_000 + len(beat)], beat * 10 ** (-12 / 20), atol=1e-6)


class TestBurst:
    def test_the_meter_of_true_peaks_reads_what_it_should(self) -> None:
        # EBU Tech 3341 (recipe from memory): a sine at a quarter of the rate, 45 degrees, amplitude 0.5.
        sine = np.sin(np.pi / 2 * np.arange(48_000) + np.pi / 4).astype(np.float32) / 2
        faded = sine * np.hanning(48_000).astype(np.float32)
        assert sample_peak_db(faded) == pytest.approx(-9.03, abs=0.01)
        assert true_peak_db(faded) == pytest.approx(-6.02, abs=0.01)

    @pytest.mark.parametrize("kind", KINDS)
    def test_the_first_sample_is_the_onset(self, kind: ClickKind) -> None:
        burst = build_click_sound(kind)
        assert burst[0] >= 0.5 * np.abs(burst).max()

    @pytest.mark.parametrize("kind", KINDS)
    def test_it_has_no_dc_and_ends_in_silence(self, kind: ClickKind) -> None:
        burst = build_click_sound(kind).astype(float)
        assert abs(burst.sum()) < 1e-5 * np.abs(burst).sum()
        assert np.abs(burst[-48:]).max() < 10 ** (-90 / 20)
        assert len(burst) <= RATE // 20  # sixteenths at 300 quarters a minute stand 50 ms apart

    @pytest.mark.parametrize(("louder", "softer"), [("downbeat", "beat"), ("beat", "pulse")])
    def test_kinds_are_told_apart_by_pitch_and_level(self, louder: ClickKind, softer: ClickKind) -> None:
        assert pitch(build_click_sound(louder)) / pitch(build_click_sound(softer)) == pytest.approx(
            4 / 3, rel=0.03
        )
        assert level_db(build_click_sound(louder)) - level_db(build_click_sound(softer)) >= 3


class TestWav:
    def test_onsets_in_the_file_are_exact(self, tmp_path: Path) -> None:
        path = tmp_path / "click.wav"
        times = [Fraction(60 * k, 97) for k in range(12)]
        write_wav(path, mix_clicks([Click(t, KINDS[k % 3]) for k, t in enumerate(times)], Fraction(8)))
        samples = read_wave(path)
        assert samples.shape == (384_000, 2)
        expected = [(2 * t.numerator * RATE + t.denominator) // (2 * t.denominator) for t in times]
        assert find_onsets((samples / 2**15).astype(np.float32), RATE, AUDIBLE) == expected

    def test_it_comes_back_within_half_a_step(self, tmp_path: Path) -> None:
        noise = np.random.default_rng(3).uniform(-1, 1, (100_000, 2)).astype(np.float32)
        noise = np.minimum(noise, 1 - 2.0**-15)
        write_wav(tmp_path / "noise.wav", noise)
        samples, rate = read_sound(tmp_path / "noise.wav")
        assert rate == RATE
        assert np.abs(samples - noise).max() <= 2.0**-16

    def test_beyond_full_scale_it_is_clipped_and_does_not_wrap(self, tmp_path: Path) -> None:
        write_wav(tmp_path / "loud.wav", np.array([[2, -2], [1, -1]], np.float32))
        assert read_wave(tmp_path / "loud.wav").tolist() == [[32767, -32768], [32767, -32768]]

    def test_one_channel_at_another_rate(self, tmp_path: Path) -> None:
        write_wav(tmp_path / "mono.wav", np.full((10, 1), 0.25, np.float32), 44_100)
        samples, rate = read_sound(tmp_path / "mono.wav")
        assert (rate, samples.tolist()) == (44_100, [[0.25]] * 10)

    def test_longer_than_a_wav_file_can_be_is_told(self, tmp_path: Path) -> None:
        day = np.broadcast_to(np.zeros((1, 1), np.float32), (24 * 3600 * RATE, 2))
        with pytest.raises(FileError, match=r"24\.0 hours of sound .* ends at 4 GiB: 6\.2 hours"):
            write_wav(tmp_path / "day.wav", day)
        assert list(tmp_path.iterdir()) == []

    def test_a_missing_folder_is_told(self, tmp_path: Path) -> None:
        with pytest.raises(FileError, match="there is no folder"):
            write_wav(tmp_path / "out" / "click.wav", np.zeros((10, 2), np.float32))


def test_sounds_one_after_another_are_taken_part_by_part() -> None:
    noise = np.random.default_rng(2).normal(size=(900, 2)).astype(np.float32)
    joined = JoinedSounds([noise[:300], None, noise[300:]], [0, 250, 400, 1200])
    whole = np.zeros((1200, 2), np.float32)
    whole[:250], whole[400:1000] = noise[:250], noise[300:]
    assert joined.shape == (1200, 2)
    assert np.array_equal(joined[:], whole)
    for start in range(0, 1200, 70):
        assert np.array_equal(joined[start : start + 130], whole[start : start + 130])


def test_a_click_taken_part_by_part_is_the_whole_click() -> None:
    clicks = [Click(Fraction(k, 7), KINDS[k % 3]) for k in range(40)]
    strokes, whole = click_events(clicks, Fraction(6)), mix_clicks(clicks, Fraction(6))
    assert strokes.shape == whole.shape
    parts = [strokes[start : start + 9_999] for start in range(0, len(whole), 9_999)]
    assert np.array_equal(np.concatenate(parts), whole)
