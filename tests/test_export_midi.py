"""The piece as a MIDI file: mido and pretty_midi, which each work out seconds themselves, against the timeline."""

import io
from collections import defaultdict
from collections.abc import Iterator
from fractions import Fraction

import mido
import pretty_midi
import pytest
from hypothesis import assume, given, settings

from renderer.audio.pitch import read_chord
from renderer.core.errors import SpecError
from renderer.export.kinds import Made
from renderer.export.midi import ACCENT, PLAIN, make_midi
from renderer.export.tempo_map import MOST_TICKS, choose_ticks
from renderer.lesson.lesson import Lesson
from renderer.mix.notes import harmony_at
from renderer.spec.model import Spec
from renderer.timeline.build import build_timeline
from tests.lessons import make_lesson
from tests.strategies import specs

CLOSE = 1e-4
"""Seconds: a tenth of a millisecond."""
LONG = """
title: Über die Brücke
tempo: 113
meter: 4/4
pulse: 1/16
pickup: 3/16
figures:
  weir: [4, 4, 3]
  moth: {groups: [5, 5, 3], pulse: 1/24}
  quint: {groups: [3, 4], pulse: 1/20}
form:
  - section: Upper
    bars: 120
    harmony: {1: [Dm, Bb], 31.2: F#7}
    plays: weir
    tempo: {41: {to: 61.7}, 49: {to: 171}, 60: 97}
    fermata: {30: 1.5, 52.3: 2, -1.4: 0.4}
  - section: Lower
    bars: 100
    meter: 7/8 in 2+2+3
    harmony: {1: N.C., 9: G}
    voices: {main: on, high: moth}
    tempo: {1: 3/8 = 76}
  - section: Coda
    bars: 90
    marks: {12: strings enter}
    voices: {main: quint, high: on}
    tempo: {1: 88, 80: {to: 40}}
click: {every: beat, count_in: 1}
"""


def make(text: str) -> tuple[Lesson, Made]:
    lesson = make_lesson(text)
    (made,) = make_midi(lesson, Fraction(60))
    return lesson, made


def zero(lesson: Lesson) -> Fraction:
    """What the file's first tick sounds at in the piece: bar 0 is filled up."""
    timeline = lesson.timeline
    return timeline.seconds(choose_ticks(timeline).origin)


def read_mido(content: bytes) -> tuple[mido.MidiFile, dict[str, list[tuple[float, mido.Message]]]]:
    """Each track's messages with their seconds, by mido's own sum over the tempo map."""
    file = mido.MidiFile(file=io.BytesIO(content), charset="utf8")
    tempos = [(0, 500_000)]
    at = 0
    for message in file.tracks[0]:
        at += message.time
        if message.type == "set_tempo":
            tempos.append((at, message.tempo))
    found = defaultdict(list)
    for track in file.tracks:
        at, seconds, index, since = 0, 0.0, 0, 0
        for message in track:
            at += message.time
            while index + 1 < len(tempos) and tempos[index + 1][0] <= at:
                index += 1
                tick, tempo = tempos[index][0], tempos[index - 1][1]
                seconds += mido.tick2second(tick - since, file.ticks_per_beat, tempo)
                since = tick
            reached = seconds + mido.tick2second(at - since, file.ticks_per_beat, tempos[index][1])
            found[track.name].append((reached, message))
    return file, found


def expected_hits(lesson: Lesson, voice: str) -> Iterator[tuple[float, bool]]:
    begin = zero(lesson)
    for hit in lesson.timeline.hits:
        if hit.voice == voice:
            yield float(lesson.timeline.seconds(hit.at) - begin), hit.accented


@pytest.fixture(scope="module")
def long() -> tuple[Lesson, Made]:
    return make(LONG)


def test_the_piece_is_longer_than_ten_minutes(long: tuple[Lesson, Made]) -> None:
    assert long[0].timeline.seconds(long[0].timeline.end) > 600
    assert long[1].remark == ""


def test_mido_finds_every_hit_at_its_time(long: tuple[Lesson, Made]) -> None:
    lesson, made = long
    file, tracks = read_mido(made.content)
    assert file.type == 1
    assert file.ticks_per_beat % 960 == 0
    assert [track.name for track in file.tracks] == ["Über die Brücke", "click", "main", "high", "harmony"]
    for voice in ("main", "high"):
        found = [(at, m.velocity) for at, m in tracks[voice] if m.type == "note_on"]
        expected = list(expected_hits(lesson, voice))
        assert len(found) == len(expected)
        assert max(abs(at - due) for (at, _), (due, _) in zip(found, expected, strict=True)) < CLOSE
        assert [velocity for _, velocity in found] == [ACCENT if accent else PLAIN for _, accent in expected]


def test_pretty_midi_finds_every_hit_beat_meter_and_downbeat(long: tuple[Lesson, Made]) -> None:
    lesson, made = long
    timeline, begin = lesson.timeline, zero(lesson)
    read = pretty_midi.PrettyMIDI(io.BytesIO(made.content), charset="utf8")
    by_name = {instrument.name: instrument for instrument in read.instruments}
    assert by_name["click"].is_drum
    for voice in ("main", "high"):
        starts = sorted(note.start for note in by_name[voice].notes)
        expected = [seconds for seconds, _ in expected_hits(lesson, voice)]
        assert len(starts) == len(expected)
        assert max(abs(a - b) for a, b in zip(starts, expected, strict=True)) < CLOSE
    clicks = sorted(note.start for note in by_name["click"].notes)
    beats = [float(timeline.seconds(beat.at) - begin) for beat in timeline.beats]
    assert max(abs(a - b) for a, b in zip(clicks, beats, strict=True)) < CLOSE
    downbeats = [float(timeline.seconds(bar.at) - begin) for bar in timeline.bars if bar.number > 0]
    found = read.get_downbeats()[1 : 1 + len(downbeats)]  # the first is that of the pick-up's bar, filled up
    assert max(abs(a - b) for a, b in zip(found, downbeats, strict=True)) < CLOSE
    assert [(s.numerator, s.denominator) for s in read.time_signature_changes] == [(4, 4), (7, 8)]


def test_markers_stand_where_sections_and_harmonies_begin(long: tuple[Lesson, Made]) -> None:
    lesson, made = long
    timeline, begin = lesson.timeline, zero(lesson)
    tracks = read_mido(made.content)[1]
    sections = [(row.name, row.at) for row in timeline.sections]
    sections += [(mark.text, mark.at) for mark in timeline.marks]
    assert len(sections) == 4
    for name, rows in (("Über die Brücke", sections), ("harmony", [row[:2] for row in timeline.harmony])):
        found = [(m.text, at) for at, m in tracks[name] if m.type == "marker"]
        assert [text for text, _ in found] == [text for text, _ in rows]
        for (_, at), (_, due) in zip(found, rows, strict=True):
            assert abs(at - float(timeline.seconds(due) - begin)) < CLOSE


def test_a_note_that_starts_a_repetition_is_the_root_as_it_sounds(long: tuple[Lesson, Made]) -> None:
    lesson, made = long
    timeline = lesson.timeline
    notes = [m.note for _, m in read_mido(made.content)[1]["main"] if m.type == "note_on"]
    hits = [hit.at for hit in timeline.hits if hit.voice == "main"]
    keys = dict(zip(hits, notes, strict=True))
    for repetition in timeline.repetitions:
        harmony = harmony_at(timeline, repetition.at)
        chord = read_chord(harmony.name) if harmony else None
        if repetition.voice == "main" and chord:
            assert keys[repetition.at] % 12 == chord.root


def test_no_note_lasts_into_the_next_or_beyond_its_group(long: tuple[Lesson, Made]) -> None:
    lesson, made = long
    ticks = choose_ticks(lesson.timeline)
    file = read_mido(made.content)[0]
    ends = {
        ticks.of(r.at + group.at + group.length)
        for r in lesson.timeline.repetitions
        if r.voice == "main"
        for group in r.statement.groups
    }
    at, sounding, since = 0, None, 0
    for message in file.tracks[2]:
        at += message.time
        if message.type == "note_on":
            assert sounding is None
            sounding, since = message.note, at
        elif message.type == "note_off":
            assert message.note == sounding
            assert since < at
            assert not [end for end in ends if since < end < at]
            sounding = None
    assert sounding is None


def test_a_steady_tempo_stays_one_tempo_in_the_file() -> None:
    """At 120 a quarter is 500,000 microseconds exactly: one step. At 113 it is not, and steps make up for it."""
    for tempo, most in ((120, 1), (113, 40)):
        _, made = make(f"tempo: {tempo}\nmeter: 4/4\nform: [{{section: Long, bars: 300}}]")
        steps = [m.tempo for _, m in read_mido(made.content)[1]["weir"] if m.type == "set_tempo"]
        assert 1 <= len(steps) <= most
        assert max(steps) - min(steps) <= 1


def test_sync_points_rule_the_seconds() -> None:
    text = """
tempo: 100
meter: 3/4
pulse: 1/8
figures: {weir: [3, 2]}
form: [{section: Upper, bars: 200, plays: weir}]
recording: take.wav
sync: {1: 2.5, 5: 9.81, 50: 90.02, 120: 217.4, 200: 360}
"""
    lesson, made = make(text)
    found = [at for at, m in read_mido(made.content)[1]["main"] if m.type == "note_on"]
    expected = [seconds for seconds, _ in expected_hits(lesson, "main")]
    assert max(abs(a - b) for a, b in zip(found, expected, strict=True)) < CLOSE


def test_what_the_format_can_not_hold_is_told() -> None:
    """15 bits of ticks to a quarter, 24 bits of microseconds."""
    fine = "tempo: 60\nmeter: 4/4\nfigures: {a: {groups: [1, 2], pulse: 1/1009}, b: {groups: [2, 2], pulse: 1/1013}}"
    fine += "\nform: [{section: Upper, bars: 2, voices: {one: a, two: b}}]"
    lesson, made = make(fine)
    quarter = mido.MidiFile(file=io.BytesIO(made.content)).ticks_per_beat
    assert 32_000 < quarter <= MOST_TICKS
    assert made.remark == (
        f"piece.mid: its grid is 1/{lesson.timeline.grid} of a whole note, finer than a MIDI file's {quarter} ticks "
        "to a quarter; notes stand on the nearest tick."
    )
    slow = "tempo: {1: 60, 3: 2}\nmeter: 4/4\nform: [{section: Upper, bars: 4}]"
    assert make(slow)[1].remark == (
        "piece.mid: a MIDI file holds no tempo as slow as is needed; times differ by up to 105.782 s, most at the end."
    )


@settings(max_examples=15, deadline=None)
@given(specs())
def test_the_hits_of_any_piece_are_read_back(spec: Spec) -> None:
    """Where the file's ticks are exact and no tempo is too slow for it."""
    try:
        lesson = Lesson(spec, build_timeline(spec))
    except SpecError:
        assume(False)
    (made,) = make_midi(lesson, Fraction(60))
    assume(not made.remark)
    tracks = read_mido(made.content)[0].tracks[2:]
    for voice, track in zip(lesson.timeline.voices, tracks, strict=False):
        assert track.name == voice
    found = read_mido(made.content)[1]
    for voice in lesson.timeline.voices:
        starts = [at for at, m in found[voice] if m.type == "note_on"]
        expected = [seconds for seconds, _ in expected_hits(lesson, voice)]
        assert len(starts) == len(expected)
        assert all(abs(a - b) < CLOSE for a, b in zip(starts, expected, strict=True))
