"""Pitches: the root that a harmony's name names, and the frequency of a pitch."""

import re

STEPS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
"""Half tones above C."""
SIGNS = {"#": 1, "♯": 1, "b": -1, "♭": -1}

_SIGN = "[#♯b♭]"
_QUALITY = "|".join(
    (
        "maj|min|mi|ma|m|M|dim|aug|sus|add|alt|omit|no|dom",
        "[-+Δ°ºøo^]",
        f"{_SIGN}?(?:2|4|5|6|7|9|11|13)",
        r"[()/,\s]",
        f"/[A-G]{_SIGN}{{0,2}}",
    )
)
_ROOT = re.compile(f"([A-G])({_SIGN}{{0,2}})(?:{_QUALITY})*")
"""A letter, its signs, and nothing behind them that is not a chord's quality: `Dorian` names no root."""


def root_of(harmony: str) -> int | None:
    """The root that a harmony's name names, in half tones above C, 0 to 11; None if it names none.

    >>> root_of("F♯m7"), root_of("Bb7(#9)"), root_of("C/E"), root_of("N.C."), root_of("Dorian")
    (6, 10, 0, None, None)
    """
    match = _ROOT.fullmatch(harmony.strip())
    if match is None:
        return None
    return (STEPS[match[1]] + sum(SIGNS[sign] for sign in match[2])) % 12


def key_to_hertz(key: int) -> float:
    """The frequency of a key, by MIDI's numbers (60 is middle C), in equal temperament, A at 440 Hz (ISO 16).

    >>> key_to_hertz(69)
    440.0
    """
    return float(440 * 2 ** ((key - 69) / 12))
