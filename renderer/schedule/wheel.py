"""What `wheel` walks round and when: a figure laid round the bar until it starts on the downbeat again.

With n pulses to the figure and m to the bar it does so after the least number of repetitions that fill whole bars:
the denominator of n / m, over its numerator of bars. What the piece plays of that runs at tempo for some bars, with
its click; the rest, and the way on that the piece does not play, in a hurry and in silence.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from renderer.schedule.course import AT_ONCE, HURRY_SECONDS, ROW_SECONDS, Course, begin_course
from renderer.schedule.model import Schedule, Step
from renderer.schedule.pace import AFTER_ANSWER, STILL_LEAD, reading_seconds
from renderer.schedule.phrases import Phrases, text_of
from renderer.schedule.spans import choose_spans
from renderer.schedule.wheel_sentences import (
    Slip,
    Way,
    slip_of,
    wheel_answer,
    wheel_question,
)
from renderer.spec.model import SegmentSpec
from renderer.spec.sound import ClickSpec
from renderer.timeline.model import Bar, Figure, Repetition, Timeline

MOST_SHOWN = 240
"""Repetitions; what takes longer to come home is walked only so far."""
TURN_SECONDS = ROW_SECONDS / 3
"""Seconds for a turn in a hurry."""


@dataclass(frozen=True)
class Walk:
    """Where on its way a figure is when, in pulses from its first start."""

    course: Course | None
    """What is at tempo; None where the piece plays nothing of it."""
    pulse: int
    """In ticks."""
    real: Fraction
    """Pulses at tempo."""
    length: Fraction
    begins: Fraction
    real_end: Fraction
    ends: Fraction

    def position(self, seconds: Fraction) -> float:
        """How many pulses have been walked at `seconds`."""
        if seconds < self.real_end and self.course:
            return (self.course.position(seconds) - self.course.start) / self.pulse
        if seconds >= self.ends:
            return float(self.length)
        share = max(Fraction(0), seconds - self.real_end) / (self.ends - self.real_end)
        return float(self.real + (self.length - self.real) * share)

    def seconds(self, walked: Fraction) -> Fraction:
        """When so many pulses have been walked."""
        if walked < self.real and self.course:
            timeline, start = self.course.timeline, self.course.start
            return self.begins + timeline.seconds(start + int(walked * self.pulse)) - timeline.seconds(start)
        if self.length == self.real:
            return self.ends
        share = (walked - self.real) / (self.length - self.real)
        return self.real_end + (self.ends - self.real_end) * share


@dataclass(frozen=True)
class WheelSchedule(Schedule):
    """A figure's way round the bar. Repetition k (from 0) starts at `arrivals[k]`; the last entry is the return."""

    sets_out = AT_ONCE
    figure: Figure
    bar: Bar
    """The bar in which it begins, whose meter is the circle."""
    bar_pulses: Fraction
    first: int
    """The tick at which it begins."""
    run: tuple[Repetition, ...]
    """The statements that the piece plays in a row from there on, until it is home."""
    way: Way
    slip: Slip
    sounding: Fraction
    """Up to how many pulses from its start the piece plays it so, with what is left of one that is cut."""
    offsets: tuple[Fraction, ...]
    """In pulses, of each repetition that is shown, and of the return."""
    walk: Walk
    arrivals: tuple[Fraction, ...]
    answered: Fraction
    question: Phrases
    answer: Phrases

    @property
    def first_number(self) -> int:
        """Which one the first repetition is: in its figure's row, or in the piece."""
        if not self.run:
            return 1
        first = self.run[0]
        return first.number if self.numbers == "piece" else first.counted or 1

    @property
    def complete(self) -> bool:
        """Whether the whole way is shown."""
        return self.way.shown == self.way.repetitions

    @property
    def home(self) -> Fraction:
        """When the way ends."""
        return self.walk.ends

    def finding(self) -> str:
        """Where the way leads."""
        return text_of(self.answer)

    def seconds_at(self, at: int) -> Fraction | None:
        """When the walk is as far from its start as tick `at` is."""
        walked = Fraction(at - self.first, self.walk.pulse)
        return self.walk.seconds(walked) if 0 <= walked <= self.walk.length else None


def schedule_wheel(timeline: Timeline, options: SegmentSpec, click: ClickSpec | None) -> WheelSchedule:
    """The bar with a question, the walk round it, the sum and the answer.

    Without a figure: the first one that the voice plays in the sections.
    """
    figure = timeline.figure(options.figure) if options.figure else None
    run = _find_run(timeline, figure, options)
    figure = figure or (timeline.figure(run[0].statement.figure or "") if run else timeline.figures[0])
    first = run[0].at if run else max(0, choose_spans(timeline, options)[0][0])
    bar = timeline.bar_at(first)
    bar_pulses = bar.meter.length / figure.pulse
    ratio = Fraction(figure.pulses) / bar_pulses
    shown = min(ratio.denominator, MOST_SHOWN)
    sounding, started = _in_step(timeline, run, bar_pulses)
    home = started > ratio.denominator and (
        ratio.denominator == 1 or _is_home(timeline, run[ratio.denominator])
    )
    reached = ratio.denominator + 1 if home else min(started, ratio.denominator)
    way = Way(ratio.denominator, ratio.numerator, reached, sounding / bar_pulses, shown)
    slip = slip_of(figure.pulses, bar_pulses)
    walk = _walk(
        timeline, first, figure, bar_pulses, min(sounding, Fraction(shown * figure.pulses)), shown, click
    )
    question, answer = wheel_question(figure), wheel_answer(figure, slip, way)
    answered = max(walk.ends, reading_seconds(text_of(question), timeline.words))
    steps = [Step("bar", Fraction(0)), Step("round", walk.begins)]
    steps += [Step("home", walk.ends)] * (walk.ends < answered)
    return WheelSchedule(
        timeline=timeline,
        seconds=answered + reading_seconds(text_of(answer), timeline.words) + 2 * AFTER_ANSWER,
        clicks=walk.course.clicks(click) if walk.course else (),
        steps=(*steps, Step("answer", answered)),
        figure=figure,
        bar=bar,
        bar_pulses=bar_pulses,
        first=first,
        run=tuple(run[: way.reached]),
        way=way,
        slip=slip,
        sounding=sounding,
        offsets=tuple(number * figure.pulses % bar_pulses for number in range(shown + 1)),
        walk=walk,
        arrivals=tuple(walk.seconds(Fraction(number * figure.pulses)) for number in range(shown + 1)),
        answered=answered,
        question=question,
        answer=answer,
    )


def _walk(
    timeline: Timeline,
    first: int,
    figure: Figure,
    bar_pulses: Fraction,
    sounding: Fraction,
    shown: int,
    click: ClickSpec | None,
) -> Walk:
    """What is played at tempo, for some bars; then 0.5 seconds a turn, 1.5 at least and 6 at most."""
    pulse, length = int(figure.pulse * timeline.grid), Fraction(shown * figure.pulses)
    course, real, begins, real_end = None, Fraction(0), STILL_LEAD, STILL_LEAD
    if sounding:
        course, _ = begin_course(timeline, [(first, first + int(sounding * pulse))], click)
        real = Fraction(course.spans[-1].end - first, pulse)
        begins, real_end = course.begins, course.real_end
    hurry = (length - real) / bar_pulses * TURN_SECONDS
    ends = real_end + (min(HURRY_SECONDS, max(ROW_SECONDS, hurry)) if hurry else 0)
    return Walk(course, pulse, real, length, begins, real_end, ends)


def _find_run(timeline: Timeline, figure: Figure | None, options: SegmentSpec) -> list[Repetition]:
    """The first repetition of the figure that starts on a downbeat, and those that follow it without a break."""
    spans = choose_spans(timeline, options)
    voices = [options.voice] if options.voice else list(timeline.voices)
    for name in voices:
        run: list[Repetition] = []
        for each in timeline.repetitions:
            if each.voice != name:
                continue
            fits = each.statement.figure is not None and (
                each.statement.figure == figure.name if figure else not run or _same(each, run[0])
            )
            if run and not (fits and run[-1].end == each.at and not run[-1].statement.cut):
                break
            inside = any(start <= each.at < end for start, end in spans)
            if fits and (run or (inside and not each.offset and each.bar_number > 0)):
                run.append(each)
        if run:
            return run
    return []


def _same(one: Repetition, other: Repetition) -> bool:
    return one.statement.figure == other.statement.figure


def _is_home(timeline: Timeline, repetition: Repetition) -> bool:
    """Whether a repetition has come round to a downbeat by itself."""
    key = repetition.voice, repetition.number
    return any((home.voice, home.repetition_number) == key for home in timeline.realignments)


def _in_step(timeline: Timeline, run: Sequence[Repetition], bar_pulses: Fraction) -> tuple[Fraction, int]:
    """How many pulses of a run sound where the walk round this bar says, and how many repetitions start so."""
    if not run:
        return Fraction(0), 0
    length = timeline.bar_at(run[0].at).meter.length
    others = (bar.at for bar in timeline.bars if bar.at > run[0].at and bar.meter.length != length)
    stop = next(others, timeline.end)
    sounding, started = Fraction(0), 0
    for number, each in enumerate(run):
        statement = each.statement
        in_step = (
            Fraction(each.offset, statement.pulse)
            == number * statement.length // statement.pulse % bar_pulses
        )
        if each.at >= stop or not in_step:
            break
        started += 1
        sounding += Fraction(min(each.end, stop) - each.at, statement.pulse)
        if statement.kind != "whole" or each.end > stop:
            break
    return sounding, started
