"""When `parts` shows what: one stretch after another from left to right, a step to each change of side.

A change is drawn through the line over the last beat before its step's end, and stands from that beat on.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from renderer.schedule.model import HOLD, Schedule
from renderer.schedule.pace import (
    LETTERS,
    Step,
    choose_pace,
    count_letters,
    name_steps,
    pace_clicks,
    share_pages,
)
from renderer.schedule.part_rows import (
    SideChange,
    Stretch,
    count_rows,
    find_changes,
    group_parts,
    lay_rows,
    part_names,
)
from renderer.schedule.spans import choose_spans
from renderer.spec.model import SegmentSpec
from renderer.spec.sound import ClickSpec
from renderer.timeline.model import Timeline

MOST_ROWS = 12
"""On both sides together; where there would be more, the parts are shared out to pages."""
LETTERS_KEPT = 18
"""A name is given at least room for so many letters, if it has them."""
CLOSEST = 2.5
"""Letters from one change to the next, so that their strokes and discs stand apart."""
MISFIT = 3
"""A name without room weighs as much as so many pages."""
SHARES = (1, 2, 3, 4, 6, 8, 12, 16, 24, 32, 48, 64)
MOST_BARS, CROWDED = 140, 10**6
"""Bars of a page, so that one is at least 12 pixels wide; and what it costs to have more."""


class PartsStop(NamedTuple):
    """A place up to which the rows are drawn at `seconds`, and the changes that are drawn there."""

    at: int
    seconds: Fraction
    changes: tuple[SideChange, ...]


@dataclass(frozen=True)
class PartsPage:
    """One picture: some parts between two ticks. It begins to unfold at `seconds`."""

    start: int
    end: int
    parts: tuple[str, ...]
    stretches: tuple[Stretch, ...]
    seconds: Fraction
    stops: tuple[PartsStop, ...]


@dataclass(frozen=True)
class PartsSchedule(Schedule):
    """Pages in order; the first stands from 0 on, each other one from its own `seconds` on."""

    pages: tuple[PartsPage, ...]
    step: Fraction
    beat: Fraction
    summary: Fraction
    """When the last sentence comes."""

    def seconds_at(self, at: int) -> Fraction | None:
        """When the rows are drawn up to tick `at` or beyond it."""
        stops = (stop for page in self.pages if page.start <= at < page.end for stop in page.stops)
        return next((stop.seconds for stop in stops if stop.at >= at), None)


def schedule_parts(timeline: Timeline, options: SegmentSpec, click: ClickSpec | None) -> PartsSchedule:
    """Count in, then a step to each change and to each section's end, for some parts or all, in the piece's order."""
    spans = choose_spans(timeline, options)
    names = [name for name in part_names(timeline) if options.parts is None or name in options.parts]
    groups = group_parts(timeline, names)
    pace = choose_pace(timeline, spans[0][0], click)
    places = _choose_pages(timeline, spans, groups)
    changes = find_changes(timeline, groups)
    pages: list[PartsPage] = []
    steps = [Step("posts", Fraction(0))]
    seconds = pace.lead
    for chosen in _share_parts(timeline, places, groups):
        for start, end in places:
            if pages:
                seconds += pace.step
            begins = seconds
            here = [change for change in changes if start <= change.at < end and change.parts in chosen]
            inside = _inside(spans, start)
            here = [change for change in here if change.at > start or inside]
            ends = {section.end for section in timeline.sections if start < section.end < end}
            stops = []
            for at in sorted({change.at for change in here} | ends | {end}):
                seconds += pace.step
                stops.append(PartsStop(at, seconds, tuple(change for change in here if change.at == at)))
            steps += _page_steps(timeline, start, begins, stops)
            stretches = lay_rows(timeline, chosen, start, end, inside)
            shown = tuple(name for group in chosen for name in group)
            pages.append(PartsPage(start, end, shown, stretches, begins, tuple(stops)))
    summary = seconds + pace.step
    return PartsSchedule(
        timeline=timeline,
        seconds=summary + max(HOLD, 2 * pace.step),
        clicks=pace_clicks(timeline, pace, summary) if click else (),
        steps=name_steps([*steps, Step("summary", summary)]),
        pages=tuple(pages),
        step=pace.step,
        beat=pace.beats[0],
        summary=summary,
    )


def _inside(spans: Sequence[tuple[int, int]], at: int) -> bool:
    """Whether the music before `at` is shown too, so that a change at `at` is one."""
    return any(start < at < end for start, end in spans)


def _page_steps(timeline: Timeline, start: int, begins: Fraction, stops: Sequence[PartsStop]) -> list[Step]:
    """A step for each section as its rows begin to be drawn, and one for each change."""
    steps = [Step(timeline.sections[timeline.bar_at(start).section_index].name, begins)]
    starts = {section.at: section.name for section in timeline.sections}
    for stop in stops:
        if stop.changes:
            steps.append(Step(f"bar {timeline.bar_at(stop.at).number}", stop.seconds))
        if stop.at in starts and start < stop.at and stop is not stops[-1]:
            steps.append(Step(starts[stop.at], stop.seconds))
    return steps


def _share_parts(
    timeline: Timeline, places: Sequence[tuple[int, int]], groups: Sequence[tuple[str, ...]]
) -> list[Sequence[tuple[str, ...]]]:
    """The groups in as few like shares as keep every page's rows within `MOST_ROWS`."""
    for count in range(1, len(groups) + 1):
        size = -(-len(groups) // count)
        shares = [groups[index : index + size] for index in range(0, len(groups), size)]
        if all(_rows(timeline, share, start, end) <= MOST_ROWS for share in shares for start, end in places):
            return shares
    return [groups]


def _rows(timeline: Timeline, groups: Sequence[tuple[str, ...]], start: int, end: int) -> int:
    stretches = lay_rows(timeline, groups, start, end, True)
    return count_rows(stretches, "figure") + count_rows(stretches, "meter")


def _choose_pages(
    timeline: Timeline, spans: Sequence[tuple[int, int]], groups: Sequence[tuple[str, ...]]
) -> list[tuple[int, int]]:
    """As few pages as let the names stand in their stretches."""
    total = max(end - start for start, end in spans)
    bar = min(bar.end - bar.at for bar in timeline.bars)
    best: tuple[int, list[tuple[int, int]]] | None = None
    for share in SHARES:
        longest = -(-total // share)
        if share > 1 and longest < 4 * bar:
            break
        pages = share_pages(timeline, spans, longest)
        width = max(end - start for start, end in pages)
        cost = len(pages) + MISFIT * _misfits(timeline, pages, groups, width)
        cost += CROWDED if width > MOST_BARS * bar else 0
        if best is None or cost < best[0]:
            best = (cost, pages)
    assert best is not None
    return best[1]


def _misfits(
    timeline: Timeline, pages: Sequence[tuple[int, int]], groups: Sequence[tuple[str, ...]], width: int
) -> int:
    """How many names, of parts in their stretches and of sections, and how many changes after another have no room on
    pages `width` ticks long."""
    count, changes = 0, find_changes(timeline, groups)
    for start, end in pages:
        for stretch in lay_rows(timeline, groups, start, end, False):
            if not stretch.goes_on and not stretch.came_on:
                letters = min(LETTERS_KEPT, count_letters(", ".join(stretch.parts)) + 3)
                count += (stretch.end - stretch.at) * LETTERS < letters * width
        places = sorted({change.at for change in changes if start <= change.at < end})
        count += sum((b - a) * LETTERS < CLOSEST * width for a, b in pairwise(places))
        for section in timeline.sections:
            if start <= section.at < end:
                count += (section.end - section.at) * LETTERS < min(
                    LETTERS_KEPT, len(section.name) + 1
                ) * width
    return count
