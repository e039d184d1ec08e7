"""The spec that barcross wrote in a file that it exported, if the file still has that spec's music.

It is read as any spec is, with the same checks and limits. Where what the file has and what the spec plays differ,
somebody changed the file, and it is read as any file is.
"""

from collections.abc import Iterator
from fractions import Fraction
from typing import NamedTuple

from renderer.audio.pitch import read_chord
from renderer.core import limits
from renderer.core.errors import SpecError
from renderer.listening.proof import LATE, largest_delay
from renderer.listening.score import Named, Score, ScorePart, as_label
from renderer.listening.words import bars_said
from renderer.reading.carried import written_spec
from renderer.reading.coverage import check_labels
from renderer.reading.load import parse_spec
from renderer.report.table import section_names
from renderer.timeline.build import build_timeline
from renderer.timeline.model import Timeline

NEAR = Fraction(1, 100_000)
"""Of a whole note: a file whose ticks are coarser than the spec's has notes on the nearest one."""
CLICKS = ("click", "meter")
"""The names of the tracks and parts that are no voice's."""
SLOWEST = Fraction(36, 10)
"""Quarters a minute: slower than that a MIDI file can't say."""
AS_WELL = Fraction(1, 1000)
"""A share by which a written tempo may be rounded."""


READ_ANYWAY = "a part was named"
"""Why a spec is not taken that may be right."""


class Carried(NamedTuple):
    """What a file carries: a spec's text without its segments and comments, or why it is not taken."""

    text: str = ""
    plays: bool = False
    """Whether any figure is played in it."""
    refused: str = ""


def read_carried(score: Score) -> Carried:
    """The spec in a file, if it is one and plays what the file has."""
    damaged = Carried(refused="it is damaged")
    try:
        text = written_spec(score.carried)
        spec = parse_spec(text, "carried.yaml")
        timeline = build_timeline(spec)
    except SpecError:
        return damaged
    if check_labels(spec):
        return damaged
    if change := what_changed(score, timeline):
        return Carried(refused=change)
    plays = any(repetition.statement.figure for repetition in timeline.repetitions)
    return Carried(text, plays)


def what_changed(score: Score, timeline: Timeline) -> str:
    """What a file has otherwise than a spec, in words; empty where both are the same music."""
    return (
        _bars(score, timeline)
        or _notes(score, timeline)
        or _tempo(score, timeline)
        or _names(score, timeline)
    )


def _bars(score: Score, timeline: Timeline) -> str:
    ours = [(timeline.whole(bar.at), bar.meter.count, bar.meter.unit) for bar in timeline.bars if bar.number]
    theirs = [
        (Fraction(bar.at, score.grid), bar.meter.count, bar.meter.unit) for bar in score.bars if bar.at >= 0
    ]
    if ours == theirs:
        return ""
    same = next((index for index, (a, b) in enumerate(zip(ours, theirs, strict=False)) if a != b), None)
    first = 1 + (min(len(ours), len(theirs)) if same is None else same)
    return f"the bars were changed, from bar {first} on"


def _notes(score: Score, timeline: Timeline) -> str:
    """Each voice against the part with the same notes, whatever it is called."""
    voices = {voice: [*_hits(timeline, voice)] for voice in timeline.voices}
    parts = [part for part in score.parts if part.onsets]
    missing: list[list[tuple[Fraction, bool]]] = []
    for hits in (hits for hits in voices.values() if hits):
        same = next((part for part in parts if _is_same(hits, part, score)), None)
        if same is None:
            missing.append(hits)
        else:
            parts.remove(same)
    left = [part for part in parts if part.name.casefold() not in CLICKS]
    if missing and left:
        return _other_notes(missing[0], left[0], score)
    if missing:
        return "a part was taken out"
    return f"{left[0].name} was added" if left else ""


def _hits(timeline: Timeline, voice: str) -> Iterator[tuple[Fraction, bool]]:
    return (
        (timeline.whole(hit.at), hit.accented)
        for hit in sorted(timeline.hits, key=lambda hit: hit.at)
        if hit.voice == voice
    )


def _is_same(hits: list[tuple[Fraction, bool]], part: ScorePart, score: Score) -> bool:
    """Whether a part has a voice's notes, and of them the same ones accented."""
    theirs = _notes_of(part, score, hits)
    return len(hits) == len(theirs) and all(
        abs(a - b) <= NEAR and accented == louder
        for (a, accented), (b, louder) in zip(hits, theirs, strict=True)
    )


def _notes_of(
    part: ScorePart, score: Score, hits: list[tuple[Fraction, bool]]
) -> list[tuple[Fraction, bool]]:
    """A part's notes and accents. Where all are alike, they are what all of a voice's hits are, or else accented."""
    none = not part.louder and not part.marks_accents and not any(accented for _, accented in hits)
    accents = part.louder or [onset.accented and not none for onset in part.onsets]
    return [(Fraction(onset.at, score.grid), loud) for onset, loud in zip(part.onsets, accents, strict=True)]


def _other_notes(hits: list[tuple[Fraction, bool]], part: ScorePart, score: Score) -> str:
    """What a part has otherwise than a voice, and in which bars."""
    theirs = _notes_of(part, score, hits)
    bars = {score.bar_number(int(at * score.grid)) for at, _ in {*hits} ^ {*theirs}}
    same = [at for at, _ in hits] == [at for at, _ in theirs]
    return f"other {'accents' if same else 'notes'} stand in {part.name}, {bars_said(bars)}"


def _tempo(score: Score, timeline: Timeline) -> str:
    """A MIDI file has the time of each bar; a score has marks, and no number for what moves."""
    steps = [(max(Fraction(0), timeline.whole(m.at)), m.quarters) for m in timeline.tempo if m.to is None]
    marks = [(max(Fraction(0), Fraction(c.at, score.grid)), c.quarters) for c in score.tempo]
    as_marked = len(steps) == len(marks) and all(
        a == b and abs(x / y - 1) <= AS_WELL for (a, x), (b, y) in zip(steps, marks, strict=True)
    )
    slow = any(quarters < SLOWEST for _, quarters in marks)
    in_time = as_marked or slow or largest_delay(score, timeline)[0] <= LATE
    return "" if in_time else "the tempo was changed"


def _names(score: Score, timeline: Timeline) -> str:
    """Names of sections, marks and harmonies; a place with several has one of them in the file."""
    sections = [
        Named(section.at, name)
        for section, name in zip(timeline.sections, section_names(timeline), strict=True)
    ]
    chords = [
        Named(harmony.at, harmony.name)
        for harmony in timeline.harmony
        if read_chord(harmony.name) is not None
    ]
    every = [
        *sections,
        *(Named(mark.at, mark.text) for mark in timeline.marks),
        *(Named(harmony.at, harmony.name) for harmony in timeline.harmony),
    ]
    known = {(_place(timeline, named.at), _plain(named.name)) for named in every}
    for kind, ours, theirs in (("sections", sections, score.sections), ("chords", chords, score.chords)):
        there = {(Fraction(named.at, score.grid), _plain(named.name)) for named in theirs}
        places = {place for place, _ in there}
        if not there <= known or not {_place(timeline, named.at) for named in ours} <= places | {
            Fraction(named.at, score.grid) for named in score.sections
        }:
            return f"the {kind} were changed"
    return ""


def _place(timeline: Timeline, at: int) -> Fraction:
    return timeline.whole(at)


def _plain(name: str) -> str:
    return as_label(name.replace("♭", "b").replace("♯", "#"), limits.LABEL_CHARACTERS)
