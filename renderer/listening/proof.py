"""Whether a spec plays what a part plays: its hits against the part's notes, its seconds against the file's."""

from fractions import Fraction
from typing import NamedTuple

from renderer.listening.pulses import LaidPart
from renderer.listening.score import Score
from renderer.timeline.model import Timeline

LATE = Fraction(1, 100)
"""Seconds by which a bar or a note may begin, or the piece end, at another time than in the file."""


class Delays(NamedTuple):
    """How many seconds a spec is later than the file, counted from bar 1; less than 0 where it is earlier."""

    most: Fraction
    """Where a bar or a note begins that is furthest from its time."""
    bar: int
    """That place's bar."""
    end: Fraction


def bars_that_differ(score: Score, laid: LaidPart, timeline: Timeline, marked: bool) -> list[int]:
    """The numbers of the bars in which notes, or accents where the file marks them, are not the spec's."""
    # Both in ticks of one grid: the score's times the timeline's.
    there = {
        laid.tick(place) * timeline.grid: symbol == 2
        for place, symbol in enumerate(laid.symbols.tolist())
        if symbol
    }
    played = {hit.at * score.grid: hit.accented for hit in timeline.hits}
    wrong = [
        at
        for at in {*there, *played}
        if at not in there or at not in played or (marked and there[at] != played[at])
    ]
    return sorted({score.bar_number(at // timeline.grid) for at in wrong})


def largest_delay(score: Score, timeline: Timeline) -> tuple[Fraction, int]:
    """How far a bar line is from its time in the file, in seconds, at most, and that bar's number."""
    lines = [bar.at for bar in score.bars if bar.at >= 0]
    own = [timeline.seconds(bar.at) for bar in timeline.bars if bar.number]
    theirs = score.seconds(lines)
    start = own[0] - theirs[0]
    off = [abs(a - b - start) for a, b in zip(own, theirs, strict=True)]
    worst = max(range(len(off)), key=off.__getitem__)
    return off[worst], worst + 1


def delays(score: Score, timeline: Timeline) -> Delays:
    """How far the spec's times are from the file's: those of bar lines, of all that is played, and of the end."""
    begun = {*(bar.at for bar in timeline.bars), *(hit.at for hit in timeline.hits), 0}
    ticks = sorted({*begun, timeline.end})
    places = [Fraction(tick * score.grid, timeline.grid) for tick in ticks]
    late = {
        tick: timeline.seconds(tick) - theirs
        for tick, theirs in zip(ticks, score.seconds(places), strict=True)
    }
    worst = max(sorted(begun), key=lambda tick: abs(late[tick] - late[0]))
    bar = score.bar_number(worst * score.grid // timeline.grid)
    return Delays(late[worst] - late[0], bar, late[timeline.end] - late[0])
