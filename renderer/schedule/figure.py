"""When `figure` shows what: the figure counted twice, the second time with its accents, then its sum, then counted on a
staff if that is asked for."""

from dataclasses import dataclass
from fractions import Fraction

from renderer.schedule.clicks import bar_seconds, beat_starts, even_clicks
from renderer.schedule.model import HOLD, SLOWEST_COUNT, Schedule, Step
from renderer.schedule.spans import lead_seconds
from renderer.spec.model import SegmentSpec
from renderer.spec.sound import ClickSpec
from renderer.timeline.model import Bar, Figure, Timeline


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


def schedule_figure(timeline: Timeline, options: SegmentSpec, click: ClickSpec | None) -> FigureSchedule:
    """Count in, count the figure, count it again with its accents, add its groups up; with a staff, count it once
    more.

    It is counted at the piece's speed where it is first played, slower if a pulse would be under 0.2 s.
    """
    figure = timeline.figure(options.figure) if options.figure else timeline.figures[0]
    bar, pulse = _counting_place(timeline, figure)
    bar_pulses = bar.meter.length / figure.pulse
    pass_bars = -(-figure.pulses // bar_pulses)
    beats = [length / figure.pulse for length in bar.meter.beats]
    terms = beat_starts(beats, len(figure.groups) + 1)
    sum_bars = terms[-1] // bar_pulses + 1
    counted_bar = bar_pulses * pulse
    slower = counted_bar / bar_seconds(timeline, bar)
    count_start = lead_seconds(timeline, bar, click) * slower
    accent_start = count_start + pass_bars * counted_bar
    sum_start = accent_start + pass_bars * counted_bar
    hold_bars = -(-HOLD // counted_bar)
    staff_start = sum_start + sum_bars * counted_bar if options.staff else None
    lead_bars = int(-(-count_start // counted_bar))
    clicked_bars = int(lead_bars + (3 if options.staff else 2) * pass_bars + sum_bars)
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
        timeline=timeline,
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


def _counting_place(timeline: Timeline, figure: Figure) -> tuple[Bar, Fraction]:
    """The first full bar in which the figure is played, and the seconds of its pulse there, slowed for
    counting."""
    starts = [r.bar_number for r in timeline.repetitions if r.statement.figure == figure.name]
    number = max(1, starts[0] if starts else 1)
    bar = next(bar for bar in timeline.bars if bar.number == number)
    pulse = bar_seconds(timeline, bar) * figure.pulse / bar.meter.length
    return bar, max(SLOWEST_COUNT, pulse)
