"""One voice of `play`: its vessels in a row, lit as far as they have sounded, with their marks."""

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Hashable, Iterable
from itertools import pairwise
from math import inf

from renderer.schedule.play import PlaySchedule
from renderer.timeline.model import Landing, Repetition
from scenes.draw.look import arrive
from scenes.draw.segment import P, Picture, Segment, marks_of
from scenes.draw.shapes import FilledShape
from scenes.row.line import Row, draw_rests, draw_vessel
from scenes.row.marks import (
    draw_accents,
    draw_crossing,
    draw_landing_disc,
    draw_landing_stroke,
    draw_masthead,
    draw_number,
    draw_realignment,
)


class PlayVoice:
    """The repetitions of one voice; `segment` keeps what does not change."""

    def __init__(self, segment: Segment, schedule: PlaySchedule, name: str) -> None:
        timeline = segment.timeline
        self.segment, self.schedule, self.name = segment, schedule, name
        self.shown_name = name if len(timeline.voices) > 1 else ""
        self.repetitions = [r for r in timeline.repetitions if r.voice == name]
        self._starts = [r.at for r in self.repetitions]
        self._accents = sorted(
            (r.at + group.at, number)
            for number, r in enumerate(self.repetitions)
            for group in r.statement.groups
            if group.at in r.statement.accents
        )
        self._closest = min((b - a for (a, _), (b, _) in pairwise(self._accents) if a < b), default=inf)
        self.crossings, self.landings, self.realignments = marks_of(schedule, name)

    def sounding(self, now: int) -> Repetition | None:
        """The repetition that sounds at a tick."""
        index = bisect_right(self._starts, now) - 1
        return self.repetitions[index] if index >= 0 and now < self.repetitions[index].end else None

    def parts(self, row: Row, pose: Hashable, now: int | None) -> dict[Hashable, Picture]:
        """All of the voice in a row, at a tick (None in the count-in); `pose` tells the row and its measures."""
        first, last = self.in_row(row.start, row.end)
        rests = self.repetitions[max(0, first - 1) : last + 1]
        parts = _Parts(self.segment, self.name, pose)
        parts.add("rests", draw_rests, row, rests)
        for number in range(first, last):
            self._add_body(parts, row, number, now)
        for number in range(first, last):
            self._add_marks(parts, row, number, now)
        return parts.found

    def swelling(self, row: Row, now: int, seconds_since: Callable[[int], float]) -> Picture:
        """The mastheads that have just sounded, larger than they are: they swell by a third."""
        drawn: Picture = []
        if not self._has_mastheads(row):
            return drawn
        swell = self.segment.look.swell
        for index in reversed(range(bisect_right(self._accents, (now, len(self.repetitions))))):
            at, number = self._accents[index]
            since = seconds_since(at)
            if since >= swell or at < row.start:
                break
            repetition = self.repetitions[number]
            if not any(mark.at == at for mark in self._landed(row, repetition, now)):
                start = at - repetition.at
                length = repetition.statement.group_at(start).written
                more = (1 - arrive(since / swell)) / 3
                drawn += draw_masthead(row, repetition, start, length, 1 + more)
        return drawn

    def landings_on_the_line(self, row: Row, pose: Hashable, now: int | None) -> dict[Hashable, Picture]:
        """The discs and rings on the line, which stand before the hulls of the voices below."""
        parts = _Parts(self.segment, self.name, pose)
        for number in range(*self.in_row(row.start, row.end)):
            repetition = self.repetitions[number]
            landings = self._landed(row, repetition, now)
            for landing in landings:
                parts.add(("disc", number, landing.at), draw_landing_disc, row, landing)
            for realignment in self.realignments.get(repetition.number, []):
                if any(landing.at == realignment.at for landing in landings):
                    parts.add(("home", number), draw_realignment, row, realignment)
        return parts.found

    def _landed(self, row: Row, repetition: Repetition, now: int | None) -> list[Landing]:
        """The landings of a repetition that have sounded, in a row."""
        return [
            mark
            for mark in self.landings.get(repetition.number, [])
            if mark.sounds and now is not None and mark.at <= now and row.holds(mark.at)
        ]

    def in_row(self, start: int, end: int) -> tuple[int, int]:
        """The range of repetitions that sound in a row from one tick to another, as indices."""
        first = bisect_left(self._starts, start)
        if first and self.repetitions[first - 1].end > start:
            first -= 1
        return first, bisect_left(self._starts, end)

    # Vessels and their marks

    def _lit(self, repetition: Repetition, now: int | None) -> int:
        """How many of a repetition's pulses have sounded."""
        if now is None or now < repetition.at:
            return 0
        pulse = repetition.statement.pulse
        return min(-(-repetition.statement.sounding_length // pulse), (now - repetition.at) // pulse + 1)

    def _add_body(self, parts: "_Parts", row: Row, number: int, now: int | None) -> None:
        """A vessel: what has sounded in its colour, the rest soft."""
        repetition, look = self.repetitions[number], self.segment.look
        statement, lit = repetition.statement, self._lit(repetition, now)
        colour = look.sail(repetition.number)
        if lit * statement.pulse >= statement.sounding_length:
            parts.add(("lit", number), draw_vessel, row, repetition, colour)
            return
        parts.add(("soft", number), draw_vessel, row, repetition, look.sail_soft)
        if lit:
            until = row.x(repetition.at + lit * statement.pulse)
            parts.add(("part", number, lit), draw_vessel, row, repetition, colour, until)

    def _add_marks(self, parts: "_Parts", row: Row, number: int, now: int | None) -> None:
        """A repetition's number, mastheads and crossings, and the landings that have sounded."""
        repetition, look = self.repetitions[number], self.segment.look
        crossings = self.crossings.get(repetition.number, [])
        landings = [mark for mark in self.landings.get(repetition.number, []) if mark.sounds]
        places = [mark.at for mark in crossings] + [mark.at for mark in landings]
        colour = look.on_sail if self._lit(repetition, now) else look.ink
        name = self.shown_name if number == self._named(row) else ""
        if "numbers" not in self.schedule.without:
            parts.add(("number", number, colour), draw_number, row, repetition, places, colour, name)
        if self._has_mastheads(row):
            parts.add(("masts", number), draw_accents, row, repetition)
        for landing in self._landed(row, repetition, now):
            group = repetition.statement.group_at(landing.at - repetition.at)
            parts.add(("landing", number, landing.at), draw_landing_stroke, row, landing, group.written)
        for crossing in crossings:
            if row.holds(crossing.at):
                parts.add(("crossing", number, crossing.at), draw_crossing, row, crossing)

    def _has_mastheads(self, row: Row) -> bool:
        """Whether accents are marked: not where their discs would stand in each other's way; landings always are."""
        apart = self._closest * row.scale >= 2 * self.segment.look.row_now.disc + self.segment.look.gap
        return apart and row.style.disc >= 1 and "accents" not in self.schedule.without

    def _named(self, row: Row) -> int:
        """Which repetition in a row says the voice's name: the first that begins there."""
        return bisect_left(self._starts, row.start)


class _Parts:
    """A voice's parts in a pose, by name; what has been drawn before is found again."""

    def __init__(self, segment: Segment, voice: str, pose: Hashable) -> None:
        self.found: dict[Hashable, Picture] = {}
        self._segment, self._voice, self._pose = segment, voice, pose

    def add(
        self,
        name: Hashable,
        make: Callable[P, Iterable[FilledShape]],
        *arguments: P.args,
        **options: P.kwargs,
    ) -> None:
        key = (name, self._voice)
        self.found[key] = self._segment.keep((key, self._pose), make, *arguments, **options)
