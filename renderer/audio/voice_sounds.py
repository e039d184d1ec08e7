"""How the figure's voices sound: plucked, struck, low and drum-like tones, synthesised from their partials.

A tone starts at once on its first sample, with the noise of a plectrum or a stick, and dies away to nothing.
An accented tone is twice as strong and brighter.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from renderer.audio.click_sounds import SAMPLES_PER_SECOND, Track
from renderer.audio.pitch import key_to_hertz

PLAIN_SHARE = 0.5
"""How strong a tone is without an accent: 6 dB softer."""
SILENCE_DB = 66
"""A tone ends when it has fallen so far."""
NEPER_DB = 20 / math.log(10)
"""What falls to 1/e falls by so many dB."""
LONGEST_TONE = 8 * SAMPLES_PER_SECOND
"""All tones have died away by then."""
DAMPED = 0.06
"""How long a damped tone rings, as a share of a free one."""


@dataclass(frozen=True, slots=True)
class VoiceTimbre:
    """How a kind of tone is made."""

    lowest_key: int
    """The lowest root that it plays (MIDI's numbers); all others lie in the octave above it."""
    partials: tuple[tuple[float, float, float], ...]
    """Ratio to the fundamental, level, and seconds in which it falls to 1/e."""
    dullness: float
    """How much faster than written the levels fall with the ratio where there is no accent."""
    knock: float
    """The level of the noise it starts with, beside 1 for the whole."""
    knock_hertz: float
    peak: float
    """Of an accented tone, 1.0 at full scale."""
    glide: float = 0.0
    """How far above its pitch it starts, as a share of it."""


def _string(count: int, place: float, ring: float) -> tuple[tuple[float, float, float], ...]:
    """The partials of a string plucked at `place` of its length, slightly stiff; levels of its velocity."""
    return tuple(
        (n * (1 + 5e-5 * n * n), float(abs(np.sin(np.pi * n * place))) / n, ring / (1 + 0.15 * (n - 1)))
        for n in range(1, count + 1)
    )


# A round membrane: zeros of the Bessel functions, 2.4048, 3.8317, 5.1356, 5.5201, 6.3802, over the first.
_MEMBRANE = (
    (1.0, 1.0, 0.22),
    (1.593, 0.55, 0.14),
    (2.136, 0.35, 0.1),
    (2.295, 0.3, 0.08),
    (2.653, 0.2, 0.06),
)
# A bar cut so that its second partial is two octaves above the first, as in a marimba (common practice).
_TUNED_BAR = ((1.0, 1.0, 0.45), (4.0, 0.35, 0.12), (9.2, 0.12, 0.04))

VOICE_TIMBRES: Mapping[str, VoiceTimbre] = {
    "plucked": VoiceTimbre(48, _string(16, 0.13, 0.75), 0.5, knock=0.25, knock_hertz=2600, peak=0.5),
    "struck": VoiceTimbre(72, _TUNED_BAR, 0.7, knock=0.3, knock_hertz=1500, peak=0.45),
    "low": VoiceTimbre(36, _string(12, 0.2, 0.9), 0.7, knock=0.15, knock_hertz=900, peak=0.6),
    "drum": VoiceTimbre(40, _MEMBRANE, 0.8, knock=0.5, knock_hertz=1800, peak=0.6, glide=0.35),
}


@lru_cache(maxsize=256)
def build_tone(
    sound: str, root: int | None, above: int, accent: bool, damped: bool = False, longest: int = LONGEST_TONE
) -> Track:
    """One tone, shape (n,), read-only; of `longest` samples if it rings on.

    `root` is in half tones above C, C without one; the tone sounds so many half tones `above` it. A `damped` tone
    is stopped at once, as under a hand: for harmonies that name no root.
    """
    timbre = VOICE_TIMBRES[sound]
    lowest = timbre.lowest_key
    hertz = key_to_hertz(lowest + ((root or 0) - lowest) % 12 + above)
    body = np.zeros(1, np.float32)
    for ratio, level, ring in timbre.partials:
        if ratio * hertz < 0.45 * SAMPLES_PER_SECOND:
            dulled = level if accent else level / ratio**timbre.dullness
            seconds = ring * (DAMPED if damped else 1)
            body = _added(body, _partial(ratio * hertz, seconds, timbre.glide, longest) * dulled)
    body /= np.abs(body).max()
    knock = timbre.knock * (1 if accent else 0.7)
    tone = _added(body * (1 - knock), _knock(timbre.knock_hertz) * knock)
    tone *= timbre.peak * (1 if accent else PLAIN_SHARE) / np.abs(tone).max()
    tone.flags.writeable = False
    return tone


def _partial(hertz: float, ring: float, glide: float, longest: int) -> Track:
    """A sine that dies away."""
    count = min(longest, round(ring * SILENCE_DB / NEPER_DB * SAMPLES_PER_SECOND))
    seconds = np.arange(count, dtype=np.float32)
    seconds /= SAMPLES_PER_SECOND
    angle = hertz * seconds
    if glide:
        angle += hertz * glide * 0.02 * (1 - np.exp(-seconds / 0.02))
    # Whole turns are left out before the float32 sine, which is exact only near 0.
    angle -= np.floor(angle)
    wave = np.sin(np.float32(2 * np.pi) * angle) * np.exp(seconds / np.float32(-ring))
    return np.asarray(wave, np.float32)


def _knock(hertz: float) -> Track:
    """The noise of the stroke: at its strongest on the first sample, gone within 15 ms."""
    seconds = np.arange(round(0.015 * SAMPLES_PER_SECOND)) / SAMPLES_PER_SECOND
    noise = np.random.default_rng(2).uniform(-1, 1, len(seconds))
    wave = (np.cos(2 * np.pi * hertz * seconds) + 0.4 * noise) * np.exp(-seconds / 0.002)
    wave[0] = 1.4
    return np.asarray(wave / 1.4, np.float32)


def _added(left: Track, right: Track) -> Track:
    long, short = (left, right) if len(left) >= len(right) else (right, left)
    total = long.copy()
    total[: len(short)] += short
    return total
