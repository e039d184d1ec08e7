"""What `fit` adds up and when it shows it: a section's length as a sum of what one voice plays in it.

The bars stand first; repetitions fill them up from the left; the section's end is enlarged; what is left over stands
open with its number; then what fills it comes in (a tail, a cut repetition, one that runs over the line), and what
lands on the next downbeat. Nothing of it is real time, so nothing sounds.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from renderer.schedule.fit_sentences import fit_answer, fit_question
from renderer.schedule.fit_sum import FitSum, Part, add_up, first_closing, section_parts
from renderer.schedule.model import Schedule, Step
from renderer.schedule.pace import AFTER_ANSWER, reading_seconds
from renderer.schedule.phrases import Phrases, text_of
from renderer.schedule.spans import choose_voice
from renderer.schedule.wording import mixed
from renderer.spec.model import SegmentSpec
from renderer.spec.sound import ClickSpec
from renderer.timeline.model import Landing, Repetition, Section, Timeline

START, EACH, LEAST_FILLING, MOST_FILLING = Fraction(1), Fraction(2, 5), Fraction(3, 2), Fraction(5)
"""Seconds: the bars alone, from one repetition to the next, and how long all of them take."""
CLOSER, NEXT_STEP = Fraction(4, 5), Fraction(2)
"""Seconds until the end stands enlarged, and from one of the last steps to the next."""


@dataclass(frozen=True)
class FitSchedule(Schedule):
    """A section's sum. `parts` are its stretches in order, `arrivals` when each stands in its place."""

    section: Section
    voice: str
    pulse: int
    """Ticks to the pulse that the sum counts in."""
    parts: tuple[Part, ...]
    sum: FitSum
    arrivals: tuple[Fraction, ...]
    enlarged: Fraction
    """When the section's end stands enlarged."""
    left_over: Fraction
    filled: Fraction
    """When what is left over has been filled."""
    landed: Fraction
    landing: Landing | None
    """On the downbeat after the section, sounded or not."""
    following: Repetition | None
    """What begins on that downbeat, or later before the section's bar after it has passed."""
    question: Phrases
    answer: Phrases

    def finding(self) -> str:
        """The sum."""
        return text_of(self.answer)

    def seconds_at(self, at: int) -> Fraction | None:
        """When the stretch that holds tick `at` stands in its place."""
        pairs = zip(self.parts, self.arrivals, strict=True)
        return next((seconds for part, seconds in pairs if part.at <= at < part.end), None)

    def pulses(self, ticks: int) -> str:
        """A length as it is counted in the sum."""
        return mixed(Fraction(ticks, self.pulse))

    @property
    def closing(self) -> int:
        """The index of the first part that is no whole repetition, behind the last one that is."""
        return first_closing(self.parts)


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
    """The bars, what fills them up, the end enlarged, what is left over, what fills that, what lands."""
    voice = choose_voice(timeline, options.voice)
    section = choose_section(timeline, voice, options.section)
    parts = section_parts(timeline, section, voice)
    pulse, added = _pulse(timeline, parts), add_up(parts)
    question, answer = fit_question(section, parts), fit_answer(parts, added, pulse)
    whole = first_closing(parts)
    filling = min(MOST_FILLING, max(LEAST_FILLING, whole * EACH))
    arrivals = [START + filling * Fraction(number + 1, whole) for number in range(whole)]
    enlarged = START + (filling if whole else Fraction(0)) + CLOSER
    left_over = enlarged + (CLOSER if whole < len(parts) else 0)
    closes = any(part.repetition for part in parts[whole:])
    filled = left_over + (NEXT_STEP if closes else 0)
    landed = max(filled + NEXT_STEP, reading_seconds(text_of(question), timeline.words))
    arrivals += [filled] * (len(parts) - whole)
    steps = [
        Step("bars", Fraction(0)),
        Step("repetitions", START),
        Step("close-up", enlarged),
        *([Step("left over", left_over)] if whole < len(parts) else []),
        *([Step("filled", filled)] if closes else []),
        Step("landing", landed),
    ]
    return FitSchedule(
        timeline=timeline,
        seconds=landed + reading_seconds(text_of(answer), timeline.words) + AFTER_ANSWER,
        clicks=(),
        steps=tuple(steps),
        section=section,
        voice=voice,
        pulse=pulse,
        parts=parts,
        sum=added,
        arrivals=tuple(arrivals),
        enlarged=enlarged,
        left_over=left_over,
        filled=filled,
        landed=landed,
        landing=_landing_after(timeline, section, voice),
        following=next((r for r in timeline.repetitions if r.voice == voice and r.at >= section.end), None),
        question=question,
        answer=answer,
    )


def _pulse(timeline: Timeline, parts: Sequence[Part]) -> int:
    """The pulse of the section's sum: the finest that its repetitions are written in."""
    pulses = [part.repetition.statement.pulse for part in parts if part.repetition]
    return min(pulses, default=timeline.pulse or timeline.grid // 16 or 1)


def _landing_after(timeline: Timeline, section: Section, voice: str) -> Landing | None:
    """The accent on the downbeat after a section: one that sounds, else one that would."""
    landings = [mark for mark in timeline.landings if mark.voice == voice and mark.at == section.end]
    played = [mark for mark in landings if mark.sounds]
    return next(iter(played or landings), None)
