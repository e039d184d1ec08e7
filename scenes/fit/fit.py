"""fit: a section's length as a sum of repetitions, what is left over, what fills it, and what lands after it.

Above the sum; under it the whole section and a bar more on one row, filled up from the left; at the bottom its end
enlarged, over the same bars that the frame above shows.
"""

from fractions import Fraction

from renderer.core.names import bars_from
from renderer.schedule.fit import FitSchedule
from renderer.schedule.fit_sentences import figure_names, sum_words, which_text
from renderer.schedule.fit_sum import Part
from renderer.schedule.wording import mixed
from renderer.timeline.model import Repetition
from scenes.draw.fading import faded
from scenes.draw.look import BOLD, CAPITAL, REGULAR, Look, glide
from scenes.draw.paths import polygon, rectangle
from scenes.draw.segment import Moment, Picture
from scenes.draw.shapes import FilledShape, draw, draw_text, draw_words, words_width
from scenes.draw.sum_lines import draw_sum
from scenes.draw.text import text_width
from scenes.fit.landing import draw_landing_after
from scenes.fit.layout import lay_fit
from scenes.fit.posts import draw_end_posts, draw_whole_posts
from scenes.fit.sum import FitSums
from scenes.fit.told import draw_told
from scenes.frame.head import break_words
from scenes.frame.headed import HeadedSegment, Sentence
from scenes.frame.phrasing import colour_phrases, say_stretches
from scenes.row.close_row import CloseRow
from scenes.row.hits import draw_marks, has_room, inner_hits
from scenes.row.line import VESSEL_GAP, Row, draw_rests, draw_soft_vessel, draw_vessel
from scenes.row.sky import draw_sky

NARROW = 24.0
"""Repetitions narrower than this become one hull."""
SET_OFF = 24.0
"""How far left of its place a repetition sets off, in pixels."""
COMES = Fraction(3, 10)
"""Seconds that something takes to come in."""
LINE_CUT = 10.0
"""Pixels cut out of the sky left of the line between two sections."""
WORDS_APART, WORDS_DROP = 48.0, 62.0
"""From the sum to its words beside it, or down to them under it."""
TAIL_NUMBER = 76.0


class FitSegment(HeadedSegment):
    """One section of one voice, added up."""

    schedule: FitSchedule

    def __init__(self, schedule: FitSchedule, look: Look) -> None:
        super().__init__(schedule, look)
        self.layout = lay_fit(look, schedule)
        self.whole, self.end = self.layout.whole, self.layout.end
        self.line = schedule.section.end
        whole = [part for part in schedule.parts[: schedule.closing] if part.repetition]
        self.merged = bool(whole) and min(part.end - part.at for part in whole) * self.whole.scale < NARROW
        self.sums = FitSums(schedule, look)
        self.own = [r for r in self.timeline.repetitions if r.voice == schedule.voice]

    # The head

    def sentence(self, moment: Moment) -> Sentence:
        schedule, section = self.schedule, self.schedule.section
        first, last = section.first_bar_number, section.last_bar_number
        bars = bars_from(first, last)
        names = figure_names(schedule.parts)
        small = f"{section.name}, {bars}" + (f": {', '.join(names)}" if names else "")
        if len(names) == 1 and 1 < len(groups := self.timeline.figure(names[0]).groups) <= 9:
            small += f", {' + '.join(map(str, groups))}"
        if not moment.reached(schedule.landed):
            return Sentence(small, colour_phrases(self.look, schedule.question))
        return Sentence(small, colour_phrases(self.look, schedule.answer), schedule.landed)

    # The picture

    def music(self, moment: Moment) -> Picture:
        drawn = [*self.keep(draw_sky, self.whole, ())]
        drawn += self._filling(moment)
        drawn += self.keep(self._bars)
        drawn += self._sums(moment)
        drawn += self._enlarged(moment)
        return drawn + self.legend(self._kinds(), self.canvas.marks[-1:])

    def _kinds(self) -> frozenset[str]:
        shown = [part.repetition for part in self.schedule.parts if part.repetition and self._in_end(part)]
        kinds = {"accent"} if any(r.statement.accents for r in shown) else set()
        hits = any(inner_hits(r.statement) and has_room(self.end, r.statement) for r in shown)
        return frozenset(kinds | ({"hit"} if hits else set()))

    def _in_end(self, part: Part) -> bool:
        return self.end.shows(part.at, part.end)

    def _followers(self, row: Row) -> list[Repetition]:
        """What begins after the section, and what sounded before it, in a row."""
        line, first = self.line, self.schedule.section.at
        return [
            r
            for r in self.own
            if row.shows(r.at, r.end) and (r.at >= line or (r.at < first and r.end <= first))
        ]

    # The whole section on one row

    def _filling(self, moment: Moment) -> Picture:
        """What has its place, and what is on its way there."""
        schedule, row = self.schedule, self.whole
        arrived = sum(1 for seconds in schedule.arrivals if moment.reached(seconds))
        drawn: Picture = [*self.keep(self._section_line, row)]
        coming = moment.share(schedule.enlarged - COMES, schedule.enlarged)
        if coming:
            drawn += faded(self.keep(self._soft, row), coming)
        first = 0
        if self.merged:
            first, until = schedule.closing, min(arrived, schedule.closing)
            drawn += self.keep(self._merged, until) if until else []
        for index in range(first, len(schedule.parts)):
            part, arrival = schedule.parts[index], schedule.arrivals[index]
            if part.repetition is not None:
                drawn += self._arriving(row, part.repetition, arrival, moment)
        shown = tuple(part.repetition for part in schedule.parts[:arrived] if part.repetition)
        if len(shown) > 1 and not self.merged:
            drawn += self.keep(self._rests, row, len(shown))
        return drawn + self._open(row, moment)

    def _rests(self, row: Row, count: int) -> Picture:
        shown = [part.repetition for part in self.schedule.parts if part.repetition][:count]
        return [*draw_rests(row, shown)]

    def _arriving(self, row: Row, repetition: Repetition, arrival: Fraction, moment: Moment) -> Picture:
        """A repetition that glides into its place."""
        share = 1.0 if moment.reached(arrival) else glide(moment.share(arrival - COMES, arrival))
        if not share:
            return []
        colour = self.look.sail(repetition.number)
        return self.keep(draw_vessel, row, repetition, colour, None, -SET_OFF * (1 - share), share)

    def _soft(self, row: Row) -> Picture:
        drawn: Picture = []
        for repetition in self._followers(row):
            if (repetition.end - repetition.at) * row.scale > 3 * VESSEL_GAP:
                drawn += draw_soft_vessel(row, repetition)
        return drawn

    def _section_line(self, row: Row) -> Picture:
        """A cut in the sky where the section ends."""
        x = row.x(self.line)
        if not row.left < x < row.right:
            return []
        return [draw(self.look.ground, rectangle(x - LINE_CUT, row.top, x, row.line))]

    def _merged(self, until: int) -> Picture:
        """Many narrow repetitions as one hull, as far as they have come."""
        parts, row, look = self.schedule.parts[:until], self.whole, self.look
        left, right = row.x(parts[0].at), row.x(parts[-1].end)
        body = rectangle(left, row.hull_top, right - VESSEL_GAP, row.hull_bottom)
        drawn: Picture = [draw(look.sail_one, body)]
        whole = [term for term in self.schedule.sum.terms if term.kind == "whole"]
        text = f"{whole[0].times} × {self.schedule.pulses(whole[0].ticks)}" if len(whole) == 1 else ""
        fits = text_width(text, look.size_least, BOLD) + 24 < right - left
        if until == self.schedule.closing and text and fits and not self.schedule.sum.over:
            baseline = row.hull_bottom - (row.style.hull - look.size_least * CAPITAL) / 2
            drawn.append(draw_text(text, left + 12, baseline, look.size_least, look.on_sail, BOLD))
        return drawn

    def _bars(self) -> Picture:
        return draw_whole_posts(self.timeline, self.whole, self.line)

    # The sum

    def _sums(self, moment: Moment) -> Picture:
        sums, layout, drawn = self.sums, self.layout, list[FilledShape]()
        for words, x, opacity in sums.shown(moment):
            left = self.canvas.left + x
            drawn += self.keep(draw_sum, words, left, layout.sum_baseline, sums.size, opacity, sums.tight)
        if moment.reached(self.schedule.landed):
            drawn += faded(self.keep(self._sum_words), moment.since(self.schedule.landed) / self.look.fade)
        return drawn

    def _sum_words(self) -> Picture:
        """The sum in words: beside it, on a tall canvas under it; left out where there is no room."""
        schedule, canvas, look = self.schedule, self.canvas, self.look
        phrases = sum_words(self.timeline, schedule.section, schedule.sum, schedule.pulse)
        words = [
            word._replace(weight=REGULAR, colour=look.mute if word.colour == look.ink else word.colour)
            for word in say_stretches(look, colour_phrases(look, phrases))
        ]
        under = self.layout.above
        left = canvas.left if under else canvas.left + self.sums.width + WORDS_APART
        room, first = canvas.right - left, self.layout.sum_baseline + (WORDS_DROP if under else 0)
        if words_width(words, look.size_sentence) <= room:
            return draw_words(words, left, first - (0 if under else 4), look.size_sentence)
        size = look.size_least + (4 if under else 0)
        if room < 240:
            return []
        lines = break_words(words, size, room, 2)
        if lines[-1][-1].text.endswith("…"):
            return []
        up = 0 if under else 44
        return [
            shape
            for index, line in enumerate(lines)
            for shape in draw_words(line, left, first - up + index * 44, size)
        ]

    # Its end enlarged

    def _enlarged(self, moment: Moment) -> Picture:
        schedule = self.schedule
        drawn = [*self.keep(self._frames), *self.keep(self._section_line, self.end)]
        coming = moment.share(schedule.enlarged - COMES, schedule.enlarged)
        if coming:
            drawn += faded(self.keep(self._soft, self.end), coming)
        drawn += self._end_whole(moment)
        drawn += self._open(self.end, moment)
        for part in schedule.parts[schedule.closing :]:
            if part.repetition is not None:
                drawn += self._arriving(self.end, part.repetition, schedule.filled, moment)
        if moment.reached(schedule.filled):
            coming = moment.since(schedule.filled) / self.look.fade if schedule.filled else 1.0
            drawn += faded(self.keep(self._end_filled), coming)
        drawn += self.keep(self._end_bars)
        if moment.reached(schedule.landed):
            drawn += faded(self.keep(self._landing), moment.since(schedule.landed) / self.look.fade)
        return drawn + self._told(moment)

    def _frames(self) -> Picture:
        """The frame round what is enlarged, and the light that falls from it onto the enlarged row."""
        left, top, right, bottom = self.layout.frame
        look, row = self.look, self.end
        light = polygon([(left, bottom), (right, bottom), (row.right, row.top), (row.left, row.top)])
        return [
            draw(look.mute, light, opacity=0.14),
            *_outline(left, top, right, bottom, look.mute),
            *draw_sky(row, ()),
        ]

    def _end_whole(self, moment: Moment) -> Picture:
        """The last repetitions before what is left over, as they come, the last of them named."""
        schedule, drawn = self.schedule, list[FilledShape]()
        for part, arrival in zip(schedule.parts[: schedule.closing], schedule.arrivals, strict=False):
            if part.repetition is not None and self._in_end(part):
                drawn += self._arriving(self.end, part.repetition, arrival, moment)
                if moment.reached(arrival):
                    drawn += self.keep(draw_marks, self.end, part.repetition, self.look.on_sail)
        coming = moment.share(schedule.enlarged - COMES, schedule.enlarged)
        return drawn + (faded(self.keep(self._end_words), coming) if coming else [])

    def _end_words(self) -> Picture:
        schedule = self.schedule
        parts = schedule.parts[: schedule.closing]
        near = [part.repetition for part in parts if part.repetition and self._in_end(part)]
        drawn = [*draw_rests(self.end, near)]
        return drawn + (self._hull_text(near[-1], which_text(near[-1])) if near else [])

    def _end_filled(self) -> Picture:
        """Accents and words of what fills what was left over."""
        drawn: Picture = []
        for part in self.schedule.parts[self.schedule.closing :]:
            repetition = part.repetition
            if repetition is None:
                continue
            tail = repetition.statement.kind == "tail"
            drawn += draw_marks(self.end, repetition, self.look.ink if tail else self.look.on_sail)
            drawn += self._hull_text(repetition, *self._filling_words(repetition))
            if tail:
                drawn += self._tail_numbers(repetition)
        return drawn

    def _filling_words(self, repetition: Repetition) -> tuple[str, ...]:
        statement = repetition.statement
        if statement.kind == "tail":
            return (self.look.words.say("tail"),)
        which = which_text(repetition)
        if statement.sounding_length == statement.length:
            return (which,)
        sounding, length = (
            mixed(Fraction(n, statement.pulse)) for n in (statement.sounding_length, statement.length)
        )
        return f"{which}: {sounding} of {length}", f"{sounding} of {length}"

    def _tail_numbers(self, repetition: Repetition) -> Picture:
        row, look, drawn = self.end, self.look, list[FilledShape]()
        for group in repetition.statement.groups:
            text = mixed(Fraction(group.length, repetition.statement.pulse))
            x, width = row.x(repetition.at + group.at), group.length * row.scale
            height = row.base - row.mast(group.written)
            size = min(TAIL_NUMBER, 0.5 * width / text_width(text, 1, BOLD), 0.75 * height)
            if size >= look.size_least and x >= row.left:
                drawn.append(
                    draw_text(text, x + 0.12 * width + 6, row.base - 18, size, look.figure_text, BOLD)
                )
        return drawn

    def _hull_text(self, repetition: Repetition, *choices: str) -> Picture:
        """The first of these texts that fits into a repetition's hull."""
        row, look = self.end, self.look
        size = row.style.number
        left = max(row.left, row.x(repetition.at)) + 18
        right = min(row.right, row.x(repetition.end) - 0.5 * row.style.hull, self.canvas.right)
        colour = look.figure_text if repetition.statement.kind == "tail" else look.on_sail
        for text in choices:
            if text and left + text_width(text, size, BOLD) <= right:
                baseline = row.hull_bottom - (row.style.hull - size * CAPITAL) / 2
                return [draw_text(text, left, baseline, size, colour, BOLD)]
        return []

    def _open(self, row: Row, moment: Moment) -> Picture:
        """What is left over as an empty outline, with its number in the enlarged row, until it is filled; what stays
        silent stays open."""
        schedule = self.schedule
        parts = schedule.parts[schedule.closing :]
        if not parts or not moment.reached(schedule.left_over):
            return []
        coming = min(1.0, moment.since(schedule.left_over) / self.look.fade)
        if all(part.repetition is None for part in parts):
            return faded(self.keep(self._draw_open, row, parts[0].at), coming)
        going = glide(moment.share(schedule.filled - COMES, schedule.filled))
        if going < 1:
            return faded(self.keep(self._draw_open, row, parts[0].at), coming * (1 - going))
        return self.keep(self._draw_open, row, parts[-1].at) if parts[-1].kind == "left" else []

    def _draw_open(self, row: Row, at: int) -> Picture:
        look = self.look
        left, right = max(row.left, row.x(at)), row.x(self.line) - VESSEL_GAP
        drawn = _outline(left, row.hull_top, right, row.hull_bottom, look.ink)
        text, size = self.schedule.pulses(self.line - at), look.size_counter
        if row is self.end:
            half = text_width(text, size, BOLD) / 2
            x = min(max((left + right) / 2, self.canvas.left + half), self.canvas.right - half)
            drawn.append(draw_text(text, x, row.base - 30, size, look.ink, BOLD, 0.5))
        return drawn

    def _end_bars(self) -> Picture:
        """The line with its posts, and the box round what is enlarged."""
        row = self.end
        meant = next((part.repetition for part in self.schedule.parts if part.repetition), None)
        posts = draw_end_posts(self.timeline, CloseRow(row, meant))
        return [*posts, *_outline(row.left, row.top, row.right, row.line, self.look.mute)]

    def _landing(self) -> Picture:
        return draw_landing_after(self.schedule, self.layout, self.look)

    def _lengths(self, filled: bool) -> Picture:
        return draw_told(self.schedule, self.layout, self.look, filled)

    def _told(self, moment: Moment) -> Picture:
        schedule = self.schedule
        if schedule.closing == len(schedule.parts) or not moment.reached(schedule.left_over):
            return []
        filled = moment.reached(schedule.filled)
        since = schedule.filled if filled and schedule.filled > schedule.left_over else schedule.left_over
        return faded(self.keep(self._lengths, filled), 0.35 + moment.since(since) / self.look.fade)


def _outline(left: float, top: float, right: float, bottom: float, colour: str) -> Picture:
    width = min(3.0, (right - left) / 3)
    sides = [
        rectangle(left, top, right, top + width),
        rectangle(left, bottom - width, right, bottom),
        rectangle(left, top + width, left + width, bottom - width),
        rectangle(right - width, top + width, right, bottom - width),
    ]
    return [draw(colour, *sides)]
