"""Pitches: the root, third and fifth that a harmony's name gives, and the frequency of a pitch.

Names are read as musicians write them on lead sheets: a letter, its signs, then a kind such as m7b5, sus4 or 7(#9).
"""

import re
from typing import NamedTuple

STEPS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
"""Half tones above C."""
SIGNS = {"#": 1, "♯": 1, "b": -1, "♭": -1}

SECOND, MINOR_THIRD, MAJOR_THIRD, FOURTH = 2, 3, 4, 5
LOW_FIFTH, FIFTH, HIGH_FIFTH, OCTAVE = 6, 7, 8, 12
"""Half tones."""

_SIGN = "[#♯b♭]"
_KIND = re.compile(
    "|".join(
        (
            "maj|min|mi|ma|m|M|dim|aug|sus[24]?|add|alt|dom",
            "(?:omit|no)[35]?",
            f"[-+]5|{_SIGN}?(?:2|4|5|6|7|9|11|13)",
            "[-+Δ°ºøo^]",
            f"/[A-G]{_SIGN}{{0,2}}",
            r"[()/,\s]",
        )
    )
)
_ROOT = re.compile(f"([A-G])({_SIGN}{{0,2}})")


class Chord(NamedTuple):
    """What a harmony's name says of its pitches."""

    root: int
    """Half tones above C, 0 to 11."""
    third: int | None
    """Half tones above the root: 3 minor, 4 major, 2 or 5 where it is suspended; None where it is left out."""
    fifth: int
    """Half tones above the root: 7, or 6 diminished, 8 augmented."""


def read_chord(harmony: str) -> Chord | None:
    """The chord that a harmony's name names; None if it names none, as `N.C.` and `Dorian`.

    >>> read_chord("F♯m7"), read_chord("Bb7(#9)").third, read_chord("Gsus4").third, read_chord("Bdim").fifth
    (Chord(root=6, third=3, fifth=7), 4, 5, 6)
    """
    name = harmony.strip()
    match = _ROOT.match(name)
    if match is None:
        return None
    root = (STEPS[match[1]] + sum(SIGNS[sign] for sign in match[2])) % 12
    kinds: list[str] = []
    at = match.end()
    while at < len(name):
        kind = _KIND.match(name, at)
        if kind is None:
            return None
        kinds.append(kind[0])
        at = kind.end()
    return Chord(root, _third(kinds), _fifth(kinds))


def _third(kinds: list[str]) -> int | None:
    if "sus2" in kinds:
        return SECOND
    if "sus" in kinds or "sus4" in kinds:
        return FOURTH
    if kinds == ["5"] or {"no3", "omit3"} & {*kinds}:
        return None
    minor = kinds[:1] in (["m"], ["mi"], ["min"], ["-"]) or _diminished(kinds)
    return MINOR_THIRD if minor else MAJOR_THIRD


def _fifth(kinds: list[str]) -> int:
    if _diminished(kinds) or {"b5", "♭5", "-5", "alt"} & {*kinds}:
        return LOW_FIFTH
    return HIGH_FIFTH if kinds[:1] == ["+"] or {"aug", "#5", "♯5", "+5"} & {*kinds} else FIFTH


def _diminished(kinds: list[str]) -> bool:
    return bool({"dim", "°", "º", "ø", "o"} & {*kinds})


def key_to_hertz(key: int) -> float:
    """The frequency of a key, by MIDI's numbers (60 is middle C), in equal temperament, A at 440 Hz (ISO 16).

    >>> key_to_hertz(69)
    440.0
    """
    return float(440 * 2 ** ((key - 69) / 12))
