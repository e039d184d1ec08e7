"""When `parts` shows what: a question, the parts in time, the rest in a hurry from change to change, the answer."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from renderer.schedule.course import AT_ONCE, HURRY_SECONDS, ROW, ROW_SECONDS, Course, Hurry, begin_course
from renderer.schedule.model import Schedule, Step
from renderer.schedule.pace import AFTER_ANSWER, name_steps, reading_seconds
from renderer.schedule.parts_sentences import QUESTION, change_sentence, parts_answer, place_text
from renderer.schedule.parts_table import Column, lay_columns, table_seconds
from renderer.schedule.phrases import Phrases, text_of
from renderer.schedule.spans import choose_spans
from renderer.spec.model import SegmentSpec
from renderer.spec.sound import ClickSpec
from renderer.timeline.model import Timeline
from renderer.timeline.sides import (
    Nobody,
    SideChange,
    find_changes,
    find_nobody,
    part_names,
)

MOST_TOLD = 6
"""Where sides are changed at more places than this, they are not told one by one."""
MOST_WAITING = Fraction(12)
"""Seconds that the music waits for what is told at most, else it is told briefly."""


class Told(NamedTuple):
    """What happens at a place, said from `seconds` on."""

    at: int
    seconds: Fraction
    phrases: Phrases


@dataclass(frozen=True)
class PartsSchedule(Schedule):
    """How the parts are laid out, and what is said when."""

    sets_out = AT_ONCE
    course: Course
    parts: tuple[str, ...]
    """A row each, in this order."""
    changes: tuple[SideChange, ...]
    told: tuple[Told, ...]
    question: Phrases
    answer: Phrases
    nobody: Nobody | None
    """Where the answer says that nobody keeps a clock."""
    answered: Fraction
    table: tuple[Column, ...] = ()
    """Where it is a table that stands still: its columns."""

    def finding(self) -> str:
        """Who keeps which clock."""
        return text_of(self.answer)

    def seconds_at(self, at: int) -> Fraction | None:
        """When the rows are drawn up to a tick; a table stands still."""
        return None if self.table else self.course.seconds_at(at)


def schedule_parts(timeline: Timeline, options: SegmentSpec, click: ClickSpec | None) -> PartsSchedule:
    """Count in, run along the parts, stop where sides are changed until that is read, then say what it comes to."""
    stretches = choose_spans(timeline, options)
    names = [name for name in part_names(timeline) if options.parts is None or name in options.parts]
    changes = tuple(
        change
        for change in find_changes(timeline, names)
        if any(start < change.at < end for start, end in stretches)
    )
    everyone = names == list(part_names(timeline))
    nobody = choose_nobody(find_nobody(timeline, names, stretches)) if everyone else None
    answer = parts_answer(timeline, names, nobody, stretches)
    course, told = _run(timeline, stretches, changes, click)
    if options.table:
        columns = lay_columns(timeline, names, stretches)
        seconds = max(table_seconds(columns), reading_seconds(text_of(QUESTION), timeline.words))
        return PartsSchedule(
            timeline=timeline,
            seconds=seconds + reading_seconds(text_of(answer), timeline.words) + AFTER_ANSWER,
            clicks=(),
            steps=(Step("table", Fraction(0)), Step("answer", seconds)),
            course=course,
            parts=tuple(names),
            changes=changes,
            told=(),
            question=QUESTION,
            answer=answer,
            nobody=nobody,
            answered=seconds,
            table=columns,
        )
    seconds = max(
        course.ends, reading_seconds(text_of(QUESTION), timeline.words) if not told else Fraction(0)
    )
    if told:
        seconds = max(seconds, told[-1].seconds + reading_seconds(text_of(told[-1].phrases), timeline.words))
    steps = _steps(timeline, course, stretches, changes, told)
    return PartsSchedule(
        timeline=timeline,
        seconds=seconds + reading_seconds(text_of(answer), timeline.words) + AFTER_ANSWER,
        clicks=course.clicks(click),
        steps=name_steps([*steps, Step("answer", seconds)]),
        course=course,
        parts=tuple(names),
        changes=changes,
        told=told,
        question=QUESTION,
        answer=answer,
        nobody=nobody,
        answered=seconds,
    )


def choose_nobody(found: Sequence[Nobody]) -> Nobody | None:
    """The longest stretch in which nobody keeps the meter, else the figure; of like ones the last."""
    clock = found[0].clock if found else None
    alike = [nobody for nobody in found if nobody.clock == clock]
    return max(reversed(alike), key=lambda nobody: nobody.end - nobody.start, default=None)


def _run(
    timeline: Timeline,
    stretches: Sequence[tuple[int, int]],
    changes: Sequence[SideChange],
    click: ClickSpec | None,
) -> tuple[Course, tuple[Told, ...]]:
    """At tempo first; then in a hurry that stops at each change until its sentence has been read."""
    course, left = begin_course(timeline, stretches, click)
    places: dict[int, list[SideChange]] = {}
    for change in changes:
        places.setdefault(change.at, []).append(change)
    speaks = len(places) <= MOST_TOLD
    sentences = {at: change_sentence(timeline, places[at]) for at in places}
    waiting = (
        reading_seconds(text_of(sentences[at]), timeline.words)
        for at in places
        if course.seconds_at(at) is None
    )
    if sum(waiting, Fraction(0)) > MOST_WAITING:
        sentences = {at: change_sentence(timeline, places[at], brief=True) for at in places}
    told: list[Told] = []
    read = reading_seconds(text_of(QUESTION), timeline.words)

    def tell(at: int, seconds: Fraction) -> Fraction:
        """Say what happens at a place once all before it has been read; until when it is read."""
        phrases = sentences[at]
        told.append(Told(at, max(seconds, read), phrases))
        return told[-1].seconds + reading_seconds(text_of(phrases), timeline.words)

    for at in sorted(places):
        seconds = course.seconds_at(at)
        if seconds is not None and speaks:
            read = tell(at, seconds)
    whole = sum((timeline.whole(end - start) for start, end in left), Fraction(0))
    length = min(HURRY_SECONDS, -(-whole // ROW) * ROW_SECONDS)
    seconds, hurries = course.real_end, []
    for start, end in left:
        edges = [start, *(at for at in sorted(places) if start < at < end and speaks), end]
        if speaks and start in places:
            seconds = read = tell(start, seconds)
        for begins, stops in pairwise(edges):
            until = seconds + length * timeline.whole(stops - begins) / whole
            hurries.append(Hurry(begins, stops, seconds, until))
            seconds = until
            if stops < end:
                seconds = read = tell(stops, until)
    return replace(course, hurries=tuple(hurries)), tuple(told)


def _steps(
    timeline: Timeline,
    course: Course,
    stretches: Sequence[tuple[int, int]],
    changes: Sequence[SideChange],
    told: Sequence[Told],
) -> list[Step]:
    """A step where a section begins, and one for each place at which sides are changed."""
    said = {each.at: each.seconds for each in told}
    found = [(Fraction(0), 0, "bars")]
    for section in timeline.sections:
        if any(start <= section.at < end for start, end in stretches):
            first = max(section.at, min(start for start, _ in stretches))
            seconds = course.seconds_at(section.at if first else course.start)
            found.append((seconds if seconds is not None else course.begins, 1, section.name))
    for at in sorted({change.at for change in changes}):
        seconds = said.get(at, course.seconds_at(at))
        found.append(
            (seconds if seconds is not None else course.begins, 2, f"bar {place_text(timeline, at)}")
        )
    return [Step(name, seconds) for seconds, _, name in sorted(found, key=lambda entry: entry[:2])]
