"""The places of a page that stand out while all else steps back, each with its vessel, its mark and its words.

What would meet the words of a place before it gives way: first a label's words, then the place itself.
"""

from collections.abc import Sequence
from fractions import Fraction
from typing import NamedTuple

from renderer.schedule.spread_sentences import Spot, crossings_in, shares_of
from renderer.schedule.wording import mixed, number_text
from renderer.spec.model import Numbers
from renderer.timeline.model import Timeline
from scenes.draw.chords import draw_chord
from scenes.draw.fading import Box, box_of, meet
from scenes.draw.look import BOLD, CAPITAL, SEMIBOLD
from scenes.draw.paths import disc, lozenge, rectangle, ring
from scenes.draw.segment import Picture
from scenes.draw.shapes import Words, draw, draw_text, draw_words, words_width
from scenes.draw.text import text_width
from scenes.row.line import Row, draw_vessel

LABEL, NUMBER, CHORD, SHARE = 64.0, 52.0, 48.0, 68.0
"""Type sizes of a bar's or an offset's label, of a repetition's number, of chords, and of the pulses in each."""
LABEL_LEAST = 52.0
"""Where rows are close, a label may reach into the sky of the next one, which has stepped back."""
DISC, RING, RING_WIDTH, STROKE, SEAM = 14.0, 28.0, 6.0, 8.0, 6.0
LOW_LABEL = 40.0
"""On a slide it does not: all stands closer there."""
UNDER, LOW_UNDER = 12.0, 8.0
"""From the line to the top of a label, the last on a slide."""
NUMBER_GAP, LOW_NUMBER_GAP = 8.0, 2.0
"""From a repetition's number to what stands beside it, the last on a slide."""
SUMS_APART = 18.0
"""From the plate of a sum to what stands beside it: two sums side by side would be read as one."""
BESIDE = 38.0
"""From a ring's middle to the label beside it."""


class Lit(NamedTuple):
    """A place that stands out, and what is drawn of it."""

    spot: Spot
    shapes: Picture


class SpotPage(NamedTuple):
    """The rows of a page, how much room there is under each line, and what to leave out."""

    timeline: Timeline
    rows: Sequence[Row]
    below: float
    without: tuple[str, ...]
    numbers: Numbers

    def light(self, spots: Sequence[Spot], most: int) -> list[Lit]:
        """The places that can be seen on the page, in their order, as many as stand clear of each other."""
        taken: list[Box] = []
        lit: list[Lit] = []
        for spot in spots:
            row = next((row for row in self.rows if row.holds(spot.at)), None)
            if row is None or len(lit) == most:
                continue
            shapes = self.mark(spot, row, taken)
            if shapes:
                taken += [box_of(shape) for shape in shapes if shape.text and len(shape.points)]
                lit.append(Lit(spot, [*self._vessel(spot), *shapes]))
        return lit

    def mark(self, spot: Spot, row: Row, taken: Sequence[Box] = ()) -> Picture:
        """What marks a place on its row, clear of what is `taken`; nothing where it has no room."""
        marks = {
            "home": self._home,
            "crossing": self._crossing,
            "start": self._start,
            "place": self._place,
        }
        return marks[spot.kind](spot, row, taken)

    def _vessel(self, spot: Spot) -> Picture:
        repetition = spot.repetition
        drawn: Picture = []
        for row in self.rows:
            if row.shows(repetition.at, repetition.end):
                drawn += draw_vessel(row, repetition, row.look.sail(repetition.number))
        return drawn

    @property
    def _low(self) -> bool:
        return self.rows[0].look.canvas.low < 1

    @property
    def _under(self) -> float:
        return LOW_UNDER if self._low else UNDER

    def _size(self, most: float) -> float:
        """The largest type that stands under the line."""
        least = LOW_LABEL if self._low else LABEL_LEAST
        return max(least, min(most, (self.below - self._under - 2) / CAPITAL))

    # Back on a downbeat

    def _home(self, spot: Spot, row: Row, taken: Sequence[Box]) -> Picture:
        look, x = row.look, row.x(spot.at)
        share = min(1.0, row.style.hull / 34)
        radius = RING * max(0.8, share)
        half = STROKE / 2
        drawn = [
            draw(look.ground, rectangle(x - half - look.edge, row.top, x + half + look.edge, row.line)),
            draw(look.ink, rectangle(x - half, row.top, x + half, row.feet)),
            draw(look.ground, disc(x, row.line, radius + look.edge)),
            draw(look.ink, *ring(x, row.line, radius, RING_WIDTH)),
            draw(look.ink, disc(x, row.line, DISC * max(0.8, share))),
        ]
        mark = (x - radius, row.line - radius, x + radius, row.line + radius)
        if any(meet(mark, box) for box in taken):
            return []
        number = str(self.timeline.bar_at(spot.at).number)
        full = [Words(look.words.say("bar "), look.meter_text, SEMIBOLD), Words(number, look.ink, BOLD)]
        label = self._label(row, x, BESIDE, [full, full[1:]], taken)
        return [*drawn, *label, *self._number(spot, row, [*taken, *map(box_of, label[1:])])] if label else []

    def _label(
        self, row: Row, x: float, beside: float, wordings: Sequence[Sequence[Words]], taken: Sequence[Box]
    ) -> Picture:
        """A label under the line, right of a place or left of it, in the first wording that has room."""
        canvas = row.look.canvas
        for words in wordings:
            for most in (LABEL, 48.0):
                size = self._size(most)
                width, top = words_width(words, size), row.line + self._under
                for left in (x + beside, x - beside - width):
                    box = (left, top, left + width, top + size * CAPITAL)
                    inside = canvas.left <= left and left + width <= canvas.right
                    if inside and not any(meet(box, other, 12) for other in taken):
                        return self._on_plate(row, words, left, size)
        return []

    def _on_plate(self, row: Row, words: Sequence[Words], left: float, size: float) -> Picture:
        """Words under the line on a plate of the ground, which hides the posts behind them."""
        baseline = row.line + self._under + size * CAPITAL
        width = words_width(words, size)
        foot = min(baseline + 10, row.line + self.below) if self._low else baseline + 10
        plate = rectangle(left - 10, row.line + 5, left + width + 10, foot)
        return [draw(row.look.ground, plate), *draw_words(words, left, baseline, size)]

    def _number(self, spot: Spot, row: Row, taken: Sequence[Box]) -> Picture:
        """The repetition's number over its vessel."""
        lane = row.style.headroom
        size = min(NUMBER, lane * 1.02)
        number = number_text(spot.repetition, self.numbers)
        if "numbers" in self.without or not number:
            return []
        x = max(row.x(spot.repetition.at) + 12, row.look.canvas.left)
        if (
            spot.kind == "place"
            and x - 12 < row.x(spot.at) + STROKE < x + text_width(number, size, BOLD) + 24
        ):
            x = row.x(spot.at) + 14
        text = draw_text(
            number,
            x,
            row.top + min(lane - 4, size * CAPITAL + 8),
            size,
            row.look.figure_text,
            BOLD,
        )
        box, gap = box_of(text), LOW_NUMBER_GAP if self._low else NUMBER_GAP
        if box[2] > row.look.canvas.right or any(meet(box, other, gap) for other in taken):
            return []
        return [text]

    # Where the harmony turns

    def _crossing(self, spot: Spot, row: Row, taken: Sequence[Box]) -> Picture:
        look = row.look
        crossings = [c for c in crossings_in(self.timeline, spot.repetition) if row.holds(c.at)]
        middle, high = (row.hull_top + row.hull_bottom) / 2, min(23.0, row.style.hull * 0.62)
        drawn: Picture = []
        for crossing in crossings:
            x = row.x(crossing.at)
            drawn += [
                draw(look.seam, rectangle(x - SEAM / 2, row.top, x + SEAM / 2, row.hull_bottom)),
                draw(look.ground, lozenge(x, middle, high * 0.7 + 4, high + 4)),
                draw(look.ink, lozenge(x, middle, high * 0.7, high)),
            ]
        lane = row.style.headroom
        size = min(CHORD, lane)
        baseline = row.top + min(lane - 6, size * CAPITAL + 8)
        before = draw_chord(
            crossings[0].before, row.x(crossings[0].at) - 14, baseline, size, look.harmony, BOLD, anchor=1
        )
        after = draw_chord(
            crossings[-1].after, row.x(crossings[-1].at) + 14, baseline, size, look.harmony, BOLD
        )
        shares = self._shares(spot, row)
        left, top, right, bottom = box_of(shares[0])
        boxes = [box_of(before), box_of(after), (left - SUMS_APART, top, right + SUMS_APART, bottom)]
        if any(meet(box, other, 10) for box in boxes for other in taken):
            return []
        canvas = look.canvas
        names = [
            name
            for name in (before, after)
            if canvas.left <= box_of(name)[0] and box_of(name)[2] <= canvas.right
        ]
        return [*drawn, *names, *shares]

    def _shares(self, spot: Spot, row: Row) -> Picture:
        """`9 + 2` under the line, the plus on the seam where there is one."""
        look, canvas = row.look, row.look.canvas
        words: list[Words] = []
        for share in shares_of(self.timeline, spot.repetition):
            words += [Words(" + ", look.mute, SEMIBOLD)] if words else []
            words.append(Words(mixed(share), look.figure_text, BOLD))
        size = self._size(SHARE)
        width = words_width(words, size)
        first = words_width(words[:1], size) + words_width(words[1:2], size) / 2
        x = row.x(spot.at) - (first if len(words) == 3 else width / 2)
        x = max(canvas.left, min(x, canvas.right - width))
        return self._on_plate(row, words, x, size)

    # Any place

    def _place(self, spot: Spot, row: Row, taken: Sequence[Box]) -> Picture:
        """A stroke through the row with the place's bar and beat under it."""
        look, x, half = row.look, row.x(spot.at), STROKE / 2
        beat = self.timeline.beat_at(spot.at)
        number = (
            str(beat.bar_number)
            if beat.at == spot.at and beat.number == 1
            else f"{beat.bar_number}.{beat.number}"
        )
        full = [Words(look.words.say("bar "), look.meter_text, SEMIBOLD), Words(number, look.ink, BOLD)]
        label = self._label(row, x, 16, [full, full[1:]], taken)
        if not label:
            return []
        drawn = [
            draw(look.ground, rectangle(x - half - look.edge, row.top, x + half + look.edge, row.line)),
            draw(look.ink, rectangle(x - half, row.top, x + half, row.feet)),
        ]
        return [*label, *drawn, *self._number(spot, row, [*taken, *map(box_of, label[1:])])]

    # Where it starts

    def _start(self, spot: Spot, row: Row, taken: Sequence[Box]) -> Picture:
        look, repetition = row.look, spot.repetition
        bar = self.timeline.bar_at(repetition.at)
        x, downbeat = row.x(repetition.at), row.x(max(bar.at, row.start))
        y, half = row.line + 12, look.width_line / 2
        drawn = [
            draw(look.ink, rectangle(downbeat, y - 2, x, y + 2)),
            draw(look.ink, rectangle(x - 3, row.line + half, x + 3, row.feet)),
        ]
        offset = f"+{mixed(Fraction(repetition.offset, repetition.statement.pulse))}"
        label = self._label(row, x, 12, [[Words(offset, look.ink, BOLD)]], taken)
        if not label:
            return []
        return [*label, *drawn, *self._number(spot, row, [*taken, *map(box_of, label[1:])])]
