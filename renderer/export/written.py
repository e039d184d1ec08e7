"""The piece as it is written: notes and rests bar by bar, each with its place, exact.

A hit lasts until the next hit of its group or the group's end. What goes over a bar line is tied; nothing is parted at
beats. Beams join the notes of one group in one bar, so they show the figure, not the meter. A length that no plain note
has stands in a tuplet: so many in the time of the next lower power of two.
"""

from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from itertools import groupby, pairwise
from typing import NamedTuple

from renderer.schedule.notation import split_length
from renderer.timeline.bars import meter_beats
from renderer.timeline.model import Bar, Timeline

SHORTEST = 1024
"""The shortest note that is written, as a part of a whole one."""


class Tone(NamedTuple):
    """What is to be written as one note, tied where that takes several: ticks from `at` up to `end`."""

    at: int
    end: int
    accent: bool
    beam: int
    """The same number for tones that may share a beam."""


class Sign(NamedTuple):
    """One note or rest as written."""

    at: int
    length: int
    """In ticks."""
    value: int
    """The note's name as a number: 4 is a quarter."""
    dotted: bool
    tuplet: tuple[int, int] | None
    rest: bool
    tied_back: bool = False
    tied_on: bool = False
    accent: bool = False
    beam: int = 0


class WrittenBar(NamedTuple):
    """A bar's signs in order; none where it is silent."""

    bar: Bar
    signs: tuple[Sign, ...]


def voice_tones(timeline: Timeline, voice: str) -> list[Tone]:
    """What a voice plays."""
    tones: list[Tone] = []
    beam = 0
    for repetition in timeline.repetitions:
        if repetition.voice != voice:
            continue
        statement = repetition.statement
        accents = {*statement.accents}
        for group in statement.groups:
            beam += 1
            until = group.at + group.length
            hits = [hit for hit in statement.hits if group.at <= hit < until]
            for hit, end in pairwise([*hits, until]):
                tones.append(Tone(repetition.at + hit, repetition.at + end, hit in accents, beam))
    return tones


def meter_tones(timeline: Timeline) -> list[Tone]:
    """The felt beats of each bar; each downbeat is accented."""
    found = []
    for bar in timeline.bars:
        starts = meter_beats(bar.meter, timeline.grid)
        edges = [bar.end - starts[-1] + start for start in starts]
        beats = [(number, at, end) for number, (at, end) in enumerate(pairwise(edges)) if at >= bar.at]
        found += [Tone(at, end, number == 0, bar.number) for number, at, end in beats]
    return found


def write_bars(timeline: Timeline, tones: Sequence[Tone]) -> Iterator[WrittenBar]:
    """Every bar of the piece with what is written in it."""
    first = 0
    for bar in timeline.bars:
        while first < len(tones) and tones[first].end <= bar.at:
            first += 1
        signs: list[Sign] = []
        at, index = bar.at, first
        while index < len(tones) and tones[index].at < bar.end:
            tone = tones[index]
            start = max(tone.at, bar.at)
            if start > at:
                signs += _signs(timeline, at, start)
            at = min(tone.end, bar.end)
            signs += _signs(timeline, start, at, tone)
            index += 1
        if signs and at < bar.end:
            signs += _signs(timeline, at, bar.end)
        yield WrittenBar(bar, tuple(signs))


def silence(timeline: Timeline, bar: Bar) -> list[Sign]:
    """A bar's rests: one for a full bar, whatever its meter."""
    if bar.end - bar.at == bar.meter.length * timeline.grid:
        return [Sign(bar.at, bar.end - bar.at, 1, False, None, rest=True)]
    return [*_signs(timeline, bar.at, bar.end)]


def _signs(timeline: Timeline, start: int, end: int, tone: Tone | None = None) -> Iterator[Sign]:
    """A stretch of a tone, or of silence, as notes tied together, or rests."""
    length = timeline.whole(end - start)
    tuplet = find_tuplet(length)
    stretch = Fraction(*tuplet) if tuplet else Fraction(1)
    at = start
    for part in split_length(length * stretch):
        ticks = int(part / stretch * timeline.grid)
        dotted = part.numerator == 3
        yield Sign(
            at=at,
            length=ticks,
            value=int((3 if dotted else 1) / part) // (2 if dotted else 1),
            dotted=dotted,
            tuplet=tuplet,
            rest=tone is None,
            tied_back=tone is not None and at > tone.at,
            tied_on=tone is not None and at + ticks < tone.end,
            accent=tone is not None and tone.accent and at == tone.at,
            beam=tone.beam if tone else 0,
        )
        at += ticks


def find_tuplet(length: Fraction) -> tuple[int, int] | None:
    """In what a length is written; None if halves of halves of a whole note make it up.

    >>> find_tuplet(Fraction(5, 24)), find_tuplet(Fraction(1, 20)), find_tuplet(Fraction(5, 16))
    ((3, 2), (5, 4), None)
    """
    odd = length.denominator // (length.denominator & -length.denominator)
    return (odd, 1 << odd.bit_length() - 1) if odd > 1 else None


def beam_runs(signs: Iterable[Sign]) -> Iterator[list[Sign]]:
    """The signs in runs: notes shorter than a quarter of one group stand under one beam, all else alone."""

    def key(sign: Sign) -> tuple[bool, int]:
        return sign.value > 4 and not sign.rest, sign.beam

    for (joined, _), run in groupby(signs, key):
        if joined:
            yield list(run)
        else:
            yield from ([sign] for sign in run)


def tuplet_runs(signs: Iterable[Sign]) -> Iterator[list[Sign]]:
    """The signs that stand under one bracket: those that follow each other in one kind of tuplet."""
    for tuplet, run in groupby(signs, lambda sign: sign.tuplet):
        if tuplet:
            yield list(run)


def beam_marks(run: Sequence[Sign]) -> list[list[str]]:
    """For each note under one beam what its first, second ... beam does, by MusicXML's words.

    A short beam points into its neighbour: forward at the run's beginning, else backward.
    """
    counts = [sign.value.bit_length() - 3 for sign in run]
    marks: list[list[str]] = [[] for _ in run]
    for level in range(1, max(counts) + 1):
        for index, count in enumerate(counts):
            if count < level:
                continue
            before = index > 0 and counts[index - 1] >= level
            after = index + 1 < len(counts) and counts[index + 1] >= level
            word = {(True, True): "continue", (True, False): "end", (False, True): "begin"}.get(
                (before, after)
            )
            marks[index].append(word or ("forward hook" if index == 0 else "backward hook"))
    return marks
