"""When `form` shows what: the bars with a question, what is played in time, the rest in a hurry, the answer."""

from dataclasses import dataclass
from fractions import Fraction

from renderer.schedule.course import AT_ONCE, Course, run_course
from renderer.schedule.form_sentences import form_answer, form_question
from renderer.schedule.model import Schedule, Step
from renderer.schedule.pace import AFTER_ANSWER, name_steps, reading_seconds
from renderer.schedule.phrases import Phrases, text_of
from renderer.schedule.points import Pointed, find_points
from renderer.schedule.spans import choose_spans
from renderer.spec.model import SegmentSpec
from renderer.spec.sound import ClickSpec
from renderer.timeline.model import Section, Timeline


@dataclass(frozen=True)
class FormSchedule(Schedule):
    """How the chosen sections are laid out."""

    sets_out = AT_ONCE
    course: Course
    sections: tuple[Section, ...]
    question: Phrases
    points: tuple[tuple[Fraction, Pointed], ...]
    """What the picture turns to once all is shown, and when."""
    answer: Phrases
    answered: Fraction
    """When the answer comes."""

    def finding(self) -> str:
        """What the sections come to."""
        return text_of(self.answer)

    def seconds_at(self, at: int) -> Fraction | None:
        """When what is played is shown up to a tick."""
        return self.course.seconds_at(at)


def part_of(timeline: Timeline, section: Section, start: int, end: int) -> Section | None:
    """What lies of a section between two ticks on bar lines."""
    at, stop = max(section.at, start), min(section.end, end)
    if at >= stop:
        return None
    first = timeline.bar_at(at).number
    return section._replace(
        first_bar_number=first, bar_count=timeline.bar_at(stop - 1).number - first + 1, at=at, end=stop
    )


def schedule_form(timeline: Timeline, options: SegmentSpec, click: ClickSpec | None) -> FormSchedule:
    """Count in, run along the sections, then say what they come to. Each section begins a step."""
    spans = choose_spans(timeline, options)
    sections = tuple(
        part
        for start, end in spans
        for each in timeline.sections
        if (part := part_of(timeline, each, start, end))
    )
    course = run_course(timeline, spans, click)
    question, answer = form_question(timeline, sections), form_answer(timeline, sections)
    steps = [Step("bars", Fraction(0))]
    for section in sections:
        seconds = course.begins if section is sections[0] else course.seconds_at(section.at)
        steps.append(Step(section.name, seconds if seconds is not None else course.begins))
    answered = max(course.ends, reading_seconds(text_of(question), timeline.words))
    points = []
    for point in find_points(timeline, options):
        points.append((answered, point))
        answered += reading_seconds(text_of(point.phrases), timeline.words)
    steps += [Step(point.name, seconds) for seconds, point in points]
    return FormSchedule(
        timeline=timeline,
        seconds=answered + reading_seconds(text_of(answer), timeline.words) + AFTER_ANSWER,
        clicks=course.clicks(click),
        steps=name_steps([*steps, Step("answer", answered)]),
        course=course,
        sections=sections,
        question=question,
        points=tuple(points),
        answer=answer,
        answered=answered,
    )
