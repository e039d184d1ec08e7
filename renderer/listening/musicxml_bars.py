"""One part of a MusicXML file, bar by bar: its notes, and what stands over them.

Places and lengths are parts of a whole note, exact, counted from the bar's own beginning.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any, NamedTuple

from renderer.audio.chord_kinds import CHORD_KINDS
from renderer.listening.lay_bars import read_meter
from renderer.listening.repeats import RepeatSign
from renderer.spec.meter import Meter

SIGNS = {-2: "bb", -1: "b", 0: "", 1: "#", 2: "##"}
BEAT_UNITS = {"whole": 1, "half": 2, "quarter": 4, "eighth": 8, "16th": 16, "32nd": 32}
"""What a metronome mark counts, as the part of a whole note that it is."""
ACCENTS = ("accent", "strong-accent")
JUMPS = ("dacapo", "dalsegno", "segno", "coda", "tocoda", "fine")
JUMP_WORDS = re.compile(r"\bD\. ?[CS]\.|\bda capo\b|\bdal segno\b", re.IGNORECASE)
NUMBER = re.compile(r"-?\d{1,9}(?:\.\d{1,9})?")
ADDED = {"add": "add", "alter": "", "subtract": "no"}
"""How a degree that is added to a chord, altered or left out is written."""


class XmlNote(NamedTuple):
    """A note in a bar."""

    at: Fraction
    length: Fraction
    staff: str
    pitch: str
    """Its pitch, or its place where it has none; ties join notes of one pitch."""
    accented: bool
    tied_back: bool
    tied_on: bool


class XmlText(NamedTuple):
    """A `rehearsal` mark, a `harmony`, or a `tempo` in quarters a minute, in a bar."""

    at: Fraction
    kind: str
    text: str


@dataclass
class XmlBar:
    """One bar of one part."""

    implicit: bool
    """Whether the file does not count it, as it does not count a pick-up."""
    meter: Meter | None = None
    """Where it is said anew."""
    length: Fraction = Fraction(0)
    """Of what stands in it."""
    notes: list[XmlNote] = field(default_factory=list)
    texts: list[XmlText] = field(default_factory=list)
    signs: list[RepeatSign] = field(default_factory=list)


class PartReader:
    """A part as its bars come in."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.bars: list[XmlBar] = []
        self._divisions = Fraction(1)
        """To a quarter."""
        self._at = Fraction(0)
        self._before = Fraction(0)
        """Where the last note began, for those that sound with it."""
        self._lengths: dict[str, Fraction] = {}

    @property
    def staffs(self) -> list[str]:
        """Its staffs that have notes, else the first one."""
        return sorted({note.staff for bar in self.bars for note in bar.notes}) or ["1"]

    def read(self, measure: Any, implicit: bool) -> None:
        """Read a bar's element. Raises whatever comes of what MusicXML does not allow."""
        bar = XmlBar(implicit)
        self.bars.append(bar)
        self._at = self._before = Fraction(0)
        for element in measure:
            match element.tag:
                case "note":
                    self._note(bar, element)
                case "backup":
                    self._at -= self._length(element.findtext("duration"))
                case "forward":
                    self._at += self._length(element.findtext("duration"))
                case "attributes":
                    self._attributes(bar, element)
                case "direction":
                    self._direction(bar, element)
                case "harmony":
                    bar.texts += _texts(self._place(element), "harmony", chord_name(element))
                case "sound":
                    self._sound(bar, element, self._at, "")
                case "barline":
                    bar.signs += _barline(element)
            bar.length = max(bar.length, self._at)

    def _length(self, divisions: str) -> Fraction:
        found = self._lengths.get(divisions)
        if found is None:
            found = self._lengths[divisions] = read_number(divisions) / self._divisions / 4
        return found

    def _place(self, element: Any) -> Fraction:
        offset = element.findtext("offset")
        return max(Fraction(0), self._at + (self._length(offset) if offset else 0))

    def _attributes(self, bar: XmlBar, element: Any) -> None:
        divisions = element.findtext("divisions")
        if divisions:
            self._divisions = read_number(divisions)
            self._lengths.clear()
        time = element.find("time")
        if time is not None and time.find("beats") is not None:
            bar.meter = _meter(time)

    def _note(self, bar: XmlBar, element: Any) -> None:
        found: dict[str, Any] = {}
        ties = set()
        for child in element:
            found[child.tag] = child
            if child.tag == "tie":
                ties.add(child.get("type"))
        if "grace" in found:
            return
        length = self._length(found["duration"].text)
        at = self._at
        if "chord" in found:
            at = self._before
        else:
            self._before, self._at = at, at + length
        if "rest" in found or "cue" in found:
            return
        pitch = found.get("pitch", found.get("unpitched"))
        instrument = found["instrument"].get("id") if "instrument" in found else ""
        marks = found.get("notations")
        accented = marks is not None and any(
            marks.find(f"articulations/{mark}") is not None for mark in ACCENTS
        )
        bar.notes.append(
            XmlNote(
                at,
                length,
                found["staff"].text if "staff" in found else "1",
                " ".join([*(child.text or "" for child in pitch), instrument]) if pitch is not None else "",
                accented,
                "stop" in ties,
                "start" in ties,
            )
        )

    def _direction(self, bar: XmlBar, element: Any) -> None:
        at = self._place(element)
        for mark in element.iterfind("direction-type/rehearsal"):
            bar.texts += _texts(at, "rehearsal", mark.text or "")
        metronome = element.find("direction-type/metronome")
        quarters = metronome_quarters(metronome) if metronome is not None else None
        sound = element.find("sound")
        if sound is not None:
            self._sound(bar, sound, at, str(quarters or ""))
        elif quarters:
            bar.texts.append(XmlText(at, "tempo", str(quarters)))
        elif any(JUMP_WORDS.search(words.text or "") for words in element.iterfind("direction-type/words")):
            bar.signs.append(RepeatSign("words", ""))

    def _sound(self, bar: XmlBar, element: Any, at: Fraction, marked: str) -> None:
        tempo = element.get("tempo")
        quarters = str(read_number(tempo)) if tempo else marked
        if quarters:
            bar.texts.append(XmlText(at, "tempo", quarters))
        bar.signs += [RepeatSign(kind, element.get(kind)) for kind in JUMPS if element.get(kind)]


def _texts(at: Fraction, kind: str, text: str) -> Iterator[XmlText]:
    if text.strip():
        yield XmlText(at, kind, text)


def _barline(element: Any) -> Iterator[RepeatSign]:
    ending = element.find("ending")
    if ending is not None:
        yield RepeatSign(f"ending {ending.get('type')}", ending.get("number", ""))
    repeat = element.find("repeat")
    if repeat is not None:
        yield RepeatSign(str(repeat.get("direction")), repeat.get("times", ""))


def _meter(time: Any) -> Meter:
    """A meter, with its felt beats where the file writes them out: 2+2+3 over 8, or 3/4 and 3/8 in turn."""
    pairs = []
    for beats, unit in zip(time.iterfind("beats"), time.iterfind("beat-type"), strict=True):
        counts = [int(share) for share in beats.text.split("+")]
        pairs.append((counts, read_meter(f"{sum(counts)}/{unit.text.strip()}").unit))
    unit = max(unit for _, unit in pairs)
    shares: list[int] = []
    for counts, own in pairs:
        several = len(counts) > 1 or own == unit
        shares += [count * unit // own for count in counts] if several else [unit // own] * counts[0]
    text = f"{sum(shares)}/{unit}"
    return read_meter(f"{text} in {'+'.join(map(str, shares))}" if len(shares) > 1 else text)


def metronome_quarters(element: Any) -> Fraction | None:
    """Quarter notes a minute; None for a mark that names no number."""
    unit = BEAT_UNITS.get(element.findtext("beat-unit", "").strip())
    number = NUMBER.search(element.findtext("per-minute") or "")
    if unit is None or number is None:
        return None
    dots = len(element.findall("beat-unit-dot"))
    return Fraction(number[0]) * 4 / unit * (2 - Fraction(1, 2**dots))


def chord_name(element: Any) -> str:
    """A chord symbol as it is written; empty if it names no root.

    How the file shows a kind goes before what the kind is usually written as.
    """
    kind = element.find("kind")
    value = (kind.text or "").strip() if kind is not None else ""
    if value == "none":
        return "N.C."
    root = element.findtext("root/root-step", "").strip()
    if not root or kind is None:
        return ""
    shown = kind.get("text")
    name = root + _sign(element.findtext("root/root-alter"))
    name += CHORD_KINDS.get(value, ("",))[0] if shown is None else shown
    for degree in element.iterfind("degree"):
        number = degree.findtext("degree-value", "").strip()
        added = ADDED.get(degree.findtext("degree-type", "").strip(), "")
        if degree.get("print-object") != "no":
            name += added + _sign(degree.findtext("degree-alter")) + number
    bass = element.findtext("bass/bass-step", "").strip()
    return f"{name}/{bass}{_sign(element.findtext('bass/bass-alter'))}" if bass else name


def _sign(alter: str | None) -> str:
    return SIGNS.get(int(read_number(alter)), "") if alter else ""


def read_number(text: str) -> Fraction:
    """A number of MusicXML's, of nine digits at most before and behind the point. Raises ValueError."""
    if not NUMBER.fullmatch(text.strip()):
        raise ValueError(f"{text[:20]!r} is no number")
    return Fraction(text.strip())
