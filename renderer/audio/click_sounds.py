"""How clicks sound: short sounds, synthesised, one for each kind of click and each choice of sound."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from renderer.spec.click import ClickKind

SAMPLES_PER_SECOND = 48_000

Track = NDArray[np.float32]
"""One channel, shape (n,), 1.0 at full scale."""


@dataclass(frozen=True, slots=True)
class ClickSound:
    """What tells one kind of click from another: its pitch and its level."""

    hertz: float
    peak: float
    """Highest sample, 1.0 at full scale."""
    sound: str
    """What it is played with unless the spec says otherwise."""


KIND_SOUNDS: Mapping[ClickKind, ClickSound] = {
    "downbeat": ClickSound(hertz=1800, peak=0.5, sound="chime"),
    "beat": ClickSound(hertz=1350, peak=0.32, sound="chime"),
    "pulse": ClickSound(hertz=1012.5, peak=0.16, sound="chime"),
    "figure": ClickSound(hertz=720, peak=0.4, sound="wood"),
    "group": ClickSound(hertz=540, peak=0.25, sound="wood"),
}
"""From the loudest down, the meter's and the figure's: a fourth lower and 4 to 6 dB softer each. 0.5 is
-6.02 dBFS."""

CLICK_SOUND_SECONDS = 0.035


@dataclass(frozen=True, slots=True)
class ClickTimbre:
    """How a click is made: partials that die away, or noise around its pitch."""

    decay_seconds: float
    """In which the fundamental falls to 1/e."""
    partials: tuple[tuple[float, float, float], ...] = ()
    """Beside the fundamental: ratio, level, and how many times as fast it dies away."""
    noise: float = 0.0
    """How deeply noise shakes it."""


CLICK_TIMBRES: Mapping[str, ClickTimbre] = {
    # A bar free at both ends: its frequencies are as the squares of 4.730 and 7.853, the roots of cos x cosh x = 1.
    "chime": ClickTimbre(0.006, ((2.756, 0.3, 3.0),)),
    # A hollow block: partials close together and gone at once (chosen by ear).
    "wood": ClickTimbre(0.005, ((1.48, 0.6, 1.6), (2.31, 0.35, 3.0))),
    "stick": ClickTimbre(0.003, ((2.1, 0.5, 1.5),), noise=0.8),
    "beep": ClickTimbre(0.03),
}


def build_click_sound(
    kind: ClickKind, samples_per_second: int = SAMPLES_PER_SECOND, sound: str | None = None
) -> Track:
    """One click, shape (n,): starts at once on its first sample, dies away to nothing, no DC.

    The first sample is at least half of the peak, so that an onset found by a threshold is that very sample.

    >>> bool(build_click_sound("downbeat")[0] >= 0.25)
    True
    """
    click = KIND_SOUNDS[kind]
    timbre = CLICK_TIMBRES[sound or click.sound]
    seconds = np.arange(round(CLICK_SOUND_SECONDS * samples_per_second)) / samples_per_second
    envelope = np.cos(np.pi / 2 * seconds / CLICK_SOUND_SECONDS) ** 2 * np.exp(
        -seconds / timbre.decay_seconds
    )
    angle = 2 * np.pi * click.hertz * seconds
    wave = np.cos(angle)
    for ratio, level, speed in timbre.partials:
        faster = np.exp(-(speed - 1) * seconds / timbre.decay_seconds)
        wave += level * faster * np.cos(ratio * angle)
    if timbre.noise:
        noise = np.random.default_rng(1).uniform(-1, 1, len(seconds))
        noise[0] = 1
        wave *= 1 + timbre.noise * noise
    wave *= envelope
    wave -= envelope * (wave.sum() / envelope.sum())
    return np.asarray(wave * (click.peak / np.abs(wave).max()), np.float32)
