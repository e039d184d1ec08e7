"""The piece as a score in MusicXML 4.0 (W3C): a part a voice, on a staff of one line, and one for the meter.

Repeats are written out, as bars are counted as played. Every place and length is exact: a division is a tick of the
timeline, or a whole part of one.
"""

from bisect import bisect_left
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from math import lcm
from xml.etree.ElementTree import Element, SubElement, indent, tostring

from renderer.export.characters import held, is_text
from renderer.export.chord_symbols import harmony_element, read_symbol
from renderer.export.kinds import Made, NothingThereError
from renderer.export.written import (
    SHORTEST,
    Sign,
    WrittenBar,
    beam_marks,
    beam_runs,
    meter_tones,
    silence,
    tuplet_runs,
    voice_tones,
    write_bars,
)
from renderer.lesson.lesson import Lesson
from renderer.reading.carried import NAME, carried_spec
from renderer.report.table import section_names
from renderer.spec.meter import Meter
from renderer.spec.model import MAIN_VOICE
from renderer.timeline.model import Bar, Timeline
from renderer.timeline.sides import players

HEAD = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">\n'
)
METER = "meter"
SHORT_NAMES = {1: "whole", 2: "half", 4: "quarter", 8: "eighth", 16: "16th", 32: "32nd"}
WOOD_BLOCK = 77
"""MusicXML counts General MIDI's percussion keys from 1: a high wood block."""
BEAT_UNITS = {
    Fraction(1, 8): ("eighth", False),
    Fraction(3, 16): ("eighth", True),
    Fraction(1, 4): ("quarter", False),
    Fraction(3, 8): ("quarter", True),
    Fraction(1, 2): ("half", False),
    Fraction(3, 4): ("half", True),
}
"""What a metronome mark counts, and whether it has a dot."""


def make_score(lesson: Lesson, frames_per_second: Fraction, notes_only: bool = False) -> list[Made]:
    """The piece as `piece.musicxml`, with its spec in the identification unless it is `notes_only`. Raises
    NothingThereError where a note would be shorter than there are."""
    timeline = lesson.timeline
    voices = [(voice, [*write_bars(timeline, voice_tones(timeline, voice))]) for voice in timeline.voices]
    parts = [*voices, (METER, [*write_bars(timeline, meter_tones(timeline))])]
    shortest = max((sign.value for _, bars in parts for each in bars for sign in each.signs), default=1)
    if shortest > SHORTEST:
        raise NothingThereError(
            f"No score: it would take notes of 1/{shortest}, and MusicXML has none below 1/{SHORTEST}."
        )
    root = _score(timeline, parts, "" if notes_only else carried_spec(lesson.text))
    indent(root)
    return [Made("piece.musicxml", f"{HEAD}{tostring(root, encoding='unicode')}\n".encode())]


def _score(timeline: Timeline, parts: Sequence[tuple[str, Sequence[WrittenBar]]], carried: str) -> Element:
    root = Element("score-partwise", {"version": "4.0"})
    SubElement(SubElement(root, "work"), "work-title").text = held(timeline.title, is_text)
    identification = SubElement(root, "identification")
    SubElement(SubElement(identification, "encoding"), "software").text = "barcross"
    if carried:
        more = SubElement(identification, "miscellaneous")
        SubElement(more, "miscellaneous-field", {"name": NAME}).text = carried
    names = {voice: "figure" if name == MAIN_VOICE else name for voice, name in players(timeline).items()}
    listed = SubElement(root, "part-list")
    for number, (name, _) in enumerate(parts, start=1):
        part = SubElement(listed, "score-part", {"id": f"P{number}"})
        SubElement(part, "part-name").text = held(names.get(name, name), is_text)
        instrument = SubElement(part, "score-instrument", {"id": f"P{number}-I1"})
        SubElement(instrument, "instrument-name").text = "Wood block"
        midi = SubElement(part, "midi-instrument", {"id": f"P{number}-I1"})
        SubElement(midi, "midi-channel").text = "10"
        SubElement(midi, "midi-unpitched").text = str(WOOD_BLOCK)
    for number, (name, bars) in enumerate(parts, start=1):
        part = SubElement(root, "part", {"id": f"P{number}"})
        _PartWriter(timeline, name, first=number == 1).write(part, bars)
    return root


class _PartWriter:
    """Writes the measures of one part. The first part has what belongs to the whole score: sections, tempo, chords."""

    def __init__(self, timeline: Timeline, name: str, first: bool) -> None:
        self.timeline, self.name, self.first = timeline, name, first
        self.divisions = lcm(timeline.grid, 4) // 4
        self.tick = Fraction(4 * self.divisions, timeline.grid)
        self.fermatas = [stretch.at for stretch in timeline.clock.stretches if stretch.hold]
        self.starts = {
            repetition.at: repetition.counted
            for repetition in timeline.repetitions
            if repetition.voice == name
        }

    def write(self, part: Element, bars: Sequence[WrittenBar]) -> None:
        """All measures."""
        above = self._above() if self.first else {}
        places = sorted(above)
        ends = {section.end for section in self.timeline.sections}
        before: Meter | None = None
        for written in bars:
            bar = written.bar
            measure = SubElement(part, "measure", {"number": str(bar.number)})
            if bar.number == 0:
                measure.set("implicit", "yes")
            if bar.meter != before:
                measure.append(self._attributes(bar.meter, whole=before is None))
            before = bar.meter
            inside = places[bisect_left(places, bar.at) : bisect_left(places, bar.end)]
            self._write_signs(measure, written, {at: above[at] for at in inside})
            if bar.end in ends:
                last = bar.end == self.timeline.end
                line = SubElement(measure, "barline", {"location": "right"})
                SubElement(line, "bar-style").text = "light-heavy" if last else "light-light"

    def _attributes(self, meter: Meter, whole: bool) -> Element:
        attributes = Element("attributes")
        if whole:
            SubElement(attributes, "divisions").text = str(self.divisions)
        time = SubElement(attributes, "time")
        units = [beat * meter.unit for beat in meter.beats]
        uneven = len({*units}) > 1 and all(unit.denominator == 1 for unit in units)
        SubElement(time, "beats").text = "+".join(map(str, units)) if uneven else str(meter.count)
        SubElement(time, "beat-type").text = str(meter.unit)
        if whole:
            clef = SubElement(attributes, "clef")
            SubElement(clef, "sign").text = "percussion"
            SubElement(SubElement(attributes, "staff-details"), "staff-lines").text = "1"
        return attributes

    def _above(self) -> Mapping[int, list[tuple[str, str]]]:
        """What stands over the first part, by tick: what kind of thing, and its text."""
        timeline = self.timeline
        found: dict[int, list[tuple[str, str]]] = {}
        for section, name in zip(timeline.sections, section_names(timeline), strict=True):
            at = timeline.start if section is timeline.sections[0] else section.at
            found.setdefault(at, []).append(("rehearsal", name))
        for own in timeline.marks:
            found.setdefault(max(own.at, timeline.start), []).append(("words", own.text))
        for mark in timeline.tempo:
            at = timeline.start if mark is timeline.tempo[0] else mark.at
            if mark.to is None:
                found.setdefault(at, []).append(("metronome", str(mark.quarters)))
            elif mark.to != mark.quarters:
                word = "accel." if mark.to > mark.quarters else "rit."
                found.setdefault(at, []).append(("words", word))
        for harmony in timeline.harmony:
            found.setdefault(max(harmony.at, timeline.start), []).append(("harmony", harmony.name))
        for stretch in timeline.clock.stretches:
            if stretch.hold and timeline.start <= stretch.at < timeline.end:
                longer = f"{float(stretch.hold):g} s longer"
                found.setdefault(stretch.at, []).append(("words", longer))
        return found

    def _write_signs(
        self, measure: Element, written: WrittenBar, above: Mapping[int, Sequence[tuple[str, str]]]
    ) -> None:
        bar = written.bar
        beams = {
            sign.at: marks
            for run in beam_runs(written.signs)
            if len(run) > 1
            for sign, marks in zip(run, beam_marks(run), strict=True)
        }
        brackets = [*tuplet_runs(written.signs)]
        begins = {run[0].at: run for run in brackets}
        stops = {run[-1].at for run in brackets}
        for sign in written.signs or silence(self.timeline, bar):
            for at in (at for at in sorted(above) if sign.at <= at < sign.at + sign.length):
                offset = self._divisions(at - sign.at)
                for kind, text in above[at]:
                    measure.append(self._over(kind, text, bar, offset))
            counted = self.starts.get(sign.at)
            if counted and not sign.tied_back:
                measure.append(_words(str(counted), "below", 0, bold=True))
            full = bar.end - bar.at == bar.meter.length * self.timeline.grid
            note = self._note(sign, whole_bar=not written.signs and full)
            for number, mark in enumerate(beams.get(sign.at, ()), start=1):
                SubElement(note, "beam", {"number": str(number)}).text = mark
            self._notations(note, sign, begins.get(sign.at), sign.at in stops)
            measure.append(note)

    def _divisions(self, ticks: int) -> int:
        return int(ticks * self.tick)

    def _note(self, sign: Sign, whole_bar: bool) -> Element:
        note = Element("note")
        if sign.rest:
            SubElement(note, "rest", {"measure": "yes"} if whole_bar else {})
        else:
            unpitched = SubElement(note, "unpitched")
            SubElement(unpitched, "display-step").text = "E"
            SubElement(unpitched, "display-octave").text = "4"
        SubElement(note, "duration").text = str(self._divisions(sign.length))
        for kind in _ties(sign):
            SubElement(note, "tie", {"type": kind})
        SubElement(note, "voice").text = "1"
        if whole_bar:
            return note
        SubElement(note, "type").text = SHORT_NAMES.get(sign.value, f"{sign.value}th")
        if sign.dotted:
            SubElement(note, "dot")
        if sign.tuplet:
            ratio = SubElement(note, "time-modification")
            for tag, number in zip(("actual-notes", "normal-notes"), sign.tuplet, strict=True):
                SubElement(ratio, tag).text = str(number)
        if not sign.rest:
            SubElement(note, "stem").text = "down" if self.name == METER else "up"
            if self.name == METER:
                SubElement(note, "notehead").text = "x"
        return note

    def _notations(self, note: Element, sign: Sign, bracket: Sequence[Sign] | None, stops: bool) -> None:
        found: list[Element] = [Element("tied", {"type": kind}) for kind in _ties(sign)]
        if bracket:
            joins = "yes" if len(bracket) > 1 else "no"
            found.append(
                Element("tuplet", {"type": "start", "number": "1", "bracket": joins, "show-number": "actual"})
            )
        if stops:
            found.append(Element("tuplet", {"type": "stop", "number": "1"}))
        if sign.accent and self.name != METER:
            articulations = Element("articulations")
            SubElement(articulations, "accent", {"placement": "above"})
            found.append(articulations)
        if any(sign.at <= at < sign.at + sign.length for at in self.fermatas):
            found.append(Element("fermata", {"type": "upright"}))
        if found:
            SubElement(note, "notations").extend(found)

    def _over(self, kind: str, text: str, bar: Bar, offset: int) -> Element:
        """What stands over the staff, so many divisions after the next note begins."""
        if kind == "harmony":
            symbol = read_symbol(text)
            return harmony_element(symbol, offset) if symbol else _words(text, "above", offset, bold=True)
        if kind == "words":
            return _words(text, "above", offset)
        direction = Element("direction", {"placement": "above"})
        inside = SubElement(direction, "direction-type")
        if kind == "rehearsal":
            SubElement(inside, "rehearsal", {"enclosure": "rectangle", "halign": "left"}).text = held(
                text, is_text
            )
            _set_offset(direction, offset)
            return direction
        quarters = Fraction(text)
        beats = {*bar.meter.beats}
        length = next(iter(beats)) if len(beats) == 1 and beats <= {*BEAT_UNITS} else Fraction(1, 4)
        unit, dotted = BEAT_UNITS[length]
        metronome = SubElement(inside, "metronome")
        SubElement(metronome, "beat-unit").text = unit
        if dotted:
            SubElement(metronome, "beat-unit-dot")
        SubElement(metronome, "per-minute").text = f"{round(float(quarters / (4 * length)), 2):g}"
        _set_offset(direction, offset)
        SubElement(direction, "sound", {"tempo": f"{float(quarters):.10g}"})
        return direction


def _ties(sign: Sign) -> Iterator[str]:
    if sign.tied_back:
        yield "stop"
    if sign.tied_on:
        yield "start"


def _words(text: str, placement: str, offset: int, bold: bool = False) -> Element:
    direction = Element("direction", {"placement": placement})
    words = SubElement(
        SubElement(direction, "direction-type"),
        "words",
        {"font-style": "normal", "font-weight": "bold"} if bold else {},
    )
    words.text = held(text, is_text)
    _set_offset(direction, offset)
    return direction


def _set_offset(direction: Element, offset: int) -> None:
    if offset:
        SubElement(direction, "offset").text = str(offset)
