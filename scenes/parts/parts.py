"""parts: who keeps the figure and who keeps the meter, section by section.

Over the line a thin hull a part with a small sail a repetition, under it a beam with a tick a bar. Where parts change
sides, one stroke goes through the line exactly there: from the left the rows of those who leave bend into it, to the
right the rows that they take bend out of it. However many change at one place, it is one stroke; its disc on the line
then tells how many.
"""

from bisect import bisect_right

from renderer.schedule.parts import PartsPage, PartsSchedule, PartsStop
from scenes.draw.look import CAPITAL, SEMIBOLD, Look, glide
from scenes.draw.paths import Contour, clip_all, rectangle
from scenes.draw.segment import Moment, Picture, Segment, move_seconds
from scenes.draw.shapes import draw, draw_text
from scenes.draw.text import fit_size, shorten, text_width
from scenes.frame.head_and_foot import draw_counter, draw_legend, draw_sentence, draw_title
from scenes.frame.part_words import change_sentence, place_text, summary_sentence
from scenes.parts.layout import BODY, NUMBERS, PartsLayout, tick_every


class PartsSegment(Segment):
    """Parts over the bars of the chosen sections, page by page."""

    schedule: PartsSchedule

    def __init__(self, schedule: PartsSchedule, look: Look) -> None:
        super().__init__(schedule, look)
        self.layout = PartsLayout(schedule, look)
        self.move = move_seconds(look, schedule.beat)

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
        drawn = [*self.keep(self._ground, index)]
        for number in range(len(page.stretches)):
            drawn += self._stretch(index, number, front)
        for stop in page.stops:
            if not stop.changes:
                continue
            share = moment.share(stop.seconds - self.move, stop.seconds)
            if share > 0:
                drawn += self.keep(self._mark, index, stop.at, glide(share))
        if veil:
            rest = rectangle(0, self.canvas.stage_top - 2, self.canvas.width, self.canvas.stage_bottom + 8)
            drawn.append(draw(self.look.ground, rest, opacity=veil))
        drawn += self.keep(self._head, index)
        return [*drawn, *self._counter(page, moment), *self._sentence(page, moment)]

    def front(self, page: PartsPage, moment: Moment) -> float:
        """How far a page's rows are drawn, in pixels: from stop to stop, waiting while a change is drawn."""
        at, since = page.start, page.seconds
        front = self.layout.x(page, page.start) if moment.reached(page.seconds) else float(self.canvas.left)
        for stop in page.stops:
            until = stop.seconds - (self.move if stop.changes else 0)
            if moment.seconds <= since:
                break
            start, end = self.layout.x(page, at), self.layout.x(page, stop.at)
            if stop is page.stops[-1]:
                end = self.layout.right(page)
            front = start + (end - start) * glide(moment.share(since, until))
            at, since = stop.at, stop.seconds
        return front

    def _passed(self, page: PartsPage, moment: Moment) -> int:
        """How many of a page's stops have been reached."""
        return sum(moment.reached(stop.seconds) for stop in page.stops)

    # What stays

    def _head(self, index: int) -> Picture:
        timeline, page = self.timeline, self.schedule.pages[index]
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

    def _ground(self, index: int) -> Picture:
        """The sky with the sections' names, the line, and the posts with the numbers of their bars."""
        page = self.schedule.pages[index]
        look, timeline, right = self.look, self.timeline, self.layout.right(page)
        drawn: Picture = [
            draw(
                look.sky_one,
                rectangle(look.canvas.left, look.canvas.stage_top, right, self.layout.line(page)),
            )
        ]
        shown = [
            section for section in timeline.sections if section.at < page.end and section.end > page.start
        ]
        dots: list[Contour] = []
        for section in shown:
            x = self.layout.x(page, max(section.at, page.start))
            end = min(self.layout.x(page, section.end), right) if section.end < page.end else right
            room = end - x - (26 if section.at > page.start else 12)
            size = fit_size(section.name, look.size_sentence, look.size_least, room, SEMIBOLD)
            text = shorten(section.name, size, room, SEMIBOLD)
            if len(text) > 1 or text == section.name:
                left = x + (14 if section.at > page.start else 0)
                drawn.append(draw_text(text, left, look.canvas.stage_top + 42, size, look.ink, SEMIBOLD))
            if section.at > page.start:
                y = look.canvas.stage_top + 6.0
                while y < self.layout.line(page) - 8:
                    dots.append(rectangle(x - 1.5, y, x + 1.5, y + 3))
                    y += 11
        if dots:
            drawn.append(draw(look.line, *dots))
        half = look.width_line / 2
        drawn.append(
            draw(
                look.line,
                rectangle(
                    look.canvas.left, self.layout.line(page) - half, right, self.layout.line(page) + half
                ),
            )
        )
        return [*drawn, *self._posts(page)]

    def _posts(self, page: PartsPage) -> Picture:
        """A long post and a number where a section begins or parts change sides, a tick for every bar."""
        look, top = self.look, self.layout.line(page) + self.look.width_line / 2
        sections = {s.at for s in self.timeline.sections if page.start <= s.at < page.end} | {page.start}
        changes = {stop.at for stop in page.stops if stop.changes}
        thin = [self._post(page, at, 2.0) for at in sorted(changes - sections)]
        thick = [self._post(page, at, look.width_post) for at in sorted(sections)]
        bars = [bar.at for bar in self.timeline.bars if page.start < bar.at < page.end]
        every = tick_every(bars, self.layout.scale)
        ticks = [
            rectangle(self.layout.x(page, at) - 2, top, self.layout.x(page, at) + 2, top + 12)
            for at in bars[every - 1 :: every]
        ]
        drawn: Picture = [draw(look.meter_line, *ticks, *thin, *thick)]
        taken: list[tuple[float, float]] = []
        for at in (*sorted(sections), *sorted(changes - sections)):
            text = place_text(self.timeline, at)
            x = self.layout.x(page, at) + 12
            end = x + text_width(text, look.size_least, SEMIBOLD)
            nearby = [self.layout.x(page, other) for other in changes | sections if other != at]
            clear = all(not x - 4 < post < end + 6 for post in nearby)
            if end <= look.canvas.right and clear and all(end + 12 < a or x - 12 > b for a, b in taken):
                taken.append((x, end))
                drawn.append(draw_text(text, x, NUMBERS, look.size_least, look.meter_text, SEMIBOLD))
        return drawn

    def _post(self, page: PartsPage, at: int, width: float) -> Contour:
        x = self.layout.x(page, at)
        return rectangle(
            x - width / 2, self.layout.line(page) + self.look.width_line / 2, x + width / 2, NUMBERS
        )

    # Rows

    def _stretch(self, index: int, number: int, front: float) -> Picture:
        """A stretch as far as the front has come, its name as the front passes it."""
        shape = self.layout.shape(index, number)
        if front <= shape.left or shape.right <= shape.left:
            return []
        if front >= shape.right:
            return self.keep(self._row, index, number, shape.right)
        return self._row(index, number, front)

    def _row(self, index: int, number: int, until: float) -> Picture:
        """A stretch up to a place in pixels; its names come in as that passes them, on a plate of their ground."""
        look, page = self.look, self.schedule.pages[index]
        shape, stretch = self.layout.shape(index, number), page.stretches[number]
        figure, y = stretch.clock == "figure", self.layout.y(page, stretch)
        drawn: Picture = []
        name = shape.name
        shown = min(1.0, max(0.0, (until - name.x) / max(1.0, name.width))) if name else 0.0
        if name and shown:
            size = look.size_least
            baseline = y - BODY / 2 - 9 if figure else y + BODY / 2 + 5 + size * CAPITAL
            box = rectangle(name.x - 4, baseline - size * CAPITAL - 4, name.x + name.width + 6, baseline + 8)
            plate, colour = (look.sky_one, look.sail_one) if figure else (look.ground, look.meter_text)
            drawn.append(draw(plate, *clip_all([box], 0, until)))
            drawn.append(draw_text(name.text, name.x, baseline, size, colour, SEMIBOLD, opacity=shown))
        clipped = clip_all(shape.contours, shape.left, until)
        return [*drawn, draw(look.sail_one if figure else look.meter_line, *clipped)] if clipped else drawn

    def _mark(self, index: int, at: int, share: float) -> Picture:
        page = self.schedule.pages[index]
        stop = next(stop for stop in page.stops if stop.at == at)
        mark = self.layout.change_mark(page, stop)
        return mark.draw(self.look, share) if mark else []

    # Words

    def _counter(self, page: PartsPage, moment: Moment) -> Picture:
        """Bar and beat of the last place reached."""
        passed = self._passed(page, moment)
        at = page.stops[passed - 1].at if passed else page.start
        beat = self.timeline.beat_at(min(at, page.end - 1))
        digits = len(str(self.timeline.bars[-1].number))
        entries = ("bar", str(beat.bar_number), digits), ("beat", str(beat.number), 1)
        return self.keep(draw_counter, self.look, entries)

    def _sentence(self, page: PartsPage, moment: Moment) -> Picture:
        """What changed at the last stop; at the end who never does."""
        shown = [stop for stop in page.stops if stop.changes and moment.reached(stop.seconds)]
        if moment.reached(self.schedule.summary):
            opacity = min(1.0, moment.since(self.schedule.summary) / self.look.fade)
            return self.keep(self._draw_summary, opacity)
        if not shown:
            return []
        stop = shown[-1]
        opacity = min(1.0, moment.since(stop.seconds) / self.look.fade)
        return self.keep(self._draw_sentence, stop, opacity)

    def _draw_sentence(self, stop: PartsStop, opacity: float) -> Picture:
        return [*draw_sentence(self.look, change_sentence(self.look, self.timeline, stop.changes), opacity)]

    def _draw_summary(self, opacity: float) -> Picture:
        pages = self.schedule.pages
        names = list(dict.fromkeys(name for page in pages for name in page.parts))
        start, end = min(page.start for page in pages), max(page.end for page in pages)
        return [
            *draw_sentence(self.look, summary_sentence(self.look, self.timeline, names, start, end), opacity)
        ]
