"""When `figure` shows what: the figure counted twice over its bar, the second time with its accents, then its sum, then
counted on a staff if that is asked for, and at last where the next one starts."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from renderer.schedule.clicks import bar_seconds, even_clicks
from renderer.schedule.model import SLOWEST_COUNT, Schedule, Step
from renderer.schedule.pace import AFTER_ANSWER, reading_seconds, short_lead
from renderer.schedule.phrases import Phrase, Phrases, sentence, text_of
from renderer.schedule.wording import SPELLED, mixed, number_word, ordinal_word, sum_text
from renderer.spec.click import Click
from renderer.spec.model import SegmentSpec
from renderer.spec.sound import ClickSpec
from renderer.timeline.model import Bar, Figure, Timeline

LEAST_TERM, MOST_TERM, MOST_SUM = Fraction(2, 5), Fraction(4, 5), Fraction(5)
"""Seconds from one term of the sum to the next, as a rule a beat, and that all of them take at most."""


class Against(NamedTuple):
    """How a figure stands against its bar, in pulses. Just one of `early` and `late` is above 0, or neither."""

    pulses: int
    bar: Fraction
    bars: int
    """So many bars hold one statement."""
    fitting: int
    """So many statements fit into these."""
    early: Fraction
    """How far before the next downbeat the statement starts that no longer fits."""
    late: Fraction
    """How far after the last downbeat the next one starts, where that is nearer."""

    @property
    def shown(self) -> Fraction:
        """The bars' length in pulses."""
        return self.bars * self.bar


def stand_against(pulses: int, bar: Fraction) -> Against:
    """A figure of so many pulses against a bar of `bar` pulses, both from the same downbeat on."""
    bars = -int(-pulses // bar)
    fitting = int(bars * bar // pulses)
    early = bars * bar - fitting * pulses
    late = pulses - (bars - 1) * bar
    if bars > 1 and late < early:
        return Against(pulses, bar, bars, fitting, Fraction(0), late)
    return Against(pulses, bar, bars, fitting, early, Fraction(0))


@dataclass(frozen=True)
class FigureSchedule(Schedule):
    """The figure counted twice, then its sum, on a staff if that is asked for, then the answer. Pulse `n` of a pass
    sounds at the pass's start plus n x `pulse`."""

    figure: Figure
    bar: Bar
    against: Against
    is_followed: bool
    """Whether the piece plays two statements of it in a row."""
    pulse: Fraction
    """Seconds to a pulse, as it is counted."""
    quarters: Fraction
    """The tempo at which it is counted, in quarters a minute."""
    piece_quarters: Fraction
    """The piece's own there."""
    count_start: Fraction
    accent_start: Fraction
    term_starts: tuple[Fraction, ...]
    """When each term of the sum appears, the total last."""
    answer_start: Fraction
    staff_start: Fraction | None = None
    """When the pass begins in which the notes on the staff are read; None without a staff."""

    def finding(self) -> str:
        """Its sum."""
        return f"{self.figure.name}: {sum_text(self.figure)}"


def figure_question(figure: Figure) -> Phrases:
    """What is asked while the figure is counted."""
    return sentence("How long is ", Phrase(figure.name, "figure"), ", and where does the next one start?")


def figure_answer(against: Against, is_followed: bool) -> Phrases:
    """How long the figure is against its bar, and where the next one starts.

    >>> text_of(figure_answer(stand_against(11, Fraction(16)), True))
    'Eleven against sixteen: the next one starts 5 early.'
    >>> text_of(figure_answer(stand_against(5, Fraction(12)), True))
    'Five against twelve: the third one starts 2 early.'
    >>> text_of(figure_answer(stand_against(21, Fraction(16)), False))
    '21 against 16: the next one would start 5 late.'
    """
    one, other = str(against.pulses), mixed(against.bar)
    if against.pulses <= len(SPELLED) and against.bar <= len(SPELLED):
        one, other = number_word(against.pulses, capital=True), number_word(against.bar)
    verb = "starts" if is_followed else "would start"
    which = "next" if against.fitting == 1 else ordinal_word(against.fitting + 1)
    if against.early or against.late:
        away = f"{mixed(against.early)} early" if against.early else f"{mixed(against.late)} late"
        answer = f"the {which} one {verb} {away}."
    elif against.fitting > 1:
        answer = f"{number_word(against.fitting)} of them fill a bar."
    else:
        answer = f"the next one {verb} on a downbeat."
    return sentence(f"{one} against {other}: ", Phrase(answer, "figure"))


def schedule_figure(timeline: Timeline, options: SegmentSpec, click: ClickSpec | None) -> FigureSchedule:
    """Count in, count the figure, count it again with its accents, add its groups up, with a staff count it once more,
    and tell where the next one starts.

    It is counted at the piece's speed where it is first played, slower if a pulse would be under 0.2 s. It clicks
    while it is counted, and is silent while it is added up.
    """
    figure = timeline.figure(options.figure) if options.figure else timeline.figures[0]
    bar, written = _counting_place(timeline, figure)
    pulse = max(SLOWEST_COUNT, written)
    against = stand_against(figure.pulses, bar.meter.length / figure.pulse)
    is_followed = follows_itself(timeline, figure)
    beats = [length / figure.pulse * pulse for length in bar.meter.beats]
    lead, one_pass = short_lead(beats, click), against.shown * pulse
    accent_start = lead + one_pass
    sum_start = accent_start + one_pass
    apart = min(max(LEAST_TERM, min(MOST_TERM, beats[0])), MOST_SUM / len(figure.groups))
    terms = [sum_start + number * apart for number in range(len(figure.groups) + 1)]
    added = terms[-1] + max(apart, LEAST_TERM)
    staff_start = added + lead if options.staff else None
    answer = added if staff_start is None else staff_start + one_pass + LEAST_TERM
    clicks = _pass_clicks(beats, lead, lead, 2 * against.bars)
    steps = [
        Step("count-in", Fraction(0)),
        Step("count", lead),
        Step("accents", accent_start),
        Step("sum", sum_start),
    ]
    if staff_start is not None:
        clicks += _pass_clicks(beats, lead, staff_start, against.bars)
        steps.append(Step("staff", staff_start))
    steps.append(Step("next", answer))
    quarter = Fraction(1, 4) / figure.pulse
    return FigureSchedule(
        timeline=timeline,
        seconds=answer
        + reading_seconds(text_of(figure_answer(against, is_followed)), timeline.words)
        + AFTER_ANSWER,
        clicks=tuple(clicks) if click else (),
        steps=tuple(steps),
        figure=figure,
        bar=bar,
        against=against,
        is_followed=is_followed,
        pulse=pulse,
        quarters=60 / (quarter * pulse),
        piece_quarters=60 / (quarter * written) / timeline.speed,
        count_start=lead,
        accent_start=accent_start,
        term_starts=tuple(terms),
        answer_start=answer,
        staff_start=staff_start,
    )


def _pass_clicks(beats: Sequence[Fraction], lead: Fraction, start: Fraction, bars: int) -> list[Click]:
    """A click on every beat of so many bars from `start` on, and of the last beats before it that fit in `lead`."""
    bar = sum(beats)
    ahead = -int(-lead // bar)
    return [
        click._replace(seconds=start - ahead * bar + click.seconds)
        for click in even_clicks(ahead + bars, beats)
        if click.seconds >= ahead * bar - lead
    ]


def follows_itself(timeline: Timeline, figure: Figure) -> bool:
    """Whether a whole statement of the figure is followed at once by another one somewhere in the piece."""
    for voice in timeline.voices:
        own = [r for r in timeline.repetitions if r.voice == voice]
        for before, after in pairwise(own):
            whole = before.statement.figure == figure.name and before.statement.kind == "whole"
            if whole and after.statement.figure == figure.name and before.end == after.at:
                return True
    return False


def _counting_place(timeline: Timeline, figure: Figure) -> tuple[Bar, Fraction]:
    """The first full bar in which the figure is played, and the seconds of its pulse there."""
    starts = [r.bar_number for r in timeline.repetitions if r.statement.figure == figure.name]
    number = max(1, starts[0] if starts else 1)
    bar = next(bar for bar in timeline.bars if bar.number == number)
    return bar, bar_seconds(timeline, bar) * figure.pulse / bar.meter.length
