"""The score: against MusicXML's own schema, read back by music21, engraved by verovio."""

import io
from collections import defaultdict
from collections.abc import Iterator
from fractions import Fraction
from functools import cache
from importlib.util import find_spec
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import music21
import pytest
import verovio
import xmlschema

from renderer.audio.chord_kinds import CHORD_KINDS
from renderer.export.chord_symbols import harmony_element, read_symbol
from renderer.export.kinds import NothingThereError
from renderer.export.score import make_score
from renderer.export.written import find_tuplet, voice_tones
from renderer.lesson.lesson import Lesson, open_lesson
from tests.lessons import EXAMPLE, make_lesson

SPECS = sorted(EXAMPLE.parent.glob("*.yaml"))
AWKWARD = """
title: A <B> & "C"
tempo: {1: 113.5, 4: {to: 60}, 6: 3/8 = 50}
meter: {1: 4/4, 3: 7/8 in 2+2+3, 5: 4/4 in 3, 7: 5/16}
pulse: 1/16
pickup: 5/16
figures:
  weir: {hits: X..x. x.X .x.}
  moth: {groups: [5, 5, 3], pulse: 1/24}
  trip: {groups: [2, 3], pulse: 1/12}
  quint: {groups: [3, 4], pulse: 1/20}
  long: {groups: [7, 13], pulse: 1/4}
harmony: {0.4: Dm, 2.3.2: B♭maj7/F, 3: N.C., 4: Dorian, 5: F♯m7b5, 6: "C7(#9)", 7: Gsus4}
fermata: {2.2: 1.5, 7.3: 2}
form:
  - section: Upper
    bars: 6
    voices: {one: weir, two: [{figure: moth, times: 3}, {rest: 2}, quint], three: long}
  - section: Lower
    bars: 8
    marks: {3: strings enter}
    voices: {one: [{tail: [1, 2]}, trip], two: on}
    fermata: {-1: 1}
  - {again: Upper, voices: {two: trip}}
click: {every: beat, count_in: 1}
"""
PIECES = {path.stem: path.read_text(encoding="utf-8") for path in SPECS} | {"awkward": AWKWARD}
NAMES = sorted(PIECES)

XLINK, XML_NAMES = "http://www.w3.org/1999/xlink", "http://www.w3.org/XML/1998/namespace"
HEAD = '<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema" targetNamespace='
STAND_INS = {
    XLINK: f'{HEAD}"{XLINK}">'
    + "".join(
        f'<xs:attribute name="{name}" type="xs:string"/>'
        for name in ("href", "type", "role", "title", "show", "actuate")
    )
    + "</xs:schema>",
    XML_NAMES: f'{HEAD}"{XML_NAMES}"><xs:attribute name="lang" type="xs:language"/>'
    '<xs:attribute name="space" type="xs:NCName"/></xs:schema>',
}
"""The two small schemas that MusicXML's imports from the W3C: the attributes that it takes from them."""


@cache
def lesson_of(name: str) -> Lesson:
    return make_lesson(PIECES[name])


@cache
def score_of(name: str) -> str:
    (made,) = make_score(lesson_of(name), Fraction(60))
    assert made.name == "piece.musicxml"
    return made.content.decode()


@pytest.fixture(scope="module")
def schema() -> xmlschema.XMLSchema10:
    """MusicXML 4.0's schema by the W3C, which the library musicxml carries."""
    package = find_spec("musicxml")
    assert package is not None
    assert package.submodule_search_locations
    path = Path(package.submodule_search_locations[0]) / "generate_classes" / "musicxml_4_0.xsd"
    text = path.read_text(encoding="utf-8")
    assert "Version 4.0" in text[:600]
    return xmlschema.XMLSchema10(text, locations=STAND_INS, allow="all")


@pytest.mark.parametrize("name", NAMES)
def test_a_score_is_valid_against_musicxml_s_schema(name: str, schema: xmlschema.XMLSchema10) -> None:
    errors = [error.reason for error in schema.iter_errors(io.StringIO(score_of(name)))]
    assert errors == []


def test_the_schema_finds_what_is_wrong(schema: xmlschema.XMLSchema10) -> None:
    broken = score_of("lantern-ferry").replace("<voice>1</voice>", "", 1).replace("percussion", "drums", 1)
    assert len(list(schema.iter_errors(io.StringIO(broken)))) > 0


@cache
def read_score(name: str) -> Any:
    return music21.converter.parse(score_of(name), format="musicxml")


def exact(quarters: Any, grid: int) -> Fraction:
    """Quarters as the ticks of a piece, whole by what music21 read."""
    ticks = Fraction(quarters) * grid / 4
    assert abs(ticks - round(ticks)) < Fraction(1, 1000)  # it rounds fractions of large denominators
    return Fraction(round(ticks))


def read_tones(part: Any, grid: int) -> Iterator[tuple[int, int, bool]]:
    """Onset, length and accent of each note, tied ones as one, in ticks from the part's beginning."""
    sounding: tuple[Fraction, Fraction, bool] | None = None
    for note in part.flatten().notesAndRests:
        if note.isRest or isinstance(note, music21.harmony.Harmony):
            continue
        at, length = exact(note.offset, grid), exact(note.quarterLength, grid)
        accented = any(isinstance(each, music21.articulations.Accent) for each in note.articulations)
        if note.tie is not None and note.tie.type in ("continue", "stop"):
            assert sounding is not None
            assert sounding[0] + sounding[1] == at
            sounding = (sounding[0], sounding[1] + length, sounding[2])
        else:
            if sounding:
                yield int(sounding[0]), int(sounding[1]), sounding[2]
            sounding = (at, length, accented)
    if sounding:
        yield int(sounding[0]), int(sounding[1]), sounding[2]


@pytest.mark.parametrize("name", NAMES)
def test_music21_reads_back_every_onset_length_and_accent(name: str) -> None:
    """Of each voice: a note from each hit on, up to the next hit in its group or the group's end."""
    timeline = lesson_of(name).timeline
    parts = list(read_score(name).parts)
    assert len(parts) == len(timeline.voices) + 1
    for voice, part in zip(timeline.voices, parts, strict=False):
        expected = []
        for repetition in timeline.repetitions:
            if repetition.voice != voice:
                continue
            for group in repetition.statement.groups:
                until = group.at + group.length
                hits = [hit for hit in repetition.statement.hits if group.at <= hit < until]
                for hit, end in zip(hits, [*hits[1:], until], strict=True):
                    at = repetition.at + hit - timeline.start
                    expected.append((at, end - hit, hit in repetition.statement.accents))
        assert list(read_tones(part, timeline.grid)) == expected


@pytest.mark.parametrize("name", NAMES)
def test_music21_reads_back_bars_beats_meters_and_sections(name: str) -> None:
    timeline = lesson_of(name).timeline
    score = read_score(name)
    meter = list(score.parts)[-1]
    beats = [(at, length) for at, length, _ in read_tones(meter, timeline.grid)]
    assert beats == [(beat.at - timeline.start, beat.end - beat.at) for beat in timeline.beats]
    measures = list(next(iter(score.parts)).getElementsByClass("Measure"))
    assert [measure.number for measure in measures] == [bar.number for bar in timeline.bars]
    starts = [exact(measure.offset, timeline.grid) for measure in measures]
    assert starts == [bar.at - timeline.start for bar in timeline.bars]
    marks = list(score.parts[0].flatten().getElementsByClass(music21.expressions.RehearsalMark))
    assert len(marks) == len(timeline.sections)
    for mark, section in zip(marks, timeline.sections, strict=True):
        assert mark.content.startswith(section.name)
        begins = timeline.start if section is timeline.sections[0] else section.at
        assert exact(mark.offset, timeline.grid) == begins - timeline.start


def test_music21_reads_the_teacher_s_marks() -> None:
    timeline = lesson_of("awkward").timeline
    found = read_score("awkward").parts[0].flatten().getElementsByClass(music21.expressions.TextExpression)
    places = [exact(each.offset, timeline.grid) for each in found if each.content == "strings enter"]
    assert places == [mark.at - timeline.start for mark in timeline.marks]
    assert places


def test_music21_reads_the_chords_where_they_change() -> None:
    timeline = lesson_of("lantern-ferry").timeline
    found = list(
        read_score("lantern-ferry").parts[0].flatten().getElementsByClass(music21.harmony.ChordSymbol)
    )
    assert len(found) == len(timeline.harmony)
    for symbol, harmony in zip(found, timeline.harmony, strict=True):
        assert exact(symbol.offset, timeline.grid) == harmony.at
        assert symbol.root().name == music21.harmony.ChordSymbol(harmony.name.replace("Bb", "B-")).root().name


def notes_of(name: str) -> Iterator[list[ElementTree.Element]]:
    """The notes of each measure of each voice's part."""
    root = ElementTree.fromstring(score_of(name))
    for part in root.findall("part")[:-1]:
        for measure in part.findall("measure"):
            yield measure.findall("note")


@pytest.mark.parametrize("name", NAMES)
def test_beams_begin_and_end_with_a_group_s_notes(name: str) -> None:
    """Each level opens before it goes on, and is closed before a rest, a longer note or the bar's end."""
    for notes in notes_of(name):
        inside: defaultdict[str, bool] = defaultdict(bool)
        for note in notes:
            for beam in note.findall("beam"):
                level = beam.get("number") or ""
                assert inside[level] is (beam.text in ("continue", "end")) or "hook" in (beam.text or "")
                if beam.text in ("begin", "end"):
                    inside[level] = beam.text == "begin"
            if note.find("rest") is not None or note.findtext("type") in ("quarter", "half", "whole"):
                assert note.find("beam") is None
                assert not any(inside.values())
        assert not any(inside.values())


def test_a_beam_never_joins_two_groups() -> None:
    """Lantern Ferry in eighths and sixteenths: the groups of weir, from its tones."""
    lesson = make_lesson(
        """
tempo: 90
meter: 4/4
pulse: 1/16
figures: {weir: {groups: [3, 2, 2], hits: xxx xx xx}}
form: [{section: Upper, bars: 3, plays: weir}]
""".replace("groups: [3, 2, 2], ", "")
    )
    (made,) = make_score(lesson, Fraction(60))
    root = ElementTree.fromstring(made.content)
    tones = iter(voice_tones(lesson.timeline, "main"))
    open_group: int | None = None
    for note in root.findall("part")[0].iter("note"):
        tone = next(tones)
        word = note.findtext("beam")
        if word == "begin":
            open_group = tone.beam
        assert word is None or tone.beam == open_group


@pytest.mark.parametrize(
    ("length", "tuplet"),
    [
        ("1/12", (3, 2)),
        ("1/24", (3, 2)),
        ("5/24", (3, 2)),
        ("3/24", None),
        ("1/20", (5, 4)),
        ("1/7", (7, 4)),
        ("5/16", None),
    ],
)
def test_tuplets_are_so_many_in_the_time_of_the_next_lower_power_of_two(
    length: str, tuplet: tuple[int, int] | None
) -> None:
    """Common practice, as music21 has it too: triplets 3:2, quintuplets 5:4, septuplets 7:4."""
    assert find_tuplet(Fraction(length)) == tuplet
    found = music21.duration.Duration(Fraction(length) * 4).tuplets
    if found and tuplet and length.startswith("1/"):
        assert (found[0].numberNotesActual, found[0].numberNotesNormal) == tuplet


@pytest.mark.parametrize("kind", CHORD_KINDS)
def test_music21_knows_each_kind_of_chord(kind: str) -> None:
    """That MusicXML's schema knows it too is checked with the whole score."""
    for text in CHORD_KINDS[kind]:
        symbol = read_symbol(f"F♯{text}/B♭")
        assert symbol is not None, text
        assert (symbol.step, symbol.alter, symbol.kind, symbol.text) == ("F", 1, kind, text)
        assert symbol.bass == ("B", -1)
        assert harmony_element(symbol, 0).findtext("kind") == kind


@pytest.mark.parametrize("name", NAMES)
def test_verovio_engraves_it_without_a_complaint(name: str, capfd: pytest.CaptureFixture[str]) -> None:
    toolkit = verovio.toolkit()
    assert toolkit.loadData(score_of(name))
    drawn = toolkit.renderToSVG(1)
    assert capfd.readouterr().err == ""
    assert toolkit.getPageCount() >= 1
    for section in lesson_of(name).timeline.sections[:1]:
        assert section.name in drawn
    assert toolkit.loadData(score_of(name).replace("<type>quarter", "<type>hemidemi", 1))
    assert "hemidemi" in capfd.readouterr().err


def test_what_musicxml_has_no_note_for_is_told() -> None:
    lesson = make_lesson("""
tempo: 90
meter: 4/4
figures: {third: {groups: [1], pulse: 1/3}}
form: [{section: Upper, bars: 2, plays: [{tail: [1], pulse: 1/1024}, third]}]
""")
    with pytest.raises(NothingThereError) as error:
        make_score(lesson, Fraction(60))
    assert str(error.value) == "No score: it would take notes of 1/2048, and MusicXML has none below 1/1024."


def test_the_rate_of_the_films_makes_no_difference() -> None:
    lesson = open_lesson(EXAMPLE)
    assert make_score(lesson, Fraction(24)) == make_score(lesson, Fraction(60))
