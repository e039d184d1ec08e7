"""Where clicks stand in the music: the meter's bars, beats and pulses, the figure's groups and starts.

Accents are the meter's own: its downbeats and felt beats (the 2+2+3 of 7/8) are kinds of their own.
"""

from collections.abc import Iterable, Sequence
from fractions import Fraction

from renderer.spec.click import Click, ClickKind
from renderer.spec.sound import ClickPlace
from renderer.timeline.model import Bar, Timeline

Place = tuple[int, ClickKind]
"""A tick and what stands there."""


def click_places(timeline: Timeline, start: int, end: int, every: Sequence[ClickPlace]) -> list[Place]:
    """All clicks from tick `start` up to `end`, in order, left out where a section has the click off.

    A figure's clicks come beside the meter's on one tick; among the meter's, and among the figure's, the
    weightier one alone stands there.
    """
    places: list[Place] = []
    meter: dict[int, ClickKind] = {}
    figure: dict[int, ClickKind] = {}
    for section in timeline.sections:
        first = timeline.start if section is timeline.sections[0] else section.at
        low, high = max(start, first), min(end, section.end)
        if (timeline.clicks if section.click is None else section.click) and low < high:
            meter.update(_meter_places(timeline, low, high, every))
            figure.update(_figure_places(timeline, low, high, every))
    places += meter.items()
    places += figure.items()
    return sorted(places)


def _meter_places(timeline: Timeline, start: int, end: int, every: Sequence[ClickPlace]) -> Iterable[Place]:
    pulse = timeline.pulse if "pulse" in every else None
    beats_too = "beat" in every or "pulse" in every
    for beat in timeline.beats_between(start, end):
        if beat.number == 1 and (beats_too or "bar" in every):
            yield beat.at, "downbeat"
        elif beats_too:
            yield beat.at, "beat"
        if pulse:
            for at in range(beat.at + pulse, beat.end, pulse):
                yield at, "pulse"


def _figure_places(timeline: Timeline, start: int, end: int, every: Sequence[ClickPlace]) -> Iterable[Place]:
    if not ("figure" in every or "group" in every):
        return
    starts: list[Place] = []
    for repetition in timeline.repetitions:
        if repetition.at >= end or repetition.end <= start:
            continue
        if "group" in every:
            inside = (repetition.at + group.at for group in repetition.statement.groups)
            yield from ((at, "group") for at in inside if start <= at < end)
        if "figure" in every and start <= repetition.at:
            starts.append((repetition.at, "figure"))
    yield from starts


def count_in_seconds(timeline: Timeline, bar: Bar, bars: int, beats: int) -> Fraction:
    """How long a count-in of so many bars, or (if not 0) beats, before `bar` lasts, at its tempo."""
    second = bar_seconds(timeline, bar)
    if not beats:
        return bars * second
    lengths = bar.meter.beats
    whole, rest = divmod(beats, len(lengths))
    return (whole + sum(lengths[len(lengths) - rest :], Fraction(0)) / bar.meter.length) * second


def count_in_clicks(timeline: Timeline, bar: Bar, downbeat: Fraction, end: Fraction) -> list[Click]:
    """The clicks from 0 up to `end`, counted back from `bar`'s downbeat at `downbeat` seconds."""
    length = bar_seconds(timeline, bar)
    count = -(-downbeat // length)
    first = downbeat - count * length
    per_whole = length / bar.meter.length
    clicks = even_clicks(int(count), [beat * per_whole for beat in bar.meter.beats])
    return [Click(first + click.seconds, click.kind) for click in clicks if 0 <= first + click.seconds < end]


def bar_seconds(timeline: Timeline, bar: Bar) -> Fraction:
    """A full bar's length at this bar's tempo."""
    written = timeline.seconds(bar.end) - timeline.seconds(bar.at)
    return written * bar.meter.length / timeline.whole(bar.end - bar.at)


def beat_starts(beats: Sequence[Fraction], count: int) -> list[Fraction]:
    """Where `count` beats in a row begin, bar after bar, in the unit of `beats` (one bar's)."""
    starts, at = [], Fraction(0)
    for number in range(count):
        starts.append(at)
        at += beats[number % len(beats)]
    return starts


def even_clicks(bars: int, beats: Sequence[Fraction]) -> tuple[Click, ...]:
    """A click on every beat of so many like bars from 0 on; `beats` are one bar's, in seconds."""
    starts = beat_starts(beats, bars * len(beats))
    return tuple(Click(at, "beat" if index % len(beats) else "downbeat") for index, at in enumerate(starts))
