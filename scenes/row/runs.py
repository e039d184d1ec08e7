"""Runs: stretches in which one figure is repeated without a break, each drawn as one hull with a small sail a
repetition."""

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from renderer.timeline.model import Kind, Repetition, Timeline
from scenes.draw.look import SEMIBOLD
from scenes.draw.paths import Contour, clip_all, hull, rectangle, sail, torn_hull
from scenes.draw.text import shorten, text_width
from scenes.row.line import VESSEL_GAP, Row

SAIL_LEAST = 4.0
"""Narrower repetitions have no sail of their own."""
BOW = 16.0


class Run(NamedTuple):
    """Repetitions of one figure (None: a tail) without a break between them, in one section."""

    figure: str | None
    kind: Kind
    repetitions: tuple[Repetition, ...]
    came_on: bool
    """Whether the first one began in the section before."""
    goes_on: bool
    """Whether the last one sounds on into the next section."""
    ended: bool
    """Whether another item follows in the section, or silence."""

    @property
    def at(self) -> int:
        return self.repetitions[0].at

    @property
    def end(self) -> int:
        return self.repetitions[-1].end


def find_runs(timeline: Timeline, voice: str, start: int, end: int) -> tuple[Run, ...]:
    """What a voice plays from tick `start` up to `end`, in runs."""
    inside = [r for r in timeline.repetitions if r.voice == voice and r.at < end and r.end > start]
    grouped: list[list[Repetition]] = []
    for repetition in inside:
        last = grouped[-1][-1] if grouped else None
        if last is not None and _joins(last, repetition):
            grouped[-1].append(repetition)
        else:
            grouped.append([repetition])
    return tuple(
        Run(
            figure=group[0].statement.figure,
            kind=group[0].statement.kind,
            repetitions=tuple(group),
            came_on=group[0].at < start,
            goes_on=group[-1].end > end,
            ended=group[-1].end < end,
        )
        for group in grouped
    )


def _joins(before: Repetition, after: Repetition) -> bool:
    one, other = before.statement, after.statement
    alike = one.figure == other.figure and one.kind == "whole" and other.kind in ("whole", "cut")
    return alike and one.figure is not None and before.end == after.at


def run_word(run: Run) -> list[str]:
    """What a run's hull says, from the fullest wording to the shortest."""
    pulses = [
        repetition.statement.sounding_length // repetition.statement.pulse for repetition in run.repetitions
    ]
    if run.figure is None:
        groups = " + ".join(
            str(g.length // run.repetitions[0].statement.pulse) for g in run.repetitions[0].statement.groups
        )
        return [f"tail {groups}", "tail"]
    if run.kind == "first":
        return [f"first {pulses[0]} of {run.figure}", f"first {pulses[0]}", str(pulses[0])]
    if run.came_on:
        return [f"{run.figure} runs on", run.figure]
    count = sum(repetition.statement.kind == "whole" for repetition in run.repetitions)
    if run.ended and count > 1 and run.repetitions[-1].statement.kind == "whole":
        return [f"{run.figure} × {count}", run.figure, f"× {count}"]
    return [run.figure]


def fitting_word(words: Sequence[str], size: float, room: float, weight: int = SEMIBOLD) -> str:
    """The first wording that fits; the figure's name shortened where none does; nothing in a very small room."""
    fitting = next((word for word in words if text_width(word, size, weight) <= room), None)
    if fitting is not None:
        return fitting
    cut = shorten(words[-1], size, room, weight)
    return cut if len(cut) > 3 and room > 0 else ""


def run_contours(row: Row, run: Run, inset: float = 0.0) -> tuple[Contour, ...]:
    """A run's hull and sails, clipped to the row and its margins; `inset` draws all edges in by so much."""
    left, right = row.x(run.at) + inset, row.x(run.end) - VESSEL_GAP - inset
    top, bottom = row.hull_top + inset, row.hull_bottom - inset
    contours: list[Contour] = []
    for repetition in run.repetitions:
        x, width = row.x(repetition.at) + inset, (repetition.end - repetition.at) * row.scale - 3 - 2 * inset
        height = row.style.sail - 2 * inset
        if width >= SAIL_LEAST and height > 0:
            contours.append(sail(x, row.base - inset, width, height))
    if right > left:
        if run.repetitions[-1].statement.cut:
            contours.append(torn_hull(left, right, top, bottom))
        else:
            contours.append(hull(left, right, top, bottom, min(BOW, 0.3 * (right - left))))
    return clip_all(contours, row.left, row.right)


def gap_dashes(row: Row, runs: Iterable[Run]) -> tuple[Contour, ...]:
    """Dashes where nothing is played between two runs."""
    y, dashes = (row.hull_top + row.hull_bottom) / 2, []
    last: Run | None = None
    for run in runs:
        if last is not None and last.end < run.at:
            x, stop = row.x(last.end) + 7, row.x(run.at) - 14
            while x < stop:
                dashes.append(rectangle(x, y - 2, min(x + 14, stop), y + 2))
                x += 28
        last = run
    return clip_all(dashes, row.left, row.right)
