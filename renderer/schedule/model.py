"""What a segment does when: its steps and clicks in seconds from its own start, exact.

Made from the timeline alone, before any picture is drawn or sound mixed; both follow it, so they can't part.
A segment that counts in does so in whole bars of its first bar's meter and tempo.
"""

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from renderer.schedule.clicks import (
    bar_seconds,
    beat_starts,
    click_places,
    count_in_clicks,
    count_in_seconds,
    even_clicks,
)
from renderer.spec.click import Click
from renderer.spec.sound import ClickPlace, ClickSpec
from renderer.timeline.model import Bar, Figure, Repetition, Timeline

SLOWEST_COUNT = Fraction(1, 5)
"""Seconds that a pulse lasts at least where it is counted aloud."""
REAL_TIME_LIMIT = Fraction(30)
"""A spread longer than this sets off one repetition a beat instead of running at tempo."""
HOLD = Fraction(3)
"""Seconds that a finished explanation stands at least."""


class Step(NamedTuple):
    """A named moment of a segment."""

    name: str
    seconds: Fraction


class Span(NamedTuple):
    """A stretch of the piece that sounds without a break: ticks, and when it starts in the segment."""

    start: int
    end: int
    seconds: Fraction


class Caption(NamedTuple):
    """Words that are said from `start` to `end`, in seconds."""

    start: Fraction
    end: Fraction
    text: str


class Spoken(NamedTuple):
    """A voice file that sounds from `seconds` on, `length` seconds long."""

    seconds: Fraction
    length: Fraction
    name: str


@dataclass(frozen=True)
class Schedule:
    """A segment's length, clicks and steps, all in seconds from its start."""

    seconds: Fraction
    clicks: tuple[Click, ...]
    steps: tuple[Step, ...]
    speed: Fraction = field(default=Fraction(1), kw_only=True)
    """The share of the music's own speed at which it runs."""
    captions: tuple[Caption, ...] = field(default=(), kw_only=True)
    spoken: tuple[Spoken, ...] = field(default=(), kw_only=True)
    without: tuple[str, ...] = field(default=(), kw_only=True)
    """What the picture leaves out."""

    def seconds_at(self, timeline: Timeline, at: int) -> Fraction | None:
        """When the segment shows tick `at` of the piece; None if it does not run along the piece, or not there."""
        return None


@dataclass(frozen=True)
class FigureSchedule(Schedule):
    """The figure counted twice, then its sum, then counted on a staff if that is asked for. Pulse `n` of a pass
    sounds at the pass's start plus n x `pulse`."""

    figure: Figure
    bar: Bar
    pulse: Fraction
    """Seconds to a pulse."""
    count_start: Fraction
    accent_start: Fraction
    term_starts: tuple[Fraction, ...]
    """When each term of the sum appears, the total last."""
    staff_start: Fraction | None = None
    """When the pass begins in which the notes on the staff are read; None without a staff."""


@dataclass(frozen=True)
class SpreadSchedule(Schedule):
    """When each repetition of one voice is in its place."""

    spans: tuple[Span, ...]
    repetitions: tuple[Repetition, ...]
    arrivals: tuple[Fraction, ...]
    beat: Fraction
    """Seconds to a beat, for the length of moves."""

    def seconds_at(self, timeline: Timeline, at: int) -> Fraction | None:
        """When the first repetition that starts there or later is in its place."""
        later = (t for t, r in zip(self.arrivals, self.repetitions, strict=True) if r.at >= at)
        return next(later, None)


@dataclass(frozen=True)
class PlaySchedule(Schedule):
    """The piece, or some of its sections, in real time."""

    spans: tuple[Span, ...]
    beat: Fraction
    """Seconds to the first beat, for the length of moves."""

    def span_at(self, seconds: Fraction) -> Span:
        """The span that sounds at `seconds`, the first one while it is counted in, the last one at the
        end."""
        starts = [span.seconds for span in self.spans]
        return self.spans[max(0, bisect_right(starts, seconds) - 1)]

    def seconds_at(self, timeline: Timeline, at: int) -> Fraction | None:
        """When tick `at` sounds."""
        span = next((span for span in self.spans if span.start <= at < span.end), None)
        return self.seconds_of(timeline, span, at) if span else None

    def seconds_of(self, timeline: Timeline, span: Span, at: int) -> Fraction:
        """When tick `at` of a span sounds in the segment."""
        return span.seconds + timeline.seconds(at) - timeline.seconds(span.start)

    def position(self, timeline: Timeline, seconds: Fraction) -> float:
        """Where the music stands at `seconds`, in ticks; before it begins at its start, after its end at its
        end."""
        span = self.span_at(seconds)
        at = timeline.clock.position(seconds - span.seconds + timeline.seconds(span.start))
        return min(float(span.end), max(float(span.start), at))


def choose_spans(timeline: Timeline, sections: Sequence[str] | None) -> list[tuple[int, int]]:
    """The stretches of the piece that the named sections (None: all) fill, in the piece's order, joined where
    they touch; every pass of a named section. The pick-up goes with the first section."""
    chosen = [s for s in timeline.sections if sections is None or s.name in sections]
    spans: list[tuple[int, int]] = []
    for section in chosen:
        at = timeline.start if section is timeline.sections[0] else section.at
        if spans and spans[-1][1] == at:
            spans[-1] = (spans[-1][0], section.end)
        else:
            spans.append((at, section.end))
    return spans


def schedule_figure(
    timeline: Timeline, figure: Figure, click: ClickSpec | None, staff: bool = False
) -> FigureSchedule:
    """Count in, count the figure, count it again with its accents, add its groups up; with a staff, count it once
    more.

    It is counted at the piece's speed where it is first played, slower if a pulse would be under 0.2 s.
    """
    bar, pulse = _counting_place(timeline, figure)
    bar_pulses = bar.meter.length / figure.pulse
    pass_bars = -(-figure.pulses // bar_pulses)
    beats = [length / figure.pulse for length in bar.meter.beats]
    terms = beat_starts(beats, len(figure.groups) + 1)
    sum_bars = terms[-1] // bar_pulses + 1
    counted_bar = bar_pulses * pulse
    slower = counted_bar / bar_seconds(timeline, bar)
    count_start = _lead(timeline, bar, click) * slower
    accent_start = count_start + pass_bars * counted_bar
    sum_start = accent_start + pass_bars * counted_bar
    hold_bars = -(-HOLD // counted_bar)
    staff_start = sum_start + sum_bars * counted_bar if staff else None
    lead_bars = int(-(-count_start // counted_bar))
    clicked_bars = int(lead_bars + (3 if staff else 2) * pass_bars + sum_bars)
    early = lead_bars * counted_bar - count_start
    clicks = (
        each._replace(seconds=each.seconds - early)
        for each in even_clicks(clicked_bars, [beat * pulse for beat in beats])
        if each.seconds >= early
    )
    steps = [
        Step("count-in", Fraction(0)),
        Step("count", count_start),
        Step("accents", accent_start),
        Step("sum", sum_start),
    ]
    if staff_start is not None:
        steps.append(Step("staff", staff_start))
    return FigureSchedule(
        seconds=(clicked_bars + hold_bars) * counted_bar - early,
        clicks=tuple(clicks) if click else (),
        steps=tuple(steps),
        figure=figure,
        bar=bar,
        pulse=pulse,
        count_start=count_start,
        accent_start=accent_start,
        term_starts=tuple(sum_start + at * pulse for at in terms),
        staff_start=staff_start,
    )


def _lead(timeline: Timeline, bar: Bar, click: ClickSpec | None) -> Fraction:
    """How long an explaining segment counts in at a bar's tempo: as the click says, else a bar without a click."""
    asked = count_in_seconds(timeline, bar, click.count_in, click.count_in_beats) if click else Fraction(0)
    return asked or bar_seconds(timeline, bar)


def schedule_spread(
    timeline: Timeline, voice: str, sections: Sequence[str] | None, click: ClickSpec | None
) -> SpreadSchedule:
    """One repetition after another takes its place: at tempo, or one a beat where that would take too
    long."""
    spans = [Span(start, end, Fraction(0)) for start, end in choose_spans(timeline, sections)]
    inside = [
        repetition
        for repetition in timeline.repetitions
        if repetition.voice == voice and any(s.start <= repetition.at < s.end for s in spans)
    ]
    first_bar = timeline.bar_at(spans[0].start)
    beat = bar_seconds(timeline, first_bar) / len(first_bar.meter.beats)
    lead = _lead(timeline, first_bar, click)
    spans = _timed(timeline, spans, lead)
    music_end = _end_seconds(timeline, spans[-1])
    if music_end - lead <= REAL_TIME_LIMIT:
        arrivals = [_at_seconds(timeline, spans, repetition.at) for repetition in inside]
        clicks = [*_count_in(timeline, spans[0], lead), *_span_clicks(timeline, spans, ("beat",))]
    else:
        arrivals = [lead + number * beat for number in range(len(inside))]
        music_end = lead + len(inside) * beat
        downbeats = {bar.at for bar in timeline.bars}
        clicks = [
            *_count_in(timeline, spans[0], lead),
            *(
                Click(t, "downbeat" if r.at in downbeats else "beat")
                for t, r in zip(arrivals, inside, strict=True)
            ),
        ]
    return SpreadSchedule(
        seconds=music_end + max(HOLD, 4 * beat),
        clicks=tuple(clicks) if click else (),
        steps=(Step("posts", Fraction(0)), Step("repetitions", lead), Step("sentence", music_end)),
        spans=tuple(spans),
        repetitions=tuple(inside),
        arrivals=tuple(arrivals),
        beat=beat,
    )


def schedule_play(
    timeline: Timeline, sections: Sequence[str] | None, click: ClickSpec | None
) -> PlaySchedule:
    """The music of some sections (None: all) in real time after its count-in."""
    return schedule_stretches(timeline, choose_spans(timeline, sections), click)


def schedule_stretches(
    timeline: Timeline,
    stretches: Iterable[tuple[int, int]],
    click: ClickSpec | None,
    speed: Fraction = Fraction(1),
) -> PlaySchedule:
    """Stretches of the piece in real time after a count-in; those that do not touch follow without a gap.

    `speed` is the one that `timeline` has been slowed to.
    """
    spans = [Span(start, end, Fraction(0)) for start, end in stretches]
    downbeat = timeline.bar_at(spans[0].start)
    counted = timeline.bar_at(max(0, spans[0].start))
    bars, beats = (click.count_in, click.count_in_beats) if click else (0, 0)
    lead = count_in_seconds(timeline, counted, bars, beats)
    if spans[0].start < 0:
        lead = max(Fraction(0), lead + timeline.seconds(spans[0].start))
    spans = _timed(timeline, spans, lead)
    clicks = [
        *_count_in(timeline, spans[0], lead),
        *_span_clicks(timeline, spans, click.every if click else ()),
    ]
    steps = [Step("count-in", Fraction(0))] if lead else []
    for section in timeline.sections:
        for span in spans:
            if span.start <= section.at < span.end:
                steps.append(Step(section.name, _at_seconds(timeline, [span], section.at)))
    return PlaySchedule(
        seconds=_end_seconds(timeline, spans[-1]),
        clicks=tuple(clicks) if click else (),
        steps=tuple(steps),
        spans=tuple(spans),
        speed=speed,
        beat=bar_seconds(timeline, downbeat) / len(downbeat.meter.beats),
    )


def _timed(timeline: Timeline, spans: Iterable[Span], lead: Fraction) -> list[Span]:
    timed, seconds = [], lead
    for span in spans:
        timed.append(Span(span.start, span.end, seconds))
        seconds += timeline.seconds(span.end) - timeline.seconds(span.start)
    return timed


def _end_seconds(timeline: Timeline, span: Span) -> Fraction:
    return span.seconds + timeline.seconds(span.end) - timeline.seconds(span.start)


def _at_seconds(timeline: Timeline, spans: Iterable[Span], at: int) -> Fraction:
    span = next(span for span in spans if span.start <= at < span.end)
    return span.seconds + timeline.seconds(at) - timeline.seconds(span.start)


def _counting_place(timeline: Timeline, figure: Figure) -> tuple[Bar, Fraction]:
    """The first full bar in which the figure is played, and the seconds of its pulse there, slowed for
    counting."""
    starts = [r.bar_number for r in timeline.repetitions if r.statement.figure == figure.name]
    number = max(1, starts[0] if starts else 1)
    bar = next(bar for bar in timeline.bars if bar.number == number)
    pulse = bar_seconds(timeline, bar) * figure.pulse / bar.meter.length
    return bar, max(SLOWEST_COUNT, pulse)


def _count_in(timeline: Timeline, span: Span, lead: Fraction) -> list[Click]:
    """The clicks before the music: beats that end on a downbeat, up to where a pick-up begins."""
    if not lead:
        return []
    downbeat = span.seconds - timeline.seconds(span.start) + timeline.seconds(max(0, span.start))
    return count_in_clicks(timeline, timeline.bar_at(max(0, span.start)), downbeat, span.seconds)


def _span_clicks(timeline: Timeline, spans: Iterable[Span], every: Sequence[ClickPlace]) -> list[Click]:
    clicks = []
    for span in spans:
        shift = span.seconds - timeline.seconds(span.start)
        for at, kind in click_places(timeline, span.start, span.end, every):
            clicks.append(Click(shift + timeline.seconds(at), kind))
    return clicks


def row_breaks(timeline: Timeline, spans: Iterable[Span], longest: Fraction) -> list[tuple[int, int]]:
    """Share bars out to rows: rows of whole bars that begin again with each section, as equal as can be, none
    longer than `longest` whole notes unless one bar alone is."""
    rows: list[tuple[int, int]] = []
    for span in spans:
        sections = [s for s in timeline.sections if s.at < span.end and span.start < s.end]
        for section in sections:
            bars = [
                bar
                for bar in timeline.bars
                if timeline.sections[bar.section_index] is section and bar.at < span.end
            ]
            count = max(1, int(-(-timeline.whole(section.end - section.at) // longest)))
            per_row = -(-len(bars) // count)
            starts = [bars[index].at for index in range(0, len(bars), per_row)]
            rows += pairwise([*starts, section.end])
    return rows
