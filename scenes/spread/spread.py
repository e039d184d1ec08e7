"""spread: the figure laid along the form, each repetition told from the next, its start and offset marked."""

from bisect import bisect_left, bisect_right
from fractions import Fraction
from typing import NamedTuple

from renderer.schedule.spans import row_breaks
from renderer.schedule.spread import SpreadSchedule
from renderer.timeline.model import Bar
from scenes.draw.look import Look, RowStyle, arrive, glide
from scenes.draw.paths import rectangle
from scenes.draw.segment import Moment, Picture, Segment, marks_of, move_seconds
from scenes.draw.shapes import draw
from scenes.draw.wording import describe_figure, slip_sentence
from scenes.frame.head_and_foot import ABSENT, draw_counter, draw_legend, draw_sentence, draw_title
from scenes.row.line import Row, draw_ground, draw_rests, draw_vessel, make_rows
from scenes.row.marks import (
    OffsetLabel,
    draw_accents,
    draw_crossing,
    draw_landing,
    draw_number,
    draw_offset_label,
    draw_offset_mark,
    draw_realignment,
    place_offsets,
)
from scenes.row.sky import draw_names, draw_sky, names_collide, names_fit


class Page(NamedTuple):
    """Rows to a page, their style, how long one may be, and from one row's top to the next."""

    rows: int
    style: RowStyle
    longest: Fraction
    """In whole notes."""
    pitch: float


def _pages(look: Look) -> tuple[Page, ...]:
    return (
        Page(1, look.row_one, Fraction(4), 0.0),
        Page(2, look.row_two, Fraction(21, 4), 372.0),
        Page(3, look.row_three, Fraction(12), 262.0),
    )


SET_OFF = 60.0
"""How far left of its place a vessel sets off, in pixels."""
VANISH = 0.125
"""A row that has left its page by this share of a row can't be seen any more."""
CROWDED = 64.0
"""Repetitions narrower than this are not all numbered."""


class SpreadSegment(Segment):
    """The repetitions of one voice over the bars of the chosen sections."""

    schedule: SpreadSchedule

    def __init__(self, schedule: SpreadSchedule, look: Look) -> None:
        super().__init__(schedule, look)
        self.repetitions = schedule.repetitions
        self._starts = [repetition.at for repetition in self.repetitions]
        self.breaks, self.page_rows, self.style, self.pitch = choose_rows(schedule, look)
        longest_row = max(end - start for start, end in self.breaks)
        self.scale = (look.canvas.music_right - look.canvas.music_left) / longest_row
        self.longest_group = max((g.written for r in self.repetitions for g in r.statement.groups), default=1)
        voice = self.repetitions[0].voice if self.repetitions else ""
        self.crossings, self.landings, self.realignments = marks_of(schedule, voice)
        self.offsets = self._place_offsets()
        self.row_of = [self._row_index(repetition.at) for repetition in self.repetitions]
        self.move, self.fade = move_seconds(look, schedule.beat), Fraction(look.fade)

    def picture(self, moment: Moment) -> Picture:
        arrived = self._arrived(moment)
        scroll = self._scroll(moment)
        drawn: Picture = []
        for index in range(len(self.breaks)):
            place = index - scroll
            if -VANISH < place < self.page_rows - 1 + VANISH:
                row = self._row(index, self.canvas.stage_top + place * self.pitch)
                drawn += self._draw_row(row, index, arrived, moment)
                drawn += self._veil(row, place)
        drawn += self.keep("head", self._head)
        drawn += self._counter(arrived, moment)
        if moment.reached(self.schedule.steps[-1].seconds):
            share = moment.since(self.schedule.steps[-1].seconds) / self.look.fade
            drawn += self.keep(("sentence", min(1.0, share)), self._sentence, min(1.0, share))
        return drawn

    def _head(self) -> Picture:
        timeline = self.timeline
        meters = [bar.meter.text for bar in self._bars() if bar.number > 0]
        names = {r.statement.figure for r in self.repetitions if r.statement.figure}
        shown = [figure for figure in timeline.figures if figure.name in names]
        second = " · ".join(describe_figure(figure, meters if len(shown) == 1 else ()) for figure in shown)
        return [*draw_title(self.look, timeline.title, second), *draw_legend(self.look)]

    def _sentence(self, opacity: float) -> Picture:
        return [*draw_sentence(self.look, slip_sentence(self.look, self.timeline, self.repetitions), opacity)]

    def _bars(self) -> list[Bar]:
        spans = self.schedule.spans
        return [bar for bar in self.timeline.bars if any(s.start <= bar.at < s.end for s in spans)]

    def _counter(self, arrived: int, moment: Moment) -> Picture:
        digits = len(str(self.repetitions[-1].number)) if self.repetitions else 1
        bar_digits = len(str(self.timeline.bars[-1].number))
        if not arrived:
            at, number = self.schedule.spans[0].start, ABSENT
        else:
            repetition = self.repetitions[arrived - 1]
            at, number = repetition.at, str(repetition.number)
        beat = self.timeline.beat_at(at)
        entries = [
            ("repetition", number, digits),
            ("bar", str(beat.bar_number), bar_digits),
            ("beat", str(beat.number), 1),
        ]
        return self.keep(("counter", *entries), draw_counter, self.look, entries)

    def _arrived(self, moment: Moment) -> int:
        """How many repetitions are in their place."""
        return bisect_left(self.schedule.arrivals, moment.end)

    def _scroll(self, moment: Moment) -> float:
        """By how many rows the page has moved up: it has when the first repetition of a new row arrives."""
        last = max(0, len(self.breaks) - self.page_rows)
        scroll = 0.0
        step = max(1, self.page_rows - 1)
        for target in range(step, last + step, step):
            row = target - step + self.page_rows
            first = bisect_left(self.row_of, min(row, len(self.breaks) - 1))
            if first >= len(self.row_of):
                break
            arrival = self.schedule.arrivals[first]
            if moment.seconds < arrival - self.move:
                break
            share = glide(moment.share(arrival - self.move, arrival))
            scroll += (min(target, last) - min(target - step, last)) * share
        return scroll

    def _place_offsets(self) -> dict[int, OffsetLabel]:
        posts = [bar.at for bar in self.timeline.bars] + [self.timeline.end]
        labels: dict[int, OffsetLabel] = {}
        for index in range(len(self.breaks)):
            labels |= place_offsets(self._row(index, 0.0), self.repetitions, posts)
        return labels

    def _row_index(self, at: int) -> int:
        return bisect_right([start for start, _ in self.breaks], at) - 1

    def _row(self, index: int, top: float) -> Row:
        start, end = self.breaks[index]
        return Row(start, end, self.scale, top, self.style, self.look, self.longest_group)

    def _veil(self, row: Row, place: float) -> Picture:
        """Rows that come or go beyond the page's ends fade."""
        outside = max(0.0, -place, place - (self.page_rows - 1))
        if not outside:
            return []
        veil = rectangle(0, row.top - 1, row.look.canvas.width, row.feet + 1)
        return [draw(self.look.ground, veil, opacity=min(1.0, outside / VANISH))]

    def _draw_row(self, row: Row, index: int, arrived: int, moment: Moment) -> Picture:
        timeline, key = self.timeline, (index, row.top)
        first, last = self._in_row(row)
        here = range(first, min(last, arrived))
        drawn = [*self.keep(("sky", *key), self._sky, row)]
        coming = bisect_right(self.schedule.arrivals, moment.seconds + self.move)
        for number in reversed(range(max(first, arrived), min(last, coming))):
            drawn += self._arriving(row, number, moment)
        for number in here:
            drawn += self.keep(("body", number, *key), self._body, row, number)
        if first < arrived:
            shown = self.repetitions[max(0, first - 1) : min(last + 1, arrived)]
            drawn += self.keep(("rests", len(shown), *key), draw_rests, row, shown)
        drawn += self.keep(("posts", *key), draw_ground, row, timeline.bars, timeline.beats)
        settled = bisect_right(self.schedule.arrivals, moment.seconds - self.fade)
        for number in here:
            since = moment.since(self.schedule.arrivals[number]) if number >= settled else self.look.fade
            opacity = arrive(since / self.look.fade)
            drawn += self.keep(("marks", number, opacity, *key), self._marks, row, number, opacity)
        return drawn

    def _sky(self, row: Row) -> Picture:
        harmony = () if "harmony" in self.schedule.without else self.timeline.harmony
        sections = [(section.name, section.at) for section in self.timeline.sections]
        return [*draw_sky(row, harmony), *draw_names(row, harmony, sections)]

    def _in_row(self, row: Row) -> tuple[int, int]:
        """The range of repetitions that sound in a row, as indices."""
        first = bisect_left(self._starts, row.start)
        if first and self.repetitions[first - 1].end > row.start:
            first -= 1
        return first, bisect_left(self._starts, row.end)

    def _body(self, row: Row, index: int) -> Picture:
        repetition = self.repetitions[index]
        drawn: Picture = [*draw_vessel(row, repetition, self.look.sail(repetition.number))]
        return drawn

    def _arriving(self, row: Row, index: int, moment: Moment) -> Picture:
        """A repetition on its way to its place, from behind the one before it."""
        arrival, repetition = self.schedule.arrivals[index], self.repetitions[index]
        share = moment.share(arrival - self.move, arrival)
        if not share or not row.holds(repetition.at):
            return []
        shift = -SET_OFF * (1 - glide(share))
        return [*draw_vessel(row, repetition, self.look.sail(repetition.number), shift=shift, opacity=share)]

    def _marks(self, row: Row, index: int, opacity: float) -> Picture:
        """What stands on a repetition once it is in its place."""
        repetition, look = self.repetitions[index], self.look
        number = repetition.number
        without = self.schedule.without
        crossings, landings = self.crossings.get(number, []), self.landings.get(number, [])
        places = [c.at for c in crossings] + [landing.at for landing in landings]
        drawn: Picture = []
        every = _number_every(repetition.statement.length * self.scale)
        if "numbers" not in without and (every == 1 or number % every == 1):
            drawn += draw_number(row, repetition, places, look.on_sail)
        if "accents" not in without:
            drawn += draw_accents(row, repetition, opacity)
        if "offsets" not in without and row.holds(repetition.at) and repetition.offset:
            bar = self.timeline.bar_at(repetition.at)
            drawn += draw_offset_mark(row, repetition.at, bar.at, opacity)
            label = self.offsets.get(number)
            drawn += [draw_offset_label(row, label, opacity)] if label else []
        for landing in landings:
            if row.holds(landing.at) and landing.sounds:
                group = next(
                    g for g in repetition.statement.groups if repetition.at + g.at + g.length > landing.at
                )
                drawn += draw_landing(row, landing, group.written, opacity)
        for realignment in self.realignments.get(number, []):
            if row.holds(realignment.at):
                drawn += draw_realignment(row, realignment, opacity)
        for crossing in crossings:
            if row.holds(crossing.at):
                drawn += draw_crossing(row, crossing, opacity)
        return drawn


def choose_rows(schedule: SpreadSchedule, look: Look) -> tuple[list[tuple[int, int]], int, RowStyle, float]:
    """The rows, how many stand on a page, their style and pitch: as large as the form allows."""
    timeline = schedule.timeline
    harmony = timeline.harmony
    tried = [(page, row_breaks(timeline, schedule.spans, page.longest)) for page in _pages(look)]
    page, breaks = next((fits for fits in tried if len(fits[1]) <= fits[0].rows), tried[-1])
    style, longest = page.style, page.longest
    while longest > 1 and not all(names_fit(row, harmony) for row in make_rows(breaks, style, look)):
        longest = longest * 3 / 4
        page, style = _pages(look)[-1], look.row_three
        breaks = row_breaks(timeline, schedule.spans, longest)
    sections = [(section.name, section.at) for section in timeline.sections]
    rows = make_rows(breaks, style, look)
    if style is look.row_three and any(names_collide(row, harmony, sections) for row in rows):
        style = look.row_three_lines
    return breaks, page.rows, style, page.pitch


def _number_every(narrowest: float) -> int:
    every = 1
    while narrowest * every < CROWDED and every < 8:
        every *= 2
    return every
