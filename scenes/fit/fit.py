"""fit: a section's length as a sum of repetitions, what is left over, what fills it, and what lands after it.

Above the sum; under it the whole section and a bar more on one row, filled up from the left; at the bottom its end
enlarged, over the same bars that the frame above shows.
"""

from collections.abc import Sequence
from fractions import Fraction
from typing import NamedTuple

from renderer.schedule.fit import FitSchedule
from renderer.schedule.fit_sentences import figure_names, landing_note, sum_words, which_text
from renderer.schedule.fit_sum import Part
from renderer.schedule.wording import mixed
from renderer.timeline.model import Repetition
from scenes.draw.fading import faded
from scenes.draw.look import BOLD, CAPITAL, REGULAR, SEMIBOLD, Look, glide
from scenes.draw.paths import brace, disc, polygon, rectangle, ring
from scenes.draw.segment import Moment, Picture
from scenes.draw.shapes import FilledShape, Words, draw, draw_text, draw_words, words_width
from scenes.draw.sum_lines import draw_sum
from scenes.draw.text import text_width
from scenes.fit.layout import lay_fit
from scenes.fit.sum import FitSums
from scenes.frame.head import break_words, fit_name
from scenes.frame.headed import HeadedSegment, Sentence
from scenes.frame.phrasing import colour_phrases, say_stretches
from scenes.row.close_row import CloseRow, draw_close_posts
from scenes.row.hits import accent_top, draw_marks, has_room, inner_hits
from scenes.row.line import VESSEL_GAP, Row, draw_line, draw_post, draw_rests, draw_soft_vessel, draw_vessel
from scenes.row.sky import draw_sky

NARROW = 24.0
"""Repetitions narrower than this become one hull."""
SET_OFF = 24.0
"""How far left of its place a repetition sets off, in pixels."""
COMES = Fraction(3, 10)
"""Seconds that something takes to come in."""
LINE_CUT = 10.0
"""Pixels cut out of the sky left of the line between two sections."""
LABEL, LABEL_TALL, LABEL_APART = 56.0, 48.0, 40.0
WORDS_APART, WORDS_DROP = 48.0, 62.0
"""From the sum to its words beside it, or down to them under it."""
NOTE_APART, NOTE_PITCH = 22.0, 52.0
TAIL_NUMBER = 76.0
POST_BELOW = 0.55


class Told(NamedTuple):
    """A length that is told with a brace, ticks, and its words."""

    start: int
    end: int
    colour: str
    words: tuple[Words, ...]


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
        bars = f"bar {first}" if first == last else f"bars {first} to {last}"
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
        drawn += self.keep(self._posts)
        drawn += self._sums(moment)
        drawn += self._enlarged(moment)
        return drawn + self.legend(self._kinds())

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
        text = f"{whole[0].times} × {self._pulses(whole[0].ticks)}" if len(whole) == 1 else ""
        fits = text_width(text, look.size_least, BOLD) + 24 < right - left
        if until == self.schedule.closing and text and fits and not self.schedule.sum.over:
            baseline = row.hull_bottom - (row.style.hull - look.size_least * CAPITAL) / 2
            drawn.append(draw_text(text, left + 12, baseline, look.size_least, look.on_sail, BOLD))
        return drawn

    def _posts(self) -> Picture:
        """Bars with as many numbers as there is room for; beats where they are not too close."""
        row, look, timeline = self.whole, self.look, self.timeline
        drawn: Picture = [draw_line(row)]
        bars = [bar for bar in timeline.bars if row.holds(bar.at) and bar.number > 0]
        beats = [beat for beat in timeline.beats_between(row.start, row.end) if beat.number > 1]
        if len(beats) * 14 < row.look.canvas.music_width:
            drawn += [
                draw_post(row, b.at, row.style.beat, look.width_beat - 1, look.meter_line) for b in beats
            ]
        widest = text_width(str(bars[-1].number), row.style.bar, SEMIBOLD) + 20
        narrow = min(bar.end - bar.at for bar in bars) * row.scale
        every = next(step for step in (1, 2, 4, 8, 16, 32, 64, 128, 256, 10**6) if narrow * step >= widest)
        short = min(0.6 * row.style.post, row.style.post - row.style.bar * CAPITAL - 6)
        for index, bar in enumerate(bars):
            numbered = index % every == 0
            if numbered or narrow > 8:
                length = row.style.post if numbered else short
                drawn.append(draw_post(row, bar.at, length, look.width_post - 1, look.meter_line))
            x = row.x(bar.at) + 11
            if numbered and x + text_width(str(bar.number), row.style.bar, SEMIBOLD) <= self.canvas.right:
                number = draw_text(str(bar.number), x, row.feet - 1, row.style.bar, look.meter_text, SEMIBOLD)
                drawn.append(number)
        if row.end > timeline.end or row.end == self.line:
            drawn.append(draw_post(row, timeline.end, row.style.post, look.width_post - 1, look.meter_line))
        return drawn

    def _pulses(self, ticks: int) -> str:
        return mixed(Fraction(ticks, self.schedule.pulse))

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
        drawn += self.keep(self._end_posts)
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
        text, size = self._pulses(self.line - at), look.size_counter
        if row is self.end:
            half = text_width(text, size, BOLD) / 2
            x = min(max((left + right) / 2, self.canvas.left + half), self.canvas.right - half)
            drawn.append(draw_text(text, x, row.base - 30, size, look.ink, BOLD, 0.5))
        return drawn

    def _end_posts(self) -> Picture:
        """The line with its posts, and the box round what is enlarged."""
        row, look, timeline = self.end, self.look, self.timeline
        meant = next((part.repetition for part in self.schedule.parts if part.repetition), None)
        drawn = [*draw_close_posts(CloseRow(row, meant), timeline.bars, timeline.beats)]
        if row.holds(timeline.end):
            drawn.append(draw_post(row, timeline.end, row.style.post, look.width_post, look.meter_line))
        if self.canvas.tall:
            for beat in timeline.beats_between(row.start, row.end):
                first = beat.number == 1
                width = look.width_post if first else look.width_beat
                x, top = row.x(beat.at), row.line + (row.style.post if first else row.style.beat)
                below = rectangle(x - width / 2, top, x + width / 2, self.canvas.height)
                drawn.append(draw(look.meter_line, below, opacity=POST_BELOW))
        return [*drawn, *_outline(row.left, row.top, row.right, row.line, look.mute)]

    def _landing(self) -> Picture:
        """Whose accent falls on the downbeat after the section, as a stroke; dashed where it does not sound."""
        schedule, row, look = self.schedule, self.end, self.look
        landing = schedule.landing
        drawn = self._note(landing_note(self.timeline, landing, schedule.following, self.line))
        if landing is None:
            return drawn
        x, half = row.x(landing.at), look.width_post / 2
        radius = row.style.disc
        if not landing.sounds:
            top = row.base - row.style.sail
            dashes = [rectangle(x - half, y, x + half, y + 10) for y in range(int(top), int(row.line), 18)]
            hollow = [
                draw(look.ground, disc(x, row.line, radius)),
                draw(look.ink, *ring(x, row.line, radius, 4)),
            ]
            return [draw(look.ink, *dashes), *hollow, *drawn]
        owner = next(r for r in self.own if r.number == landing.repetition_number)
        top = accent_top(row, owner.statement, landing.at - owner.at)
        stroke = [
            draw(look.ground, rectangle(x - half - look.edge, top, x + half + look.edge, row.line)),
            draw(look.ink, rectangle(x - half, top, x + half, row.feet)),
        ]
        for y in (top, row.line):
            stroke += [draw(look.ground, disc(x, y, radius + look.edge)), draw(look.ink, disc(x, y, radius))]
        return [*stroke, *drawn]

    def _note(self, text: str) -> Picture:
        """What comes on the downbeat, behind its bar's number; on a line of its own where that leaves no room."""
        row, canvas, look = self.end, self.canvas, self.look
        text = look.words.say(text)
        if not text or not row.holds(self.line) or self.line >= self.timeline.end:
            return []
        bar = self.timeline.bar_at(self.line)
        x = (
            row.x(self.line)
            + 12
            + text_width(look.words.say(f"bar {bar.number}"), row.style.bar, SEMIBOLD)
            + NOTE_APART
        )
        room = canvas.right if bar.end >= row.end else min(canvas.right, row.x(bar.end) - NOTE_APART)
        if x + text_width(text, look.size_least) <= room:
            return [draw_text(text, x, row.feet - 1, look.size_least, look.ink)]
        below = self.layout.label + (-NOTE_PITCH if self.layout.above else NOTE_PITCH)
        size, lines = fit_name(look, text, look.size_least, 0.6 * (canvas.right - canvas.left), REGULAR)
        edge = canvas.right - 2  # an f reaches out over its end
        return [draw_text(lines[0], edge, below, size, look.ink, anchor=1)]

    # Lengths that are told

    def _told(self, moment: Moment) -> Picture:
        schedule = self.schedule
        if schedule.closing == len(schedule.parts) or not moment.reached(schedule.left_over):
            return []
        filled = moment.reached(schedule.filled)
        since = schedule.filled if filled and schedule.filled > schedule.left_over else schedule.left_over
        return faded(self.keep(self._draw_told, filled), 0.35 + moment.since(since) / self.look.fade)

    def _lengths(self, filled: bool) -> list[Told]:
        """What is told of the section's end: before it is filled, and then."""
        schedule, look = self.schedule, self.look
        closing = schedule.parts[schedule.closing :]
        start, last = closing[0].at, closing[-1]
        count = self._pulses(self.line - start)
        over = schedule.sum.over
        if not filled or closing[0].repetition is None or (len(closing) == 1 and last.kind == "tail"):
            return [Told(start, self.line, look.ink, _words(look, count, " left over"))]
        if over:
            before = _words(look, self._pulses(self.line - last.at), " before the line")
            after = " over it" if last.kind == "over" else " cut off"
            return [
                Told(last.at, self.line, look.figure_text, before),
                Told(self.line, self.line + over, look.ink, _words(look, self._pulses(over), after)),
            ]
        if len(closing) == 1 and last.repetition:
            statement = last.repetition.statement
            length = mixed(Fraction(statement.length, statement.pulse))
            return [Told(start, self.line, look.ink, _words(look, count, f" of {length} played"))]
        return [
            Told(part.at, part.end, look.ink, _words(look, self._pulses(part.end - part.at), silent))
            for part in closing
            for silent in ("" if part.repetition else " silent",)
        ]

    def _draw_told(self, filled: bool) -> Picture:
        row, layout, canvas, look = self.end, self.layout, self.canvas, self.look
        lengths = self._lengths(filled)
        size = LABEL_TALL if canvas.tall else LABEL
        drawn: Picture = []
        widths = [words_width(each.words, size) for each in lengths]
        centres = [
            (max(row.left, row.x(each.start)) + min(row.right, row.x(each.end))) / 2 for each in lengths
        ]
        for each, x in zip(lengths, _spread_out(centres, widths, canvas.left, canvas.right), strict=True):
            left, right = max(row.left, row.x(each.start)) + 3, min(row.right, row.x(each.end)) - 5
            if right - left > 12:
                outline = brace(left, right, layout.brace, look.width_line + 1, 16, layout.above)
                drawn.append(draw(each.colour, *outline))
            drawn += draw_words(each.words, x, layout.label, size)
        return drawn


def _words(look: Look, number: str, text: str) -> tuple[Words, ...]:
    return (Words(number, look.ink, BOLD), *([Words(look.words.say(text), look.mute)] if text else []))


def _spread_out(centres: Sequence[float], widths: Sequence[float], left: float, right: float) -> list[float]:
    """Where texts begin that stand under these middles, moved apart where they would meet."""
    places = [max(left, min(centre - w / 2, right - w)) for centre, w in zip(centres, widths, strict=True)]
    for index in range(len(places) - 2, -1, -1):
        places[index] = min(places[index], places[index + 1] - widths[index] - LABEL_APART)
    return places


def _outline(left: float, top: float, right: float, bottom: float, colour: str) -> Picture:
    width = min(3.0, (right - left) / 3)
    sides = [
        rectangle(left, top, right, top + width),
        rectangle(left, bottom - width, right, bottom),
        rectangle(left, top + width, left + width, bottom - width),
        rectangle(right - width, top + width, right, bottom - width),
    ]
    return [draw(colour, *sides)]
