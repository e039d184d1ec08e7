"""wheel: the bar as a circle and the offsets that a figure visits until it starts on the downbeat again.

Inside the line closed to a ring, with posts and beats; outside the repetitions along a spiral, one turn a bar,
clockwise from the top. A disc marks each start; at the rim stands the number of the repetition that starts there. At
the right the offsets in order, then the sum.
"""

from collections.abc import Iterable
from fractions import Fraction
from itertools import accumulate
from math import cos, pi, sin

import numpy as np

from renderer.schedule.wheel import WheelSchedule
from scenes.draw.look import BOLD, CAPITAL, SEMIBOLD, Look, arrive
from scenes.draw.paths import Contour, bend, clip_all, disc, hull, polygon, ring, sail
from scenes.draw.segment import Moment, Picture, Segment
from scenes.draw.shapes import draw, draw_text
from scenes.draw.sums import SumPlace, draw_place, lay_sum
from scenes.draw.text import text_width
from scenes.draw.wording import mixed, pulse_word, wheel_question, wheel_sentence
from scenes.frame.head_and_foot import ABSENT, draw_counter, draw_legend, draw_sentence, draw_title
from scenes.wheel.offset_list import (
    LIST_LEFT,
    OffsetList,
    draw_home,
    draw_list_head,
    draw_offset,
    lay_offsets,
)

CENTRE_X, CENTRE_Y = 500.0, 553.0
RING, INNER, OUTER, RIM, NUMBERS = 122.0, 140.0, 292.0, 338.0, 367.0
"""Radii: the line, where the spiral begins and may end, the sky's rim, the numbers beyond it."""
FEW_TURNS, MOST_TURNS = 24, 40
"""With more turns than the first the spiral's strokes are as thin as can be; with more than the second there are only
discs."""
ALONE = 225.0
"""Radius of the discs where there is no spiral."""
WIDEST, THICKEST, SAIL = 44.0, 26.0, 40.0
"""The most from one turn to the next, the most of a hull's height, and a sail's height."""
PIECE = pi / 20
"""A curve is bent in pieces of this angle."""
SUM_BASELINE = 832.0


class WheelSegment(Segment):
    """One figure round one bar."""

    schedule: WheelSchedule

    def __init__(self, schedule: WheelSchedule, look: Look) -> None:
        super().__init__(schedule, look)
        self.figure, self.bar_pulses = schedule.figure, schedule.bar_pulses
        self.shown = len(schedule.offsets) - 1
        self.turns = float(self.shown * self.figure.pulses / self.bar_pulses)
        self.spiral = self.turns <= MOST_TURNS
        self.pitch = min(WIDEST, (OUTER - INNER) / max(1.0, self.turns)) if self.spiral else 0.0
        least = 3.0 if self.turns > FEW_TURNS else 4.0
        self.thick = max(least, min(THICKEST, self.pitch * 0.62)) if self.spiral else 10.0
        self.disc = self._disc_radius()
        self.starts = [0, *accumulate(self.figure.groups)][:-1]
        self.list = lay_offsets(look, schedule)
        self.rim = self._rim_numbers()
        self.sum = self._lay_sum()

    def picture(self, moment: Moment) -> Picture:
        schedule = self.schedule
        started = sum(1 for seconds in schedule.arrivals if moment.reached(seconds))
        home = started == self.shown + 1
        now = min(started, self.shown) - 1
        drawn: Picture = [*self.keep(self._disc_of_sky)]
        if self.spiral:
            for number in range(now):
                drawn += self.keep(self._body, number, None, False)
        if now >= 0 and (self.spiral or self.figure.pulses <= self.bar_pulses):
            until = None if home else self._walked(moment) - now * self.figure.pulses
            drawn += self.keep(self._body, now, None, True) if until is None else self._body(now, until, True)
        drawn += self.keep(self._ring)
        for number in range(started):
            drawn += self._start(number, moment)
        drawn += self._playhead(moment)
        drawn += self._offsets(started, moment)
        drawn += self._sum(moment)
        drawn += self.keep(self._head)
        drawn += self._counter(started, moment)
        return drawn + self._sentence(moment)

    # The circle

    def _walked(self, moment: Moment) -> float:
        """Pulses from the first start to where the walk is."""
        return float(self.schedule.position(moment.end))

    def _angle(self, pulses: float | Fraction) -> float:
        """Clockwise from the top."""
        return 2 * pi * float(pulses) / float(self.bar_pulses)

    def _radius(self, pulses: float) -> float:
        """The inner edge of the spiral after so many pulses."""
        return INNER + self.pitch * pulses / float(self.bar_pulses) if self.spiral else ALONE

    def _point(self, pulses: float | Fraction, radius: float) -> tuple[float, float]:
        angle = self._angle(pulses)
        return CENTRE_X + radius * sin(angle), CENTRE_Y - radius * cos(angle)

    def _disc_radius(self) -> float:
        """How large the starts' discs may be without covering each other."""
        if not self.spiral:
            return max(2.5, min(10.0, pi * ALONE / max(1, self.shown) * 0.8))
        apart = 2 * pi * INNER / max(1, self.shown)
        return max(4.0, min(10.0, max(self.pitch, apart) * 0.75))

    def _disc_of_sky(self) -> Picture:
        drawn: Picture = [draw(self.look.sky_one, disc(CENTRE_X, CENTRE_Y, RIM))]
        if not self.spiral:
            drawn.append(draw(self.look.line, *ring(CENTRE_X, CENTRE_Y, ALONE + self.thick / 2 + 2, 4)))
        return drawn

    def _ring(self) -> Picture:
        """The line as a ring, with the bar's posts, beats and pulses inside it, the beats numbered."""
        look = self.look
        inner = disc(CENTRE_X, CENTRE_Y, RING)
        drawn: Picture = [draw(look.ground, inner)]
        beats = [
            Fraction(0),
            *accumulate(length / self.figure.pulse for length in self.schedule.bar.meter.beats),
        ][:-1]
        if self.bar_pulses <= 64:
            pulses = [Fraction(n) for n in range(int(self.bar_pulses)) if Fraction(n) not in beats]
            drawn.append(draw(look.meter_line, *(self._spoke(at, 10, look.width_pulse + 1) for at in pulses)))
        for number, at in enumerate(beats):
            length, width = (34, look.width_post) if number == 0 else (24, look.width_beat)
            drawn.append(draw(look.meter_line, self._spoke(at, length, width)))
        drawn.append(draw(look.line, *ring(CENTRE_X, CENTRE_Y, RING + 2, look.width_line)))
        return [*drawn, *self._beat_numbers(beats)]

    def _spoke(self, at: Fraction, length: float, width: float) -> Contour:
        """A post that stands on the ring and points inwards."""
        angle = self._angle(at)
        across, along = (cos(angle), sin(angle)), (sin(angle), -cos(angle))
        corners = [
            (-width / 2, RING),
            (width / 2, RING),
            (width / 2, RING - length),
            (-width / 2, RING - length),
        ]
        return polygon(
            [
                (CENTRE_X + s * across[0] + r * along[0], CENTRE_Y + s * across[1] + r * along[1])
                for s, r in corners
            ]
        )

    def _beat_numbers(self, beats: Iterable[Fraction]) -> Picture:
        look = self.look
        drawn: Picture = []
        taken: list[tuple[float, float, float, float]] = []
        for number, at in enumerate(beats, start=1):
            x, y = self._point(at, RING - 60)
            box = _box(str(number), x, y, look.size_sentence)
            if all(_apart(box, other, 6) for other in taken):
                taken.append(box)
                baseline = y + look.size_sentence * CAPITAL / 2
                drawn.append(
                    draw_text(str(number), x, baseline, look.size_sentence, look.meter_text, SEMIBOLD, 0.5)
                )
        return drawn

    def _body(self, number: int, until: float | None, sails: bool) -> Picture:
        """A repetition on the spiral; with `until` only its first so many pulses. Its sails if it is the one that
        sounds."""
        contours = self._flat(number, sails)
        pulse = self._pulse_width(number)
        sounds = float(self.schedule.sounding - number * self.figure.pulses)
        if sounds < self.figure.pulses:
            walked = self.figure.pulses if until is None else until
            outline = [*self._flat(number, False), *self._hollow(number)]
            contours = [
                *clip_all(contours, -1.0, max(0.0, min(sounds, walked)) * pulse),
                *clip_all(outline, max(0.0, min(sounds, walked)) * pulse, walked * pulse),
            ]
        elif until is not None:
            contours = [*clip_all(contours, -1.0, until * pulse)]
        if not contours:
            return []
        start = number * self.figure.pulses

        def place(points: Contour) -> Contour:
            pulses = start + points[:, 0] / pulse
            angle = 2 * pi * pulses / float(self.bar_pulses)
            inner = (
                INNER + self.pitch * pulses / float(self.bar_pulses)
                if self.spiral
                else np.full(len(points), ALONE)
            )
            radius = inner - points[:, 1]
            return np.stack([CENTRE_X + radius * np.sin(angle), CENTRE_Y - radius * np.cos(angle)], axis=1)

        longest = PIECE / (2 * pi) * float(self.bar_pulses) * pulse
        colour = self.look.sail(self.schedule.first_number + number)
        return [draw(colour, *(bend(contour, place, longest) for contour in contours))]

    def _pulse_width(self, number: int) -> float:
        """Pixels to a pulse in the middle of a repetition."""
        middle = self._radius((number + 0.5) * self.figure.pulses) + self.thick / 2
        return 2 * pi * middle / float(self.bar_pulses)

    def _flat(self, number: int, sails: bool) -> list[Contour]:
        """A repetition before it is bent: x from its start, y up from the spiral's inner edge."""
        pulse = self._pulse_width(number)
        length = self.figure.pulses * pulse
        gap = min(4.0, length * 0.1)
        contours = [hull(0, length - gap, -self.thick, 0, min(1.15 * self.thick, 0.3 * length))]
        height = self._sail_height()
        if not sails or not height:
            return contours
        longest = max(self.figure.groups)
        for at, group in zip(self.starts, self.figure.groups, strict=True):
            tall, wide = (
                height * (0.30 + 0.70 * group / longest),
                group * pulse - min(gap, group * pulse * 0.2),
            )
            contours.append(sail(at * pulse, -self.thick - 2, wide, tall))
        return contours

    def _hollow(self, number: int) -> list[Contour]:
        """What is cut out of a repetition that is not played: only its outline stands."""
        length, edge = self.figure.pulses * self._pulse_width(number), min(2.5, self.thick / 4)
        right = length - min(4.0, length * 0.1) - edge
        if right <= 2 * edge:
            return []
        bow = max(0.0, min(1.15 * self.thick, 0.3 * length) - edge)
        return [hull(edge, right, edge - self.thick, -edge, bow)[::-1, ::-1]]

    def _sail_height(self) -> float:
        """Sails have the room outside their own turn; where a repetition is longer than a bar, up to its next turn."""
        if self.spiral and self.figure.pulses > self.bar_pulses:
            return max(0.0, self.pitch - self.thick - 4)
        return SAIL

    def _start(self, number: int, moment: Moment) -> Picture:
        """The disc where a repetition starts, with its number at the rim; at the return a ring round the disc."""
        share = min(1.0, 0.3 + moment.since(self.schedule.arrivals[number]) / self.look.fade)
        swell = 1 + (1 - arrive(moment.since(self.schedule.arrivals[number]) / self.look.swell)) / 3
        return self.keep(self._draw_start, number, share, swell)

    def _draw_start(self, number: int, opacity: float, swell: float) -> Picture:
        look, pulses = self.look, number * self.figure.pulses
        x, y = self._point(pulses, self._radius(pulses) + self.thick / 2)
        home = number == self.shown and self.schedule.complete
        radius = (9.0 if home else self.disc) * (1 if home else swell)
        drawn: Picture = []
        if number < self.shown or home:
            drawn = [
                draw(look.ground, disc(x, y, radius + look.edge), opacity=opacity),
                draw(look.ink, *self._disc(number, x, y, radius), opacity=opacity),
            ]
        if home:
            drawn.append(draw(look.ink, *ring(x, y, radius + 10, 3), opacity=opacity))
        if number in self.rim:
            text, at_x, baseline = self.rim[number]
            drawn.append(
                draw_text(
                    text, at_x, baseline, look.size_least, self._rim_colour(number), SEMIBOLD, 0.5, opacity
                )
            )
        return drawn

    def _is_played(self, number: int) -> bool:
        """Whether the piece plays the repetition that starts there."""
        if number >= self.schedule.count:
            return self.schedule.comes_home
        return number * self.figure.pulses < self.schedule.sounding

    def _disc(self, number: int, x: float, y: float, radius: float) -> tuple[Contour, ...]:
        """A start: filled where it is played, else a ring."""
        return (disc(x, y, radius),) if self._is_played(number) else ring(x, y, radius, min(3.0, radius / 2))

    def _rim_colour(self, number: int) -> str:
        return self.look.figure_text if self._is_played(number) else self.look.mute

    def _rim_numbers(self) -> dict[int, tuple[str, float, float]]:
        """The numbers round the rim that do not stand in each other's way, the first ones first."""
        placed: dict[int, tuple[str, float, float]] = {}
        taken: list[tuple[float, float, float, float]] = []
        for number, offset in enumerate(self.schedule.offsets[:-1]):
            text = str(self.schedule.first_number + number)
            x, y = self._point(offset, NUMBERS)
            box = _box(text, x, y, self.look.size_least)
            if all(_apart(box, other, 8) for other in taken):
                taken.append(box)
                placed[number] = (text, x, y + self.look.size_least * CAPITAL / 2)
        return placed

    def _playhead(self, moment: Moment) -> Picture:
        """A disc that glides round the ring."""
        schedule = self.schedule
        if not moment.reached(schedule.arrivals[0]) or moment.seconds >= schedule.home:
            return []
        x, y = self._point(float(schedule.position(moment.seconds)), RING)
        return [draw(self.look.ground, disc(x, y, 12 + self.look.edge)), draw(self.look.ink, disc(x, y, 12))]

    # What stands beside and round it

    def _offsets(self, started: int, moment: Moment) -> Picture:
        """The offsets as they come, and the return."""
        layout: OffsetList = self.list
        drawn: Picture = [*self.keep(draw_list_head, self.look)]
        for number in range(min(started, len(layout.places))):
            opacity = min(1.0, 0.3 + moment.since(self.schedule.arrivals[number]) / self.look.fade)
            drawn += self.keep(self._draw_offset, number, opacity)
        if started > self.shown:
            opacity = min(1.0, 0.3 + moment.since(self.schedule.home) / self.look.fade)
            drawn += self.keep(self._draw_home, opacity)
        return drawn

    def _draw_offset(self, number: int, opacity: float) -> Picture:
        return [*draw_offset(self.look, self.list, number, opacity)]

    def _draw_home(self, opacity: float) -> Picture:
        return [*draw_home(self.look, self.schedule, self.list, opacity)]

    def _lay_sum(self) -> list[SumPlace]:
        look, schedule = self.look, self.schedule
        repetitions = "repetition" if schedule.count == 1 else "repetitions"
        bars = "bar" if schedule.turns == 1 else "bars"
        figure, meter = look.sail_one, look.meter_text
        places = [
            SumPlace(str(schedule.count), figure, repetitions, figure),
            SumPlace("×", look.mute),
            SumPlace(str(self.figure.pulses), figure, "pulses", figure),
            SumPlace("=", look.mute),
            SumPlace(str(schedule.turns), meter, bars, meter),
            SumPlace("×", look.mute),
            SumPlace(mixed(schedule.bar_pulses), meter, "pulses", meter),
        ]
        return lay_sum(look, places, SUM_BASELINE, LIST_LEFT, most=look.size_counter) or []

    def _sum(self, moment: Moment) -> Picture:
        """A term a beat, each with the sign before it."""
        drawn: Picture = []
        for index, place in enumerate(self.sum):
            start = self.schedule.term_starts[(index + 1) // 2]
            if moment.reached(start):
                opacity = min(1.0, moment.since(start) / self.look.fade)
                drawn += self.keep(draw_place, self.look, place, opacity)
        return drawn

    def _head(self) -> Picture:
        figure = self.figure
        pulses = pulse_word(figure.pulse, figure.pulses)
        second = f"{figure.name}: {figure.pulses} {pulses} around a bar of {mixed(self.bar_pulses)}"
        return [*draw_title(self.look, self.timeline.title, second), *draw_legend(self.look)]

    def _counter(self, started: int, moment: Moment) -> Picture:
        schedule = self.schedule
        if schedule.position(moment.end) >= schedule.sounding or moment.reached(schedule.home):
            return []  # the piece has cut the figure, or the walk is over
        digits = len(str(schedule.first_number + self.shown)), len(str(schedule.bar.number + schedule.turns))
        if not started:
            absent = ("repetition", ABSENT, digits[0]), ("bar", ABSENT, digits[1]), ("beat", ABSENT, 1)
            return self.keep(draw_counter, self.look, absent)
        walked = schedule.position(moment.end)
        if started <= self.shown:
            walked = min(walked, Fraction(started * self.figure.pulses) - Fraction(1, 1000))
        walked = max(walked, Fraction((started - 1) * self.figure.pulses))
        turn, into = divmod(walked, self.bar_pulses)
        edges = list(accumulate(length / self.figure.pulse for length in schedule.bar.meter.beats))[:-1]
        beat = 1 + sum(1 for edge in edges if into >= edge)
        entries = (
            ("repetition", str(schedule.first_number + started - 1), digits[0]),
            ("bar", str(schedule.bar.number + int(turn)), digits[1]),
            ("beat", str(beat), 1),
        )
        return self.keep(draw_counter, self.look, entries)

    def _sentence(self, moment: Moment) -> Picture:
        schedule = self.schedule
        if not moment.reached(schedule.sentence):
            return self.keep(self._question)
        opacity = min(1.0, moment.since(schedule.sentence) / self.look.fade)
        return self.keep(self._answer, opacity)

    def _question(self) -> Picture:
        return [*draw_sentence(self.look, wheel_question(self.look, self.figure))]

    def _answer(self, opacity: float) -> Picture:
        schedule = self.schedule
        words = wheel_sentence(self.look, schedule.count, schedule.turns, schedule.played)
        return [*draw_sentence(self.look, words, opacity)]


def _box(text: str, x: float, y: float, size: float) -> tuple[float, float, float, float]:
    """What a text takes that is centred on a point."""
    width = text_width(text, size, BOLD)
    return x - width / 2, y - size * CAPITAL / 2, x + width / 2, y + size * CAPITAL / 2


def _apart(
    one: tuple[float, float, float, float], other: tuple[float, float, float, float], gap: float
) -> bool:
    return (
        one[2] + gap <= other[0]
        or other[2] + gap <= one[0]
        or one[3] + gap <= other[1]
        or other[3] + gap <= one[1]
    )
