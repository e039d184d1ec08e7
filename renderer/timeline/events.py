"""What follows from where the repetitions stand: crossings, landings, realignments, handovers."""

from bisect import bisect_right
from collections.abc import Iterable, Mapping, Sequence
from itertools import pairwise

from renderer.timeline.model import Crossing, Handover, Harmony, Landing, Realignment, Repetition, Statement
from renderer.timeline.voices import VoiceSpan

NEVER = 1 << 100
"""A tick after every piece's end."""

Downbeats = Mapping[int, int]
"""Tick of a downbeat -> its bar's number; the tick after the last bar too."""


def read_crossings(repetitions: Iterable[Repetition], harmony: Sequence[Harmony]) -> list[Crossing]:
    """Every harmony change strictly inside what sounds, in one voice's repetitions."""
    make = tuple.__new__
    changes = [(right.at, left.name, right.name) for left, right in pairwise(harmony)]
    changes.append((NEVER, "", ""))
    crossings: list[Crossing] = []
    index, next_at = 0, changes[0][0]
    present: Statement | None = None
    length, starts = 0, [0]
    for voice, number, _, _, _, at, statement, _ in repetitions:
        while next_at <= at:
            index += 1
            next_at = changes[index][0]
        if statement is not present:
            present, length = statement, statement.sounding_length
            starts = [group.at for group in statement.groups]
        while next_at < at + length:
            place, before, after = changes[index]
            into = place - at
            group_number = bisect_right(starts, into)
            into_group = into - starts[group_number - 1]
            row = voice, number, before, after, place, into, group_number, into_group
            crossings.append(make(Crossing, row))
            index += 1
            next_at = changes[index][0]
    return crossings


def read_landings(repetitions: Iterable[Repetition], downbeats: Downbeats) -> list[Landing]:
    """Every accent on a downbeat, and those that would have come just where their repetition was ended."""
    landings: list[Landing] = []
    places = [*sorted(downbeats), NEVER]
    first, place = 0, places[0]
    present: Statement | None = None
    length = 0
    numbers: dict[int, int] = {}
    """Of the present statement: where an accent is, and its number; the missed one too."""
    for voice, number, _, _, _, at, statement, _ in repetitions:
        while place < at:
            first += 1
            place = places[first]
        if statement is not present:
            present, length = statement, statement.sounding_length
            numbers = {start: count for count, start in enumerate(statement.accents, start=1)}
            if statement.missed_accent_number is not None:
                numbers[length] = statement.missed_accent_number
        index, downbeat = first, place
        while downbeat <= at + length:
            accent = numbers.get(downbeat - at)
            if accent is not None:
                bar_number = downbeats[downbeat]
                landings.append(Landing(voice, number, accent, downbeat, bar_number, downbeat < at + length))
            index += 1
            downbeat = places[index]
    return landings


def read_realignments(
    spans: Iterable[VoiceSpan],
    repetitions: Iterable[Repetition],
    downbeats: Downbeats,
    firsts: frozenset[int],
) -> list[Realignment]:
    """Every repetition of one voice that has come round to a downbeat by itself: it starts there where a whole one of
    the same figure ends, in a run that has started on a downbeat before and off one since. `firsts`: the sections'
    first ticks."""
    realignments: list[Realignment] = []
    rows = iter(repetitions)
    number = 0
    aligned = strayed = False
    """Whether the run has started on a downbeat, and off one since the last of those."""
    before: tuple[int, str | None] | None = None
    """Where the whole repetition before ends, and its figure."""
    for at, end, statement, _, _, run in spans:
        if run.number != number:
            number, aligned, strayed, before = run.number, False, False, None
        if statement is None:
            before = None
            continue
        row = next(rows)
        bar = downbeats.get(at)
        if bar is None:
            strayed = aligned
        else:
            if strayed and before == (at, statement.figure) and statement.kind in ("whole", "cut"):
                realignments.append(Realignment(row.voice, row.number, at, bar, at in firsts))
            aligned, strayed = True, False
        before = (end, statement.figure) if statement.kind == "whole" else None
    return realignments


def read_handovers(
    played: Iterable[VoiceSpan], repetitions: Iterable[Repetition], lines: Sequence[int]
) -> list[Handover]:
    """Every place where another list begins to sound in one voice. Lists that state nothing are passed over. `lines`:
    the sections' first ticks, by index."""
    sounding = zip((span for span in played if span.statement is not None), repetitions, strict=True)
    handovers: list[Handover] = []
    for (left, last), (right, first) in pairwise(sounding):
        if left.run.number != right.run.number:
            line = lines[right.run.section_index]
            figures = last.statement.figure, first.statement.figure
            handovers.append(
                Handover(
                    *(first.voice, last.number, first.number, *figures),
                    *(first.at, line, last.end - line, last.statement.cut),
                )
            )
    return handovers
