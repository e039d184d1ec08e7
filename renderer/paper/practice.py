"""A practice card: the figure against the meter, bar by bar until it is home, and a ladder of tempi."""

from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

from renderer.paper.counting import short_counted_text
from renderer.paper.facts import own_figure
from renderer.timeline.model import Bar, Figure, Repetition, Timeline

MOST_BARS = 12
LADDER = (100, 90, 80, 70, 60, 50)
"""Per cent of the tempo."""


class Clap(NamedTuple):
    """An accent to clap: where, how it is counted, and whether a repetition starts there."""

    at: int
    text: str
    starts: bool


class PracticeBar(NamedTuple):
    """One bar and its accents."""

    bar: Bar
    claps: tuple[Clap, ...]


class Rung(NamedTuple):
    """A share of the tempo in per cent, and beats a minute, rounded to whole ones, halves up."""

    share: int
    beats: int


@dataclass(frozen=True)
class Practice:
    """All that a card holds."""

    figure: Figure
    first: Repetition
    bars: tuple[PracticeBar, ...]
    home: int | None
    """The bar that begins like the first one."""
    repetitions: tuple[Repetition, ...]
    unit: Fraction
    """What the tempo counts, in whole notes: the beat, or a quarter where beats differ."""
    ladder: tuple[Rung, ...]


def make_practice(timeline: Timeline) -> Practice | None:
    """The card of a piece's first figure; None if none is played whole."""
    found = own_figure(timeline)
    if found is None:
        return None
    figure, first = found
    section = timeline.sections[first.section_index]
    start = timeline.bar_at(first.at)
    homes = (row for row in timeline.realignments if row.voice == first.voice and row.at > first.at)
    home = next((row.bar_number for row in homes if not first.offset), None)
    last = home if home is not None and home - start.number <= MOST_BARS else start.number + MOST_BARS
    bars = [bar for bar in timeline.bars if start.number <= bar.number < last and bar.at < section.end] or [
        start
    ]
    own = tuple(
        row
        for row in timeline.repetitions
        if row.voice == first.voice and row.at < bars[-1].end and row.end > bars[0].at
    )
    arrived = home is not None and bars[-1].number == home - 1
    unit = _unit(timeline, start)
    tempo = timeline.tempo[0]
    for mark in timeline.tempo:
        if mark.at <= start.at:
            tempo = mark
    beats = tempo.quarters / 4 / unit
    return Practice(
        figure=figure,
        first=first,
        bars=tuple(PracticeBar(bar, _claps(timeline, bar, own)) for bar in bars),
        home=home if arrived else None,
        repetitions=own,
        unit=unit,
        ladder=tuple(Rung(share, int(beats * share / 100 + Fraction(1, 2))) for share in LADDER),
    )


def _claps(timeline: Timeline, bar: Bar, own: tuple[Repetition, ...]) -> tuple[Clap, ...]:
    found = [
        Clap(row.at + accent, short_counted_text(timeline, row.at + accent, row.statement.pulse), not accent)
        for row in own
        for accent in row.statement.accents
        if bar.at <= row.at + accent < bar.end
    ]
    return tuple(sorted(found))


def _unit(timeline: Timeline, bar: Bar) -> Fraction:
    lengths = {timeline.whole(beat.end - beat.at) for beat in timeline.beats_in(bar)}
    return lengths.pop() if len(lengths) == 1 else Fraction(1, 4)
