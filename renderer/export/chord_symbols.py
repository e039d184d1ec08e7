"""Chord names as MusicXML has them: root, kind and bass, each shown as the spec writes it."""

import re
from typing import NamedTuple
from xml.etree.ElementTree import Element, SubElement

from renderer.audio.chord_kinds import CHORD_KINDS
from renderer.audio.pitch import SIGNS, read_chord

KIND_OF = {text: kind for kind, texts in CHORD_KINDS.items() for text in texts}
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
