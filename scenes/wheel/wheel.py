"""wheel: the bar as a circle, and the figure laid round it until it starts on the downbeat again.

The line is closed to a ring, posts and beats inside it. Outside, few turns are a spiral, one turn a bar, clockwise from
the top; of many each start has a sail in its place. At the rim stands the number of the repetition that starts there.
Beside it: how far each start moves, the offsets in order, then the sum.
"""

from collections.abc import Sequence
from fractions import Fraction
from math import ceil

from renderer.core.note_values import pulse_word
from renderer.schedule.wheel import WheelSchedule
from renderer.schedule.wording import mixed
from scenes.draw.fading import faded
from scenes.draw.look import BOLD, Look, arrive
from scenes.draw.paths import Contour, disc, polygon, ring
from scenes.draw.segment import Moment, Picture
from scenes.draw.shapes import FilledShape, draw
from scenes.draw.text import fit_size
from scenes.frame.counted import count_repetition, most_digits
from scenes.frame.head import Count
from scenes.frame.headed import HeadedSegment, Sentence
from scenes.frame.phrasing import colour_phrases
from scenes.wheel.circle import (
    beat_places,
    clear_texts,
    draw_arrow,
    draw_disc_of_sky,
    draw_rim_number,
    draw_ring,
)
from scenes.wheel.column import WheelColumn
from scenes.wheel.layout import lay_wheel
from scenes.wheel.way import WheelWay

MOST_GROUPS = 9
"""A figure of more groups is told by its length alone."""
SUM_FADE = Fraction(2, 5)
"""Seconds in which the sum comes in."""
HOME_RING, HOME_WIDTH = 11.0, 4.0
"""From the disc of the return to its ring's outer edge, and the ring's width."""


class WheelSegment(HeadedSegment):
    """One figure round one bar."""

    schedule: WheelSchedule

    def __init__(self, schedule: WheelSchedule, look: Look) -> None:
        super().__init__(schedule, look)
        self.layout = lay_wheel(self.canvas)
        self.way = WheelWay(schedule, look, self.layout)
        self.column = WheelColumn(schedule, look, self.layout)
        self.beats = tuple(beat_places(schedule.bar.meter.beats, schedule.figure.pulse))
        self.shown = schedule.way.shown
        self.first = schedule.first_number
        turns = [float(offset / schedule.bar_pulses) for offset in schedule.offsets[:-1]]
        numbers = [(str(self.first + number), place) for number, place in enumerate(turns)]
        widest = max(numbers, key=lambda number: len(number[0]))[0]
        self.size = fit_size(widest, self.layout.number_size, look.size_least, self.layout.number_room, BOLD)
        self.rim = clear_texts(self.layout, numbers, self.layout.rim, self.size, 8)

    # The head

    def sentence(self, moment: Moment) -> Sentence:
        schedule = self.schedule
        if not moment.reached(schedule.answered):
            return Sentence(self._where(), colour_phrases(self.look, schedule.question))
        return Sentence(self._where(), colour_phrases(self.look, schedule.answer), schedule.answered)

    def _where(self) -> str:
        figure = self.schedule.figure
        pulses = pulse_word(figure.pulse, figure.pulses)
        many = 1 < len(figure.groups) <= MOST_GROUPS
        length = " + ".join(map(str, figure.groups)) if many else str(figure.pulses)
        section = self.timeline.sections[self.schedule.bar.section_index].name
        bar = mixed(self.schedule.bar_pulses)
        return f"{self.timeline.title}, {section}: {figure.name}, {length} {pulses} around a bar of {bar}"

    def real_end(self) -> Fraction | None:
        course = self.schedule.walk.course
        return course.real_end if course else None

    def counts(self, moment: Moment) -> Sequence[Count]:
        """Bar and repetition while time is real; before that the beats that are counted in."""
        look, course = self.look, self.schedule.walk.course
        if course is None:
            return ()
        if not moment.reached(course.begins):
            beat = course.counted_beat(moment.end)
            return (Count("beat", str(beat), 1, look.meter_text),) if beat else ()
        now = ceil(course.position(moment.end)) - 1
        bar = self.timeline.bar_at(max(course.start, now))
        counts = [Count("bar", str(bar.number), len(str(self.timeline.bars[-1].number)), look.meter_text)]
        run = self.schedule.run
        sounding = next((r for r in reversed(run) if r.at <= max(course.start, now)), run[0])
        if not self.canvas.tall:
            numbers = self.schedule.numbers
            counts.insert(0, count_repetition(look, sounding, numbers, most_digits(run, numbers)))
        return counts

    # The picture

    def music(self, moment: Moment) -> Picture:
        schedule = self.schedule
        started = sum(1 for seconds in schedule.arrivals if moment.reached(seconds))
        drawn = [*self.keep(draw_disc_of_sky, self.look, self.layout)]
        drawn += self._bodies(min(started, self.shown), moment)
        ring_of = self.way.ring
        drawn += self.keep(draw_ring, self.look, self.layout, ring_of, schedule.bar_pulses, self.beats)
        for number in range(min(started, self.shown)):
            drawn += self._start(number, moment)
        drawn += self._hand(moment)
        if started > self.shown and schedule.complete:
            drawn += self.keep(self._home, self._coming(schedule.home, moment))
        return drawn + self._told(started, moment)

    def _coming(self, seconds: Fraction, moment: Moment) -> float:
        """The opacity of what comes in at a time."""
        return min(1.0, 0.3 + moment.since(seconds) / self.look.fade)

    def _bodies(self, started: int, moment: Moment) -> Picture:
        """The repetitions on the spiral, up to where the walk is, or a sail for each start."""
        drawn: Picture = []
        pulses, walked = self.schedule.figure.pulses, self.schedule.walk.position(moment.seconds)
        for number in range(started):
            if not self.way.spiral:
                coming = self._coming(self.schedule.arrivals[number], moment)
                drawn += self.keep(self.way.place, number, coming)
            elif walked >= (number + 1) * pulses:
                drawn += self.keep(self.way.vessel, number, float(pulses))
            elif walked > number * pulses:
                drawn += self.way.vessel(number, walked - number * pulses)
        return drawn

    def _start(self, number: int, moment: Moment) -> Picture:
        """Where a repetition starts: a disc on the spiral, and its number at the rim."""
        since = moment.since(self.schedule.arrivals[number])
        swell = 1 + (1 - arrive(since / self.look.swell)) / 3
        return self.keep(self._draw_start, number, min(1.0, 0.3 + since / self.look.fade), swell)

    def _draw_start(self, number: int, opacity: float, swell: float) -> Picture:
        look, played, drawn = self.look, self.way.played(number), list[FilledShape]()
        if self.way.spiral:
            (x, y), radius = self.way.start(number), self.way.disc * swell
            drawn.append(draw(look.ground, disc(x, y, radius + look.edge), opacity=opacity))
            shape = (disc(x, y, radius),) if played else ring(x, y, radius, 3)
            drawn.append(draw(look.ink, *shape, opacity=opacity))
        if number in self.rim:
            drawn += draw_rim_number(look, self.size, self.rim[number], played, opacity)
        return drawn

    def _hand(self, moment: Moment) -> Picture:
        """A stroke from the line outwards, where the walk is."""
        schedule, look, way = self.schedule, self.look, self.way
        if not moment.reached(schedule.walk.begins) or moment.seconds >= schedule.home:
            return []
        turns = schedule.walk.position(moment.seconds) / float(schedule.bar_pulses)
        reach = way.radius(turns) + way.thick + way.high if way.spiral else self.layout.sky - 10
        drawn: Picture = []
        for colour, half in (
            (look.ground, look.width_playhead / 2 + look.edge),
            (look.ink, look.width_playhead / 2),
        ):
            drawn.append(draw(colour, self._stroke(turns, way.ring - 10, reach, half)))
        return drawn

    def _stroke(self, turns: float, start: float, end: float, half: float) -> Contour:
        (x0, y0), (x1, y1) = self.layout.point(turns, start), self.layout.point(turns, end)
        length = end - start
        aside, along = (y1 - y0) / length * half, (x1 - x0) / length * half
        return polygon(
            [
                (x0 - aside, y0 + along),
                (x0 + aside, y0 - along),
                (x1 + aside, y1 - along),
                (x1 - aside, y1 + along),
            ]
        )

    def _home(self, opacity: float) -> Picture:
        """The return: a disc with a ring round it; hollow where the piece does not play it."""
        look, way = self.look, self.way
        (x, y), radius = way.start(self.shown), max(way.disc, 9.0)
        outer = radius + HOME_RING
        shape = (disc(x, y, radius),) if way.played(self.shown) else ring(x, y, radius, 3)
        return [
            draw(look.ground, disc(x, y, outer + look.edge), opacity=opacity),
            draw(look.ink, *shape, *ring(x, y, outer, HOME_WIDTH), opacity=opacity),
        ]

    # What is told

    def _told(self, started: int, moment: Moment) -> Picture:
        """How each start moves, from the second one on, the offsets as they come, the sum with the answer."""
        schedule, column, drawn = self.schedule, self.column, list[FilledShape]()
        answers = moment.share(schedule.answered, schedule.answered + SUM_FADE)
        for index, place in enumerate(column.places):
            if place.number < started:
                drawn += self.keep(
                    column.offset, index, self._coming(schedule.arrivals[place.number], moment)
                )
        away = 0.0 if self.layout.beside else 2 * answers
        slips, told = column.slips, min(schedule.slip.repetitions, self.shown)
        now = slips and started > told
        if started and not now and self.layout.beside:
            drawn += self.keep(column.head, self._coming(schedule.arrivals[0], moment))
        if now:
            coming = self._coming(schedule.arrivals[told], moment)
            drawn += self.keep(column.slip, max(0.0, min(coming, 1 - away))) + self.keep(self._arrow, coming)
        if answers:
            drawn += self.keep(column.sum, answers if self.layout.beside else max(0.0, 2 * answers - 1))
            if self.footed and schedule.way.reached <= self.shown:
                drawn += self.keep(column.legend)
        return drawn

    def _arrow(self, opacity: float) -> Picture:
        slip = self.schedule.slip
        if self.way.spiral or slip.repetitions > 1 or not slip.by:
            return []
        text = f"{mixed(abs(slip.by))} {'back' if slip.by < 0 else 'on'}"
        return faded(draw_arrow(self.look, self.layout, self.way.ring, text, slip.by < 0), opacity)
