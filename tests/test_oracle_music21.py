"""Bars, beats and ties of all repetition starts as music21 finds them from the meters and durations alone."""

from collections.abc import Iterator
from fractions import Fraction

import pytest
from music21 import duration, meter, note, stream

from renderer.timeline.model import Timeline
from tests.pieces import HEAD, timeline_of

FIXED = "form:\n  - {section: A, bars: 23, plays: kiln}\n"
CHANGING = """\
form:
  - {section: A, bars: 4, meter: {1: 4/4, 3: 3/4, 4: 5/8}, plays: kiln}
  - {section: B, bars: 6, meter: [6/8 in 2, 7/8 in 2+2+3], plays: [{tail: [4, 3]}, brief]}
  - {again: A, plays: on}
"""
SIGNATURES = {"6/8 in 2": "6/8", "7/8 in 2+2+3": "2/8+2/8+3/8"}
"""How music21 is told the same felt beats: its 6/8 is felt in 2, its 7/8 in 7 unless written as a sum."""


def scored(timeline: Timeline, meters: list[tuple[int, str]]) -> stream.Part:
    """The repetitions as notes; `meters` are the changes, by bar, as written in the spec."""
    part = stream.Part()
    place = Fraction(0)
    for (bar, text), following in zip(meters, [*meters[1:], None], strict=True):
        signature = meter.TimeSignature(SIGNATURES.get(text, text))
        part.insert(place, signature)
        if following:
            place += (following[0] - bar) * Fraction(signature.barDuration.quarterLength)
    for row in timeline.repetitions:
        length = Fraction(row.statement.sounding_length * 4, timeline.grid)
        sounding = note.Note("C4", duration=duration.Duration(length))
        sounding.editorial.number = row.number
        part.insert(Fraction(row.at * 4, timeline.grid), sounding)
    return part


def starts(part: stream.Part) -> Iterator[tuple[int, Fraction, int]]:
    """Measure, beat and how many written notes tied together: one row for each note that was put in."""
    measures = part.makeMeasures()
    measures.makeTies(inPlace=True)
    row: tuple[int, Fraction, int] | None = None
    for sounding in measures.recurse().notes:
        if sounding.tie is not None and sounding.tie.type in ("continue", "stop"):
            assert row is not None
            row = row[0], row[1], row[2] + 1
            continue
        if row is not None:
            yield row
        row = sounding.measureNumber, Fraction(sounding.beat), 1
    assert row is not None
    yield row


@pytest.mark.parametrize(
    ("form", "meters"),
    [
        (FIXED, [(1, "4/4")]),
        (
            CHANGING,
            [
                *((1, "4/4"), (3, "3/4"), (4, "5/8")),
                *((bar, ("6/8 in 2", "7/8 in 2+2+3")[bar % 2 == 0]) for bar in range(5, 11)),
                *((11, "4/4"), (13, "3/4"), (14, "5/8")),
            ],
        ),
    ],
)
def test_bars_beats_and_ties_of_all_repetitions(form: str, meters: list[tuple[int, str]]) -> None:
    timeline = timeline_of(form, HEAD)
    found = list(starts(scored(timeline, meters)))
    expected = []
    for row in timeline.repetitions:
        beat = timeline.beat_at(row.at)
        inside = Fraction(row.at - beat.at, beat.end - beat.at)
        bars = {timeline.bar_at(at).number for at in range(row.at, row.end)}
        expected.append((row.bar_number, beat.number + inside, len(bars)))
    assert found == expected
    assert len(found) > 15
