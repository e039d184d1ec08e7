"""A Standard MIDI File (RP-001) as a score, read by mido.

Markers name sections, unless all markers of a track other than the first are chords. Of two clear levels of velocity
the upper one marks accents. Channels of one track are parts of their own.
"""

import io
import re
from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from itertools import pairwise
from math import lcm
from typing import Any, NamedTuple

from renderer.core import limits
from renderer.core.names import bars_named
from renderer.listening.lay_bars import MeterChange, UnusableError, lay_bars, read_meter
from renderer.listening.score import (
    Named,
    Onset,
    Score,
    ScoreBar,
    ScorePart,
    TempoChange,
    as_label,
    told_apart,
)
from renderer.reading.carried import MARK

CHORD = re.compile(
    r"(?:[A-G][b#♭♯]?(?:maj|min|mi|ma|m|M|dim|aug|sus|add|alt|omit|no|[0-9]|[b#♭♯+°ø△()-])*(?:/(?:[A-G][b#♭♯]?|[0-9]+))?)|N\.?C\.?"
)
FEW = Fraction(1, 50)
"""The share of a part's notes that are louder, or softer, at least, if that is to mean something."""
LEVELS_APART = 12
"""Velocities between the softest accent and the loudest other note, at least."""
CLOCKS = 24
"""MIDI clocks to a quarter."""
UNITS = max(limits.METER_UNITS)
NOTES = 200_000
"""In a whole file."""


class Event(NamedTuple):
    """A message at a tick of the score."""

    at: int
    message: Any


def read_midi(data: bytes, title: str) -> Score:
    """The score. Raises UnusableError; whatever else is raised comes of a damaged file."""
    import mido

    file = mido.MidiFile(file=io.BytesIO(data), charset="latin1", clip=True)
    if file.type == 2:
        raise UnusableError("it holds several pieces, one a track. Save each as a file of its own.")
    if file.ticks_per_beat <= 0:
        raise UnusableError("it counts seconds, not beats. Save it with its bars and beats.")
    grid = lcm(4 * file.ticks_per_beat, UNITS)
    tracks = [[*_events(track, grid // (4 * file.ticks_per_beat))] for track in file.tracks]
    found = [*_parts(tracks)]
    end = max((event.at for track in tracks for event in track), default=0)
    bars, remarks = _bars(tracks, end, grid)
    names = [[*_markers(track)] for track in tracks]
    chords = [row for row in names[1:] if row and all(CHORD.fullmatch(name) for _, name in row)]
    sections = _once(mark for row in names if row not in chords for mark in row)
    sounding = [onset.at for part in found for onset in part.onsets]
    shift, pickup = _pickup(bars, sections, [*sounding, *(mark.at for row in chords for mark in row)])
    laid = [ScoreBar(bar.at - shift, bar.end - shift, bar.meter) for bar in bars]
    if shift:
        laid = [laid[0]._replace(at=-pickup), *laid[1:]] if pickup else laid[1:]
    name = (
        next((_text(e.message.name) for e in tracks[0] if e.message.type == "track_name"), "")
        if tracks
        else ""
    )
    return Score(
        as_label(name, limits.TITLE_CHARACTERS) or title,
        grid,
        tuple(laid),
        _tempo(tracks, laid[0].at, shift),
        tuple(Named(max(0, mark.at - shift), mark.name) for mark in sections),
        tuple(
            Named(max(laid[0].at, mark.at - shift), mark.name)
            for mark in _once(m for row in chords for m in row)
        ),
        tuple(
            part._replace(onsets=tuple(onset._replace(at=onset.at - shift) for onset in part.onsets))
            for part in found
        ),
        tuple(remarks),
        _carried(tracks),
    )


def _events(track: Iterable[Any], scale: int) -> Iterator[Event]:
    at = 0
    for message in track:
        at += message.time
        yield Event(at * scale, message)


def _text(text: str) -> str:
    """A text of a file, which may be UTF-8 or Latin-1."""
    try:
        return text.encode("latin1").decode()
    except UnicodeError:
        return text


def _markers(track: Iterable[Event]) -> Iterator[Named]:
    for at, message in track:
        if message.type == "marker" and (name := as_label(_text(message.text), limits.LABEL_CHARACTERS)):
            yield Named(at, name)


def _carried(tracks: Iterable[Iterable[Event]]) -> str:
    """The first spec that barcross wrote in the file."""
    texts = (_text(message.text) for track in tracks for _, message in track if message.type == "text")
    return next((text.removeprefix(MARK) for text in texts if text.startswith(MARK)), "")


def _once(marks: Iterable[Named]) -> list[Named]:
    """Marks in order, one at a place."""
    return [*{mark.at: mark for mark in sorted(marks, key=lambda mark: mark.at)}.values()]


def _bars(tracks: Sequence[Sequence[Event]], end: int, grid: int) -> tuple[list[ScoreBar], list[str]]:
    changes = {0: MeterChange(0, read_meter("4/4"))}
    for track in tracks:
        for at, message in track:
            if message.type == "time_signature":
                changes[at] = MeterChange(at, read_meter(_meter_text(message)))
    meters = sorted(changes.values(), key=lambda change: change.at)
    bars, inside = lay_bars(meters, 0, end, grid)
    if not inside:
        return bars, []
    numbers = sorted({sum(bar.at <= at for bar in bars) for at in inside[:50]})
    return bars, [f"The meter changes inside {bars_named(numbers)}; here it changes at the next bar line."]


def _meter_text(message: Any) -> str:
    """A meter; with its felt beats where the file's click says that they are longer than the lower number."""
    count, unit = message.numerator, message.denominator
    meter = f"{count}/{unit}"
    beats = Fraction(count, unit) / Fraction(max(1, message.clocks_per_click), 4 * CLOCKS)
    compound = unit >= 8 and count % 3 == 0 and beats * 3 == count and beats > 1
    in_half = unit == 4 and beats * 2 == count and beats > 1
    return f"{meter} in {beats}" if compound or in_half else meter


def _pickup(bars: Sequence[ScoreBar], sections: Sequence[Named], onsets: Sequence[int]) -> tuple[int, int]:
    """Where bar 1 begins, and how long the pick-up is: a file whose first marker stands on its second bar line, with
    silence before the first note, begins with an incomplete bar."""
    if len(bars) < 2 or not sections or sections[0].at != bars[0].end:
        return 0, 0
    first = min((at for at in onsets), default=0)
    return (0, 0) if first == 0 else (bars[0].end, max(0, bars[0].end - first))


def _tempo(tracks: Iterable[Iterable[Event]], start: int, shift: int) -> tuple[TempoChange, ...]:
    found: dict[int, TempoChange] = {}
    for track in tracks:
        for at, message in track:
            if message.type == "set_tempo":
                place = max(start, at - shift)
                found[place] = TempoChange(place, quarters_of(message.tempo))
    return tuple(found[at] for at in sorted(found))


def quarters_of(microseconds: int) -> Fraction:
    """The shortest number of quarters a minute that comes to so many microseconds a quarter.

    >>> quarters_of(535714), quarters_of(600000)
    (Fraction(112, 1), Fraction(100, 1))
    """
    exact = Fraction(60_000_000, max(1, microseconds))
    for digits in range(6):
        short = Fraction(round(exact * 10**digits), 10**digits)
        if short and round(60_000_000 / short) == microseconds:
            return short
    return Fraction(round(exact * 10**6), 10**6)


def _parts(tracks: Sequence[Sequence[Event]]) -> Iterator[ScorePart]:
    """A part for each channel of each track that has notes."""
    rows: dict[tuple[int, int], dict[int, int]] = {}
    names: dict[tuple[int, int], str] = {}
    count = 0
    for number, track in enumerate(tracks):
        name = next((_text(e.message.name) for e in track if e.message.type == "track_name"), "")
        own = as_label(name, limits.LABEL_CHARACTERS) or f"Track {number + 1}"
        for at, message in track:
            if message.type == "note_on" and message.velocity:
                count += 1
                if count > NOTES:
                    raise UnusableError(
                        f"it has more than {NOTES:,} notes. Save the part that you need alone."
                    )
                row = rows.setdefault((number, message.channel), {})
                row[at] = max(message.velocity, row.get(at, 0))
                names[number, message.channel] = own
    several = {number for (number, _), (after, _) in pairwise(sorted(rows)) if number == after}
    labels = [
        f"{name[:28]} channel {channel + 1}" if number in several else name
        for (number, channel), name in names.items()
    ]
    for key, label in zip(names, told_apart(labels, limits.LABEL_CHARACTERS), strict=True):
        yield _part(label, rows[key])


def _part(name: str, velocities: dict[int, int]) -> ScorePart:
    least = accent_level(list(velocities.values()))
    rare = accent_level(list(velocities.values()), Fraction(0))
    louder = tuple(velocity >= rare for _, velocity in sorted(velocities.items())) if rare else ()
    onsets = (Onset(at, least is None or velocity >= least) for at, velocity in sorted(velocities.items()))
    return ScorePart(name, tuple(onsets), least is not None, louder=louder)


def accent_level(velocities: Sequence[int], few: Fraction = FEW) -> int | None:
    """The softest velocity of the upper of two clear levels; None where there is one level, or more than two. `few`
    is the share of the notes that each level has, at least.

    >>> accent_level([70, 112, 74, 72, 110]), accent_level([80, 84, 88, 92])
    (110, None)
    """
    found = sorted(set(velocities))
    gaps = sorted(((after - before, after) for before, after in pairwise(found)), reverse=True)
    if not gaps or gaps[0][0] < LEVELS_APART or (len(gaps) > 1 and gaps[1][0] * 2 > gaps[0][0]):
        return None
    level = gaps[0][1]
    upper = sum(velocity >= level for velocity in velocities)
    return level if min(upper, len(velocities) - upper) >= few * len(velocities) else None
