"""The clock against published values and reference libraries."""

import io
from fractions import Fraction
from math import log

import mido
import pretty_midi
import pytest

from renderer.spec.model import Entry, Position, Tempo
from renderer.timeline.clock import TempoMark, build_clock
from renderer.timeline.model import Timeline
from tests.pieces import HEAD, timeline_of

TICKS_TO_A_QUARTER = 480

STEPS = """\
form:
  - {section: A, bars: 6, tempo: {2.3: 80, 4: 150}, plays: kiln}
  - {section: B, bars: 5, tempo: {1.2: 100}, meter: {1: 7/8, 3: 6/8 in 2}, plays: on}
"""


def test_11_sixteenths_at_500_000_microseconds_a_quarter() -> None:
    # Standard MIDI Files 1.0 (RP-001, from memory): FF 51 03 07 A1 20 is 500,000 us a quarter; so says mido.
    message = mido.MetaMessage("set_tempo", tempo=500_000)
    assert message.bin()[1:] == bytes.fromhex("51 03 07 A1 20")
    expected = mido.tick2second(1320, TICKS_TO_A_QUARTER, 500_000)
    timeline = timeline_of(
        "form:\n  - {section: A, bars: 1, plays: kiln}\n", HEAD.replace("tempo: 132", "tempo: 120")
    )
    assert float(timeline.seconds(11)) == expected == 1.375


def test_132_a_minute_is_exact_where_midi_loses_20_microseconds_in_11_bars() -> None:
    # Arithmetic; the loss as mido computes it from the whole microseconds that MIDI stores.
    timeline = timeline_of("form:\n  - {section: A, bars: 11, plays: kiln}\n")
    assert timeline.seconds(11) == Fraction(5, 4)
    assert timeline.seconds(11) * 48_000 == 60_000
    assert timeline.seconds(176) == 20
    assert timeline.seconds(176) * 48_000 == 960_000
    stored = mido.tick2second(44 * TICKS_TO_A_QUARTER, TICKS_TO_A_QUARTER, mido.bpm2tempo(132))
    assert mido.bpm2tempo(132) == 454_545
    assert 20 - stored == pytest.approx(20e-6, abs=1e-9)


def test_a_ramp_from_60_to_120_over_16_beats() -> None:
    # Closed form L x 240 / (v - u) x ln(v / u), checked by integrating 60 / tempo numerically, beat by beat.
    clock = build_clock(4, [TempoMark(Fraction(60), Fraction(120), 0, 16)], (), ())
    assert float(clock.seconds(16)) == pytest.approx(11.090355, abs=5e-7)
    assert float(clock.seconds(8)) == pytest.approx(6.487442, abs=5e-7)
    assert float(clock.seconds(16)) == pytest.approx(4 * 240 / 60 * log(2), rel=1e-15)
    steps = 160_000
    middles = ((index + 0.5) * 16 / steps for index in range(steps))
    integral = sum(60 / (60 + 60 * beat / 16) * 16 / steps for beat in middles)
    # The midpoint rule's error falls with the square of the step: about 1e-9 here.
    assert float(clock.seconds(16)) == pytest.approx(integral, abs=1e-8)


def midi_of(timeline: Timeline) -> pretty_midi.PrettyMIDI:
    """The tempo steps and repetition starts as a MIDI file, read back by pretty_midi."""
    to_ticks = Fraction(4 * TICKS_TO_A_QUARTER, timeline.grid)
    events = [
        (mark.at * to_ticks, mido.MetaMessage("set_tempo", tempo=round(Fraction(60_000_000) / mark.quarters)))
        for mark in timeline.tempo
    ]
    starts = [
        (row.at * to_ticks, mido.Message("note_on", note=60, velocity=90)) for row in timeline.repetitions
    ]
    ends = [
        (row.end * to_ticks, mido.Message("note_on", note=60, velocity=0)) for row in timeline.repetitions
    ]
    song = mido.MidiFile(type=1, ticks_per_beat=TICKS_TO_A_QUARTER)
    for tracked in (events, sorted(starts + ends, key=lambda pair: (pair[0], pair[1].velocity))):
        track = song.add_track()
        now = Fraction(0)
        for at, message in tracked:
            track.append(message.copy(time=int(at - now)))
            now = at
    file = io.BytesIO()
    song.save(file=file)
    file.seek(0)
    return pretty_midi.PrettyMIDI(file)


def test_repetitions_start_when_pretty_midi_says_under_tempo_changes() -> None:
    # pretty_midi reads tempi in whole microseconds a quarter; these are whole, so nothing is rounded.
    timeline = timeline_of(STEPS, HEAD.replace("tempo: 132", "tempo: 120"))
    notes = midi_of(timeline).instruments[0].notes
    assert len(notes) == len(timeline.repetitions) > 10
    for note, row in zip(notes, timeline.repetitions, strict=True):
        assert note.start == pytest.approx(float(timeline.seconds(row.at)), abs=1e-9)


def test_many_small_steps_come_near_a_ramp() -> None:
    # The ramp is the limit of its steps; 256 of them, each at its middle's tempo, err by about a millionth.
    bars = 16
    marks = [
        TempoMark(60 + Fraction(60 * (2 * index + 1), 512), None, index * bars // 2, (index + 1) * bars // 2)
        for index in range(256)
    ]
    steps = build_clock(512, marks, (), ())
    ramp = build_clock(512, [TempoMark(Fraction(60), Fraction(120), 0, 128 * bars)], (), ())
    assert float(steps.seconds(128 * bars)) == pytest.approx(float(ramp.seconds(128 * bars)), rel=1e-5)


def test_a_tempo_counts_quarters_in_every_meter() -> None:
    # W3C MusicXML 4.0: sound/@tempo is in quarter notes a minute whatever the meter.
    entry = Entry(Position(1), (Tempo(Fraction(90)),), ("tempo",))
    assert entry.values[0].quarters == 90
    timeline = timeline_of(
        "form:\n  - {section: A, bars: 2}\n",
        HEAD.replace("tempo: 132", "tempo: 90").replace("meter: 4/4", "meter: 6/8 in 2"),
    )
    assert timeline.seconds(timeline.end) == 4
