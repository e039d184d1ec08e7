"""Chord names as MusicXML has them: root, kind and bass, each shown as the spec writes it."""

import re
from typing import NamedTuple
from xml.etree.ElementTree import Element, SubElement

from renderer.audio.pitch import SIGNS, read_chord

KINDS = {
    "major": ("", "M", "maj", "ma"),
    "minor": ("m", "mi", "min", "-"),
    "augmented": ("aug", "+"),
    "diminished": ("dim", "°", "º", "o"),
    "dominant": ("7", "dom7"),
    "major-seventh": ("maj7", "ma7", "M7", "Δ", "Δ7"),
    "minor-seventh": ("m7", "mi7", "min7", "-7"),
    "diminished-seventh": ("dim7", "°7", "º7", "o7"),
    "augmented-seventh": ("aug7", "+7"),
    "half-diminished": ("ø", "ø7", "m7b5", "m7♭5", "m7(b5)", "m7(♭5)"),
    "major-minor": ("mmaj7", "m(maj7)", "mM7", "mΔ"),
    "major-sixth": ("6", "maj6"),
    "minor-sixth": ("m6", "mi6", "min6", "-6"),
    "dominant-ninth": ("9",),
    "major-ninth": ("maj9", "M9", "Δ9"),
    "minor-ninth": ("m9", "mi9", "min9", "-9"),
    "dominant-11th": ("11",),
    "major-11th": ("maj11", "M11"),
    "minor-11th": ("m11", "min11"),
    "dominant-13th": ("13",),
    "major-13th": ("maj13", "M13"),
    "minor-13th": ("m13", "min13"),
    "suspended-second": ("sus2",),
    "suspended-fourth": ("sus4", "sus"),
    "power": ("5",),
}
"""MusicXML's kinds, and how they are written; all else is `other`."""
KIND_OF = {text: kind for kind, texts in KINDS.items() for text in texts}
_NAME = re.compile(r"([A-G])([#♯b♭]{0,2})(.*?)(?:/([A-G])([#♯b♭]{0,2}))?")


class ChordSymbol(NamedTuple):
    """A chord's name in its parts; signs in half tones."""

    step: str
    alter: int
    kind: str
    text: str
    """Its kind as the spec writes it."""
    bass: tuple[str, int] | None


def read_symbol(name: str) -> ChordSymbol | None:
    """A harmony's name as a chord symbol; None if it names no chord.

    >>> read_symbol("Bbm7/A♭")
    ChordSymbol(step='B', alter=-1, kind='minor-seventh', text='m7', bass=('A', -1))
    """
    found = _NAME.fullmatch(name.strip())
    if found is None or read_chord(name) is None:
        return None
    step, signs, text, bass, bass_signs = found.groups()
    low = (bass, _alter(bass_signs)) if bass else None
    return ChordSymbol(step, _alter(signs), KIND_OF.get(text.strip(), "other"), text.strip(), low)


def _alter(signs: str) -> int:
    return sum(SIGNS[sign] for sign in signs)


def harmony_element(symbol: ChordSymbol, offset: int) -> Element:
    """The symbol as MusicXML, so many divisions after where it stands."""
    harmony = Element("harmony", {"placement": "above"})
    _pitch(harmony, "root", symbol.step, symbol.alter)
    SubElement(harmony, "kind", {"text": symbol.text}).text = symbol.kind
    if symbol.bass:
        _pitch(harmony, "bass", *symbol.bass)
    if offset:
        SubElement(harmony, "offset").text = str(offset)
    return harmony


def _pitch(harmony: Element, tag: str, step: str, alter: int) -> None:
    pitch = SubElement(harmony, tag)
    SubElement(pitch, f"{tag}-step").text = step
    if alter:
        SubElement(pitch, f"{tag}-alter").text = str(alter)
