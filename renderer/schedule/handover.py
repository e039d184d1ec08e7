"""When `handover` shows what: where one list ends and the next begins, heard once at tempo, then what lies before the
line and over it, the sum, and the answer."""

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from renderer.core.errors import Problem
from renderer.core.names import listed
from renderer.schedule.handover_words import (
    HandoverSum,
    Meeting,
    Share,
    find_meetings,
    handover_answer,
    handover_question,
    handover_shares,
    handover_sum,
    section_names,
)
from renderer.schedule.lead import lead_to
from renderer.schedule.model import Schedule, Span, Step
from renderer.schedule.pace import AFTER_ANSWER, reading_seconds
from renderer.schedule.phrases import Phrases, text_of
from renderer.schedule.spans import choose_voice, end_seconds, span_clicks
from renderer.spec.model import SegmentSpec
from renderer.spec.sound import ClickSpec
from renderer.timeline.model import Timeline

NEAR, MOST_APART = 16, 24
"""Pulses: so much at most is heard before the line or the new start, whichever comes first, and of the new figure; a
line that lies further before the new start than the second is not seen."""
NEXT_SHARE = Fraction(6, 5)
"""Seconds after which the next share, the sum and the answer follow."""


@dataclass(frozen=True)
class HandoverSchedule(Schedule):
    """One handover close up; without one only its question, which says so."""

    meeting: Meeting | None
    voice: str
    several: bool
    """Whether the piece has other voices."""
    pulse: int
    """Ticks to what is counted under the line."""
    start: int
    """From which tick it is heard, in the old figure if that is not too long."""
    stop: int
    """Up to which tick, in the new one."""
    span: Span
    """The beats in which that lies, and when they sound."""
    shares: tuple[Share, ...]
    share_times: tuple[Fraction, ...]
    added: HandoverSum | None
    sum_time: Fraction
    answered: Fraction
    question: Phrases
    answer: Phrases

    def finding(self) -> str:
        """What happens at the line."""
        return text_of(self.answer or self.question)

    @property
    def ends(self) -> Fraction:
        """When the music ends."""
        return end_seconds(self.timeline, self.span)

    def seconds_at(self, at: int) -> Fraction | None:
        """When tick `at` sounds."""
        if not self.span.start <= at < self.span.end:
            return None
        return self.span.seconds + self.timeline.seconds(at) - self.timeline.seconds(self.span.start)

    def position(self, seconds: Fraction) -> float:
        """Where the music is, in ticks: before it at its first beat, after it at its end."""
        elapsed = seconds - self.span.seconds + self.timeline.seconds(self.span.start)
        at = self.timeline.clock.position(elapsed)
        return min(float(self.span.end), max(float(self.span.start), at))


def choose_meeting(timeline: Timeline, options: SegmentSpec) -> Meeting | None:
    """The first handover into the section that is asked for; without one the first that is not just on the line, else
    the first."""
    meetings = find_meetings(timeline, choose_voice(timeline, options.voice))
    if options.section is not None:
        return next((m for m in meetings if section_names(timeline, m)[1] == options.section), None)
    telling = [m for m in meetings if m.handover.over > 0 or not m.on_line or m.missed]
    cut = [m for m in meetings if m.handover.cut]
    return next(iter(telling or cut or meetings), None)


def check_handover(timeline: Timeline, options: SegmentSpec) -> Iterator[Problem]:
    """A section that is asked for and that nothing hands over to."""
    if options.section is None or choose_meeting(timeline, options) is not None:
        return
    meetings = find_meetings(timeline, choose_voice(timeline, options.voice))
    names = list(dict.fromkeys(section_names(timeline, meeting)[1] for meeting in meetings))
    text = f"nothing hands over to {options.section}."
    mend = f"Write {listed(names)}." if names else "There is no handover in this piece."
    yield Problem((*options.path, "section"), text, mend)


def schedule_handover(timeline: Timeline, options: SegmentSpec, click: ClickSpec | None) -> HandoverSchedule:
    """The question, the music at tempo, then a share, the sum and the answer one after another."""
    voice = choose_voice(timeline, options.voice)
    meeting = choose_meeting(timeline, options)
    question = handover_question(meeting)
    read = reading_seconds(text_of(question), timeline.words)
    if meeting is None:
        return _without(timeline, voice, question, read)
    pulse = min(meeting.last.statement.pulse, meeting.first.statement.pulse)
    start, stop = _heard(meeting, pulse)
    beat = timeline.beat_at(start)
    until = timeline.beat_at(stop - 1).end
    lead, clicks = lead_to(timeline, beat, Fraction(0), Fraction(1), click, read)
    span = Span(min(beat.at, start), until, lead)
    shift = lead - timeline.seconds(span.start)
    clicks += span_clicks(timeline, [span], click.every) if click else []
    ends = shift + timeline.seconds(until)
    added = handover_sum(timeline, meeting)
    shares = handover_shares(meeting, added)
    times = tuple(ends + number * NEXT_SHARE for number in range(len(shares)))
    sum_time = ends + len(shares) * NEXT_SHARE
    answered = sum_time + (NEXT_SHARE if added else 0)
    answer = handover_answer(timeline, meeting, pulse)
    steps = [
        Step("line", Fraction(0)),
        Step("music", lead),
        *([Step("shares", ends)] if shares else []),
        *([Step("sum", sum_time)] if added else []),
        Step("answer", answered),
    ]
    return HandoverSchedule(
        timeline=timeline,
        seconds=answered + reading_seconds(text_of(answer), timeline.words) + AFTER_ANSWER,
        clicks=tuple(clicks) if click else (),
        steps=tuple(steps),
        meeting=meeting,
        voice=voice,
        several=len(timeline.voices) > 1,
        pulse=pulse,
        start=start,
        stop=stop,
        span=span,
        shares=shares,
        share_times=times,
        added=added,
        sum_time=sum_time,
        answered=answered,
        question=question,
        answer=answer,
    )


def _heard(meeting: Meeting, pulse: int) -> tuple[int, int]:
    """What is heard of a handover, in ticks."""
    at, line = meeting.handover.at, meeting.handover.line
    near = max(min(line, at), at - MOST_APART * pulse) - NEAR * pulse
    return max(meeting.last.at, near), min(meeting.first.end, at + NEAR * pulse)


def _without(timeline: Timeline, voice: str, question: Phrases, read: Fraction) -> HandoverSchedule:
    """A piece in which nothing hands over: its first bars, and that it is so."""
    start, end = timeline.bars[0].at, timeline.bars[min(len(timeline.bars), 2) - 1].end
    return HandoverSchedule(
        timeline=timeline,
        seconds=read + AFTER_ANSWER,
        clicks=(),
        steps=(Step("line", Fraction(0)),),
        meeting=None,
        voice=voice,
        several=len(timeline.voices) > 1,
        pulse=max(1, (end - start) // 28),
        start=start,
        stop=end,
        span=Span(start, start, Fraction(0)),
        shares=(),
        share_times=(),
        added=None,
        sum_time=read,
        answered=read,
        question=question,
        answer=(),
    )
