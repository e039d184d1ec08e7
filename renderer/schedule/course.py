"""How an explaining segment runs along the piece: some bars at tempo, with their click, then the rest in a hurry and
without a sound.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

from renderer.schedule.clicks import bar_seconds, count_in_clicks
from renderer.schedule.model import Span
from renderer.schedule.pace import short_lead
from renderer.schedule.spans import count_in_before, end_seconds, place_spans, span_clicks
from renderer.spec.click import Click
from renderer.spec.sound import ClickSpec
from renderer.timeline.model import Timeline

REAL_BARS, REAL_SECONDS = 8, Fraction(24)
"""What is shown at tempo at most, in whole bars, but at least one."""
ROW = Fraction(8)
"""Whole notes that count as a row of bars, however many a picture has."""
AT_ONCE = Fraction(1, 20)
"""How long before a step its picture is told from it where nothing of a step sets out before it: the music has come up
to it by then."""
ROW_SECONDS, HURRY_SECONDS = Fraction(3, 2), Fraction(6)
"""Seconds for a row's worth of music in a hurry, and for all of it at most."""


class Hurry(NamedTuple):
    """A stretch of the piece, in ticks, that is run through evenly between two times of the segment."""

    start: int
    end: int
    seconds: Fraction
    until: Fraction


@dataclass(frozen=True, slots=True)
class Course:
    """Where in the piece a segment is when. What is at tempo comes first; the picture stands still between hurries."""

    timeline: Timeline
    spans: tuple[Span, ...]
    """At tempo."""
    hurries: tuple[Hurry, ...]
    counted: tuple[Fraction, ...]
    """When the beats before the music fall."""

    @property
    def stretches(self) -> tuple[tuple[int, int], ...]:
        """All of the music that is shown, in ticks, in order; those that touch are joined."""
        joined: list[tuple[int, int]] = []
        for start, end in [(s.start, s.end) for s in self.spans] + [(h.start, h.end) for h in self.hurries]:
            if joined and joined[-1][1] == start:
                joined[-1] = (joined[-1][0], end)
            else:
                joined.append((start, end))
        return tuple(joined)

    @property
    def start(self) -> int:
        """Where the music begins, in ticks."""
        return self.spans[0].start

    @property
    def begins(self) -> Fraction:
        """When the music begins."""
        return self.spans[0].seconds

    @property
    def real_end(self) -> Fraction:
        """When time stops being real."""
        return end_seconds(self.timeline, self.spans[-1])

    @property
    def ends(self) -> Fraction:
        """When all of the music has been shown."""
        return self.hurries[-1].until if self.hurries else self.real_end

    def position(self, seconds: Fraction) -> float:
        """Where it is at `seconds`, in ticks; before the music at its start, after it at its end."""
        if seconds < self.real_end or not self.hurries:
            starts = [span.seconds for span in self.spans]
            span = self.spans[max(0, bisect_right(starts, seconds) - 1)]
            at = self.timeline.clock.position(seconds - span.seconds + self.timeline.seconds(span.start))
            return min(float(span.end), max(float(span.start), at))
        index = bisect_right([hurry.seconds for hurry in self.hurries], seconds) - 1
        if index < 0:
            return float(self.spans[-1].end)
        start, end, since, until = self.hurries[index]
        share = min(Fraction(1), (seconds - since) / (until - since))
        return float(start + (end - start) * share)

    def seconds_at(self, at: int) -> Fraction | None:
        """When it is at a tick; None where it does not come by."""
        for span in self.spans:
            if span.start <= at < span.end:
                return span.seconds + self.timeline.seconds(at) - self.timeline.seconds(span.start)
        for start, end, since, until in self.hurries:
            if start <= at < end:
                return since + (until - since) * Fraction(at - start, end - start)
        return None

    def counted_beat(self, seconds: Fraction) -> int | None:
        """Which beat of its bar is counted in before `seconds`; None without a count-in."""
        if not self.counted:
            return None
        beats = len(self.timeline.bar_at(max(0, self.start)).meter.beats)
        left = len(self.counted) - bisect_left(self.counted, seconds)
        return beats - left % beats

    def clicks(self, click: ClickSpec | None) -> tuple[Click, ...]:
        """The count-in and the click of what is at tempo."""
        if click is None:
            return ()
        first = self.spans[0]
        counted = count_in_before(self.timeline, first, first.seconds)
        return (*counted, *span_clicks(self.timeline, self.spans, click.every))


def begin_course(
    timeline: Timeline,
    stretches: Iterable[tuple[int, int]],
    click: ClickSpec | None,
) -> tuple[Course, list[tuple[int, int]]]:
    """What is shown at tempo of some stretches of the piece, after a count-in, and which stretches are left to
    hurry through."""
    spans, left = _split(timeline, list(stretches))
    bar = timeline.bar_at(max(0, spans[0][0]))
    beat = bar_seconds(timeline, bar) / bar.meter.length
    lead = short_lead([length * beat for length in bar.meter.beats], click)
    placed = place_spans(timeline, [Span(start, end, Fraction(0)) for start, end in spans], lead)
    counted: tuple[Fraction, ...] = ()
    if click is not None:
        downbeat = lead - timeline.seconds(placed[0].start) + timeline.seconds(max(0, placed[0].start))
        counted = tuple(c.seconds for c in count_in_clicks(timeline, bar, downbeat, lead))
    return Course(timeline, tuple(placed), (), counted), left


def run_course(timeline: Timeline, stretches: Iterable[tuple[int, int]], click: ClickSpec | None) -> Course:
    """A course that hurries evenly, 1.5 seconds for each row of bars, 6 at most."""
    course, left = begin_course(timeline, stretches, click)
    whole = sum((timeline.whole(end - start) for start, end in left), Fraction(0))
    if not whole:
        return course
    length = min(HURRY_SECONDS, -(-whole // ROW) * ROW_SECONDS)
    seconds, hurries = course.real_end, []
    for start, end in left:
        until = seconds + length * timeline.whole(end - start) / whole
        hurries.append(Hurry(start, end, seconds, until))
        seconds = until
    return Course(timeline, course.spans, tuple(hurries), course.counted)


def _split(
    timeline: Timeline, stretches: Sequence[tuple[int, int]]
) -> tuple[list[tuple[int, int]], list[tuple[int, int]]]:
    """The stretches up to where time stops being real, and beyond."""
    real: list[tuple[int, int]] = []
    left: list[tuple[int, int]] = []
    bars, seconds = 0, Fraction(0)
    for start, end in stretches:
        stop = start
        for bar in timeline.bars:
            if not start <= bar.at < end or bar.number < 1:
                continue
            length = timeline.seconds(min(bar.end, end)) - timeline.seconds(bar.at)
            if left or (bars and (bars == REAL_BARS or seconds + length > REAL_SECONDS)):
                break
            bars, seconds, stop = bars + 1, seconds + length, min(bar.end, end)
        if stop > start:
            real.append((start, stop))
        if stop < end:
            left.append((stop, end))
    return real, left
