"""Invented performances by several players: chords, a bass, perhaps drums; nobody plays the figure."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from renderer.audio.click_sounds import SAMPLES_PER_SECOND as RATE
from renderer.audio.pitch import read_chord
from renderer.audio.voice_sounds import build_tone

COMPING = (
    ((0, 1.0), (4, 0.8)),
    ((0, 1.0), (3, 0.7), (4, 0.6), (7, 0.5)),
    ((0, 1.0), (3, 0.9)),
    ((1, 0.7), (3, 0.7), (5, 0.7), (7, 0.8)),
    ((0, 0.9), (2, 0.6), (4, 0.9), (6, 0.6)),
    ((2, 0.8), (6, 0.8)),
    ((0, 1.0), (3, 0.8), (6, 0.9)),
)
"""Where in a bar of eight eighths chords are struck, and how strongly."""
BASSES = (
    ((0, 1.0), (4, 0.8)),
    ((0, 1.0), (2, 0.7), (4, 0.9), (6, 0.7)),
    ((0, 1.0), (3, 0.7), (4, 0.8)),
    ((0, 1.0),),
)
DRUMS: tuple[tuple[tuple[int, float], ...], ...] = (
    (),
    (),
    ((0, 0.9), (2, 0.4), (4, 0.7), (6, 0.4)),
    ((2, 0.7), (6, 0.7)),
    tuple((eighth, 0.5 if eighth % 2 else 0.7) for eighth in range(8)),
)
CHORDS = ("Am7", "Dm7", "G", "C", "F", "E7", "Bdim", "Em")


@dataclass(frozen=True, slots=True)
class Ensemble:
    """How a piece in 4/4 is played: what is drawn by lot from a seed, so that each is another one."""

    seed: int
    unevenness: float = 0.008
    """Seconds by which single notes stray (standard deviation)."""
    noise: float = 0.001

    def play(self, bars: Sequence[Fraction], harmony: Sequence[str] = CHORDS) -> NDArray[np.float32]:
        """What is heard where bars begin at these seconds; the last is the end. Shape (n, 2)."""
        random = np.random.default_rng(self.seed)
        track = random.normal(0, self.noise, round(float(bars[-1] + 2) * RATE)).astype(np.float32)
        chords, bass = str(random.choice(("plucked", "struck"))), str(random.choice(("low", "plucked")))
        loud = random.uniform([0.5, 0.5, 0.2], [1.0, 1.0, 0.7])
        tables = (COMPING, BASSES, DRUMS)
        patterns = [table[0] for table in tables]
        for number, (left, right) in enumerate(pairwise(map(float, bars))):
            if number % 8 == 0:  # every eight bars they do something else
                patterns = [table[random.integers(len(table))] for table in tables]
            chord = read_chord(harmony[number % len(harmony)])
            assert chord is not None
            keys = [0, chord.third or 5, chord.fifth] + ([10] if random.random() < 0.3 else [])
            players = (
                (chords, chord.root, keys, random.uniform(0.2, 0.6)),
                (bass, chord.root, [0], 0.4),
                ("drum", None, [int(random.integers(3))], 0.1),
            )
            for (sound, root, above, ring), pattern, level in zip(players, patterns, loud, strict=True):
                for eighth, strong in pattern:
                    if random.random() < 0.07:  # left out
                        continue
                    at = left + (right - left) * eighth / 8 + random.normal(0, self.unevenness)
                    for index, half_tones in enumerate(above):  # a chord is strummed
                        tone = build_tone(sound, root, half_tones, strong > 0.75)
                        tone = tone[: round(ring * (right - left) * RATE)] * np.float32(0.25 * strong * level)
                        tone[-480:] *= np.linspace(1, 0, len(tone[-480:]), dtype=np.float32)
                        onset = max(0, round((at + index * 0.004) * RATE))
                        track[onset : onset + len(tone)] += tone[: max(0, len(track) - onset)]
        return np.stack([track, np.float32(0.8) * track]).T


def wandering_bars(
    count: int, bar: float, start: float, seed: int, drift: float = 0.03, uneven: float = 0.006
) -> list[Fraction]:
    """Where each bar of a performance begins, and its end: the tempo wanders slowly by `drift`, and bar by bar."""
    random = np.random.default_rng(seed)
    phase, slow = random.uniform(0, 2 * np.pi), random.uniform(6, 14)
    wander = drift * np.sin(np.arange(count) / slow + phase) + random.normal(0, uneven, count)
    times = start + np.concatenate([[0], np.cumsum(bar * (1 + wander))])
    return [Fraction(round(1000 * time), 1000) for time in times]
