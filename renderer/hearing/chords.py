"""What speaks for each of some chords at each moment of a recording."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from renderer.audio.pitch import FIFTH, MAJOR_THIRD, Chord
from renderer.hearing.chroma import Chroma, Rows

OVERTONES = ((0, 1.0), (FIFTH, 0.25), (MAJOR_THIRD, 0.1))
"""A tone's own pitch class, and those that its third and fifth partials add, with their shares."""
BASS_SHARE = 0.35
"""How much of the likeness is the bass's."""
SHARPNESS = 6.0
"""How fast a chord that is less like what is heard becomes improbable."""
OUTSIDE = 0.1
"""How often something else is played than the chord that is written."""


def tones(chord: Chord) -> Rows:
    """How strongly each pitch class is expected to sound in a chord, shape (12,)."""
    row = np.zeros(12)
    for tone in (0, chord.third, chord.fifth):
        if tone is not None:
            for above, share in OVERTONES:
                row[(chord.root + tone + above) % 12] += share
    return row.astype(np.float32)


def bass_tones(chord: Chord, bass: int) -> Rows:
    """The same in the bass, where its lowest tone is heard most."""
    row = 0.3 * tones(chord)
    row[bass] += 1.0
    row[(chord.root + chord.fifth) % 12] += 0.2
    return row.astype(np.float32)


def likeness(chroma: Chroma, chords: Sequence[tuple[Chord, int]]) -> Rows:
    """How like each chord, given with its bass, each moment is, -1 to 1: shape (chords, moments)."""
    high = _centred(np.array([tones(chord) for chord, _ in chords])) @ _centred(chroma.treble).T
    low = _centred(np.array([bass_tones(*each) for each in chords])) @ _centred(chroma.bass).T
    return np.asarray((1 - BASS_SHARE) * high + BASS_SHARE * low, np.float32)


def evidence(alike: Rows, shares: NDArray[np.float64]) -> Rows:
    """What speaks for each chord at each moment, beside what speaks for any of them: shape (chords, moments), nats.

    `shares` say how much of the piece each chord takes; their sum is 1.
    """
    weights = np.exp(SHARPNESS * (alike - alike.max(axis=0)))
    likely = weights / np.maximum(shares @ weights, 1e-9)
    return np.asarray(np.log((1 - OUTSIDE) * likely + OUTSIDE), np.float32)


def _centred(rows: Rows) -> Rows:
    """Each row less its mean, of length 1; rows of nothing stay."""
    less = rows - rows.mean(axis=1, keepdims=True)
    return np.asarray(less / np.maximum(np.linalg.norm(less, axis=1, keepdims=True), 1e-6), np.float32)
