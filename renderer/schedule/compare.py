"""When `compare` shows what: the figure; its copy; what is taken out; what follows closes up; what is added; the
difference; the new total. Each is in place on the beat that begins its step."""

from dataclasses import dataclass
from fractions import Fraction

from renderer.schedule.model import HOLD, Schedule
from renderer.schedule.pace import Step, choose_pace, pace_clicks
from renderer.spec.model import SegmentSpec
from renderer.spec.sound import ClickSpec
from renderer.timeline.model import Figure, Timeline
from renderer.timeline.variant import Comparison, compare_figures


@dataclass(frozen=True)
class CompareSchedule(Schedule):
    """Seconds at which each stage is complete; a stage that a variant does without falls together with the one
    before."""

    figure: Figure
    variant: Figure
    comparison: Comparison
    copied: Fraction
    taken: Fraction
    moved: Fraction
    added: Fraction
    difference: Fraction
    total: Fraction
    beat: Fraction


def schedule_compare(timeline: Timeline, options: SegmentSpec, click: ClickSpec | None) -> CompareSchedule:
    """A count-in while the figure stands, then a step a stage; without a figure the first variant that there is."""
    variants = (figure for figure in timeline.figures if figure.origin)
    variant = timeline.figure(options.figure) if options.figure else next(variants)
    figure = timeline.figure(str(variant.origin))
    comparison = compare_figures(figure, variant)
    pace = choose_pace(timeline, 0, click)
    steps = [Step("figure", Fraction(0)), Step("copy", pace.lead)]
    at = pace.lead
    ends = {}
    for name, needed in (
        ("taken out", bool(comparison.taken)),
        ("moved", comparison.moves),
        ("added", bool(comparison.added)),
        ("difference", True),
        ("total", True),
    ):
        if needed:
            at += pace.step
            steps.append(Step(name, at))
        ends[name] = at
    return CompareSchedule(
        timeline=timeline,
        seconds=at + max(HOLD, 2 * pace.step),
        clicks=pace_clicks(timeline, pace, at) if click else (),
        steps=tuple(steps),
        figure=figure,
        variant=variant,
        comparison=comparison,
        copied=pace.lead,
        taken=ends["taken out"],
        moved=ends["moved"],
        added=ends["added"],
        difference=ends["difference"],
        total=ends["total"],
        beat=pace.beats[0],
    )
