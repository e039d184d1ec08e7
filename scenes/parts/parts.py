"""parts: who keeps the figure and who keeps the meter, section by section.

A line a part, in the piece's order, its name before it. Over the line a thin hull with a small sail a repetition is the
figure; a beam with a post a bar is the meter; dots are silence. Where a part changes sides, a stroke goes through its
line, and what happens is said. At the end all else steps back but the answer.
"""

from collections.abc import Sequence
from fractions import Fraction
from functools import partial

from renderer.core.names import bars_from
from renderer.schedule.parts import PartsSchedule
from renderer.schedule.parts_sentences import place_text, steady_parts
from renderer.timeline.model import Mark
from scenes.draw.fading import cross_fade, faded
from scenes.draw.look import BOLD, CAPITAL, Look
from scenes.draw.paths import brace, disc, rectangle
from scenes.draw.segment import Moment, Picture
from scenes.draw.shapes import across, draw, draw_text
from scenes.draw.text import fit_size, text_width
from scenes.frame.counted import count_bar
from scenes.frame.foot import veil_opacity
from scenes.frame.head import Count
from scenes.frame.headed import HeadedSegment, Sentence
from scenes.frame.phrasing import colour_phrases
from scenes.parts.layout import PartRow, lay_parts
from scenes.parts.rows import (
    Span,
    draw_change,
    draw_lines,
    draw_names,
    draw_numbers,
    draw_row,
    draw_sections,
    occurring,
    row_contours,
)
from scenes.parts.table import PartsTable
from scenes.row.line import draw_side_sign
from scenes.row.mark_words import MarkWords, draw_braces, lay_braces, said_at

TURN, STROKE, DIM = Fraction(3, 10), Fraction(2, 5), Fraction(2, 5)
"""Seconds in which a page takes the place of the one before, a change's stroke is drawn, and all else steps back."""
WORDS, BRACE_RISE = 56.0, 16.0
"""Type size of the words under a brace, and how high its ends are."""
SIGN_GAP, ENTRY_GAP = 14.0, 48.0


class PartsSegment(HeadedSegment):
    """Parts over the bars of the chosen sections, page by page."""

    schedule: PartsSchedule

    def __init__(self, schedule: PartsSchedule, look: Look) -> None:
        super().__init__(schedule, look)
        self.course = schedule.course
        self.layout = lay_parts(schedule, look)
        said = {each.at: each.seconds for each in schedule.told}
        self.strokes = {
            change.at: said.get(change.at, self.course.seconds_at(change.at) or self.course.begins)
            for change in schedule.changes
        }
        starts = [self.course.seconds_at(max(start, self.course.start)) for start, _ in self.layout.spans]
        self.page_times = [seconds if seconds is not None else Fraction(0) for seconds in starts]

    # What is seen when

    def music(self, moment: Moment) -> Picture:
        if moment.reached(self.schedule.answered):
            return self._answered(moment)
        index = max(0, sum(moment.reached(seconds) for seconds in self.page_times) - 1)
        drawn = self._page(self.layout.spans[index], moment)
        share = moment.share(self.page_times[index], self.page_times[index] + TURN)
        if index and share < 1:
            drawn = cross_fade(self._page(self.layout.spans[index - 1], None), drawn, share)
        if moment.reached(self.course.begins) and not moment.reached(self.course.real_end):
            drawn += self._playhead(self.layout.spans[index], moment)
        return drawn

    def _page(self, span: Span, moment: Moment | None) -> Picture:
        """The parts between two ticks, up to where the music is; all of it without a moment."""
        position = span[1] if moment is None else self.course.position(moment.seconds)
        drawn = [*self.keep(self._ground, span)]
        until = self.layout.x(span, max(span[0], min(span[1], position)))
        for row in self.layout.rows if position > span[0] else ():
            kept = self.keep(row_contours, self.layout, span, row)
            drawn += (
                self.keep(self._whole, span, row)
                if position >= span[1]
                else draw_row(self.layout, kept, until)
            )
        for change in self.schedule.changes:
            if not change.crosses or not span[0] <= change.at < span[1]:
                continue
            share = 1.0
            if moment is not None:
                seconds = self.strokes[change.at]
                share = moment.share(seconds, seconds + STROKE) if moment.reached(seconds) else 0.0
            if share:
                drawn += self.keep(draw_change, self.layout, span, self._row(change.part), change.at, share)
        return drawn + self._marks(span, moment)

    def _row(self, part: str) -> PartRow:
        return next(row for row in self.layout.rows if row.part == part)

    def _whole(self, span: Span, row: PartRow) -> Picture:
        return draw_row(self.layout, row_contours(self.layout, span, row), self.layout.right(span))

    def _ground(self, span: Span) -> Picture:
        return [
            *draw_sections(self.layout, span),
            *draw_lines(self.layout, span),
            *draw_names(self.layout),
            *draw_numbers(self.layout, span, self.schedule.changes),
            *(self._legend() if self.footed else []),
        ]

    def _marks(self, span: Span, moment: Moment | None) -> Picture:
        """The teacher's own words under the bars, but where the answer's brace stands; those where the music is stand
        out."""
        answered = moment is None or moment.reached(self.schedule.answered)
        if answered and self.schedule.nobody is not None:
            return []
        position = span[1] if moment is None else self.course.position(moment.seconds)
        own = frozenset(words.mark for words in self.keep(self._lay_marks, span))
        return self.keep(self._draw_marks, span, own if answered else said_at(own, position))

    def _lay_marks(self, span: Span) -> tuple[MarkWords, ...]:
        layout, canvas = self.layout, self.canvas
        legend = self.keep(self._legend)
        room = (canvas.left, canvas.right)
        if canvas.legend is not None and self._braces + 96 > canvas.legend - self.look.size_least:
            room = (max((across(shape)[1] for shape in legend), default=canvas.left) + 30, canvas.right)
        place = partial(layout.x, span)
        return lay_braces(self.timeline.marks, place, span, room, (56.0, 48.0, 42.0, 34.0), 1)

    def _draw_marks(self, span: Span, said: frozenset[Mark]) -> Picture:
        return draw_braces(self.look, self.keep(self._lay_marks, span), self._braces, said)

    @property
    def _braces(self) -> float:
        """Where the ends of braces begin, under the bars' numbers."""
        return self.layout.bottom + 52 + 22 - BRACE_RISE

    def _playhead(self, span: Span, moment: Moment) -> Picture:
        x = self.layout.x(span, self.course.position(moment.seconds))
        top, bottom, half = self.layout.top, self.layout.bottom, self.look.width_playhead / 2
        return [draw(self.look.ink, rectangle(x - half, top, x + half, bottom))]

    # The answer

    def _answered(self, moment: Moment) -> Picture:
        """The page that the answer speaks of; all else steps back."""
        answered, layout = self.schedule.answered, self.layout
        share = moment.share(answered, answered + DIM)
        span = self._answer_span()
        drawn = self._page(span, None)
        if span != layout.spans[-1] and share < 1:
            drawn = cross_fade(self._page(layout.spans[-1], None), drawn, share)
        veils, words = self.keep(self._emphasis, span)
        drawn += faded(veils, share)
        if veils and self.canvas.tall:  # names stand over their rows there, and would step back with these
            drawn += self.keep(draw_names, layout)
        return [*drawn, *faded(words, 2 * share - 1)]

    def _answer_span(self) -> Span:
        nobody = self.schedule.nobody
        if nobody is None:
            return self.layout.spans[-1]
        held = [
            (min(end, nobody.end) - max(start, nobody.start), (start, end))
            for start, end in self.layout.spans
        ]
        return max(held)[1]

    def _emphasis(self, span: Span) -> tuple[Picture, Picture]:
        """What steps back, and the words under what does not."""
        layout, look, nobody = self.layout, self.look, self.schedule.nobody
        top, bottom = layout.top, layout.bottom
        left, right = layout.left - 2, max(layout.right(span), self.canvas.music_right)
        if nobody is not None:
            start, end = (layout.x(span, max(span[0], min(span[1], at))) for at in (nobody.start, nobody.end))
            fields = [rectangle(left, top, start - 4, bottom)] if start - 4 > left else []
            fields += [rectangle(end + 4, top, right, bottom)] if end + 4 < layout.right(span) else []
            veils = [draw(look.ground, *fields, opacity=veil_opacity(self.canvas))] if fields else []
            for change in self.schedule.changes:
                if change.crosses and change.at in (nobody.start, nobody.end) and change.at < span[1]:
                    veils += draw_change(layout, span, self._row(change.part), change.at, 1.0)
            return veils, self._brace(start, end)
        steady = {name for name, _ in steady_parts(self.timeline, self.schedule.parts, self.course.stretches)}
        rows = layout.rows
        edges = [row.top for row in rows] + [bottom]
        fields = [
            rectangle(left, edges[number] - 4, right + 4, edges[number + 1] - 4)
            for number, row in enumerate(rows)
            if row.part not in steady
        ]
        if not fields or len(fields) == len(rows):
            return [], []
        return [draw(look.ground, *fields, opacity=veil_opacity(self.canvas))], []

    def _brace(self, start: float, end: float) -> Picture:
        """A brace under the bars in which nobody keeps a clock, with words where they have room."""
        look, canvas, nobody = self.look, self.canvas, self.schedule.nobody
        if nobody is None:
            return []
        y = self._braces + BRACE_RISE
        drawn = [draw(look.ink, *brace(start, end, y, look.width_line, BRACE_RISE))]
        text = look.words.say(f"nobody keeps the {nobody.clock}")
        size = fit_size(text, WORDS, look.size_least, canvas.right - canvas.left, BOLD)
        width = text_width(text, size, BOLD)
        x = max(canvas.left, min(canvas.right - width, (start + end) / 2 - width / 2))
        baseline = y + 14 + size * CAPITAL
        legend = self._legend()
        free = max((across(shape)[1] for shape in legend), default=0.0) + 30
        if canvas.legend is not None and baseline + size * 0.3 > canvas.legend - look.size_least and x < free:
            x = free
        if x + width > canvas.right or baseline > canvas.bottom:
            return drawn
        return [*drawn, draw_text(text, x, baseline, size, look.ink, BOLD)]

    # The foot and the head

    def _legend(self) -> Picture:
        """What the signs mean that occur; nothing on a canvas without room for it."""
        look, canvas = self.look, self.canvas
        if canvas.legend is None:
            return []
        drawn: Picture = []
        x = canvas.left
        for sign in occurring(self.timeline, self.layout, self.schedule.changes):
            shapes, width = self._sign(sign, x, canvas.legend)
            text = draw_text(
                look.words.say(sign), x + width + SIGN_GAP, canvas.legend, look.size_least, look.mute
            )
            if across(text)[1] > canvas.right:
                break
            drawn += [*shapes, text]
            x = across(text)[1] + ENTRY_GAP
        return drawn

    def _sign(self, sign: str, x: float, baseline: float) -> tuple[Picture, float]:
        look, middle = self.look, baseline - 11
        if sign in ("figure", "meter"):
            return draw_side_sign(sign, x, baseline, look), 50.0
        if sign == "silent":
            dots = [rectangle(x + 11 * n, middle - 1.5, x + 11 * n + 3, middle + 1.5) for n in range(5)]
            return [draw(look.line, *dots)], 48.0
        stroke = rectangle(x + 7, middle - 18, x + 12, middle + 18)
        return [draw(look.mute, stroke), draw(look.mute, disc(x + 9.5, middle, 9))], 20.0

    def sentence(self, moment: Moment) -> Sentence:
        schedule, small = self.schedule, self._where(moment)
        if moment.reached(schedule.answered):
            return Sentence(small, colour_phrases(self.look, schedule.answer), schedule.answered)
        reached = [each for each in schedule.told if moment.reached(each.seconds)]
        if reached:
            small = f"{self.timeline.title}, bar {place_text(self.timeline, reached[-1].at)}"
            return Sentence(small, colour_phrases(self.look, reached[-1].phrases), reached[-1].seconds)
        return Sentence(small, colour_phrases(self.look, schedule.question))

    def _where(self, moment: Moment) -> str:
        """The piece, and which of its bars or parts are seen, where that is not all."""
        timeline, layout = self.timeline, self.layout
        text = timeline.title
        span = layout.spans[max(0, sum(moment.reached(seconds) for seconds in self.page_times) - 1)]
        if moment.reached(self.schedule.answered):
            span = self._answer_span()
        whole = (timeline.start, timeline.end)
        if span != whole:
            first = timeline.bar_at(max(0, span[0])).number
            last = timeline.bar_at(span[1] - 1).number
            text += f", {bars_from(first, last)}"
        return text if span != whole else f"{text}, {self._piece()}"

    def _piece(self) -> str:
        count = self.timeline.bars[-1].number
        return f"{count} bar{'s' if count > 1 else ''}"

    def real_end(self) -> Fraction:
        return self.course.real_end

    def counts(self, moment: Moment) -> Sequence[Count]:
        return count_bar(self.look, self.timeline, self.course, moment)


def parts_segment(schedule: PartsSchedule, look: Look) -> HeadedSegment:
    """The rows, or the table where one is asked for."""
    return PartsTable(schedule, look) if schedule.table else PartsSegment(schedule, look)
