"""How clicks sound: short bursts, synthesised, one for each kind of click and each choice of sound."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from renderer.click import ClickKind

SAMPLES_PER_SECOND = 48_000

Track = NDArray[np.float32]
"""One channel, shape (n,), 1.0 at full scale."""


@dataclass(frozen=True, slots=True)
class Burst:
    """What tells one kind of click from another: its pitch and its level."""

    hertz: float
    peak: float
    """Highest sample, 1.0 at full scale."""
    sound: str
    """What it is played with unless the spec says otherwise."""


BURSTS: Mapping[ClickKind, Burst] = {
    "downbeat": Burst(hertz=1800, peak=0.5, sound="chime"),
    "beat": Burst(hertz=1350, peak=0.32, sound="chime"),
    "pulse": Burst(hertz=1012.5, peak=0.16, sound="chime"),
    "figure": Burst(hertz=720, peak=0.4, sound="wood"),
    "group": Burst(hertz=540, peak=0.25, sound="wood"),
}
"""From the loudest down, the meter's and the figure's: a fourth lower and 4 to 6 dB softer each. 0.5 is
-6.02 dBFS."""

BURST_SECONDS = 0.035


@dataclass(frozen=True, slots=True)
class Make:
    """How a burst is made: partials that die away, or noise around its pitch."""

    decay_seconds: float
    """In which the fundamental falls to 1/e."""
    partials: tuple[tuple[float, float, float], ...] = ()
    """Beside the fundamental: ratio, level, and how many times as fast it dies away."""
    noise: float = 0.0
    """How deeply noise shakes it."""


MAKES: Mapping[str, Make] = {
    # A bar free at both ends: its second partial (Rayleigh, Theory of Sound, 1877; from memory).
    "chime": Make(0.006, ((2.756, 0.3, 3.0),)),
    # A hollow block: partials close together and gone at once (chosen by ear).
    "wood": Make(0.005, ((1.48, 0.6, 1.6), (2.31, 0.35, 3.0))),
    "stick": Make(0.003, ((2.1, 0.5, 1.5),), noise=0.8),
    "beep": Make(0.03),
}


def build_burst(
    kind: ClickKind, samples_per_second: int = SAMPLES_PER_SECOND, sound: str | None = None
) -> Track:
    """One click, shape (n,): starts at once on its first sample, dies away to nothing, no DC.

    The first sample is at least half of the peak, so that an onset found by a threshold is that very sample.

    >>> bool(build_burst("downbeat")[0] >= 0.25)
    True
    """
    burst = BURSTS[kind]
    make = MAKES[sound or burst.sound]
    seconds = np.arange(round(BURST_SECONDS * samples_per_second)) / samples_per_second
    envelope = np.cos(np.pi / 2 * seconds / BURST_SECONDS) ** 2 * np.exp(-seconds / make.decay_seconds)
    angle = 2 * np.pi * burst.hertz * seconds
    wave = np.cos(angle)
    for ratio, level, speed in make.partials:
        faster = np.exp(-(speed - 1) * seconds / make.decay_seconds)
        wave += level * faster * np.cos(ratio * angle)
    if make.noise:
        noise = np.random.default_rng(1).uniform(-1, 1, len(seconds))
        noise[0] = 1
        wave *= 1 + make.noise * noise
    wave *= envelope
    wave -= envelope * (wave.sum() / envelope.sum())
    return np.asarray(wave * (burst.peak / np.abs(wave).max()), np.float32)
