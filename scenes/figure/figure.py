"""figure: the groups one by one, counted aloud, then their accents, then their sum.

First pass: each sail rises over the half pulse before its group's first count, the hull grows count by count.
Second pass: the counts run again and the accents' mastheads appear. Then the sum, a term a beat. With a staff
each group's notes come with its term, so a number and what is written for it are seen as one; in a further pass the
figure is counted once more, and a disc runs along under the notes: they are read in time.
"""

from bisect import bisect_left
from dataclasses import replace
from fractions import Fraction
from itertools import accumulate

from renderer.schedule.figure import FigureSchedule
from renderer.timeline.model import Group, Landing, Repetition, Statement
from scenes.draw.look import BOLD, REGULAR, SEMIBOLD, Look, arrive
from scenes.draw.paths import clip_all, disc, hull, rectangle, sail
from scenes.draw.segment import Moment, Picture, Segment
from scenes.draw.shapes import draw, draw_text
from scenes.draw.text import text_width
from scenes.draw.wording import pulse_word, say_it
from scenes.figure.staff import draw_pointer, draw_staff_group, draw_staff_lines
from scenes.figure.sum import draw_sum, lay_lower
from scenes.frame.head_and_foot import ABSENT, draw_counter, draw_legend, draw_sentence, draw_title
from scenes.row.line import Row, draw_line, draw_post
from scenes.row.marks import draw_landing, draw_masthead
from scenes.row.sky import draw_sky

ROW_TOP = 10
"""From the stage's top."""
EVERY_COUNT, EVERY_LONG_COUNT = 22.0, 40.0
"""Pixels a pulse needs at least for every count to be written, and where counts have two digits."""


class FigureSegment(Segment):
    """One repetition of one figure over the full width, in pulses instead of ticks."""

    schedule: FigureSchedule

    def __init__(self, schedule: FigureSchedule, look: Look) -> None:
        super().__init__(schedule, look)
        figure = schedule.figure
        self.figure = figure
        self.starts = [0, *accumulate(figure.groups)][:-1]
        groups = tuple(Group(at, n, n) for at, n in zip(self.starts, figure.groups, strict=True))
        accents = tuple(number - 1 for number in figure.accents)
        hits = tuple(number - 1 for number in figure.hits)
        statement = Statement(
            figure.name, "whole", False, 1, figure.pulses, figure.pulses, groups, hits, accents
        )
        self.repetition = Repetition("", 1, 0, 1, 0, 0, statement)
        self.step = (look.canvas.music_right - look.canvas.music_left) / figure.pulses
        closest = min(figure.groups) * self.step
        self.bar_pulses = schedule.bar.meter.length / figure.pulse
        row_top = look.canvas.stage_top + ROW_TOP
        self.lower = lay_lower(look, figure, self._note(), schedule.staff_start is not None, row_top)
        style = replace(self.lower.row, disc=min(look.row_alone.disc, max(5.0, closest / 2 - 4)))
        self.row = Row(0, figure.pulses, self.step, row_top, style, look, max(figure.groups))
        self.beats = [length / figure.pulse for length in schedule.bar.meter.beats]
        self.beat = self.beats[0] * schedule.pulse
        self.pass_seconds = -(-figure.pulses // self.bar_pulses) * self.bar_pulses * schedule.pulse

    def picture(self, moment: Moment) -> Picture:
        counted = self._counted(self.schedule.count_start, moment)
        again = self._counted(self.schedule.accent_start, moment)
        drawn = [*self.keep(draw_sky, self.row, ())]
        for index in range(len(self.figure.groups)):
            drawn += self._sail(index, moment)
        if counted:
            drawn += self.keep(self._hull, counted)
        drawn += self.keep(self._posts)
        drawn += self._accents(again, moment)
        drawn += self._playhead(moment)
        drawn += self._sum(moment)
        drawn += self._staff(moment)
        drawn += self.keep(self._head)
        drawn += self._counter(moment)
        if moment.reached(self.schedule.accent_start):
            opacity = min(1.0, moment.since(self.schedule.accent_start) / self.look.fade)
            drawn += self.keep(self._sentence, opacity)
        return drawn

    def _sentence(self, opacity: float) -> Picture:
        return [*draw_sentence(self.look, say_it(self.look, self.figure), opacity)]

    def _counted(self, start: Fraction, moment: Moment) -> int:
        """How many pulses of a pass have sounded."""
        if not moment.reached(start):
            return 0
        elapsed = moment.end - start
        return min(self.figure.pulses, -int(-elapsed // self.schedule.pulse))

    def _sail(self, index: int, moment: Moment) -> Picture:
        """A group's sail; it rises over the half pulse before its first count."""
        pulse = self.schedule.pulse
        sounds = self.schedule.count_start + self.starts[index] * pulse
        share = 1.0 if moment.reached(sounds) else arrive(moment.share(sounds - pulse / 2, sounds))
        if not share:
            return []
        return self.keep(self._draw_sail, index, share)

    def _draw_sail(self, index: int, share: float) -> Picture:
        row, length = self.row, self.figure.groups[index]
        x, height = row.x(self.starts[index]), (row.base - row.mast(length)) * share
        width = length * self.step - self.look.gap
        drawn: Picture = [draw(self.look.sail_one, sail(x, row.base, width, height))]
        text, size = str(length), self._number_size()
        if share == 1 and self._number_fits(length, size):
            drawn.append(
                draw_text(text, x + min(34, 0.1 * width + 8), row.base - 46, size, self.look.on_sail, BOLD)
            )
        return drawn

    def _number_size(self) -> float:
        """Numbers in sails have one size: as large as the narrowest group allows, down to 56, then it does
        without."""
        narrowest, tallest = min(self.figure.groups) * self.step, self.row.style.sail * 0.4
        return max(float(self.look.size_least), min(self.look.size_close, (narrowest - 24) * 0.72, tallest))

    def _number_fits(self, length: int, size: float) -> bool:
        width = length * self.step
        return text_width(str(length), size, BOLD) + min(34, 0.1 * width + 8) < 0.8 * width

    def _hull(self, counted: int) -> Picture:
        """The hull as far as it is counted, with its notches and counts."""
        row, look = self.row, self.look
        bow = min(1.15 * self.look.row_alone.hull, 0.5 * self.step, 0.3 * row.scale * self.figure.pulses)
        whole = hull(row.x(0), row.x(self.figure.pulses) - 4, row.hull_top, row.hull_bottom, max(bow, 8.0))
        until = row.x(counted)
        drawn: Picture = [draw(look.sail_one, *clip_all([whole], row.left, until))]
        size = self._count_size()
        baseline = row.hull_bottom - (self.look.row_alone.hull - 14 - size * 0.66) / 2
        for pulse in range(counted):
            index = bisect_left(self.starts, pulse + 1) - 1
            count = pulse - self.starts[index] + 1
            x = row.x(pulse)
            if count > 1 and self.step >= 12:
                height = 15 if self.step > EVERY_COUNT else 9
                notch = rectangle(x - 1.5, row.hull_top, x + 1.5, row.hull_top + height)
                drawn.append(draw(look.on_sail, notch))
            if count == 1 or self._every_count():
                weight, gap = BOLD if count == 1 else REGULAR, self._count_gap(pulse)
                room = self.step * (1 if self._every_count() else self.figure.groups[index])
                if text_width(str(count), size, weight) + gap <= room + 1:
                    drawn.append(draw_text(str(count), x + gap, baseline, size, look.on_sail, weight))
        return drawn

    def _every_count(self) -> bool:
        least = EVERY_LONG_COUNT if max(self.figure.groups) > 9 else EVERY_COUNT
        return self.step >= least

    def _count_size(self) -> float:
        return max(float(self.look.size_least), min(56.0, self.step * 0.62))

    def _count_gap(self, pulse: int) -> float:
        """How far right of its notch a count stands; further where a landing's stroke may stand."""
        least = 10.0 if pulse % self.bar_pulses == 0 else 5.0
        return max(least, min(18.0, self.step * 0.15))

    def _posts(self) -> Picture:
        """Bars, beats and pulses under the line; beats are numbered in one bar, bars where there are more."""
        row, look = self.row, self.look
        drawn: Picture = [draw_line(row)]
        one_bar = self.figure.pulses <= self.bar_pulses
        marks = self._marks()
        taken = {at for at, _, _ in marks}
        if self.step >= 12:
            pulses = [at for at in range(self.figure.pulses + 1) if at not in taken]
            drawn += [draw_post(row, at, 18, self.look.width_pulse + 1, look.meter_line) for at in pulses]
        free = 0.0
        for at, bar, beat in marks:
            x = row.x(float(at))
            downbeat = beat == 1
            drawn.append(
                draw_post(
                    row,
                    float(at),
                    self.look.row_alone.post if downbeat else self.look.row_alone.beat,
                    self.look.width_post if downbeat else self.look.width_beat + 1,
                    look.meter_line,
                )
            )
            if one_bar or downbeat:
                number = beat if one_bar else bar
                text = f"{'beat' if one_bar else 'bar'} {number}" if not at else str(number)
                width = text_width(text, self.look.size_sentence, SEMIBOLD)
                if x + 14 > free and x + 14 + width <= look.canvas.right:
                    baseline = (
                        row.line + (self.look.row_alone.beat if one_bar else self.look.row_alone.post) - 1
                    )
                    drawn.append(
                        draw_text(text, x + 14, baseline, self.look.size_sentence, look.meter_text, SEMIBOLD)
                    )
                    free = x + 14 + width + 16
        return drawn

    def _marks(self) -> list[tuple[Fraction, int, int]]:
        """Where beats fall under the figure, in pulses from its start: place, bar and beat number."""
        marks, at, number = [], Fraction(0), 0
        while at <= self.figure.pulses:
            bar, beat = divmod(number, len(self.beats))
            if at < self.figure.pulses:
                marks.append((at, bar + 1, beat + 1))
            at += self.beats[beat]
            number += 1
        return marks

    def _accents(self, again: int, moment: Moment) -> Picture:
        """The mastheads of the accents that the second pass has reached; on a downbeat the stroke that joins
        both."""
        drawn: Picture = []
        for order, accent in enumerate(self.repetition.statement.accents, start=1):
            if accent >= again:
                continue
            sounds = self.schedule.accent_start + accent * self.schedule.pulse
            since = moment.since(sounds)
            swell, opacity = 1 + (1 - arrive(since / self.look.fade)) / 3, min(1.0, 0.35 + since / 0.15)
            drawn += self.keep(self._draw_accent, accent, order, swell, opacity)
        return drawn

    def _draw_accent(self, accent: int, order: int, swell: float, opacity: float) -> Picture:
        row = self.row
        downbeats = {at: bar for at, bar, beat in self._marks() if beat == 1}
        lengths = dict(zip(self.starts, self.figure.groups, strict=True))
        if accent not in lengths:
            x, y = row.x(accent) + 0.5 * min(self.step, 20), row.hull_top + 12
            return [draw(self.look.on_sail, disc(x, y, 7), opacity=opacity)]
        length = lengths[accent]
        if Fraction(accent) in downbeats:
            landing = Landing("", 1, order, accent, downbeats[Fraction(accent)], True)
            return [*draw_landing(row, landing, length, opacity)]
        return [*draw_masthead(row, self.repetition, accent, length, swell, opacity)]

    def _playhead(self, moment: Moment) -> Picture:
        """A disc that glides along the line while the figure is counted."""
        passes = (self.schedule.count_start, self.schedule.accent_start, self.schedule.staff_start)
        for start in (start for start in passes if start is not None):
            place = (moment.seconds - start) / self.schedule.pulse
            if 0 <= place < self.figure.pulses:
                x, row = self.row.x(float(place)), self.row
                return [
                    draw(self.look.ground, disc(x, row.line, 13 + self.look.edge)),
                    draw(self.look.ink, disc(x, row.line, 13)),
                ]
        return []

    def _sum(self, moment: Moment) -> Picture:
        """The sum, a term a beat, the total last; then what it is a sum of."""
        shown = sum(1 for start in self.schedule.term_starts if moment.reached(start))
        if not shown:
            return []
        since = moment.since(self.schedule.term_starts[shown - 1])
        opacity = min(1.0, 0.35 + since / self.look.fade)
        return self.keep(self._draw_sum, shown, opacity)

    def _draw_sum(self, shown: int, opacity: float) -> Picture:
        return draw_sum(self.look, self.lower.sum, shown, opacity)

    def _staff(self, moment: Moment) -> Picture:
        """The notes of the groups whose terms have come; in the last pass the disc under the one that sounds."""
        staff, schedule = self.lower.staff, self.schedule
        if staff is None:
            return []
        drawn: Picture = []
        for index, start in enumerate(schedule.term_starts[:-1]):
            if not moment.reached(start):
                continue
            opacity = min(1.0, 0.35 + moment.since(start) / self.look.fade)
            if not index:
                drawn += self.keep(self._staff_lines, opacity)
            drawn += self.keep(self._staff_group, index, opacity)
        if schedule.staff_start is not None:
            place = (moment.seconds - schedule.staff_start) / schedule.pulse
            if 0 <= place < self.figure.pulses:
                drawn += draw_pointer(staff, self.look, float(place))
        return drawn

    def _staff_lines(self, opacity: float) -> Picture:
        staff = self.lower.staff
        return [*draw_staff_lines(staff, self.look, opacity)] if staff else []

    def _staff_group(self, index: int, opacity: float) -> Picture:
        staff = self.lower.staff
        return [*draw_staff_group(staff, self.look, index, opacity)] if staff else []

    def _note(self) -> str:
        word = pulse_word(self.figure.pulse, self.figure.pulses)
        return f"{word}; a bar of {self.schedule.bar.meter.text} has {self.bar_pulses}"

    def _head(self) -> Picture:
        second = f"a figure of {self.timeline.title}, in {pulse_word(self.figure.pulse)}"
        return [*draw_title(self.look, self.figure.name, second), *draw_legend(self.look)]

    def _counter(self, moment: Moment) -> Picture:
        """Bar and beat of the pass; in the count-in the beats only."""
        starts = [self._count_in_start(), self.schedule.count_start, self.schedule.accent_start]
        if moment.reached(self.schedule.term_starts[0]):
            again = self.schedule.staff_start
            if again is None or not moment.reached(again) or moment.reached(again + self.pass_seconds):
                return []
            starts.append(again)
        number = max(index for index, start in enumerate(starts) if moment.reached(start) or not index)
        instant = moment.end - starts[number]
        pulses = -(-instant // self.schedule.pulse) - 1
        bar, into = divmod(max(pulses, 0), self.bar_pulses)
        beat = 1 + sum(1 for edge in list(accumulate(self.beats))[:-1] if into >= edge)
        entries = (
            ("repetition", str(number) if number else ABSENT, 1),
            ("bar", str(int(bar) + 1) if number else ABSENT, 1),
            ("beat", str(beat), 1),
        )
        return self.keep(draw_counter, self.look, entries)

    def _count_in_start(self) -> Fraction:
        """Where the first bar of the count-in would begin if it were whole; 0 or before."""
        bar = self.bar_pulses * self.schedule.pulse
        return self.schedule.count_start - -(-self.schedule.count_start // bar) * bar
