"""What `wheel` walks round and when: a figure laid round the bar until it starts on the downbeat again.

With n pulses to the figure and m to the bar it does so after the least number of repetitions that fill whole bars:
the denominator of n / m, over its numerator of bars.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from renderer.schedule.model import HOLD, REAL_TIME_LIMIT, Schedule, Step
from renderer.schedule.pace import choose_pace, pace_clicks
from renderer.schedule.spans import choose_spans
from renderer.spec.model import SegmentSpec
from renderer.spec.sound import ClickSpec
from renderer.timeline.model import Bar, Figure, Repetition, Timeline

MOST_SHOWN = 240
"""Repetitions; what takes longer to come home is walked only so far."""


@dataclass(frozen=True)
class WheelSchedule(Schedule):
    """A figure's way round the bar. Repetition k (from 0) starts at `arrivals[k]`; the last entry is the return."""

    figure: Figure
    bar: Bar
    """The bar in which it begins, whose meter is the circle."""
    bar_pulses: Fraction
    first: int
    """The tick at which it begins."""
    first_number: int
    """The number of the first repetition in its voice."""
    count: int
    """Repetitions until it is home."""
    turns: int
    """Bars until then."""
    played: int
    """How many of them the piece plays in a row."""
    sounding: Fraction
    """Up to how many pulses from its start the piece plays it so, with what is left of one that is cut."""
    comes_home: bool
    """Whether the piece plays the repetition that is back on the downbeat."""
    offsets: tuple[Fraction, ...]
    """In pulses, of each repetition that is shown, and of the return."""
    arrivals: tuple[Fraction, ...]
    home: Fraction
    term_starts: tuple[Fraction, ...]
    sentence: Fraction
    beat: Fraction

    @property
    def complete(self) -> bool:
        """Whether the whole way is shown."""
        return len(self.offsets) == self.count + 1

    def seconds_at(self, at: int) -> Fraction | None:
        """When the walk is as far from its start as tick `at` is."""
        repetitions = self.timeline.whole(at - self.first) / (self.figure.pulse * self.figure.pulses)
        seconds = self.arrivals[0] + repetitions * (self.arrivals[1] - self.arrivals[0])
        return seconds if self.arrivals[0] <= seconds <= self.home else None

    def position(self, seconds: Fraction) -> Fraction:
        """How many pulses have been walked at `seconds`."""
        each = self.arrivals[1] - self.arrivals[0]
        walked = (min(seconds, self.home) - self.arrivals[0]) / each
        return max(Fraction(0), walked) * self.figure.pulses


def schedule_wheel(timeline: Timeline, options: SegmentSpec, click: ClickSpec | None) -> WheelSchedule:
    """Count in, walk round at tempo (faster where that takes over half a minute), then the sum, a term a beat.

    Without a figure: the first one that the voice plays in the sections.
    """
    figure = timeline.figure(options.figure) if options.figure else None
    run = _find_run(timeline, figure, options)
    figure = figure or (timeline.figure(run[0].statement.figure or "") if run else timeline.figures[0])
    first = run[0].at if run else max(0, choose_spans(timeline, options)[0][0])
    bar = timeline.bar_at(first)
    pace = choose_pace(timeline, first, click)
    bar_pulses = bar.meter.length / figure.pulse
    ratio = Fraction(figure.pulses) / bar_pulses
    shown = min(ratio.denominator, MOST_SHOWN)
    beat, bar_seconds = pace.beats[0], sum(pace.beats)
    each = bar_seconds * ratio
    if each * shown > REAL_TIME_LIMIT:
        beats = max(1, int(REAL_TIME_LIMIT // beat))
        each = beat * (beats // shown) if beats >= shown else beat / -(-shown // beats)
    arrivals = [pace.lead + number * each for number in range(shown + 1)]
    home = arrivals[-1]
    told = pace.lead + -(-(home - pace.lead) // pace.step) * pace.step
    told += pace.step if told - home < pace.step / 2 else 0
    terms = [told + number * beat for number in range(4)]
    sentence = told + -(-(4 * beat) // pace.step) * pace.step
    played, sounding = _in_step(run, bar_pulses)
    back = run[ratio.denominator] if len(run) > ratio.denominator else None
    real = each == bar_seconds * ratio
    sounds = min(home, pace.lead + each * sounding / figure.pulses)
    clicks = pace_clicks(timeline, pace, sounds) if click and real else ()
    steps = [Step("count-in" if click else "bar", Fraction(0)), Step("round", pace.lead), Step("home", home)]
    return WheelSchedule(
        timeline=timeline,
        seconds=sentence + max(HOLD, 4 * beat),
        clicks=clicks,
        steps=(*steps, Step("sum", told), Step("sentence", sentence)),
        figure=figure,
        bar=bar,
        bar_pulses=bar_pulses,
        first=first,
        first_number=run[0].number if run else 1,
        count=ratio.denominator,
        turns=ratio.numerator,
        played=played,
        sounding=sounding,
        comes_home=back is not None and _is_home(timeline, back),
        offsets=tuple(number * figure.pulses % bar_pulses for number in range(shown + 1)),
        arrivals=tuple(arrivals),
        home=home,
        term_starts=tuple(terms),
        sentence=sentence,
        beat=beat,
    )


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


def _in_step(run: Sequence[Repetition], bar_pulses: Fraction) -> tuple[int, Fraction]:
    """How many whole repetitions of a run start where the walk round this bar says, and how many pulses of it sound
    so."""
    sounding = Fraction(0)
    for number, each in enumerate(run):
        pulse, length = each.statement.pulse, each.statement.length
        if Fraction(each.offset, pulse) != Fraction(number * length, pulse) % bar_pulses:
            return number, sounding
        sounding += Fraction(each.statement.sounding_length, pulse)
        if each.statement.kind != "whole":
            return number, sounding
    return len(run), sounding
