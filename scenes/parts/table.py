"""parts as a table: a line a part, a column a section, a sign for what is kept; under it how many keep the meter."""

from fractions import Fraction

from renderer.schedule.parts import PartsSchedule
from renderer.schedule.parts_table import Cell, Column
from renderer.timeline.sides import Clock
from scenes.draw.fading import cross_fade
from scenes.draw.look import BOLD, CAPITAL, REGULAR, SEMIBOLD, Look
from scenes.draw.paths import polygon, rectangle
from scenes.draw.segment import Moment, Picture
from scenes.draw.shapes import FilledShape, draw, draw_text
from scenes.draw.text import text_width
from scenes.frame.head import fit_name
from scenes.frame.headed import HeadedSegment, Sentence
from scenes.frame.phrasing import colour_phrases
from scenes.row.line import draw_side_sign

GUTTER_WIDE, GUTTER_NARROW = 384.0, 220.0
COLUMN_LEAST = 300.0
"""Pixels that a column has at least; more of them stand on pages of their own."""
PITCH_MOST, PITCH_LEAST = 102.0, 50.0
NAME, WORD, MOST, TOTAL = 46.0, 46.0, 42.0, 46.0
"""Type sizes of a section's and a part's name, of what is kept, of a bar's number, and of how many keep the meter."""
SIGN, SIGN_GAP = 50.0, 14.0
ARROW, ARROW_GAP = 34.0, 14.0
HIGHER, TWO_LINES, LINE_PITCH = 1.3, 90.0, 38.0
"""How much further apart the lines are on a canvas that is not wide, from where on they have room for two lines of
text, and from one of these to the next, in pixels."""
TURN = Fraction(3, 10)
WORDS: dict[Clock, str] = {"figure": "figure", "meter": "meter", "tacet": "silent"}


class PartsTable(HeadedSegment):
    """Who keeps what, section by section, standing still."""

    schedule: PartsSchedule

    def __init__(self, schedule: PartsSchedule, look: Look) -> None:
        super().__init__(schedule, look)
        canvas, parts = self.canvas, len(schedule.parts)
        narrow = canvas.legend is None
        self.left = canvas.left + (GUTTER_NARROW if narrow else GUTTER_WIDE)
        columns = schedule.table
        most = max(
            1, int((canvas.right - self.left) // (COLUMN_LEAST * (0.75 if narrow or canvas.low < 1 else 1)))
        )
        self.pages = [columns[first : first + most] for first in range(0, len(columns), most)]
        self.width = (canvas.right - self.left) / min(most, len(columns))
        top, bottom = canvas.stage_top + (20 if narrow else 44), canvas.bottom - 8
        self.pitch = max(PITCH_LEAST, min(PITCH_MOST, (bottom - top) / (parts + 2)))
        if narrow:
            self.pitch = min(
                self.pitch * HIGHER * max(1.0, canvas.height / 1080), (bottom - top) / (parts + 2)
            )
        self.top = top

    def music(self, moment: Moment) -> Picture:
        index = max(0, sum(moment.reached(page[0].seconds) for page in self.pages) - 1)
        if moment.reached(self.schedule.answered):
            index = self._answer_page()
        drawn = self.keep(self._draw_page, index)
        since = self.pages[index][0].seconds
        share = moment.share(since, since + TURN)
        if index and share < 1 and not moment.reached(self.schedule.answered):
            return cross_fade(self.keep(self._draw_page, index - 1), drawn, share)
        return drawn

    def _answer_page(self) -> int:
        """The page that the answer speaks of."""
        nobody = self.schedule.nobody
        if nobody is None:
            return len(self.pages) - 1
        return next(
            n
            for n, page in enumerate(self.pages)
            if any(nobody.start < column.section.end for column in page)
        )

    def _draw_page(self, index: int) -> Picture:
        look, canvas, parts = self.look, self.canvas, self.schedule.parts
        page = self.pages[index]
        drawn = self._rules(len(parts))
        baseline = self.top + self.pitch * 0.66
        for number, column in enumerate(page):
            drawn += self._heading(column, self._x(number), baseline)
        for row, part in enumerate(parts, start=1):
            line = baseline + row * self.pitch
            drawn += self._text(
                part, canvas.left, line, NAME, self.left - canvas.left - 20, look.ink, SEMIBOLD
            )
            for number, column in enumerate(page):
                drawn += self._cell(column.cells[row - 1], self._x(number), line)
        line = baseline + (len(parts) + 1) * self.pitch
        drawn += self._text(
            look.words.say("the meter"),
            canvas.left,
            line,
            NAME,
            self.left - canvas.left - 20,
            look.meter_text,
            SEMIBOLD,
        )
        for number, column in enumerate(page):
            drawn += self._text(
                look.words.say(column.meter), self._x(number), line, TOTAL, self.width - 20, look.ink, BOLD
            )
        return drawn

    def _x(self, number: int) -> float:
        return self.left + number * self.width

    def _size(self, most: float) -> float:
        """As large as the lines' distance lets it be."""
        return max(self.look.size_least, min(most, self.pitch * 0.62))

    def _rules(self, parts: int) -> Picture:
        look, canvas = self.look, self.canvas
        places = [self.top + self.pitch * (row + 1) for row in range(parts + 1)]
        strong = [rectangle(canvas.left, y - 2, canvas.right, y + 2) for y in (places[0], places[-1])]
        weak = [rectangle(canvas.left, y - 1, canvas.right, y + 1) for y in places[1:-1]]
        return [draw(look.line, *strong), *([draw(look.line, *weak, opacity=0.5)] if weak else [])]

    def _text(
        self, text: str, x: float, baseline: float, most: float, room: float, colour: str, weight: int
    ) -> Picture:
        """A text as large as it fits; where the lines are far enough apart on two lines, else cut off."""
        most_lines = 2 if self.pitch >= TWO_LINES else 1
        size, lines = fit_name(self.look, text, self._size(most), max(1.0, room), weight, most_lines)
        first = baseline - (len(lines) - 1) * LINE_PITCH / 2
        return [
            draw_text(line, x, first + number * LINE_PITCH, size, colour, weight)
            for number, line in enumerate(lines)
        ]

    def _heading(self, column: Column, x: float, baseline: float) -> Picture:
        """A section's name, and its bars where they have room."""
        look, section = self.look, column.section
        drawn = self._text(section.name, x, baseline, NAME, self.width - 20, look.ink, SEMIBOLD)
        if len(drawn) > 1:
            return drawn
        name = drawn[0].text or ""
        end = x + text_width(name, drawn[0].size_px, SEMIBOLD) + SIGN_GAP
        bars = look.words.say(f"{section.bar_count} bar{'s' if section.bar_count > 1 else ''}")
        if end + text_width(bars, look.size_least) <= x + self.width - 20:
            drawn.append(draw_text(bars, end, baseline, look.size_least, look.mute, REGULAR))
        return drawn

    def _cell(self, cell: Cell, x: float, baseline: float) -> Picture:
        """What a part keeps: a sign and its word; where it changes, the signs in turn and the last change's bar."""
        look, stop = self.look, x + self.width - 16
        colours = {"figure": look.figure_text, "meter": look.meter_text, "tacet": look.mute}
        if len(cell.clocks) == 1:
            (clock,) = cell.clocks
            sign, width = self._sign(clock, x, baseline)
            left = x + width + (SIGN_GAP if width else 0)
            return [
                *sign,
                *self._text(self._word(clock), left, baseline, WORD, stop - left, colours[clock], SEMIBOLD),
            ]
        drawn: Picture = []
        for number, clock in enumerate(cell.clocks):
            if number:
                drawn.append(self._arrow(x, baseline))
                x += ARROW + ARROW_GAP
            sign, width = self._sign(clock, x, baseline)
            if not sign:
                width = text_width(self._word(clock), look.size_least)
                sign = [draw_text(self._word(clock), x, baseline, look.size_least, look.mute)]
            drawn += sign
            x += width + ARROW_GAP
        for text in (look.words.say(f"bar {cell.places[-1]}"), cell.places[-1]):
            size = min(self._size(MOST), 40.0)
            if x + text_width(text, size) <= stop:
                return [*drawn, draw_text(text, x, baseline, size, look.mute)]
        return drawn

    def _word(self, clock: Clock) -> str:
        return self.look.words.say(WORDS[clock])

    def _sign(self, clock: Clock, x: float, baseline: float) -> tuple[Picture, float]:
        """A clock's sign, and how wide it is; silence has none."""
        if clock == "tacet":
            return [], 0.0
        return draw_side_sign(clock, x, baseline, self.look), SIGN

    def _arrow(self, x: float, baseline: float) -> FilledShape:
        y = baseline - self.look.size_least * CAPITAL / 2
        tip = [(x + ARROW, y), (x + ARROW - 14, y - 11), (x + ARROW - 14, y + 11)]
        return draw(self.look.mute, rectangle(x, y - 2, x + ARROW - 12, y + 2), polygon(tip))

    def sentence(self, moment: Moment) -> Sentence:
        schedule, small = self.schedule, f"{self.timeline.title}, who keeps what"
        if moment.reached(schedule.answered):
            return Sentence(small, colour_phrases(self.look, schedule.answer), schedule.answered)
        return Sentence(small, colour_phrases(self.look, schedule.question))
