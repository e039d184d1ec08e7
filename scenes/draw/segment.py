"""A segment: a function from time to a picture.

What is on the screen at a moment follows from the timeline, the schedule and that moment alone, never from
the frames drawn before. So any frame can be drawn by itself.
"""

from abc import ABC, abstractmethod
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from typing import TypeVar

from renderer.schedule.model import Schedule
from renderer.timeline.model import Crossing, Landing, Realignment
from scenes.draw.kept import Kept
from scenes.draw.look import Look
from scenes.draw.shapes import FilledShape

Picture = list[FilledShape]
Reading = TypeVar("Reading", Crossing, Landing, Realignment)


@dataclass(frozen=True)
class Moment:
    """A frame's time from the segment's start, and how long a frame lasts, both in seconds, exact.

    A frame stands for the instants nearest to its time: from half a frame before it up to half a frame after
    it. So what happens at `s` is first seen in frame nearest(s x frames a second), halves up.
    """

    seconds: Fraction
    frame: Fraction

    @cached_property
    def end(self) -> Fraction:
        """Up to when it stands for the instants nearest to it."""
        return self.seconds + self.frame / 2

    def reached(self, seconds: Fraction) -> bool:
        """Whether what happens at `seconds` has happened in this frame."""
        return seconds < self.end

    def since(self, seconds: Fraction) -> float:
        """Seconds since something that was reached, 0 in the frame that first shows it; negative before."""
        return (
            float(self.seconds - seconds)
            if not self.reached(seconds)
            else max(0.0, float(self.seconds - seconds))
        )

    def share(self, start: Fraction, end: Fraction) -> float:
        """How much of a stretch of time has passed, 0 to 1."""
        if end <= start:
            return 1.0 if self.reached(end) else 0.0
        return min(1.0, max(0.0, float((self.seconds - start) / (end - start))))


class Segment(ABC):
    """One segment of one lesson in one look, made for a canvas."""

    def __init__(self, schedule: Schedule, look: Look) -> None:
        self.timeline = schedule.timeline
        self.schedule = schedule
        self.look = look
        self.canvas = look.canvas
        self.keep = Kept()
        """For parts of the picture: `self.keep(self._posts, row)` makes them once."""

    @abstractmethod
    def picture(self, moment: Moment) -> Picture:
        """The shapes at a moment in the order in which they are painted."""


def by_repetition(readings: Iterable[Reading], voice: str) -> dict[int, list[Reading]]:
    """The crossings, landings or realignments of one voice by their repetition's number."""
    found: dict[int, list[Reading]] = {}
    for reading in readings:
        if reading.voice == voice:
            found.setdefault(reading.repetition_number, []).append(reading)
    return found


def marks_of(
    schedule: Schedule, voice: str
) -> tuple[dict[int, list[Crossing]], dict[int, list[Landing]], dict[int, list[Realignment]]]:
    """A voice's crossings, landings and realignments by repetition, but for what the schedule leaves out."""
    timeline = schedule.timeline
    crossings = by_repetition(timeline.crossings, voice)
    landings = by_repetition(timeline.landings, voice)
    realignments = by_repetition(timeline.realignments, voice)
    if "crossings" in schedule.without:
        crossings = {}
    if "landings" in schedule.without:
        landings, realignments = {}, {}
    return crossings, landings, realignments


def move_seconds(look: Look, beat: Fraction) -> Fraction:
    """How long a move takes: a beat, within the look's limits."""
    least, most = (Fraction(value).limit_denominator(1000) for value in (look.move_least, look.move_most))
    return min(most, max(least, beat))
