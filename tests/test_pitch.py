"""Roots that names of harmonies name, and frequencies."""

import pytest
from music21 import harmony as music21_harmony

from renderer.audio.pitch import key_to_hertz, root_of


@pytest.mark.parametrize(
    "name",
    [
        "C",
        "Em",
        "F#m7",
        "Bb",
        "Bbmaj7",
        "Am7b5",
        "Gsus4",
        "D7#9",
        "Ebm",
        "Abdim",
        "C/E",
        "F#m7/C#",
        "A+",
        "Cm",
    ],
)
def test_music21_names_the_same_root(name: str) -> None:
    symbol = music21_harmony.ChordSymbol(name.replace("b", "-", 1) if name[1:2] == "b" else name)
    assert root_of(name) == symbol.root().pitchClass


@pytest.mark.parametrize(
    ("name", "root"),
    [("F♯m7", 6), ("B♭7", 10), ("C##", 2), ("Dbb", 0), ("Cb", 11), ("E7(b9)", 4), ("G add9", 7), ("Dø7", 2)],
)
def test_signs_and_spellings(name: str, root: int) -> None:
    assert root_of(name) == root


@pytest.mark.parametrize(
    "name", ["N.C.", "Dorian", "Coda", "Drone", "em", "H7", "", "?", "Bridge", "A section"]
)
def test_what_names_no_root(name: str) -> None:
    assert root_of(name) is None


def test_frequencies() -> None:
    # ISO 16: A above middle C at 440 Hz; middle C follows in equal temperament (261.626 Hz, common practice).
    assert key_to_hertz(69) == 440
    assert key_to_hertz(60) == pytest.approx(261.626, abs=0.001)
