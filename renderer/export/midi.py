"""The piece as a standard MIDI file of type 1 (RP-001): tempo map and meters, the click, a track a voice, the harmony.

Sections and the teacher's marks are markers, and so are harmonies, on a track of their own. A voice's notes have the
pitches that are heard in the films; they end at the next hit, at the end of their group, or where the harmony turns.
"""

import io
from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from typing import NamedTuple

import mido

from renderer.audio.voice_sounds import VOICE_TIMBRES
from renderer.core.names import listed
from renderer.export.characters import held, is_text
from renderer.export.kinds import Made
from renderer.export.tempo_map import STRAYS, TempoMap, Ticks, build_tempo_map, choose_ticks
from renderer.lesson.lesson import Lesson
from renderer.mix.notes import voice_notes
from renderer.mix.stems import choose_tones
from renderer.reading.carried import MARK, carried_spec
from renderer.report.table import place_text, section_names
from renderer.schedule.clicks import click_places
from renderer.schedule.model import Span
from renderer.spec.click import ClickKind
from renderer.spec.meter import Meter
from renderer.spec.sound import ClickPlace
from renderer.timeline.model import Timeline
from renderer.timeline.sides import players

DRUMS = 9
"""The channel that sounds as percussion (General MIDI), counted from 0."""
CHANNELS = [channel for channel in range(16) if channel != DRUMS]
CLICKS: dict[ClickKind, tuple[int, int]] = {
    "downbeat": (76, 112),
    "beat": (77, 88),
    "pulse": (77, 48),
    "figure": (37, 96),
    "group": (37, 64),
}
"""Key and velocity of each click: high and low wood block, side stick (General MIDI's percussion keys)."""
ACCENT, PLAIN = 112, 72
"""Velocities."""
CLICK_LENGTH = Fraction(1, 64)
"""Of a whole note."""
MOST_DELTA = (1 << 28) - 1
"""Ticks from one event to the next that a file can state: 28 bits."""
CLOCKS = 24
"""MIDI clocks to a quarter."""


class Event(NamedTuple):
    """Something at a tick of the file; what ends a note comes before what begins one."""

    tick: int
    order: int
    message: mido.Message | mido.MetaMessage


def make_midi(lesson: Lesson, frames_per_second: Fraction, notes_only: bool = False) -> list[Made]:
    """The piece as `piece.mid`, with its spec as a text at its beginning unless it is `notes_only`. What the format
    can't hold exactly is told."""
    timeline = lesson.timeline
    ticks = choose_ticks(timeline)
    tempo = build_tempo_map(timeline, ticks, _places(timeline))
    heading = [*_tempo_events(tempo), *_meter_events(timeline, ticks), *_markers(timeline, ticks)]
    every = lesson.click.every if lesson.click and lesson.click.every else ("beat",)
    tracks = [(timeline.title, heading), ("click", [*_click_events(timeline, ticks, every)])]
    tones = choose_tones(lesson.spec.sound, timeline.voices, recorded=False)
    names = players(timeline)
    for channel, voice in zip(CHANNELS, timeline.voices, strict=False):
        tone = tones.get(voice)
        lowest = VOICE_TIMBRES[tone.sound if tone and tone.sound else "plucked"].lowest_key
        tracks.append((names[voice], [*_voice_events(timeline, ticks, voice, channel, lowest)]))
    if timeline.harmony:
        tracks.append(("harmony", [*_harmony_markers(timeline, ticks)]))
    if not notes_only and (carried := carried_spec(lesson.text)):
        heading.append(Event(0, 0, mido.MetaMessage("text", text=f"{MARK}{carried}")))
    file = mido.MidiFile(type=1, ticks_per_beat=ticks.quarter, charset="utf8")
    file.tracks += [_track(name, events, ticks.of(timeline.end)) for name, events in tracks]
    content = io.BytesIO()
    file.save(file=content)
    return [Made("piece.mid", content.getvalue(), _remark(timeline, ticks, tempo))]


def _places(timeline: Timeline) -> set[int]:
    """Every tick at which something stands in the file."""
    tables = (timeline.bars, timeline.beats, timeline.hits, timeline.harmony, timeline.marks)
    found = {row.at for rows in tables for row in rows}
    found |= {r.at + group.at + group.length for r in timeline.repetitions for group in r.statement.groups}
    found |= {r.end for r in timeline.repetitions}
    if timeline.pulse:
        found |= {at for beat in timeline.beats for at in range(beat.at, beat.end, timeline.pulse)}
    return found


def _remark(timeline: Timeline, ticks: Ticks, tempo: TempoMap) -> str:
    """What is not exact: a grid that is too fine, a tempo too slow, a fermata too long."""
    told = []
    if not ticks.exact:
        told.append(
            f"its grid is 1/{timeline.grid} of a whole note, finer than a MIDI file's {ticks.quarter} ticks to a "
            "quarter; notes stand on the nearest tick"
        )
    if tempo.off > 2 * STRAYS:
        at_end = tempo.off_at >= timeline.end
        where = "the end" if at_end else place_text(timeline, tempo.off_at)
        told.append(
            f"a MIDI file holds no tempo as slow as is needed; times differ by up to {float(tempo.off):.3f} s, "
            f"most at {where}"
        )
    return f"piece.mid: {listed(told, 'and')}." if told else ""


def _track(name: str, events: Iterable[Event], end: int) -> mido.MidiTrack:
    """A track of a name whose events follow in order, up to a tick or its last event."""
    track = mido.MidiTrack([mido.MetaMessage("track_name", name=held(name, is_text), time=0)])
    at = 0
    last = Event(end, 9, mido.MetaMessage("end_of_track"))
    for event in [*sorted(events, key=lambda event: event[:2]), last]:
        while event.tick - at > MOST_DELTA:
            track.append(mido.MetaMessage("text", text="", time=MOST_DELTA))
            at += MOST_DELTA
        track.append(event.message.copy(time=max(0, event.tick - at)))
        at = event.tick
    return track


def _tempo_events(tempo: TempoMap) -> Iterator[Event]:
    for tick, microseconds in tempo.steps:
        yield Event(tick, 1, mido.MetaMessage("set_tempo", tempo=microseconds))


def _meter_events(timeline: Timeline, ticks: Ticks) -> Iterator[Event]:
    """Each change of meter, on its bar line."""
    before: Meter | None = None
    for bar in timeline.bars:
        if bar.meter != before:
            clocks = int(bar.meter.beats[0] * 4 * CLOCKS)
            yield Event(
                ticks.of(bar.at) if bar.number else 0,
                0,
                mido.MetaMessage(
                    "time_signature",
                    numerator=bar.meter.count,
                    denominator=bar.meter.unit,
                    clocks_per_click=min(255, max(1, clocks)),
                    notated_32nd_notes_per_beat=8,
                ),
            )
        before = bar.meter


def _markers(timeline: Timeline, ticks: Ticks) -> Iterator[Event]:
    """Sections, and the teacher's marks."""
    for section, name in zip(timeline.sections, section_names(timeline), strict=True):
        yield _marker(ticks.of(section.at), name)
    for mark in timeline.marks:
        yield _marker(ticks.of(mark.at), mark.text)


def _harmony_markers(timeline: Timeline, ticks: Ticks) -> Iterator[Event]:
    for harmony in timeline.harmony:
        yield _marker(ticks.of(harmony.at), harmony.name)


def _marker(tick: int, text: str) -> Event:
    return Event(tick, 2, mido.MetaMessage("marker", text=held(text, is_text)))


def _click_events(timeline: Timeline, ticks: Ticks, every: Sequence[ClickPlace]) -> Iterator[Event]:
    length = int(CLICK_LENGTH * 4 * ticks.quarter)
    sounding: dict[tuple[int, int], int] = {}
    for at, kind in click_places(timeline, timeline.start, timeline.end, every):
        key, velocity = CLICKS[kind]
        place = ticks.of(at), key
        sounding[place] = max(velocity, sounding.get(place, 0))
    for (tick, key), velocity in sounding.items():
        yield from _note(tick, tick + length, DRUMS, key, velocity)


def _voice_events(timeline: Timeline, ticks: Ticks, voice: str, channel: int, lowest: int) -> Iterator[Event]:
    """What a voice plays, in the pitches of its tone."""
    hits = [hit for hit in timeline.hits if hit.voice == voice]
    span = Span(timeline.start, timeline.end, Fraction(0))
    ends = _ends(timeline, voice)
    for hit, note in zip(hits, voice_notes(timeline, voice, [span]), strict=True):
        key = lowest + ((note.root or 0) - lowest) % 12 + note.above
        start, end = ticks.of(hit.at), ticks.of(ends[bisect_right(ends, hit.at)])
        yield from _note(start, max(start + 1, end), channel, key, ACCENT if hit.accented else PLAIN)


def _ends(timeline: Timeline, voice: str) -> list[int]:
    """Where a voice's notes end, whichever they are: at a hit, a group's end, a change of harmony."""
    own = [repetition for repetition in timeline.repetitions if repetition.voice == voice]
    found = {
        repetition.at + group.at + group.length for repetition in own for group in repetition.statement.groups
    }
    found |= {repetition.end for repetition in own}
    found |= {hit.at for hit in timeline.hits if hit.voice == voice}
    found |= {harmony.at for harmony in timeline.harmony}
    return sorted(found)


def _note(start: int, end: int, channel: int, key: int, velocity: int) -> Iterator[Event]:
    yield Event(start, 4, mido.Message("note_on", channel=channel, note=key, velocity=velocity))
    yield Event(end, 3, mido.Message("note_off", channel=channel, note=key, velocity=0))
