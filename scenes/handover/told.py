"""What is told under a handover: how much lies before the line and over it, and the sum."""

from renderer.schedule.handover import HandoverSchedule
from renderer.schedule.handover_words import HandoverSum, Share
from scenes.draw.look import BOLD, CAPITAL, REGULAR
from scenes.draw.paths import brace
from scenes.draw.segment import Picture
from scenes.draw.shapes import Words, draw, draw_text, draw_words, words_width
from scenes.draw.sum_lines import draw_sum, number, sign, sum_width
from scenes.draw.text import text_width
from scenes.frame.head import break_words
from scenes.handover.layout import HandoverLayout
from scenes.row.line import Row

WORDS, LEAST_WORDS, SUM, BESIDE = 56.0, 40.0, 76.0, 40.0
"""Type sizes of a share's words, at most and at least, of the sum, and of what stands beside it."""
LINE_STEP = 1.12
EVEN = (0.6, 0.75, 0.9)
"""Shares of the room in which two lines are broken first, so that none is a word alone."""
GAP = 18.0
"""Pixels between the words of the two shares and the line at least."""


class HandoverTold:
    """The braces with their words, and the sum."""

    def __init__(self, schedule: HandoverSchedule, row: Row, layout: HandoverLayout) -> None:
        self.schedule, self.row, self.layout, self.look = schedule, row, layout, row.look
        meeting = schedule.meeting
        self.line = row.x(meeting.handover.line) if meeting else 0.0
        self.alone = len({share.side for share in schedule.shares}) == 1

    def share(self, index: int, opacity: float) -> Picture:
        """A brace under a stretch beside the line, and how much it is."""
        row, look, share = self.row, self.look, self.schedule.shares[index]
        left, right = max(row.left, row.x(share.start)), min(row.right, row.x(share.end))
        if share.side == 0 and share.end == self._line_tick:
            right -= 20
        elif share.start == self._line_tick:
            left += 6
        if right - left < 12:
            return []
        y = row.line + self.layout.braces
        colour = look.sail_one if share.side == 0 else look.ink
        drawn: Picture = [draw(colour, *brace(left, right, y, look.width_line), opacity=opacity)]
        size, lines = self._lay_words(share)
        room_left, room_right = self._room(share)
        for place, line in enumerate(lines):
            width = words_width(line, size)
            x = max(room_left, min((left + right - width) / 2, room_right - width))
            baseline = row.line + self.layout.words + place * size * LINE_STEP
            drawn += draw_words(line, x, baseline, size, opacity)
        return drawn

    @property
    def _line_tick(self) -> int:
        meeting = self.schedule.meeting
        return meeting.handover.line if meeting else 0

    def _room(self, share: Share) -> tuple[float, float]:
        """Between which pixels a share's words stand: on their side of the line where the other has some too."""
        canvas = self.look.canvas
        if self.alone:
            return canvas.left, canvas.right
        line = max(canvas.left + 0.3 * self._width, min(self.line, canvas.right - 0.3 * self._width))
        return (canvas.left, line - GAP) if share.side == 0 else (line + 4, canvas.right)

    @property
    def _width(self) -> float:
        return self.look.canvas.right - self.look.canvas.left

    def _words(self, share: Share) -> list[Words]:
        look = self.look
        colour = look.figure_text if share.side == 0 else look.ink
        return [
            Words(look.words.say(share.number), colour, BOLD),
            Words(look.words.say(f" {share.words}"), look.mute, REGULAR),
        ]

    def _lay_words(self, share: Share) -> tuple[float, list[list[Words]]]:
        """A share's number and words, all shares in one size, as large as they have room; on two lines where the least
        size is too wide for one."""
        rooms = [(self._words(each), self._room(each)) for each in self.schedule.shares]
        size = WORDS
        while size > LEAST_WORDS and any(words_width(w, size) > right - left for w, (left, right) in rooms):
            size -= 2
        left, right = self._room(share)
        lines = break_words(self._words(share), size, right - left, 2)
        for part in EVEN if len(lines) > 1 else ():
            even = break_words(self._words(share), size, (right - left) * part, 2)
            if not even[-1][-1].text.endswith("…"):
                return size, even
        return size, lines

    def sum(self, opacity: float) -> Picture:
        """So many times the figure, its bars, and what is over or short."""
        added, look, canvas = self.schedule.added, self.look, self.look.canvas
        if added is None:
            return []
        terms = self._terms(added)
        room = canvas.right - canvas.left
        size = min(SUM, SUM * room / sum_width(terms, SUM))
        baseline = self.row.line + self.layout.sum
        drawn = draw_sum(terms, canvas.left, baseline, size, opacity)
        x = canvas.left + sum_width(terms, size) + 52
        bars = look.words.say(added.bars)
        if x + text_width(bars, BESIDE) <= canvas.right:
            return [*drawn, draw_text(bars, x, baseline, BESIDE, look.mute, opacity=opacity)]
        below = baseline + BESIDE * CAPITAL + 26
        return [*drawn, draw_text(bars, canvas.left, below, BESIDE, look.mute, opacity=opacity)]

    def _terms(self, added: HandoverSum) -> list[Words]:
        look = self.look
        figure, meter = look.figure_text, look.meter_text
        total = number(str(added.times * added.figure), figure)
        many = [number(str(added.times), figure), sign(look, "×"), number(str(added.figure), figure)]
        terms = [*many, sign(look, "="), total] if added.times > 1 else [total]
        terms += [sign(look, "="), number(str(added.room), meter)]
        if added.over:
            terms += [sign(look, "+" if added.over > 0 else "−"), number(str(abs(added.over)), look.ink)]
        return terms
