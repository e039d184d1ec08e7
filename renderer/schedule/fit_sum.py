"""A section's length as a sum of what one voice plays in it: its stretches, and the terms that they come to."""

from collections.abc import Sequence
from typing import Literal, NamedTuple

from renderer.timeline.model import Repetition, Section, Timeline

TermKind = Literal["carried", "whole", "first", "tail", "cut", "over", "rest", "left"]


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


class FitSum(NamedTuple):
    """The section's sum as a teacher says it: its terms make the section, or, with `over`, so many ticks too many."""

    terms: tuple[FitTerm, ...]
    over: int
    """What the last repetition is longer than its room, whether that is played or cut off."""


def first_closing(parts: Sequence[Part]) -> int:
    """The index of the first part behind the last whole repetition."""
    whole = [number for number, part in enumerate(parts) if part.kind in ("whole", "carried")]
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


def ticks_over(parts: Sequence[Part]) -> int:
    """By how much the last repetition is too long for its room: what runs on after the section, or what the section's
    end cuts off it, if that is less than what is played; else 0."""
    last = parts[-1]
    if last.kind == "over" and last.repetition:
        return last.repetition.end - last.end
    if last.kind == "cut" and last.repetition:
        lacking = last.repetition.statement.length - (last.end - last.at)
        return lacking if lacking < last.end - last.at else 0
    return 0


def add_up(parts: Sequence[Part]) -> FitSum:
    """The parts as terms, those that are alike taken together at the place of the first; a last repetition that is a
    little too long counts as a whole one."""
    over = ticks_over(parts)
    if over:
        parts = [*parts[:-1], parts[-1]._replace(kind="whole", end=parts[-1].end + over)]
    counts: dict[tuple[TermKind, int, str | None], int] = {}
    for part in parts:
        figure = part.repetition.statement.figure if part.repetition else None
        ticks = part.end - part.at
        lumped = part.kind in ("rest", "carried")
        key = (part.kind, 0 if lumped else ticks, None if lumped else figure)
        counts[key] = counts.get(key, 0) + (ticks if lumped else 1)
    terms = (
        FitTerm(kind, 1, count, figure)
        if kind in ("rest", "carried")
        else FitTerm(kind, count, ticks, figure)
        for (kind, ticks, figure), count in counts.items()
    )
    return FitSum(tuple(terms), over)
