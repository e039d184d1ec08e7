"""What `fit` adds up and when it shows it: a section's length as a sum of what one voice plays in it.

The bars stand first; repetitions fill them up from the left, on the beats; what is left over stays open with its
number; then what fills it (a tail, a cut repetition) comes in, and on the next downbeat the landing.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal, NamedTuple

from renderer.schedule.model import HOLD, Schedule, Step
from renderer.schedule.pace import choose_pace, pace_clicks
from renderer.schedule.spans import choose_voice
from renderer.spec.model import SegmentSpec
from renderer.spec.sound import ClickSpec
from renderer.timeline.model import Landing, Repetition, Section, Timeline

TermKind = Literal["carried", "whole", "first", "tail", "cut", "over", "rest", "left"]
MOST_BEATS = 16
"""The filling takes no more beats than this; where there are more repetitions, several come on each."""


class Part(NamedTuple):
    """A stretch of the section: what one repetition, or silence, takes of it. Ticks of the piece."""

    kind: TermKind
    at: int
    end: int
    repetition: Repetition | None


class FitTerm(NamedTuple):
    """One term of the sum: `times` times `ticks`; `figure` is None for what is no repetition of one."""

    kind: TermKind
    times: int
    ticks: int
    figure: str | None


@dataclass(frozen=True)
class FitSchedule(Schedule):
    """A section's sum. `parts` are its stretches in order, `arrivals` when each stands in its place."""

    section: Section
    voice: str
    pulse: int
    """Ticks to the pulse that the sum counts in."""
    parts: tuple[Part, ...]
    terms: tuple[FitTerm, ...]
    arrivals: tuple[Fraction, ...]
    beat: Fraction
    enlarged: Fraction
    """When the section's end stands enlarged."""
    left_over: Fraction
    filled: Fraction
    """When what is left over has been filled."""
    landed: Fraction
    landing: Landing | None
    """On the downbeat after the section, sounded or not."""
    following: Repetition | None
    """What sounds from that downbeat on."""

    def seconds_at(self, at: int) -> Fraction | None:
        """When the stretch that holds tick `at` stands in its place."""
        pairs = zip(self.parts, self.arrivals, strict=True)
        return next((seconds for part, seconds in pairs if part.at <= at < part.end), None)

    @property
    def closing(self) -> int:
        """The index of the first part that is no whole repetition, behind the last one that is."""
        whole = [number for number, part in enumerate(self.parts) if part.kind in ("whole", "carried")]
        return whole[-1] + 1 if whole else 0


def section_parts(timeline: Timeline, section: Section, voice: str) -> tuple[Part, ...]:
    """What a section's ticks are filled with, in order, silence too."""
    parts: list[Part] = []
    at = section.at
    inside = [
        r for r in timeline.repetitions if r.voice == voice and r.at < section.end and r.end > section.at
    ]
    for number, repetition in enumerate(inside):
        if repetition.at > at:
            parts.append(Part("rest", at, repetition.at, None))
        end = min(repetition.end, section.end)
        kind: TermKind = repetition.statement.kind
        if repetition.at < section.at:
            kind = "carried"
        elif repetition.end > section.end:
            kind = "over"
        parts.append(Part(kind, max(repetition.at, section.at), end, repetition))
        at = end
        if number == len(inside) - 1 and at < section.end:
            parts.append(Part("left", at, section.end, None))
    return tuple(parts) or (Part("left", section.at, section.end, None),)


def add_up(parts: Sequence[Part]) -> tuple[FitTerm, ...]:
    """The parts as terms, those that are alike taken together at the place of the first."""
    counts: dict[tuple[TermKind, int, str | None], int] = {}
    for part in parts:
        figure = part.repetition.statement.figure if part.repetition else None
        ticks = part.end - part.at
        lumped = part.kind in ("rest", "carried")
        key = (part.kind, 0 if lumped else ticks, None if lumped else figure)
        counts[key] = counts.get(key, 0) + (ticks if lumped else 1)
    return tuple(
        FitTerm(kind, 1, count, figure)
        if kind in ("rest", "carried")
        else FitTerm(kind, count, ticks, figure)
        for (kind, ticks, figure), count in counts.items()
    )


def choose_section(timeline: Timeline, voice: str, name: str | None) -> Section:
    """The section of that name, its first pass; else the first one in which something is left over; else the first
    in which anything is played."""
    if name is not None:
        return next(section for section in timeline.sections if section.name == name)
    lasts = {section: section_parts(timeline, section, voice) for section in timeline.sections}
    played = [section for section, parts in lasts.items() if any(part.repetition for part in parts)]
    odd = [section for section in played if lasts[section][-1].kind in ("tail", "cut", "left", "first")]
    over = [section for section in played if lasts[section][-1].kind == "over"]
    return (odd or over or played or list(timeline.sections))[0]


def schedule_fit(timeline: Timeline, options: SegmentSpec, click: ClickSpec | None) -> FitSchedule:
    """Count in over the bars, fill them up on the beats, enlarge the end, fill what is left over, land."""
    voice = choose_voice(timeline, options.voice)
    section = choose_section(timeline, voice, options.section)
    parts = section_parts(timeline, section, voice)
    pace = choose_pace(timeline, section.at, click)
    beat = pace.beats[0]
    fit = FitSchedule(
        timeline, Fraction(0), (), (), section, voice, _pulse(timeline, parts), parts, add_up(parts), (), beat,
        Fraction(0), Fraction(0), Fraction(0), Fraction(0), *_after(timeline, section, voice),
    )  # fmt: skip
    whole = fit.closing
    each = -(-whole // MOST_BEATS)
    arrivals = [pace.lead + Fraction(number, each or 1) * beat for number in range(whole)]
    filling = pace.lead + max(1, -(-whole // max(1, each))) * beat
    enlarged = pace.lead + -(-(filling - pace.lead) // pace.step) * pace.step
    left_over = enlarged + (pace.step if whole < len(parts) else 0)
    closes = whole < len(parts) and any(part.repetition for part in parts[whole:])
    filled = left_over + (pace.step if closes else 0)
    landed = filled + pace.step
    arrivals += [filled] * (len(parts) - whole)
    bars = "count-in" if click else "bars"
    steps = [
        Step(bars, Fraction(0)),
        Step("repetitions", pace.lead),
        Step("close-up", enlarged),
        *([Step("left over", left_over)] if whole < len(parts) else []),
        *([Step("filled", filled)] if closes else []),
        Step("landing", landed),
    ]
    return FitSchedule(
        timeline,
        landed + max(HOLD, 4 * beat),
        pace_clicks(timeline, pace, landed) if click else (),
        tuple(steps),
        section, voice, fit.pulse, parts, fit.terms, tuple(arrivals), beat,
        enlarged, left_over, filled, landed, fit.landing, fit.following,
    )  # fmt: skip


def _pulse(timeline: Timeline, parts: Sequence[Part]) -> int:
    """The pulse of the section's sum: the finest that its repetitions are written in."""
    pulses = [part.repetition.statement.pulse for part in parts if part.repetition]
    return min(pulses, default=timeline.pulse or timeline.grid // 16 or 1)


def _after(timeline: Timeline, section: Section, voice: str) -> tuple[Landing | None, Repetition | None]:
    """The accent on the downbeat after a section, and the repetition that sounds there."""
    landings = [mark for mark in timeline.landings if mark.voice == voice and mark.at == section.end]
    sounding = [r for r in timeline.repetitions if r.voice == voice and r.at <= section.end < r.end]
    played = [mark for mark in landings if mark.sounds]
    return next(iter(played or landings), None), next(iter(sounding), None)
