"""One voice of `play`: its vessels in a row, lit as far as they have sounded, with their marks."""

from bisect import bisect_left, bisect_right
from collections.abc import Hashable
from fractions import Fraction

from renderer.schedule import PlaySchedule
from renderer.timeline import Landing, Repetition
from scenes.look import arrive
from scenes.marks import (
    draw_crossing,
    draw_landing_disc,
    draw_landing_stroke,
    draw_masthead,
    draw_number,
    draw_realignment,
)
from scenes.row import Row, draw_rests, draw_vessel
from scenes.segment import Moment, Picture, Segment, marks_of


class PlayVoice:
    """The repetitions of one voice; `segment` keeps what does not change."""

    def __init__(self, segment: Segment, schedule: PlaySchedule, name: str) -> None:
        timeline = segment.timeline
        self.segment, self.schedule, self.name = segment, schedule, name
        self.shown_name = name if len(timeline.voices) > 1 else ""
        self.repetitions = [r for r in timeline.repetitions if r.voice == name]
        self._starts = [r.at for r in self.repetitions]
        self._sounds: dict[tuple[int, int], Fraction] = {}
        self.crossings, self.landings, self.realignments = marks_of(timeline, schedule, name)

    def sounding(self, now: int) -> Repetition | None:
        """The repetition that sounds at a tick."""
        index = bisect_right(self._starts, now) - 1
        return self.repetitions[index] if index >= 0 and now < self.repetitions[index].end else None

    def picture(self, row: Row, key: tuple[Hashable, ...], now: int | None, moment: Moment) -> Picture:
        """All of the voice in a row, at a tick (None in the count-in)."""
        first, last = self.in_row(row)
        rests = self.repetitions[max(0, first - 1) : last + 1]
        drawn = [*self.segment.keep(("rests", *key), draw_rests, row, rests)]
        for number in range(first, last):
            drawn += self._body(row, key, number, now)
        for number in range(first, last):
            drawn += self._marks(row, key, number, now, moment)
        return drawn

    def landings_on_the_line(self, row: Row, key: tuple[Hashable, ...], now: int | None) -> Picture:
        """The discs and rings on the line, which stand before the hulls of the voices below."""
        drawn: Picture = []
        for number in range(*self.in_row(row)):
            repetition = self.repetitions[number]
            landed = {mark.at for mark in self._landed(row, repetition, now)}
            for landing in self._landed(row, repetition, now):
                drawn += self.segment.keep(
                    ("disc", number, landing.at, *key), draw_landing_disc, row, landing
                )
            for realignment in self.realignments.get(repetition.number, []):
                if realignment.at in landed:
                    drawn += self.segment.keep(("home", number, *key), draw_realignment, row, realignment)
        return drawn

    def _landed(self, row: Row, repetition: Repetition, now: int | None) -> list[Landing]:
        """The landings of a repetition that have sounded, in a row."""
        return [
            mark
            for mark in self.landings.get(repetition.number, [])
            if mark.played and now is not None and mark.at <= now and row.holds(mark.at)
        ]

    def in_row(self, row: Row) -> tuple[int, int]:
        """The range of repetitions that sound in a row, as indices."""
        first = bisect_left(self._starts, row.start)
        if first and self.repetitions[first - 1].end > row.start:
            first -= 1
        return first, bisect_left(self._starts, row.end)

    # Vessels and their marks

    def _lit(self, repetition: Repetition, now: int | None) -> int:
        """How many of a repetition's pulses have sounded."""
        if now is None or now < repetition.at:
            return 0
        pulse = repetition.statement.pulse
        return min(-(-repetition.statement.played // pulse), (now - repetition.at) // pulse + 1)

    def _body(self, row: Row, key: tuple[Hashable, ...], number: int, now: int | None) -> Picture:
        """A vessel: what has sounded in its colour, the rest soft."""
        repetition, look = self.repetitions[number], self.segment.look
        statement, lit = repetition.statement, self._lit(repetition, now)
        colour = look.sail(repetition.number)
        if lit * statement.pulse >= statement.played:
            return self.segment.keep(("lit", number, *key), draw_vessel, row, repetition, colour)
        drawn = [*self.segment.keep(("soft", number, *key), draw_vessel, row, repetition, look.sail_soft)]
        if lit:
            until = row.x(repetition.at + lit * statement.pulse)
            drawn += self.segment.keep(
                ("part", number, lit, *key), draw_vessel, row, repetition, colour, until
            )
        return drawn

    def _marks(
        self, row: Row, key: tuple[Hashable, ...], number: int, now: int | None, moment: Moment
    ) -> Picture:
        """A repetition's number, mastheads and crossings, and the landings that have sounded."""
        repetition, look = self.repetitions[number], self.segment.look
        crossings = self.crossings.get(repetition.number, [])
        landings = [mark for mark in self.landings.get(repetition.number, []) if mark.played]
        places = [mark.at for mark in crossings] + [mark.at for mark in landings]
        colour = look.on_sail if self._lit(repetition, now) else look.ink
        name = self.shown_name if number == self._named(row) else ""
        drawn: Picture = []
        if "numbers" not in self.schedule.without:
            number_key = ("number", number, colour, *key)
            drawn += self.segment.keep(number_key, draw_number, row, repetition, places, colour, name)
        landed = self._landed(row, repetition, now)
        drawn += self._mastheads(row, key, number, {mark.at for mark in landed}, now, moment)
        for landing in landed:
            group = repetition.statement.group_at(landing.at - repetition.at)
            stroke_key = ("landing", number, landing.at, *key)
            drawn += self.segment.keep(stroke_key, draw_landing_stroke, row, landing, group.written)
        for crossing in crossings:
            if row.holds(crossing.at):
                drawn += self.segment.keep(
                    ("crossing", number, crossing.at, *key), draw_crossing, row, crossing
                )
        return drawn

    def _mastheads(
        self,
        row: Row,
        key: tuple[Hashable, ...],
        number: int,
        landed: set[int],
        now: int | None,
        moment: Moment,
    ) -> Picture:
        """A disc for each accent that begins a group; it swells by a third when it sounds."""
        repetition = self.repetitions[number]
        drawn: Picture = []
        if row.style.disc < 1 or "accents" in self.schedule.without:
            return drawn
        accents = set(repetition.statement.accents)
        for group in repetition.statement.groups:
            at = repetition.at + group.at
            if group.at not in accents or not row.left <= row.x(at) <= row.right:
                continue
            swell = 1.0
            if now is not None and at <= now and row.holds(at):
                swell += (1 - arrive(self._since(at, moment) / self.segment.look.swell)) / 3
            key_here = ("mast", number, group.at, swell, *key)
            drawn += self.segment.keep(
                key_here, draw_masthead, row, repetition, group.at, group.written, swell
            )
        return drawn

    def _since(self, at: int, moment: Moment) -> float:
        """Seconds since a tick of the present span sounded."""
        span = self.schedule.span_at(moment.seconds + moment.frame / 2)
        key = (span.start, at)
        if key not in self._sounds:
            self._sounds[key] = self.schedule.seconds_of(self.segment.timeline, span, at)
        return moment.since(self._sounds[key])

    def _named(self, row: Row) -> int:
        """Which repetition in a row says the voice's name: the first that begins there."""
        return bisect_left(self._starts, row.start)
