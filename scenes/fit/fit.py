"""fit: a section's length as a sum of repetitions, what is left over, what fills it, and the landing after it.

Above the sum; under it the whole section on one row, filled up from the left; at the bottom its end enlarged.
"""

from fractions import Fraction

from renderer.schedule.fit import FitSchedule
from renderer.timeline.model import Beat, Repetition
from scenes.draw.look import BOLD, CAPITAL, SEMIBOLD, Look, arrive, glide
from scenes.draw.paths import brace, disc, polygon, rectangle, ring
from scenes.draw.segment import Moment, Picture, Segment, move_seconds
from scenes.draw.shapes import draw, draw_text
from scenes.draw.sums import draw_place
from scenes.draw.text import text_width
from scenes.draw.wording import mixed
from scenes.fit.sum import FitSum
from scenes.fit.words import filling_words, fit_question, fit_sentence, second_line
from scenes.frame.head_and_foot import ABSENT, draw_counter, draw_legend, draw_sentence, draw_title
from scenes.row.close_row import CloseRow, draw_close_posts
from scenes.row.line import VESSEL_GAP, Row, draw_line, draw_post, draw_rests, draw_vessel
from scenes.row.marks import draw_accents, draw_landing
from scenes.row.sky import draw_sky

SUM_BASELINE, WHOLE_TOP, BRACE_Y, END_TOP = 292.0, 384.0, 577.0, 600.0
LEAST_PULSES, MOST_PULSES = 24, 40
"""How many pulses of the section's end are enlarged, what comes after it among them."""
BEYOND = 0.175
"""The share of the enlarged row that lies after the section."""
NARROW = 24.0
"""Repetitions narrower than this become one hull."""
SET_OFF = 48.0
"""How far left of its place a repetition sets off, in pixels."""


class FitSegment(Segment):
    """One section of one voice, added up."""

    schedule: FitSchedule

    def __init__(self, schedule: FitSchedule, look: Look) -> None:
        super().__init__(schedule, look)
        section, parts = schedule.section, schedule.parts
        self.longest = max(
            (
                g.written
                for r in self.timeline.repetitions
                if r.voice == schedule.voice
                for g in r.statement.groups
            ),
            default=1,
        )
        scale = (look.canvas.music_right - look.canvas.music_left) / (section.end - section.at)
        self.whole = Row(section.at, section.end, scale, WHOLE_TOP, look.row_whole, look, self.longest)
        self.end = self._end_row()
        whole = [part for part in parts[: schedule.closing] if part.repetition]
        self.merged = bool(whole) and min(part.end - part.at for part in whole) * scale < NARROW
        self.sum = FitSum(schedule, look)
        self.move = move_seconds(look, schedule.beat)

    def picture(self, moment: Moment) -> Picture:
        schedule = self.schedule
        arrived = sum(1 for seconds in schedule.arrivals if moment.reached(seconds))
        drawn: Picture = [*self.keep(draw_sky, self.whole, ())]
        drawn += self._filling(arrived, moment)
        drawn += self.keep(self._posts)
        drawn += self._sum(arrived, moment)
        drawn += self._enlarged(moment)
        drawn += self.keep(self._head)
        drawn += self._counter(arrived, moment)
        return drawn + self._sentence(moment)

    # The whole section on one row

    def _filling(self, arrived: int, moment: Moment) -> Picture:
        """What has its place, what is on its way there, and what stays open."""
        schedule, row = self.schedule, self.whole
        drawn: Picture = []
        if self.merged:
            until = min(arrived, schedule.closing)
            if until:
                drawn += self.keep(self._merged, until)
            first = schedule.closing
        else:
            first = 0
        for index in range(first, len(schedule.parts)):
            part, arrival = schedule.parts[index], schedule.arrivals[index]
            if part.repetition is None or moment.seconds <= arrival - self.move:
                continue
            share = 1.0 if moment.reached(arrival) else glide(moment.share(arrival - self.move, arrival))
            if share:
                shift = -SET_OFF / 2 * (1 - share)
                colour = self.look.sail(part.repetition.number)
                drawn += self.keep(draw_vessel, row, part.repetition, colour, None, shift, share)
        shown = tuple(part.repetition for part in schedule.parts[:arrived] if part.repetition)
        if len(shown) > 1 and not self.merged:
            drawn += self.keep(draw_rests, row, shown)
        return drawn + self._open(row, moment)

    def _merged(self, until: int) -> Picture:
        """Many narrow repetitions as one hull, as far as they have come."""
        parts, row, look = self.schedule.parts[:until], self.whole, self.look
        right = row.x(parts[-1].end)
        body = rectangle(row.x(parts[0].at), row.hull_top, right - VESSEL_GAP, row.hull_bottom)
        drawn: Picture = [draw(look.sail_one, body)]
        text = self._merged_text()
        if (
            until == self.schedule.closing
            and text
            and text_width(text, look.size_least, BOLD) + 24 < right - look.canvas.music_left
        ):
            baseline = row.hull_bottom - (row.style.hull - look.size_least * CAPITAL) / 2
            drawn.append(
                draw_text(text, look.canvas.music_left + 12, baseline, look.size_least, look.on_sail, BOLD)
            )
        return drawn

    def _merged_text(self) -> str:
        whole = [term for term in self.schedule.terms if term.kind == "whole"]
        return f"{whole[0].times} × {self._pulses(whole[0].ticks)}" if len(whole) == 1 else ""

    def _posts(self) -> Picture:
        """Bars with as many numbers as there is room for; beats where they are not too close."""
        row, look, timeline = self.whole, self.look, self.timeline
        drawn: Picture = [draw_line(row)]
        bars = [bar for bar in timeline.bars if row.holds(bar.at)]
        if len(bars) <= 40:
            inside = timeline.beats_between(row.start, row.end)
            beats = [beat for beat in inside if beat.number > 1]
            if len(inside) * 12 < look.canvas.music_right - look.canvas.music_left:
                drawn += [
                    draw_post(row, beat.at, row.style.beat, look.width_beat - 1, look.meter_line)
                    for beat in beats
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
            if numbered and row.x(bar.at) + widest <= look.canvas.right:
                x = row.x(bar.at) + 11
                drawn.append(
                    draw_text(str(bar.number), x, row.feet - 1, row.style.bar, look.meter_text, SEMIBOLD)
                )
        return drawn

    def _pulses(self, ticks: int) -> str:
        return mixed(Fraction(ticks, self.schedule.pulse))

    def _sum(self, arrived: int, moment: Moment) -> Picture:
        drawn: Picture = []
        for place, opacity in self.sum.shown(arrived, moment):
            drawn += self.keep(draw_place, self.look, place, opacity)
        return drawn

    # Its end enlarged

    def _end_row(self) -> Row:
        """The last whole repetition, what is left over, and the next downbeat."""
        schedule, pulse = self.schedule, self.schedule.pulse
        last = schedule.parts[max(0, schedule.closing - 1)]
        needed = int((schedule.section.end - last.at) / (1 - BEYOND) / pulse) + 3
        width = min(MOST_PULSES, max(LEAST_PULSES, needed)) * pulse
        start = round(schedule.section.end - width * (1 - BEYOND))
        scale = (self.canvas.music_right - self.canvas.music_left) / width
        return Row(start, start + width, scale, END_TOP, self.look.row_end, self.look, self.longest)

    def _enlarged(self, moment: Moment) -> Picture:
        schedule, row = self.schedule, self.end
        if moment.seconds <= schedule.enlarged - self.move:
            return []
        share = (
            1.0
            if moment.reached(schedule.enlarged)
            else glide(moment.share(schedule.enlarged - self.move, schedule.enlarged))
        )
        drawn: Picture = [*self.keep(self._end_sky)]
        drawn += self._open(row, moment)
        drawn += self._closing(moment)
        drawn += self.keep(self._end_posts)
        drawn += self._landing(moment)
        if share < 1:
            veil = rectangle(0, BRACE_Y - 18, self.canvas.width, row.feet + 4)
            drawn.append(draw(self.look.ground, veil, opacity=1 - share))
        return drawn

    def _end_sky(self) -> Picture:
        """The enlarged sky with what stands in it from the first: the last repetition before what is left over, and
        the one before; and where it lies in the whole section."""
        row, whole, look, schedule = self.end, self.whole, self.look, self.schedule
        left = max(float(look.canvas.music_left), whole.x(row.start))
        right = whole.x(whole.end)
        y = BRACE_Y
        guides = [
            polygon([(left, y - 2), (left, y), (look.canvas.left, row.top), (look.canvas.left, row.top - 2)]),
            polygon(
                [(right - 2, y), (right, y), (look.canvas.right, row.top), (look.canvas.right - 2, row.top)]
            ),
        ]
        drawn: Picture = [
            *draw_sky(row, ()),
            draw(look.line, *guides),
            draw(look.ink, *brace(left, right, y, 4, 14)),
        ]
        parts = schedule.parts[: schedule.closing]
        near = [part.repetition for part in parts if part.repetition and row.shows(part.at, part.end)]
        drawn += draw_rests(row, near)
        for repetition in near:
            drawn += draw_vessel(row, repetition, look.sail(repetition.number))
            drawn += draw_accents(row, repetition)
        if near:
            drawn += self._hull_text(near[-1], f"repetition {near[-1].number}", str(near[-1].number))
        return drawn

    def _hull_text(self, repetition: Repetition, *choices: str) -> Picture:
        """The longest of these texts that fits into a repetition's hull."""
        row, look = self.end, self.look
        left = max(row.left, row.x(repetition.at)) + 16
        right = min(row.right, row.x(min(repetition.end, self.schedule.section.end))) - 30
        colour = look.ink if repetition.statement.kind == "tail" else look.on_sail
        for text in choices:
            if text and left + text_width(text, look.size_least, BOLD) <= right:
                baseline = row.hull_bottom - (row.style.hull - look.size_least * CAPITAL) / 2
                return [draw_text(text, left, baseline, look.size_least, colour, BOLD)]
        return []

    def _open(self, row: Row, moment: Moment) -> Picture:
        """What is left over as an empty outline with its number, until it is filled; what stays silent stays open."""
        schedule = self.schedule
        parts = schedule.parts[schedule.closing :]
        if not parts or not moment.reached(schedule.left_over):
            return []
        coming = min(1.0, moment.since(schedule.left_over) / self.look.fade)
        if all(part.repetition is None for part in parts):
            return self.keep(self._draw_open, row, parts[0].at, coming)
        going = glide(moment.share(schedule.filled - self.move, schedule.filled))
        drawn: Picture = []
        if going < 1:
            opacity = coming * (1 - going)
            drawn += self.keep(self._draw_open, row, parts[0].at, opacity)
        elif parts[-1].kind == "left":
            drawn += self.keep(self._draw_open, row, parts[-1].at, 1.0)
        return drawn

    def _draw_open(self, row: Row, at: int, opacity: float) -> Picture:
        look, end = self.look, self.schedule.section.end
        left, right = max(row.left, row.x(at)), row.x(end) - VESSEL_GAP
        large = row is self.end
        width = min(float(look.width_line), (right - left) / 3)
        top, bottom = row.hull_top, row.hull_bottom
        frame = [
            rectangle(left, top, right, top + width),
            rectangle(left, bottom - width, right, bottom),
            rectangle(left, top + width, left + width, bottom - width),
            rectangle(right - width, top + width, right, bottom - width),
        ]
        drawn: Picture = [draw(look.ink, *frame, opacity=opacity)]
        if large:
            text = self._pulses(end - at)
            baseline = row.base - 30
            x = min((left + right) / 2, look.canvas.right - text_width(text, look.size_counter, BOLD) / 2)
            drawn.append(draw_text(text, x, baseline, look.size_counter, look.ink, BOLD, 0.5, opacity))
        return drawn

    def _closing(self, moment: Moment) -> Picture:
        """What fills the rest: it slides in and stands when its step comes."""
        schedule, row, look = self.schedule, self.end, self.look
        parts = [part for part in schedule.parts[schedule.closing :] if part.repetition]
        if not parts or moment.seconds <= schedule.filled - self.move:
            return []
        share = (
            1.0
            if moment.reached(schedule.filled)
            else glide(moment.share(schedule.filled - self.move, schedule.filled))
        )
        drawn: Picture = []
        for part in parts:
            repetition = part.repetition
            if not share or repetition is None:
                continue
            shift = -SET_OFF * (1 - share)
            colour = look.sail(repetition.number)
            drawn += self.keep(draw_vessel, row, repetition, colour, None, shift, share)
            if share == 1:
                drawn += self.keep(draw_accents, row, repetition)
                drawn += self.keep(self._hull_text, repetition, *filling_words(repetition))
        return drawn

    def _end_posts(self) -> Picture:
        timeline, section = self.timeline, self.schedule.section
        beats = list(timeline.beats)
        if section.end >= timeline.end:
            beats.append(Beat(timeline.bars[-1].number + 1, 1, timeline.end, timeline.end + 1))
        meant = next((part.repetition for part in self.schedule.parts if part.repetition), None)
        return [*draw_close_posts(CloseRow(self.end, meant), timeline.bars, beats)]

    def _landing(self, moment: Moment) -> Picture:
        """What comes on the downbeat after the section: a vessel, and the stroke where its accent lands."""
        schedule = self.schedule
        if not moment.reached(schedule.landed):
            return []
        opacity = min(1.0, arrive(moment.since(schedule.landed) / self.look.fade))
        return self.keep(self._draw_landing, opacity)

    def _draw_landing(self, opacity: float) -> Picture:
        schedule, row, look = self.schedule, self.end, self.look
        following, landing = schedule.following, schedule.landing
        drawn: Picture = []
        if following and following.at == schedule.section.end:
            drawn += draw_vessel(row, following, look.sail(following.number), opacity=opacity)
        if landing is None:
            return drawn
        if landing.sounds:
            owner = following if following and following.number == landing.repetition_number else None
            group = owner.statement.group_at(landing.at - owner.at).written if owner else self.longest
            return [*drawn, *draw_landing(row, landing, group, opacity)]
        x, top = row.x(landing.at), row.mast(self.longest)
        dashes = [
            rectangle(x - 3, top + 18 * n, x + 3, top + 18 * n + 10)
            for n in range(int((row.line - top) / 18))
        ]
        rim = ring(x, row.line, 15, 4)
        return [
            *drawn,
            draw(look.ink, *dashes, opacity=opacity),
            draw(look.ground, disc(x, row.line, 15), opacity=opacity),
            draw(look.ink, *rim, opacity=opacity),
        ]

    # What stands round it

    def _head(self) -> Picture:
        second = second_line(self.timeline, self.schedule)
        return [*draw_title(self.look, self.schedule.section.name, second), *draw_legend(self.look)]

    def _counter(self, arrived: int, moment: Moment) -> Picture:
        timeline, schedule = self.timeline, self.schedule
        last = [part for part in schedule.parts[:arrived] if part.repetition]
        digits = len(str(timeline.bars[-1].number + 1))
        most = max((part.repetition.number for part in schedule.parts if part.repetition), default=1) + 1
        if moment.reached(schedule.landed):
            number = schedule.following.number if schedule.following else None
            bar, beat = schedule.section.last_bar_number + 1, 1
        elif last:
            part = last[-1]
            number = part.repetition.number if part.repetition else None
            found = timeline.beat_at(part.at)
            bar, beat = found.bar_number, found.number
        else:
            number, bar, beat = None, schedule.section.first_bar_number, 1
        entries = (
            ("repetition", ABSENT if number is None else str(number), len(str(most))),
            ("bar", str(bar), digits),
            ("beat", str(beat), 1),
        )
        return self.keep(draw_counter, self.look, entries)

    def _sentence(self, moment: Moment) -> Picture:
        if not moment.reached(self.schedule.landed):
            return self.keep(self._draw_sentence, 1.0, landed=False)
        opacity = min(1.0, moment.since(self.schedule.landed) / self.look.fade)
        return self.keep(self._draw_sentence, opacity, landed=True)

    def _draw_sentence(self, opacity: float, landed: bool) -> Picture:
        question = fit_question(self.look, self.schedule)
        words = fit_sentence(self.look, self.timeline, self.schedule) if landed else question
        return [*draw_sentence(self.look, words, opacity)]
