"""parts: who keeps the figure and who keeps the meter, section by section.

Over the line a thin hull a part with a small sail a repetition, under it a beam with a tick a bar. Where parts change
sides, one stroke goes through the line exactly there: from the left the rows of those who leave bend into it, to the
right the rows that they take bend out of it. However many change at one place, it is one stroke; its disc on the line
then tells how many.
"""

from bisect import bisect_right
from collections.abc import Sequence
from itertools import pairwise

from renderer.part_rows import Stretch, count_rows
from renderer.parts_schedule import PartsPage, PartsSchedule, PartsStop
from renderer.timeline import Timeline
from scenes.drawing import draw, draw_text
from scenes.frame import draw_counter, draw_legend, draw_sentence, draw_title
from scenes.lettering import fit_size, shorten, text_width
from scenes.look import (
    CAPITAL,
    LEFT,
    MUSIC_LEFT,
    MUSIC_RIGHT,
    RIGHT,
    SEMIBOLD,
    STAGE_BOTTOM,
    STAGE_TOP,
    WIDTH,
    Look,
    glide,
)
from scenes.part_marks import REACH, ChangeMark
from scenes.part_words import change_sentence, place_text, summary_sentence
from scenes.paths import Contour, clip_all, hull, rectangle, sail
from scenes.segment import Moment, Picture, Segment, move_seconds
from scenes.stage import Stage

NAMES_TOP = 236.0
"""The highest that a row's name may reach, under the sections' names."""
NUMBERS = STAGE_BOTTOM - 6.0
"""The baseline of the bars' numbers."""
ROW_MOST = 74.0
FIRST_ABOVE, FIRST_BELOW = 22.0, 28.0
"""From the line to the middle of the nearest row."""
ROOM = NUMBERS - 28 - NAMES_TOP - FIRST_ABOVE - FIRST_BELOW
"""Height of all rows together."""
BODY = 8.0
"""Height of a hull or beam."""
SAIL_LEAST = 5.0
"""Narrower repetitions have no sail of their own."""
TICK_LEAST = 9.0


class PartsSegment(Segment):
    """Parts over the bars of the chosen sections, page by page."""

    schedule: PartsSchedule

    def __init__(self, timeline: Timeline, schedule: PartsSchedule, look: Look) -> None:
        super().__init__(timeline, schedule, look)
        longest = max(page.end - page.start for page in schedule.pages)
        self.scale = (MUSIC_RIGHT - MUSIC_LEFT) / longest
        self.move = move_seconds(look, schedule.beat)
        most = max(self._rows(page) for page in schedule.pages)
        self.pitch = min(ROW_MOST, ROOM / max(1, most))

    # Places

    def x(self, page: PartsPage, at: int) -> float:
        """Where a tick stands on a page, in pixels."""
        return MUSIC_LEFT + (at - page.start) * self.scale

    def right(self, page: PartsPage) -> float:
        """Where a page's line ends."""
        return min(float(RIGHT), self.x(page, page.end) + MUSIC_LEFT - LEFT)

    def line(self, page: PartsPage) -> float:
        """The middle of a page's line: as high as the rows over it ask for."""
        slack = max(0.0, ROOM - self._rows(page) * self.pitch)
        return NAMES_TOP + count_rows(page.stretches, "figure") * self.pitch + FIRST_ABOVE - 6 + slack / 2

    def _rows(self, page: PartsPage) -> int:
        return count_rows(page.stretches, "figure") + count_rows(page.stretches, "meter")

    def y(self, page: PartsPage, stretch: Stretch) -> float:
        """The middle of a stretch's hull or beam."""
        if stretch.clock == "figure":
            return self.line(page) - FIRST_ABOVE - stretch.row * self.pitch
        return self.line(page) + FIRST_BELOW + stretch.row * self.pitch

    # What is seen when

    def picture(self, moment: Moment) -> Picture:
        index = max(0, bisect_right([page.seconds for page in self.schedule.pages], moment.seconds) - 1)
        page, veil = self.schedule.pages[index], 0.0
        if index + 1 < len(self.schedule.pages):
            turn = self.schedule.pages[index + 1].seconds
            veil = glide(moment.share(turn - self.move / 2, turn))
        if index and moment.seconds < page.seconds + self.move / 2:
            veil = 1 - glide(moment.share(page.seconds, page.seconds + self.move / 2))
        front = self.front(page, moment)
        drawn = [*self.keep(("ground", index), self._ground, page)]
        marks = [(number, stop) for number, stop in enumerate(page.stops) if stop.changes]
        for number, stretch in enumerate(page.stretches):
            drawn += self._stretch(index, page, number, stretch, front)
        for number, stop in marks:
            share = moment.share(stop.seconds - self.move, stop.seconds)
            if share > 0:
                drawn += self.keep(("mark", index, number, share), self._mark, page, stop, glide(share))
        if veil:
            rest = rectangle(0, STAGE_TOP - 2, WIDTH, STAGE_BOTTOM + 8)
            drawn.append(draw(self.look.ground, rest, opacity=veil))
        drawn += self.keep(("head", index), self._head, page)
        return [*drawn, *self._counter(page, moment), *self._sentence(page, moment)]

    def front(self, page: PartsPage, moment: Moment) -> float:
        """How far a page's rows are drawn, in pixels: from stop to stop, waiting while a change is drawn."""
        at, since = page.start, page.seconds
        front = self.x(page, page.start) if moment.reached(page.seconds) else float(LEFT)
        for stop in page.stops:
            until = stop.seconds - (self.move if stop.changes else 0)
            if moment.seconds <= since:
                break
            start, end = self.x(page, at), self.x(page, stop.at)
            if stop is page.stops[-1]:
                end = self.right(page)
            front = start + (end - start) * glide(moment.share(since, until))
            at, since = stop.at, stop.seconds
        return front

    def _passed(self, page: PartsPage, moment: Moment) -> int:
        """How many of a page's stops have been reached."""
        return sum(moment.reached(stop.seconds) for stop in page.stops)

    # What stays

    def _head(self, page: PartsPage) -> Picture:
        timeline = self.timeline
        pages = self.schedule.pages
        second = "who keeps what" if len(pages) > 1 else "who keeps the figure, who keeps the meter"
        if len({(other.start, other.end) for other in pages}) > 1:
            first, last = timeline.bar_at(page.start).number, timeline.bar_at(page.end - 1).number
            second += f" · bars {first}–{last} of {timeline.bars[-1].number}"
        if len({other.parts for other in pages}) > 1:
            everyone = list(dict.fromkeys(name for other in pages for name in other.parts))
            first = everyone.index(page.parts[0]) + 1
            second += f" · parts {first}–{first + len(page.parts) - 1} of {len(everyone)}"
        return [*draw_title(self.look, timeline.title, second), *draw_legend(self.look)]

    def _ground(self, page: PartsPage) -> Picture:
        """The sky with the sections' names, the line, and the posts with the numbers of their bars."""
        look, timeline, right = self.look, self.timeline, self.right(page)
        drawn: Picture = [draw(look.sky_one, rectangle(LEFT, STAGE_TOP, right, self.line(page)))]
        shown = [
            section for section in timeline.sections if section.at < page.end and section.end > page.start
        ]
        dots: list[Contour] = []
        for section in shown:
            x = self.x(page, max(section.at, page.start))
            end = min(self.x(page, section.end), right) if section.end < page.end else right
            room = end - x - (26 if section.at > page.start else 12)
            size = fit_size(section.name, look.size_sentence, look.size_least, room, SEMIBOLD)
            text = shorten(section.name, size, room, SEMIBOLD)
            if len(text) > 1 or text == section.name:
                left = x + (14 if section.at > page.start else 0)
                drawn.append(draw_text(text, left, STAGE_TOP + 42, size, look.ink, SEMIBOLD))
            if section.at > page.start:
                y = STAGE_TOP + 6.0
                while y < self.line(page) - 8:
                    dots.append(rectangle(x - 1.5, y, x + 1.5, y + 3))
                    y += 11
        if dots:
            drawn.append(draw(look.line, *dots))
        half = look.width_line / 2
        drawn.append(draw(look.line, rectangle(LEFT, self.line(page) - half, right, self.line(page) + half)))
        return [*drawn, *self._posts(page)]

    def _posts(self, page: PartsPage) -> Picture:
        """A long post and a number where a section begins or parts change sides, a tick for every bar."""
        look, top = self.look, self.line(page) + self.look.width_line / 2
        sections = {s.at for s in self.timeline.sections if page.start <= s.at < page.end} | {page.start}
        changes = {stop.at for stop in page.stops if stop.changes}
        thin = [self._post(page, at, 2.0) for at in sorted(changes - sections)]
        thick = [self._post(page, at, look.width_post) for at in sorted(sections)]
        bars = [bar.at for bar in self.timeline.bars if page.start < bar.at < page.end]
        every = _every(bars, self.scale)
        ticks = [
            rectangle(self.x(page, at) - 2, top, self.x(page, at) + 2, top + 12)
            for at in bars[every - 1 :: every]
        ]
        drawn: Picture = [draw(look.meter_line, *ticks, *thin, *thick)]
        taken: list[tuple[float, float]] = []
        for at in (*sorted(sections), *sorted(changes - sections)):
            text = place_text(self.timeline, at)
            x = self.x(page, at) + 12
            end = x + text_width(text, look.size_least, SEMIBOLD)
            nearby = [self.x(page, other) for other in changes | sections if other != at]
            clear = all(not x - 4 < post < end + 6 for post in nearby)
            if end <= RIGHT and clear and all(end + 12 < a or x - 12 > b for a, b in taken):
                taken.append((x, end))
                drawn.append(draw_text(text, x, NUMBERS, look.size_least, look.meter_text, SEMIBOLD))
        return drawn

    def _post(self, page: PartsPage, at: int, width: float) -> Contour:
        x = self.x(page, at)
        return rectangle(x - width / 2, self.line(page) + self.look.width_line / 2, x + width / 2, NUMBERS)

    # Rows

    def _stretch(self, index: int, page: PartsPage, number: int, stretch: Stretch, front: float) -> Picture:
        """A stretch as far as the front has come, its name as the front passes it."""
        left, end = self._ends(page, stretch)
        if front <= left or end <= left:
            return []
        if front >= end:
            return self.keep(("row", index, number), self._row, page, stretch, end)
        return self._row(page, stretch, front)

    def _ends(self, page: PartsPage, stretch: Stretch) -> tuple[float, float]:
        """Where a stretch's hull or beam begins and ends, in pixels: beside the strokes it comes from or goes to."""
        left, right = self.x(page, stretch.at), self.x(page, stretch.end)
        width = right - left
        if stretch.came_on and stretch.at == page.start:
            left = float(LEFT)
        elif self._crosses(page, stretch, stretch.at, after=True):
            left += min(REACH, width / 2)
        if stretch.end == page.end:
            right = self.right(page) if stretch.goes_on else right
        elif self._crosses(page, stretch, stretch.end, after=False):
            right -= min(REACH, width / 2)
        return left, right

    def _crosses(self, page: PartsPage, stretch: Stretch, at: int, after: bool) -> bool:
        return any(
            change.parts == stretch.parts
            and change.crosses
            and (change.after if after else change.before) == stretch.clock
            for stop in page.stops
            if stop.at == at
            for change in stop.changes
        )

    def _row(self, page: PartsPage, stretch: Stretch, until: float) -> Picture:
        look, y = self.look, self.y(page, stretch)
        left, right = self._ends(page, stretch)
        figure = stretch.clock == "figure"
        ends_here = stretch.end < page.end or not stretch.goes_on
        bow = (
            BODY if figure and ends_here and not self._crosses(page, stretch, stretch.end, after=False) else 0
        )
        body = hull(left, right, y - BODY / 2, y + BODY / 2, min(bow, (right - left) / 2))
        body = body if figure else rectangle(left, y - BODY / 2, right, y + BODY / 2)
        name = self._name(page, stretch)
        slot = (name[1] - 8, name[1] + name[2] + 12) if name else (0.0, 0.0)
        teeth = self._sails(page, stretch, slot) if figure else self._ticks(page, stretch, slot)
        colour = look.sail_one if figure else look.meter_line
        drawn: Picture = []
        if name:
            baseline = y - BODY / 2 - 9 if figure else y + BODY / 2 + 5 + look.size_least * CAPITAL
            top, bottom = baseline - look.size_least * CAPITAL - 4, baseline + 8
            plate = look.sky_one if figure else look.ground
            shown = min(1.0, max(0.0, (until - name[1]) / max(1.0, name[2])))
            if shown:
                box = rectangle(name[1] - 4, top, name[1] + name[2] + 6, bottom)
                drawn.append(draw(plate, *clip_all([box], 0, until)))
                text_colour = look.sail_one if figure else look.meter_text
                drawn.append(
                    draw_text(
                        name[0], name[1], baseline, look.size_least, text_colour, SEMIBOLD, opacity=shown
                    )
                )
        clipped = clip_all([body, *teeth], left, until)
        return [*drawn, draw(colour, *clipped)] if clipped else drawn

    def _sails(self, page: PartsPage, stretch: Stretch, slot: tuple[float, float]) -> list[Contour]:
        """One small sail a repetition of what the parts play, none in the name's place."""
        left, right = self._ends(page, stretch)
        height = min(36.0, self.pitch * 0.56)
        base = self.y(page, stretch) - BODY / 2 - self.look.gap
        voices = [s for s in self.timeline.sides if s.part == stretch.parts[0] and s.end > stretch.at]
        sails: list[Contour] = []
        for side in voices:
            for repetition in self.timeline.repetitions:
                if repetition.voice != side.side or repetition.end <= max(side.at, stretch.at):
                    continue
                if repetition.at >= min(side.end, stretch.end):
                    continue
                x, end = self.x(page, repetition.at), self.x(page, repetition.end)
                covered = slot[0] < end and x < slot[1]
                if end - x >= SAIL_LEAST and not covered:
                    start = max(left, self.x(page, side.at)) if side.at > stretch.at else left
                    if min(end, right) - max(x, start) >= SAIL_LEAST:
                        sails += clip_all([sail(x, base, end - x - self.look.gap, height)], start, right)
        return sails

    def _ticks(self, page: PartsPage, stretch: Stretch, slot: tuple[float, float]) -> list[Contour]:
        """A tick a bar under the beam, none in the name's place."""
        left, right = self._ends(page, stretch)
        bars = [bar.at for bar in self.timeline.bars if stretch.at <= bar.at < stretch.end]
        y = self.y(page, stretch) + BODY / 2 - 1
        return [
            rectangle(x - 2, y, x + 2, y + 15)
            for x in (self.x(page, at) for at in bars[:: _every(bars, self.scale)])
            if left <= x - 2 and x + 2 <= right and not slot[0] < x < slot[1]
        ]

    def _name(self, page: PartsPage, stretch: Stretch) -> tuple[str, float, float] | None:
        """A stretch's names, where they begin and how wide they are: in the first gap between the strokes that pass
        its row in which they fit, else shortened in the widest; None if even that is too narrow."""
        look = self.look
        left, right = self._ends(page, stretch)
        left, right = max(left, self.x(page, page.start)), min(right, self.x(page, page.end))
        text = ", ".join(stretch.parts)
        width = text_width(text, look.size_least, SEMIBOLD)
        y = self.y(page, stretch)
        walls = [left - 9 if stretch.clock == "figure" else left - 2]
        for stop in page.stops:
            mark = self._change_mark(page, stop)
            x = self.x(page, stop.at)
            if mark and left - 1 < x < right and mark.top - 20 <= y <= mark.bottom + 20:
                walls.append(x)
        walls.append(right + 8)
        gaps = [(a + 14, b - 14) for a, b in pairwise(walls)]
        for start, end in gaps:
            if width <= end - start:
                return text, start, width
        start, end = max(gaps, key=lambda gap: gap[1] - gap[0])
        text = shorten(text, look.size_least, end - start, SEMIBOLD)
        if len(text) < 3:
            return None
        return text, start, text_width(text, look.size_least, SEMIBOLD)

    # Changes of side

    def _change_mark(self, page: PartsPage, stop: PartsStop) -> ChangeMark | None:
        """The stroke at a stop; None if nobody goes through the line there."""
        leaving, arriving = [], []
        count = 0
        for change in stop.changes:
            if not change.crosses:
                continue
            count += len(change.parts)
            for stretch in page.stretches:
                if stretch.parts != change.parts:
                    continue
                half = (self.x(page, stretch.end) - self.x(page, stretch.at)) / 2 or MUSIC_LEFT - LEFT
                if stretch.end == stop.at and stretch.clock == change.before:
                    leaving.append((self.y(page, stretch), min(REACH, half)))
                elif stretch.at == stop.at and stretch.clock == change.after:
                    arriving.append((self.y(page, stretch), min(REACH, half)))
        if not leaving or not arriving:
            return None
        return ChangeMark(self.x(page, stop.at), self.line(page), tuple(leaving), tuple(arriving), count)

    def _mark(self, page: PartsPage, stop: PartsStop, share: float) -> Picture:
        mark = self._change_mark(page, stop)
        return mark.draw(self.look, share) if mark else []

    # Words

    def _counter(self, page: PartsPage, moment: Moment) -> Picture:
        """Bar and beat of the last place reached."""
        passed = self._passed(page, moment)
        at = page.stops[passed - 1].at if passed else page.start
        beat = self.timeline.beat_at(min(at, page.end - 1))
        digits = len(str(self.timeline.bars[-1].number))
        entries = [("bar", str(beat.bar), digits), ("beat", str(beat.number), 1)]
        return self.keep(("counter", *entries), draw_counter, self.look, entries)

    def _sentence(self, page: PartsPage, moment: Moment) -> Picture:
        """What changed at the last stop; at the end who never does."""
        index = self.schedule.pages.index(page)
        shown = [stop for stop in page.stops if stop.changes and moment.reached(stop.seconds)]
        if moment.reached(self.schedule.summary):
            opacity = min(1.0, moment.since(self.schedule.summary) / self.look.fade)
            return self.keep(("summary", opacity), self._draw_summary, opacity)
        if not shown:
            return []
        stop = shown[-1]
        opacity = min(1.0, moment.since(stop.seconds) / self.look.fade)
        return self.keep(("sentence", index, stop.at, opacity), self._draw_sentence, stop, opacity)

    def _draw_sentence(self, stop: PartsStop, opacity: float) -> Picture:
        return [*draw_sentence(self.look, change_sentence(self.look, self.timeline, stop.changes), opacity)]

    def _draw_summary(self, opacity: float) -> Picture:
        pages = self.schedule.pages
        names = list(dict.fromkeys(name for page in pages for name in page.parts))
        start, end = min(page.start for page in pages), max(page.end for page in pages)
        return [
            *draw_sentence(self.look, summary_sentence(self.look, self.timeline, names, start, end), opacity)
        ]


def _every(places: Sequence[int], scale: float) -> int:
    """Of places that follow each other, how many in a row share one tick so that ticks don't touch."""
    if len(places) < 2:
        return 1
    step = (places[-1] - places[0]) / (len(places) - 1) * scale
    every = 1
    while step * every < TICK_LEAST:
        every *= 2
    return every


class Parts(Stage):
    """The segment as a Manim scene: `manim scenes/parts.py Parts`."""

    show = "parts"
    segment_type = PartsSegment
