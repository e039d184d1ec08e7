"""When `compare` shows what: the figure; its copy; what is taken out; what follows closes up; what is added; the
difference; the new total. Each is in place when its step begins."""

from dataclasses import dataclass
from fractions import Fraction

from renderer.schedule.compare_words import plain, step_text
from renderer.schedule.model import Schedule, Step
from renderer.schedule.pace import AFTER_ANSWER, reading_seconds
from renderer.spec.model import SegmentSpec
from renderer.spec.sound import ClickSpec
from renderer.timeline.model import Figure, Timeline
from renderer.timeline.variant import Comparison, compare_figures

DIFFERENCE_SECONDS = Fraction(3, 2)
"""How long the difference stands before the total: both have one sentence."""


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

    def finding(self) -> str:
        """What the variant gives up or gains."""
        answer = step_text("total", self.figure, self.variant, self.comparison)
        return f"{self.variant.name}: {plain(answer)}"


def schedule_compare(timeline: Timeline, options: SegmentSpec, click: ClickSpec | None) -> CompareSchedule:
    """A step a stage, each as long as its sentence is read; without a figure the first variant that there is. It is
    silent: nothing in it is in the time of the piece."""
    variants = (figure for figure in timeline.figures if figure.origin)
    variant = timeline.figure(options.figure) if options.figure else next(variants)
    figure = timeline.figure(str(variant.origin))
    comparison = compare_figures(figure, variant)
    at, ends = Fraction(0), {}
    steps: list[Step] = []
    for name, needed in (
        ("figure", True),
        ("copy", True),
        ("taken out", bool(comparison.taken)),
        ("moved", comparison.moves),
        ("added", bool(comparison.added)),
        ("difference", True),
        ("total", True),
    ):
        if needed:
            if name == "total":
                at += DIFFERENCE_SECONDS
            elif steps:
                at += reading_seconds(
                    plain(step_text(steps[-1].name, figure, variant, comparison)), timeline.words
                )
            steps.append(Step(name, at))
        ends[name] = at
    answer = reading_seconds(plain(step_text("total", figure, variant, comparison)), timeline.words)
    return CompareSchedule(
        timeline=timeline,
        seconds=at - DIFFERENCE_SECONDS + max(answer, 2 * DIFFERENCE_SECONDS) + AFTER_ANSWER,
        clicks=(),
        steps=tuple(steps),
        figure=figure,
        variant=variant,
        comparison=comparison,
        copied=ends["copy"],
        taken=ends["taken out"],
        moved=ends["moved"],
        added=ends["added"],
        difference=ends["difference"],
        total=ends["total"],
    )
