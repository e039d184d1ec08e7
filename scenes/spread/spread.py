"""spread: the figure laid along the form, each repetition told from the next, and what comes of it.

The bars stand there first, with a question over them. The repetitions come in as they sound, up to the playhead, for
some bars at tempo; the rest follow in a hurry. Then all steps back but the places that answer.
"""

from bisect import bisect_left
from collections.abc import Collection, Sequence
from fractions import Fraction
from functools import cached_property
from math import ceil
from typing import NamedTuple

from renderer.core.names import bars_from
from renderer.schedule.phrases import Phrases
from renderer.schedule.spread import APART, DIM, MOST_LIT, Light, SpreadSchedule
from renderer.timeline.model import Mark
from scenes.draw.fading import box_of, cross_fade, faded, part_numbers, part_texts
from scenes.draw.look import Look
from scenes.draw.paths import rectangle
from scenes.draw.segment import Moment, Picture
from scenes.draw.shapes import draw
from scenes.frame.counted import count_repetition
from scenes.frame.foot import draw_veil
from scenes.frame.head import Count
from scenes.frame.headed import HeadedSegment, Sentence
from scenes.frame.phrasing import colour_phrases
from scenes.row.line import Row
from scenes.row.mark_words import said_at
from scenes.row.spots import Lit, SpotPage
from scenes.spread.bars import draw_bars, draw_marks_over, draw_row_sky, draw_section_name
from scenes.spread.repetitions import LaidRepetitions, Reached
from scenes.spread.rows import lay_rows, page_starts, windows

TURN = Fraction(3, 10)
"""Seconds in which a page takes the place of the one before."""
NUMBER_APART = 48.0
"""Pixels from a text that stands out to a number beside it; a nearer one is hidden, or both would be read as one."""
LEGEND_HEIGHT = 44.0
"""From a line of marks up to what it keeps clear of."""
SPARSE = 4
"""Of so many bars one has its number while the picture steps back."""


class Shown(NamedTuple):
    """What stands out on which page, from when on, and what is said of it."""

    seconds: Fraction
    first: int
    """The page's first row, by index."""
    lit: tuple[Lit, ...]
    phrases: Phrases


class SpreadSegment(HeadedSegment):
    """The repetitions of one voice over the bars of the chosen sections."""

    schedule: SpreadSchedule

    def __init__(self, schedule: SpreadSchedule, look: Look) -> None:
        super().__init__(schedule, look)
        self.course = schedule.course
        self.rows = lay_rows(schedule, look)
        self.pages = page_starts(schedule, self.rows)
        self.laid = LaidRepetitions(self, schedule, self.rows.scale)
        self.harmony = () if "harmony" in schedule.without else self.timeline.harmony

    def music(self, moment: Moment) -> Picture:
        index = sum(moment.reached(light.seconds) for light in self.schedule.lights) - 1
        return self._running(moment) if index < 0 else self._standing_out(index, moment)

    # While the repetitions come in

    def _running(self, moment: Moment) -> Picture:
        """The page on which the music is, up to where it is."""
        index = max(0, bisect_left([seconds for _, seconds in self.pages], moment.end) - 1)
        first, since = self.pages[index]
        reached = Reached(self.course.position(moment.seconds), self.course.position(moment.end))
        drawn = self._page(first, reached)
        share = moment.share(since, since + TURN)
        if index and share < 1:
            drawn = cross_fade(self._page(self.pages[index - 1][0]), drawn, share)
        if moment.reached(self.course.begins) and not moment.reached(self.course.real_end):
            drawn += self._playhead(first, reached.position)
        return drawn + self._legend(self.laid.kinds)

    def _page(self, first: int, reached: Reached | None = None) -> Picture:
        """The rows of a page with what has sounded; all of it where nothing else is said."""
        drawn: Picture = []
        for place, row in enumerate(self._rows_of(first)):
            drawn += self._bars_and_vessels(row, place, reached)
            drawn += self.laid.marks(row, reached)
            drawn += self.keep(self._name_over, row)
        return drawn

    def _name_over(self, row: Row) -> Picture:
        """A section's name that runs on over posts, once more over the accents on them."""
        name = draw_section_name(self.timeline, self.rows, row)
        return name if len(name) > 1 else []

    def _rows_of(self, first: int) -> list[Row]:
        """The rows of the page that begins with one, in their places."""
        last = min(first + self.rows.page, len(self.rows.breaks))
        longest = self.laid.longest_group
        return [self.rows.row(index, index - first, self.look, longest) for index in range(first, last)]

    def _bars_and_vessels(self, row: Row, place: int, reached: Reached | None, every: int = 1) -> Picture:
        return [
            *self.keep(self._sky, row),
            *self.laid.vessels(row, reached),
            *self.keep(self._bars, row, place == self.rows.page - 1, every),
            *self._marks_over(row, reached, every),
        ]

    def _marks_over(self, row: Row, reached: Reached | None, every: int) -> Picture:
        """The teacher's own words; those over whose bars the music is stand out."""
        said = said_at(self.timeline.marks, reached.position) if reached else frozenset()
        here = frozenset(mark for mark in said if row.shows(mark.at, mark.to))
        return self.keep(self._draw_marks_over, row, here, every)

    def _draw_marks_over(self, row: Row, said: frozenset[Mark], every: int) -> Picture:
        return draw_marks_over(self.timeline, self.rows, row, said, every)

    def _sky(self, row: Row) -> Picture:
        return draw_row_sky(self.rows, row, self.harmony)

    def _bars(self, row: Row, lowest: bool, every: int) -> Picture:
        return draw_bars(self.timeline, self.rows, row, lowest, every)

    def _playhead(self, first: int, position: float) -> Picture:
        row = next((row for row in self._rows_of(first) if row.start <= position < row.end), None)
        if row is None:
            return []
        x, half, edge = row.x(position), self.look.width_playhead / 2, self.look.edge
        top = row.top + self.rows.lane
        return [
            draw(self.look.ground, rectangle(x - half - edge, top, x + half + edge, row.line)),
            draw(self.look.ink, rectangle(x - half, top, x + half, row.feet)),
        ]

    def _legend(self, kinds: Collection[str], lit: Sequence[Lit] = ()) -> Picture:
        """What the marks mean; on the last line alone while places stand out, and not over these."""
        named = frozenset("realignment" if kind == "home" else kind for kind in kinds)
        lines = self.canvas.marks[-1:] if lit else self.canvas.marks
        lowest = max(
            (box_of(shape)[3] for each in lit for shape in each.shapes if len(shape.points)), default=0.0
        )
        return [] if lines and lowest > lines[0] - LEGEND_HEIGHT else self.legend(named, lines)

    # While places stand out

    @cached_property
    def shown(self) -> tuple[Shown, ...]:
        """What stands out, step by step, on the pages of this canvas."""
        found: list[Shown] = []
        for light in self.schedule.lights:
            first = self._window(light, found[-1].first if found else self.pages[-1][0])
            rows = self._rows_of(first)
            below = self.rows.pitch - (rows[0].line - rows[0].top) - self.rows.name
            page = SpotPage(self.timeline, rows, below, self.schedule.without, self.schedule.numbers)
            lit = tuple(page.light(light.spots, MOST_LIT))
            answers = light is self.schedule.lights[-1]
            phrases = self.schedule.answer([one.spot for one in lit]) if answers else light.phrases
            found.append(Shown(light.seconds, first, lit, phrases))
        return tuple(found)

    def _window(self, light: Light, now: int) -> int:
        """The first row of the page that is shown: one with the first of a light's places and most of the others, the
        present one if it does as well."""
        if not light.spots:
            return now
        rows, seen = self.rows, {}
        for first in windows(rows):
            start, end = rows.breaks[first][0], rows.breaks[min(first + rows.page, len(rows.breaks)) - 1][1]
            held = [start <= spot.at < end for spot in light.spots]
            seen[first] = min(sum(held), MOST_LIT) if held[0] else 0
        best = max(seen.values())
        return now if seen.get(now) == best else next(first for first in seen if seen[first] == best)

    def _standing_out(self, index: int, moment: Moment) -> Picture:
        """All but a step's places steps back, and they come one after the other."""
        now = self.shown[index]
        share = moment.share(now.seconds, now.seconds + DIM)
        before = self.shown[index - 1] if index else None
        drawn = self._stepping_back(index, share)
        if before and share < 0.5:
            leaving = [shape for lit in before.lit for shape in lit.shapes]
            drawn, _ = part_texts(drawn, leaving, 6.0)
        for lit in before.lit if before else ():
            drawn += faded(lit.shapes, 1 - 2 * share)
        for number, lit in enumerate(now.lit):
            since = now.seconds + DIM / 2 + number * APART
            drawn += faded(lit.shapes, moment.share(since, since + DIM / 2))
        kinds = {lit.spot.kind for lit in now.lit}
        if share < 0.5:
            kinds = {lit.spot.kind for lit in before.lit} if before and before.lit else set()
        return drawn + self._legend(kinds or self.laid.kinds, now.lit)

    def _stepping_back(self, index: int, share: float) -> Picture:
        """What stands behind the places, on its way from the step before."""
        now, before = self.shown[index], self.shown[index - 1] if index else None
        old = before.first if before else self.pages[-1][0]
        was_lit, is_lit = bool(before and before.lit), bool(now.lit)
        if old != now.first and share < 1:
            ground = self._base(index - 1)[0] if was_lit else self._page(old)
            drawn = cross_fade(ground, self._base(index)[0] if is_lit else self._page(now.first), share)
        elif is_lit:
            base, leaving = self._base(index)
            drawn = [*base, *([] if was_lit else faded(leaving, 1 - 2 * share))]
        else:
            drawn = self._page(now.first)
        veil = 1.0 if was_lit and is_lit else share if is_lit else 1 - share if was_lit else 0.0
        return [*drawn, draw_veil(self.look, veil)] if veil else drawn

    def _base(self, index: int) -> tuple[Picture, Picture]:
        """What steps back behind a step's places, and what leaves the picture: marks, numbers, and texts that would
        meet theirs."""
        return self.keep(self._part_base, index)

    def _part_base(self, index: int) -> tuple[Picture, Picture]:
        shown = self.shown[index]
        ground: Picture = []
        leaving: Picture = []
        for place, row in enumerate(self._rows_of(shown.first)):
            quiet = self._bars_and_vessels(row, place, None, SPARSE)
            stays = {shape.text for shape in quiet}
            whole = self._bars_and_vessels(row, place, None)
            ground += quiet
            leaving += [shape for shape in whole if shape.text and shape.text not in stays]
            leaving += self.laid.marks(row, None)
        clear, hidden = part_texts(ground, [shape for one in shown.lit for shape in one.shapes], 6.0)
        clear, beside = part_numbers(
            clear, [shape for one in shown.lit for shape in one.shapes], NUMBER_APART
        )
        return clear, [*hidden, *beside, *leaving]

    # The head

    def sentence(self, moment: Moment) -> Sentence:
        index = sum(moment.reached(light.seconds) for light in self.schedule.lights) - 1
        if index >= 0:
            shown = self.shown[index]
            return Sentence(self._where(shown.first), colour_phrases(self.look, shown.phrases), shown.seconds)
        pages = [page for page, seconds in self.pages if not seconds or moment.reached(seconds)]
        return Sentence(self._where(pages[-1]), colour_phrases(self.look, self.schedule.question))

    def _where(self, first: int) -> str:
        """The piece, and which of its bars are seen."""
        timeline, rows = self.timeline, self.rows
        last = min(first + rows.page, len(rows.breaks)) - 1
        begins = [at for before, at in self.schedule.ahead if before == rows.breaks[first][0]]
        start = timeline.bar_at(max(0, *begins, rows.breaks[first][0])).number
        end, count = timeline.bar_at(rows.breaks[last][1] - 1).number, timeline.bars[-1].number
        bars = bars_from(start, end)
        if (start, end) == (1, count):
            bars = f"{count} bar{'s' if count > 1 else ''}"
        voice = f", {self.schedule.voice}" if len(timeline.voices) > 1 else ""
        return f"{timeline.title}{voice}, {bars}"

    def real_end(self) -> Fraction:
        return self.course.real_end

    def counts(self, moment: Moment) -> Sequence[Count]:
        """Bar and repetition while time is real; before that the beats that are counted in."""
        look, course = self.look, self.course
        if not moment.reached(course.begins):
            beat = course.counted_beat(moment.end)
            return (Count("beat", str(beat), 1, look.meter_text),) if beat else ()
        now = course.position(moment.end)
        digits = len(str(self.timeline.bars[-1].number))
        bar = self.timeline.bar_at(max(course.start, ceil(now) - 1))
        counts = [Count("bar", str(bar.number), digits, look.meter_text)]
        repetition = self.laid.sounding(now)
        if repetition and not self.canvas.tall:
            counts.insert(0, count_repetition(look, repetition, self.schedule.numbers, self.laid.digits))
        return counts
