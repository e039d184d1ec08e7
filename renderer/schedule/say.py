"""What is said over a segment: its steps wait for the words, and the words become captions.

A line belongs to a step. Where its words take longer than the step, the picture stands still and the click is silent
until they are said: before the count-in for the first step, else at the end of the step, one move before the next
begins. A line with a voice file takes as long as that lasts, and is heard. A `play` never waits: it runs in real
time, its lines are captions and what is heard.
"""

from bisect import bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import accumulate, pairwise
from typing import NamedTuple

from renderer.core.errors import Problem, SpecError
from renderer.core.names import listed, nearest
from renderer.schedule.model import Caption, Schedule, Spoken, Step
from renderer.schedule.play import PlaySchedule
from renderer.spec.model import SaySpec

WORDS_A_MINUTE = 150
"""The pace of unhurried speech, common practice for narration."""
PAUSE = Fraction(1, 2)
"""Seconds of rest after a line."""
LONGEST_MOVE = Fraction(9, 10)
"""Seconds: what moves into the next step is not on its way yet when the picture stands still."""


class Hold(NamedTuple):
    """The picture stands still at `at`, in the schedule's own seconds, for `length` seconds."""

    at: Fraction
    length: Fraction


@dataclass(frozen=True)
class SaidSchedule(Schedule):
    """A schedule that waits for words; its own clicks and steps are those of `inner`, later by what was waited."""

    inner: Schedule
    holds: tuple[Hold, ...]

    def inner_seconds(self, seconds: Fraction) -> Fraction:
        """What the inner schedule shows at a moment."""
        waited = Fraction(0)
        for hold in self.holds:
            if seconds - waited <= hold.at:
                break
            waited += min(hold.length, seconds - waited - hold.at)
        return seconds - waited

    def finding(self) -> str:
        """What the schedule that waits comes to."""
        return self.inner.finding()

    def seconds_at(self, at: int) -> Fraction | None:
        """When the segment shows tick `at` of the piece."""
        inner = self.inner.seconds_at(at)
        return None if inner is None else _later(self.holds, inner)


def words_seconds(text: str) -> Fraction:
    """How long a line takes to say.

    >>> words_seconds("Five and three and three make eleven.")
    Fraction(14, 5)
    """
    return Fraction(60 * len(text.split()), WORDS_A_MINUTE)


def _line_seconds(line: SaySpec, files: Mapping[str, Fraction]) -> Fraction:
    return files[line.file.name] if line.file else words_seconds(line.text)


def say(
    schedule: Schedule, lines: Sequence[SaySpec], files: Mapping[str, Fraction] | None = None
) -> Schedule:
    """The schedule with lines said over its steps; `files` are the seconds of each voice file that they name.

    Raises SpecError for a line whose step there is not.
    """
    if not lines:
        return schedule
    said = _by_step(schedule.steps, lines)
    starts = [step.seconds for step in schedule.steps]
    stages = [end - start for start, end in pairwise([*starts, schedule.seconds])]
    lengths = {step: _line_seconds(line, files or {}) for step, line in said.items()}
    needs = [lengths[step.name] + PAUSE if step.name in said else Fraction(0) for step in schedule.steps]
    holds: tuple[Hold, ...] = ()
    if not isinstance(schedule, PlaySchedule):
        holds = tuple(_holds(schedule, stages, needs))
    shifted = [Step(step.name, _later(holds, step.seconds)) for step in schedule.steps]
    shifted[0] = Step(shifted[0].name, Fraction(0))
    length = schedule.seconds + sum(hold.length for hold in holds)
    ends = [*(step.seconds for step in shifted[1:]), length]
    captions = tuple(
        Caption(step.seconds, end, said[step.name].text)
        for step, end in zip(shifted, ends, strict=True)
        if step.name in said and said[step.name].text
    )
    spoken = tuple(
        Spoken(step.seconds, lengths[step.name], file.name)
        for step in shifted
        if step.name in said and (file := said[step.name].file)
    )
    if isinstance(schedule, PlaySchedule):
        return replace(schedule, captions=captions, spoken=spoken)
    return SaidSchedule(
        timeline=schedule.timeline,
        seconds=length,
        clicks=tuple(click._replace(seconds=_later(holds, click.seconds)) for click in schedule.clicks),
        steps=tuple(shifted),
        captions=captions,
        spoken=spoken,
        inner=schedule,
        holds=holds,
    )


def _by_step(steps: Sequence[Step], lines: Sequence[SaySpec]) -> dict[str, SaySpec]:
    """Each step's line; a line that names no step belongs to the next one in order."""
    names = [step.name for step in steps]
    known = listed(names, "and")
    problems: list[Problem] = []
    said: dict[str, SaySpec] = {}
    for number, line in enumerate(lines):
        if line.step is None and number >= len(names):
            problems.append(
                Problem(line.path, f"line {number + 1} has no step.", f"The {len(names)} steps are {known}.")
            )
        elif line.step is not None and line.step not in names:
            near = nearest(line.step, names)
            mend = f"{f'Write {near}? ' if near else ''}The steps are {known}."
            problems.append(Problem(line.path, f"unknown step {line.step}.", mend))
        else:
            said[line.step or names[number]] = line
    if problems:
        raise SpecError(problems)
    return said


def _holds(schedule: Schedule, stages: Sequence[Fraction], needs: Sequence[Fraction]) -> Iterable[Hold]:
    """Where the picture waits: whole beats, where there is a click to give them."""
    beat = schedule.clicks[1].seconds - schedule.clicks[0].seconds if len(schedule.clicks) > 1 else None
    ends = list(accumulate(stages))
    for number, (stage, need, end) in enumerate(zip(stages, needs, ends, strict=True)):
        missing = need if number == 0 and need else need - stage
        if missing <= 0:
            continue
        length = -(-missing // beat) * beat if beat else missing
        if number == 0:
            yield Hold(Fraction(0), length)
        else:
            yield Hold(max(end - stage, end - max(beat or LONGEST_MOVE, LONGEST_MOVE)), length)


def _later(holds: Sequence[Hold], seconds: Fraction) -> Fraction:
    """When something of the inner schedule comes in the one that waits."""
    count = bisect_right([hold.at for hold in holds], seconds)
    return seconds + sum(hold.length for hold in holds[:count])
