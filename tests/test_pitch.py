"""Roots that names of harmonies name, and frequencies."""

import pytest
from music21 import harmony as music21_harmony

from renderer.audio.pitch import key_to_hertz, read_chord


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
        "Cm6",
        "D9",
        "Gsus2",
        "F#dim7",
        "Baug",
        "Emaj7",
        "Ab7",
        "Gm9",
        "Eø7",
        "D5",
        "C6",
        "CM7",
    ],
)
def test_music21_reads_the_same_root_third_and_fifth(name: str) -> None:
    symbol = music21_harmony.ChordSymbol(name.replace("b", "-", 1) if name[1:2] == "b" else name)
    root = symbol.root().pitchClass
    above = {(pitch.pitchClass - root) % 12 for pitch in symbol.pitches}
    chord = read_chord(name)
    assert chord is not None
    assert chord.root == root
    assert chord.third == next((third for third in (4, 3, 5, 2) if third in above), None)
    assert chord.fifth == next(fifth for fifth in (7, 6, 8) if fifth in above)


@pytest.mark.parametrize(
    ("name", "chord"),
    [
        ("F♯m7", (6, 3, 7)),
        ("B♭7", (10, 4, 7)),
        ("C##", (2, 4, 7)),
        ("Dbb", (0, 4, 7)),
        ("Cb", (11, 4, 7)),
        ("E7(b9)", (4, 4, 7)),
        ("E7b5", (4, 4, 6)),
        ("E7-5", (4, 4, 6)),
        ("E7(♯5)", (4, 4, 8)),
        ("E7+9", (4, 4, 7)),
        ("G add9", (7, 4, 7)),
        ("Dø7", (2, 3, 6)),
        ("D°", (2, 3, 6)),
        ("Do7", (2, 3, 6)),
        ("D-7", (2, 3, 7)),
        ("Dm(maj7)", (2, 3, 7)),
        ("Dmaj7", (2, 4, 7)),
        ("DM7", (2, 4, 7)),
        ("DΔ", (2, 4, 7)),
        ("D6/9", (2, 4, 7)),
        ("D7sus4", (2, 5, 7)),
        ("D7sus", (2, 5, 7)),
        ("D5", (2, None, 7)),
        ("D(no3)", (2, None, 7)),
        ("D7 omit5", (2, 4, 7)),
        ("Em7/B♭", (4, 3, 7)),
    ],
)
def test_signs_and_spellings(name: str, chord: tuple[int, int | None, int]) -> None:
    assert read_chord(name) == chord


@pytest.mark.parametrize(
    "name", ["N.C.", "Dorian", "Coda", "Drone", "em", "H7", "", "?", "Bridge", "A section"]
)
def test_what_names_no_chord(name: str) -> None:
    assert read_chord(name) is None


def test_frequencies() -> None:
    # ISO 16: A above middle C at 440 Hz; middle C follows in equal temperament (261.626 Hz, common practice).
    assert key_to_hertz(69) == 440
    assert key_to_hertz(60) == pytest.approx(261.626, abs=0.001)
