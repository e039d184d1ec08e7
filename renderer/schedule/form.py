"""When `form` shows what: a row a step, and how the sections are shared out to rows and pages.

In its step a row's line and posts come first, then its harmony, then what is played; it is complete on the beat that
ends the step.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

from renderer.schedule.model import HOLD, Schedule
from renderer.schedule.pace import (
    LETTERS,
    Step,
    choose_pace,
    count_letters,
    name_steps,
    pace_clicks,
    share_bars,
)
from renderer.schedule.spans import choose_spans
from renderer.spec.model import SegmentSpec
from renderer.spec.sound import ClickSpec
from renderer.timeline.model import Section, Timeline

NAMED_ROWS, CLOSE_ROWS = 3, 5
"""Rows to a page: with the sections' names over them, or in them."""
MOST_BARS, CROWDED = 70, 10**6
"""Bars of a row, so that one is at least 24 pixels wide; and what it costs to have more."""
MISFIT = 3
"""A name without room weighs as much as so many pages."""
PADDING = 1.3
"""Letters: the room round a name."""
SHARES = (1, 2, 3, 4, 6, 8, 12, 16, 24, 32, 48, 64, 100)


class FormRow(NamedTuple):
    """A section or a run of its bars, from tick to tick. It begins to unfold at `seconds`, complete a step later."""

    section: Section
    start: int
    end: int
    seconds: Fraction

    @property
    def begins(self) -> bool:
        """Whether the section begins in this row."""
        return self.start <= self.section.at


@dataclass(frozen=True)
class FormPage:
    """Rows that are seen together, from `seconds` on (the first page: from 0)."""

    rows: tuple[FormRow, ...]
    seconds: Fraction


@dataclass(frozen=True)
class FormSchedule(Schedule):
    """Pages in order. `named`: the sections' names stand over their rows."""

    pages: tuple[FormPage, ...]
    named: bool
    step: Fraction
    beat: Fraction
    summary: Fraction
    """When the last sentence comes."""

    def seconds_at(self, at: int) -> Fraction | None:
        """When the row that holds tick `at` is complete."""
        rows = (row for page in self.pages for row in page.rows)
        return next((row.seconds + self.step for row in rows if row.start <= at < row.end), None)


def schedule_form(timeline: Timeline, options: SegmentSpec, click: ClickSpec | None) -> FormSchedule:
    """Count in, then a step a row."""
    spans = choose_spans(timeline, options.sections)
    chosen = [s for s in timeline.sections if any(start <= s.at < end for start, end in spans)]
    named, breaks = _choose_rows(timeline, chosen)
    pace = choose_pace(timeline, spans[0][0], click)
    size = NAMED_ROWS if named else CLOSE_ROWS
    seconds = pace.lead
    pages: list[FormPage] = []
    steps = [Step("title", Fraction(0))]
    for index in range(0, len(breaks), size):
        if pages:
            seconds += pace.step
        begins, rows = seconds, []
        for section, start, end in breaks[index : index + size]:
            rows.append(FormRow(section, start, end, seconds))
            steps.append(Step(section.name, seconds))
            seconds += pace.step
        pages.append(FormPage(tuple(rows), begins))
    return FormSchedule(
        timeline=timeline,
        seconds=seconds + max(HOLD, 2 * pace.step),
        clicks=pace_clicks(timeline, pace, seconds) if click else (),
        steps=name_steps([*steps, Step("summary", seconds)]),
        pages=tuple(pages),
        named=named,
        step=pace.step,
        beat=pace.beats[0],
        summary=seconds,
    )


Break = tuple[Section, int, int]


def _choose_rows(timeline: Timeline, sections: Sequence[Section]) -> tuple[bool, list[Break]]:
    """Rows, and whether names stand over them: as few pages as let all names stand in their fields."""
    bar = min(bar.end - bar.at for bar in timeline.bars)
    longest = max(section.end - _start(timeline, section) for section in sections)
    best: tuple[int, bool, list[Break]] | None = None
    for share in SHARES:
        width = -(-longest // share)
        if share > 1 and width < bar:
            break
        breaks = [
            (section, start, end)
            for section in sections
            for start, end in share_bars(timeline, _start(timeline, section), section.end, width)
        ]
        width = max(end - start for _, start, end in breaks)
        for named, size in ((True, NAMED_ROWS), (False, CLOSE_ROWS)):
            cost = -(-len(breaks) // size) + MISFIT * _misfits(timeline, breaks, width, named)
            cost += CROWDED if width > MOST_BARS * bar else 0
            if best is None or cost < best[0]:
                best = (cost, named, breaks)
    assert best is not None
    return best[1], best[2]


def _start(timeline: Timeline, section: Section) -> int:
    """Where a section's row begins: the first one's with the pick-up."""
    return timeline.start if section is timeline.sections[0] else section.at


def _misfits(timeline: Timeline, breaks: Sequence[Break], width: int, named: bool) -> int:
    """How many harmonies' names (and, where they stand in the rows, sections' names) have no room."""
    count = 0
    for section, start, end in breaks:
        room = LETTERS * (end - start)
        beside = 0.0 if named or start > section.at else count_letters(section.name) + PADDING
        fields = [field for field in timeline.harmony if field.at < end and field.end > start]
        for field in fields:
            room = LETTERS * (min(field.end, end) - max(field.at, start))
            count += room < (count_letters(field.name) + PADDING + beside) * width
            beside = 0.0
        count += not fields and room < beside * width
    return count
