"""The voices' tones: pitch, onset, accent, decay."""

import numpy as np
import pytest
from numpy.typing import NDArray

from renderer.audio.click_sounds import CLICK_TIMBRES, build_click_sound
from renderer.audio.pitch import key_to_hertz
from renderer.audio.voice_sounds import VOICE_TIMBRES, build_tone
from renderer.spec.click import CLICK_KINDS, ClickKind
from renderer.spec.sound import CLICK_SOUNDS, VOICE_SOUNDS

RATE = 48_000


def strongest(wave: NDArray[np.float32], low: float = 30) -> float:
    """The strongest frequency above `low`, in hertz, to 0.1 Hz."""
    spectrum = np.abs(np.fft.rfft(wave * np.hanning(len(wave)), RATE * 10))
    spectrum[: round(low * 10)] = 0
    return float(np.argmax(spectrum)) / 10


def fundamental(wave: NDArray[np.float32]) -> float:
    """The pitch of a tone, in hertz: the lag at which it is most like itself."""
    size = 1 << (2 * len(wave) - 1).bit_length()
    likeness = np.fft.irfft(np.abs(np.fft.rfft(wave, size)) ** 2)[:2_000]
    likeness /= np.arange(len(wave), len(wave) - 2_000, -1)
    first = int(np.argmax(likeness < 0))
    peaks = [
        lag
        for lag in range(first, 1_999)
        if likeness[lag] >= max(likeness[lag - 1], likeness[lag + 1])
        and likeness[lag] > 0.8 * likeness[first:].max()
    ]
    left, middle, right = likeness[peaks[0] - 1 : peaks[0] + 2]
    return RATE / (peaks[0] + 0.5 * float(left - right) / float(left - 2 * middle + right))


def centroid(wave: NDArray[np.float32]) -> float:
    """Where the energy lies on the average, in hertz: brightness."""
    energy = np.abs(np.fft.rfft(wave[:RATE])) ** 2
    hertz = np.fft.rfftfreq(min(RATE, len(wave)), 1 / RATE)
    return float(energy @ hertz / energy.sum())


def test_every_sound_that_a_spec_may_name_is_there() -> None:
    assert set(VOICE_TIMBRES) == set(VOICE_SOUNDS)
    assert set(CLICK_TIMBRES) == set(CLICK_SOUNDS)


@pytest.mark.parametrize("sound", ["plucked", "struck", "low"])
@pytest.mark.parametrize("root", [0, 4, 6, 11])
def test_a_tone_has_the_pitch_of_its_root(sound: str, root: int) -> None:
    wave = build_tone(sound, root, 0, True)[2_400:50_400]
    pitch = key_to_hertz(VOICE_TIMBRES[sound].lowest_key + root)
    nearest_partial = round(strongest(wave) / pitch)
    # 6 cents: what the ear tells apart starts at about 5 (common practice).
    assert strongest(wave) / nearest_partial == pytest.approx(pitch, rel=0.0035)


@pytest.mark.parametrize("sound", VOICE_SOUNDS)
@pytest.mark.parametrize("root", [0, 3, 5, 11])
@pytest.mark.parametrize("above", [3, 4, 7, 12])
def test_above_its_root_it_is_so_many_half_tones_higher(sound: str, root: int, above: int) -> None:
    low, high = (build_tone(sound, root, half_tones, True)[2_400:26_400] for half_tones in (0, above))
    # Equal temperament: twelve half tones to an octave, which doubles the frequency.
    assert fundamental(high) / fundamental(low) == pytest.approx(2 ** (above / 12), rel=0.01)


@pytest.mark.parametrize("sound", VOICE_SOUNDS)
def test_roots_lie_within_an_octave(sound: str) -> None:
    heard = [fundamental(build_tone(sound, root, 0, True)[2_400:26_400]) for root in range(12)]
    assert max(heard) < 2 * min(heard) * 1.01
    assert len({round(12 * np.log2(hertz)) for hertz in heard}) == 12


def test_a_tone_may_be_made_no_longer_than_it_is_needed() -> None:
    whole, short = build_tone("plucked", 4, 0, True), build_tone("plucked", 4, 0, True, longest=24_000)
    assert len(short) == 24_000
    assert np.array_equal(short, whole[:24_000])


@pytest.mark.parametrize("sound", VOICE_SOUNDS)
@pytest.mark.parametrize("damped", [False, True])
def test_an_accent_is_twice_as_strong_and_brighter(sound: str, damped: bool) -> None:
    accented, plain = build_tone(sound, 4, 0, True, damped), build_tone(sound, 4, 0, False, damped)
    assert np.abs(accented).max() == pytest.approx(2 * np.abs(plain).max())
    assert centroid(accented) > 1.05 * centroid(plain)


@pytest.mark.parametrize("sound", VOICE_SOUNDS)
@pytest.mark.parametrize("accent", [False, True])
@pytest.mark.parametrize("root", [None, 0, 11])
def test_it_starts_at_once_and_dies_away(sound: str, accent: bool, root: int | None) -> None:
    tone = build_tone(sound, root, 0, accent)
    assert tone.dtype == np.float32
    assert tone[0] >= 0.1 * np.abs(tone).max()
    assert np.abs(tone).max() == pytest.approx(VOICE_TIMBRES[sound].peak * (1 if accent else 0.5))
    assert np.abs(tone[-480:]).max() < 1e-3
    assert abs(float(tone.mean())) < 1e-3


def test_a_damped_tone_is_short() -> None:
    energy = np.cumsum(np.square(build_tone("plucked", None, 0, True, True)))
    assert np.searchsorted(energy, 0.95 * energy[-1]) < 0.08 * RATE


@pytest.mark.parametrize("sound", CLICK_SOUNDS)
@pytest.mark.parametrize("kind", CLICK_KINDS)
def test_every_click_starts_on_its_first_sample(sound: str, kind: ClickKind) -> None:
    burst = build_click_sound(kind, RATE, sound).astype(float)
    peak = np.abs(burst).max()
    assert burst[0] >= 0.5 * peak
    assert abs(burst.sum()) < 1e-5 * np.abs(burst).sum()
    assert np.abs(burst[-24:]).max() < 0.001 * peak


def test_click_sounds_are_told_apart() -> None:
    unlike = [
        np.corrcoef(build_click_sound("beat", RATE, a), build_click_sound("beat", RATE, b))[0, 1]
        for a in CLICK_SOUNDS
        for b in CLICK_SOUNDS
        if a < b
    ]
    assert max(unlike) < 0.93
    spectra = {strongest(build_click_sound(kind, RATE, "beep"), 200) for kind in CLICK_KINDS}
    assert len(spectra) == len(CLICK_KINDS)
