"""Whether a spec plays what a part plays: its hits against the part's notes, its seconds against the file's."""

from fractions import Fraction

from renderer.listening.pulses import LaidPart
from renderer.listening.score import Score
from renderer.timeline.model import Timeline

LATE = Fraction(1, 100)
"""Seconds by which a bar may begin at another time than in the file."""


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
