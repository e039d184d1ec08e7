"""The repetitions of `spread` on a row, as far as the music has come, with what is marked on them."""

from bisect import bisect_left
from collections.abc import Iterable, Iterator
from itertools import pairwise
from math import inf
from typing import NamedTuple

from renderer.schedule.spread import SpreadSchedule
from renderer.schedule.wording import number_text
from renderer.timeline.model import Repetition
from scenes.draw.paths import clip_all
from scenes.draw.segment import Picture, Segment, marks_of
from scenes.draw.shapes import draw
from scenes.frame.counted import most_digits
from scenes.row.hits import draw_inner_hits, inner_hits
from scenes.row.line import Row, draw_rests, draw_soft_vessel, draw_vessel
from scenes.row.marks import (
    draw_accents,
    draw_crossing,
    draw_landing,
    draw_number,
    draw_realignment,
    number_place,
)
from scenes.row.runs import find_runs, run_contours

CROWDED, NARROW = 64.0, 10.0
"""Pixels: repetitions narrower than the first are not all numbered, narrower than the second have no hulls of their
own."""
BLOCK = 16
"""So many repetitions are kept as one part of the picture."""


class Reached(NamedTuple):
    """How far the music has come in a frame, in ticks: where it is, and before which tick marks are lit."""

    position: float
    now: float


class LaidRepetitions:
    """The repetitions of the voice that is spread out; `segment` keeps what does not change. What began before the
    music that is shown, and runs into it, is one of them."""

    def __init__(self, segment: Segment, schedule: SpreadSchedule, scale: float) -> None:
        self.segment, self.schedule, self.scale = segment, schedule, scale
        timeline, stretches = segment.timeline, schedule.course.stretches
        own = [r for r in timeline.repetitions if r.voice == schedule.voice]
        entering = [
            _entered(r, a)
            for a, _ in stretches
            for r in own
            if r not in schedule.repetitions and r.at < a < r.end
        ]
        self._ahead = [(a, [r for r in own if r.at < a and r.end > first]) for first, a in schedule.ahead]
        self._begins = {r.number: a for a, _ in stretches for r in entering if r.at < a < r.end}
        self.repetitions = sorted([*entering, *schedule.repetitions], key=lambda repetition: repetition.at)
        self._starts = [repetition.at for repetition in self.repetitions]
        self.crossings, self.landings, self.realignments = marks_of(schedule, schedule.voice)
        self.digits = most_digits(self.repetitions, schedule.numbers)
        shortest = min((r.statement.length for r in self.repetitions), default=0)
        self.narrow = bool(self.repetitions) and shortest * scale < NARROW
        self.runs = [run for a, b in stretches for run in find_runs(timeline, schedule.voice, a, b)]
        accents = [r.at + accent for r in self.repetitions for accent in r.statement.accents]
        self._closest = min((b - a for a, b in pairwise(accents)), default=inf)

    @property
    def longest_group(self) -> int:
        """In ticks."""
        return max((g.written for r in self.repetitions for g in r.statement.groups), default=1)

    def sounding(self, now: float) -> Repetition | None:
        """The repetition that a frame has reached and that has not ended before it."""
        index = bisect_left(self._starts, now) - 1
        return self.repetitions[index] if index >= 0 and now <= self.repetitions[index].end else None

    @property
    def kinds(self) -> frozenset[str]:
        """Which kinds of marks occur."""
        own = {repetition.number for repetition in self.repetitions}
        sounding = {number for number, found in self.landings.items() if any(mark.sounds for mark in found)}
        numbers = {
            "crossing": set(self.crossings),
            "landing": sounding,
            "realignment": set(self.realignments),
        }
        return frozenset(kind for kind, found in numbers.items() if own & found)

    def _in_row(self, row: Row) -> tuple[int, int]:
        """The range of repetitions that sound in a row, as indices."""
        first = bisect_left(self._starts, row.start)
        if first and self.repetitions[first - 1].end > row.start:
            first -= 1
        return first, bisect_left(self._starts, row.end)

    # Vessels

    def vessels(self, row: Row, reached: Reached | None) -> Picture:
        """What has sounded, up to the position and not beyond; all of the row without one."""
        keep = self.segment.keep
        if self.narrow:
            if reached is None:
                return keep(self._draw_runs, row, row.right)
            return self._draw_runs(row, row.x(reached.position))
        drawn: Picture = [*keep(self._draw_ahead, row)]
        first, last = self._in_row(row)
        done = last
        while reached and done > first and self.repetitions[done - 1].end > reached.position:
            done -= 1
        for numbers in _blocks(first, done):
            drawn += keep(self._draw_bodies, row, numbers)
        if reached and done < last and max(self._starts[done], row.start) < reached.position:
            drawn += self._draw_bodies(row, [done], row.x(reached.position))
        came = bisect_left(self._starts, reached.now) if reached else last + 1
        if first < came:
            drawn += keep(self._draw_rests, row, range(max(0, first - 1), min(last + 1, came)))
        return drawn

    def _draw_ahead(self, row: Row) -> Picture:
        """What is seen of the bar before the music, soft."""
        return [
            shape
            for begins, repetitions in self._ahead
            if row.start < begins < row.end
            for repetition in repetitions
            for shape in draw_soft_vessel(row, repetition)
        ]

    def _draw_rests(self, row: Row, numbers: range) -> Picture:
        return draw_rests(row, self.repetitions[numbers.start : numbers.stop])

    def _draw_bodies(self, row: Row, numbers: Iterable[int], until: float | None = None) -> Picture:
        drawn: Picture = []
        for number in numbers:
            repetition = self.repetitions[number]
            since = self._begins.get(repetition.number)
            left = row.x(since) if since is not None and row.start < since else None
            drawn += draw_vessel(row, repetition, row.look.sail(repetition.number), until=until, since=left)
        return drawn

    def _draw_runs(self, row: Row, until: float) -> Picture:
        """Repetitions that are too narrow to be told apart, as one hull as far as they are alike."""
        drawn: Picture = []
        for run in self.runs:
            shown = clip_all(run_contours(row, run), row.left, until) if row.shows(run.at, run.end) else ()
            drawn += [draw(row.look.sail_one, *shown)] if shown else []
        return drawn

    # Marks

    def marks(self, row: Row, reached: Reached | None) -> Picture:
        """What stands on the repetitions that have begun: each mark once it is reached."""
        keep = self.segment.keep
        first, last = self._in_row(row)
        now = reached.now if reached else inf
        last = min(last, bisect_left(self._starts, now))
        whole = max(first, last - 2) if reached else last
        drawn: Picture = []
        for numbers in _blocks(first, whole):
            drawn += keep(self._draw_all_marks, row, numbers)
        for number in range(whole, last):
            lit = max((at for at in self._marked(number) if at < now), default=row.start - 1)
            drawn += keep(self._draw_marks, row, number, lit + 1)
        return drawn

    def _marked(self, number: int) -> list[int]:
        """Where something is marked in a repetition, in ticks."""
        repetition = self.repetitions[number]
        own = repetition.number
        crossings = [crossing.at for crossing in self.crossings.get(own, [])]
        landings = [landing.at for landing in self.landings.get(own, [])]
        return [
            repetition.at,
            *crossings,
            *landings,
            *(repetition.at + hit for hit in repetition.statement.hits),
        ]

    def _draw_all_marks(self, row: Row, numbers: Iterable[int]) -> Picture:
        return [shape for number in numbers for shape in self._draw_marks(row, number, inf)]

    def _draw_marks(self, row: Row, number: int, now: float) -> Picture:
        repetition, look, without = self.repetitions[number], row.look, self.schedule.without
        own = repetition.number
        begins = self._begins.get(own, repetition.at)
        crossings = [crossing for crossing in self.crossings.get(own, []) if crossing.at >= begins]
        landings = [mark for mark in self.landings.get(own, []) if mark.sounds and mark.at >= begins]
        drawn: Picture = []
        every = _number_every(repetition.statement.length * self.scale)
        counted = own if self.schedule.numbers == "piece" else repetition.counted or 1
        if "numbers" not in without and (every == 1 or counted % every == 1):
            places = [crossing.at for crossing in crossings] + [landing.at for landing in landings]
            text = number_text(repetition, self.schedule.numbers)
            if own in self._begins:  # it stands on one side of where the music begins
                places.append(begins)
            place = number_place(row, repetition, text, places)
            soft = own in self._begins and place is not None and place < row.x(begins)
            colour = look.on_soft if soft else look.on_sail
            drawn += draw_number(row, repetition, text, places, colour)
        if "accents" not in without and self._closest * row.scale >= 2 * (row.style.disc + look.edge):
            drawn += draw_accents(row, repetition, until=now)
        if not self.narrow:
            hits = [hit for hit in inner_hits(repetition.statement) if repetition.at + hit < now]
            drawn += draw_inner_hits(row, repetition, hits, look.on_sail)
        for landing in landings:
            if row.holds(landing.at) and landing.at < now:
                group = repetition.statement.group_at(landing.at - repetition.at)
                drawn += draw_landing(row, landing, group.written)
        for realignment in self.realignments.get(own, []):
            if row.holds(realignment.at) and realignment.at >= begins:
                drawn += draw_realignment(row, realignment)
        for crossing in crossings:
            if row.holds(crossing.at) and crossing.at < now:
                drawn += draw_crossing(row, crossing)
        return drawn


def _entered(repetition: Repetition, begins: int) -> Repetition:
    """A repetition that runs into the music that is shown, with the hits and accents that are heard there."""
    statement, before = repetition.statement, begins - repetition.at
    heard = statement._replace(
        hits=tuple(hit for hit in statement.hits if hit >= before),
        accents=tuple(accent for accent in statement.accents if accent >= before),
    )
    return repetition._replace(statement=heard)


def _blocks(first: int, end: int) -> Iterator[range]:
    """Numbers from `first` up to `end` in blocks whose bounds stay where they are while the end grows."""
    while first < end:
        stop = min(end, first - first % BLOCK + BLOCK)
        yield range(first, stop)
        first = stop


def _number_every(narrowest: float) -> int:
    every = 1
    while narrowest * every < CROWDED and every < 8:
        every *= 2
    return every
