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
    wave = build_tone(sound, root, True)[2_400:50_400]
    pitch = key_to_hertz(VOICE_TIMBRES[sound].lowest_key + root)
    nearest_partial = round(strongest(wave) / pitch)
    # 6 cents: what the ear tells apart starts at about 5 (common practice).
    assert strongest(wave) / nearest_partial == pytest.approx(pitch, rel=0.0035)


def test_a_drum_is_not_tuned() -> None:
    assert build_tone("drum", 7, True) is not build_tone("drum", 0, True)
    assert np.array_equal(build_tone("drum", 7, True), build_tone("drum", 0, True))


@pytest.mark.parametrize("sound", VOICE_SOUNDS)
@pytest.mark.parametrize("damped", [False, True])
def test_an_accent_is_twice_as_strong_and_brighter(sound: str, damped: bool) -> None:
    accented, plain = build_tone(sound, 4, True, damped), build_tone(sound, 4, False, damped)
    assert np.abs(accented).max() == pytest.approx(2 * np.abs(plain).max())
    assert centroid(accented) > 1.05 * centroid(plain)


@pytest.mark.parametrize("sound", VOICE_SOUNDS)
@pytest.mark.parametrize("accent", [False, True])
@pytest.mark.parametrize("root", [None, 0, 11])
def test_it_starts_at_once_and_dies_away(sound: str, accent: bool, root: int | None) -> None:
    tone = build_tone(sound, root, accent)
    assert tone.dtype == np.float32
    assert tone[0] >= 0.1 * np.abs(tone).max()
    assert np.abs(tone).max() == pytest.approx(VOICE_TIMBRES[sound].peak * (1 if accent else 0.5))
    assert np.abs(tone[-480:]).max() < 1e-3
    assert abs(float(tone.mean())) < 1e-3


def test_a_damped_tone_is_short() -> None:
    energy = np.cumsum(np.square(build_tone("plucked", None, True, True)))
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
