"""What follows from where the repetitions stand: hits, crossings, landings, realignments, handovers."""

from collections.abc import Iterable, Mapping, Sequence
from itertools import pairwise

from renderer.timeline.model import Crossing, Handover, Harmony, Hit, Landing, Realignment, Repetition
from renderer.timeline.voices import VoiceSpan

Downbeats = Mapping[int, int]
"""Tick of a downbeat -> its bar's number; the tick after the last bar too."""


def read_hits(repetitions: Iterable[Repetition]) -> list[Hit]:
    """Every sounding pulse."""
    make = tuple.__new__
    marked: dict[int, list[tuple[int, bool]]] = {}
    hits: list[Hit] = []
    for voice, number, _, _, _, at, statement, _ in repetitions:
        pulses = marked.get(id(statement))
        if pulses is None:
            accents = frozenset(statement.accents)
            pulses = marked[id(statement)] = [(hit, hit in accents) for hit in statement.hits]
        hits += [make(Hit, (voice, number, at + hit, accent)) for hit, accent in pulses]
    return hits


def read_crossings(repetitions: Iterable[Repetition], harmony: Sequence[Harmony]) -> list[Crossing]:
    """Every harmony change strictly inside what was played, in one voice's repetitions."""
    changes = [(right.at, left.name, right.name) for left, right in pairwise(harmony)]
    crossings: list[Crossing] = []
    index, count = 0, len(changes)
    for voice, number, _, _, _, at, statement, _ in repetitions:
        while index < count and changes[index][0] <= at:
            index += 1
        end = at + statement.sounding_length
        while index < count and changes[index][0] < end:
            place, before, after = changes[index]
            into = place - at
            group = 0
            into_group = into
            for start, _, _ in statement.groups:
                if start > into:
                    break
                group, into_group = group + 1, into - start
            crossings.append(Crossing(voice, number, before, after, place, into, group, into_group))
            index += 1
    return crossings


def read_landings(repetitions: Iterable[Repetition], downbeats: Downbeats) -> list[Landing]:
    """Every accent on a downbeat, and those that would have come just where their repetition was ended."""
    landings: list[Landing] = []
    for voice, number, _, _, _, at, statement, _ in repetitions:
        for accent, start in enumerate(statement.accents, start=1):
            bar = downbeats.get(at + start)
            if bar is not None:
                landings.append(Landing(voice, number, accent, at + start, bar, True))
        if statement.missed_accent_number is not None:
            bar = downbeats.get(at + statement.sounding_length)
            if bar is not None:
                place = at + statement.sounding_length
                landings.append(Landing(voice, number, statement.missed_accent_number, place, bar, False))
    return landings


def read_realignments(
    played: Iterable[VoiceSpan],
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
    for at, end, statement, _, _, run in played:
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
