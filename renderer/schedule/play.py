"""When `play` shows what: the music in real time, after its count-in."""

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import zip_longest

from renderer.core.names import bars_from, briefly_listed
from renderer.schedule.clicks import bar_seconds, count_in_seconds
from renderer.schedule.model import Schedule, Span, Step
from renderer.schedule.pace import name_steps
from renderer.schedule.points import Pointed, find_points
from renderer.schedule.spans import (
    choose_spans,
    count_in_before,
    end_seconds,
    lead_in,
    place_spans,
    seconds_at_tick,
    span_clicks,
)
from renderer.spec.model import SegmentSpec
from renderer.spec.sound import ClickSpec
from renderer.timeline.model import Timeline

MOST_NAMED = 3
"""So many stretches are named as what is played; more are counted."""


@dataclass(frozen=True)
class PlaySchedule(Schedule):
    """The piece, or some of its sections, in real time."""

    spans: tuple[Span, ...]
    beat: Fraction
    """Seconds to the first beat, for the length of moves."""
    points: tuple[Pointed, ...] = ()
    """What the picture turns to while it sounds."""

    def span_at(self, seconds: Fraction) -> Span:
        """The span that sounds at `seconds`, the first one while it is counted in, the last one at the
        end."""
        if len(self.spans) == 1:
            return self.spans[0]
        starts = [span.seconds for span in self.spans]
        return self.spans[max(0, bisect_right(starts, seconds) - 1)]

    def finding(self) -> str:
        """What is played."""
        timeline = self.timeline
        first, last = self.spans[0], self.spans[-1]
        whole = (first.start, last.end) == (timeline.start, timeline.end) and len(self.spans) == 1
        names = list(dict.fromkeys(name for span in self.spans for name in self._names(span)))
        what = timeline.title if whole else briefly_listed(names, MOST_NAMED)
        slower = "" if timeline.speed == 1 else f" at {float(100 * timeline.speed):g} %"
        return f"{what}, played{slower}"

    def _names(self, span: Span) -> Iterable[str]:
        """A span's sections, where it is whole ones; else its bars."""
        timeline = self.timeline
        inside = [s for s in timeline.sections if span.start < s.end and s.at < span.end]
        if span.start <= inside[0].at and span.end == inside[-1].end:
            return [section.name for section in inside]
        first, last = timeline.bar_at(span.start).number, timeline.bar_at(span.end - 1).number
        return [bars_from(first, last)]

    def seconds_at(self, at: int) -> Fraction | None:
        """When tick `at` sounds."""
        span = next((span for span in self.spans if span.start <= at < span.end), None)
        return self.seconds_of(span, at) if span else None

    def seconds_of(self, span: Span, at: int) -> Fraction:
        """When tick `at` of a span sounds in the segment."""
        return span.seconds + self.timeline.seconds(at) - self.timeline.seconds(span.start)

    def turning(self, point: Pointed) -> tuple[Fraction, Fraction]:
        """From when to when what is pointed at sounds, as far as it is played."""
        repetition = point.spot.repetition
        span = next(span for span in self.spans if span.start <= point.spot.at < span.end)
        start, end = max(span.start, repetition.at), min(span.end, repetition.end)
        return self.seconds_of(span, start), self.seconds_of(span, end)

    def position(self, seconds: Fraction) -> float:
        """Where the music stands at `seconds`, in ticks; before it begins at its start, after its end at its
        end."""
        span = self.span_at(seconds)
        at = self.timeline.clock.position(seconds - span.seconds + self.timeline.seconds(span.start))
        return min(float(span.end), max(float(span.start), at))


def schedule_play(timeline: Timeline, options: SegmentSpec, click: ClickSpec | None) -> PlaySchedule:
    """The music of some sections or bars, or all of it, in real time after its count-in; so many times round."""
    stretches = choose_spans(timeline, options)
    ahead = [lead_in(timeline, options, start) for start, _ in stretches]
    schedule = schedule_stretches(timeline, stretches * options.times, click, ahead * options.times)
    if options.times == 1:
        return _pointing(schedule, find_points(timeline, options))
    rounds = [
        Step(f"round {number}", span.seconds)
        for number, span in enumerate(schedule.spans[:: len(stretches)], start=1)
    ]
    counted = [step for step in schedule.steps if step.name == "count-in"]
    return replace(schedule, steps=(*counted, *rounds))


def _pointing(schedule: PlaySchedule, points: Sequence[Pointed]) -> PlaySchedule:
    """The same with a step where each point sounds."""
    if not points:
        return schedule
    found = [Step(point.name, schedule.turning(point)[0]) for point in points]
    steps = sorted([*schedule.steps, *found], key=lambda step: step.seconds)
    return replace(schedule, steps=name_steps(steps), points=tuple(points))


def schedule_piece(timeline: Timeline, click: ClickSpec | None) -> PlaySchedule:
    """The whole piece in real time after its count-in."""
    return schedule_stretches(timeline, choose_spans(timeline, SegmentSpec("play")), click)


def schedule_stretches(
    timeline: Timeline,
    stretches: Iterable[tuple[int, int]],
    click: ClickSpec | None,
    ahead: Iterable[int | None] = (),
) -> PlaySchedule:
    """Stretches of the piece in real time after a count-in; those that do not touch follow without a gap."""
    both = zip_longest(stretches, ahead)
    spans = [Span(start, end, Fraction(0), before) for (start, end), before in both]
    downbeat = timeline.bar_at(spans[0].start)
    counted = timeline.bar_at(max(0, spans[0].start))
    bars, beats = (click.count_in, click.count_in_beats) if click else (0, 0)
    lead = count_in_seconds(timeline, counted, bars, beats)
    if spans[0].start < 0:
        lead = max(Fraction(0), lead + timeline.seconds(spans[0].start))
    spans = place_spans(timeline, spans, lead)
    clicks = [
        *count_in_before(timeline, spans[0], lead),
        *span_clicks(timeline, spans, click.every if click else ()),
    ]
    steps = [Step("count-in", Fraction(0))] if lead else []
    for span in spans:
        inside = [section for section in timeline.sections if span.start <= section.at < span.end]
        if span.start >= 0 and span.start not in (section.at for section in inside):
            steps.append(Step(f"bar {timeline.bar_at(span.start).number}", span.seconds))
        steps += [Step(s.name, seconds_at_tick(timeline, [span], s.at)) for s in inside]
    return PlaySchedule(
        timeline=timeline,
        seconds=end_seconds(timeline, spans[-1]),
        clicks=tuple(clicks) if click else (),
        steps=tuple(steps),
        spans=tuple(spans),
        beat=bar_seconds(timeline, downbeat) / len(downbeat.meter.beats),
    )
