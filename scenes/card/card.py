"""card: a title, a line, a list; on the line across stands the piece's own figure over one bar, as its emblem."""

from fractions import Fraction
from itertools import accumulate
from typing import NamedTuple

from renderer.schedule.card import CardSchedule
from renderer.timeline.model import Group, Repetition, Statement
from scenes.draw.look import BOLD, CAPITAL, REGULAR, Canvas, Look, arrive, glide
from scenes.draw.paths import rectangle
from scenes.draw.segment import Moment, Picture
from scenes.draw.shapes import draw, draw_text
from scenes.draw.text import letter, shorten, text_width, wrap
from scenes.frame.headed import HeadedSegment, Sentence
from scenes.row.line import Row, draw_post, draw_vessel
from scenes.row.marks import draw_masthead

EMBLEM_SHARE, EMBLEM_GAP = 0.573, 64.0
"""Where the figure begins, as a share of the width, and the room between it and the texts at its left."""
TITLE_STEPS = (1.0, 0.9, 0.8, 0.7, 0.6, 0.55, 0.5, 0.475)
"""Sizes tried for the title, as shares of the largest."""
ONE_LINE = 0.7
"""A title that fits on one line at this share of the largest size or more is not broken."""
LINE, LINE_LOW, MOST_LOW = 620 / 1080, 0.43, 4
"""Where the line stands by the canvas's height, also on a slide with more entries than these."""
GLIDE_IN = 420.0
"""How far left of its place the figure sets off, in pixels."""
FINE = 1000
"""The emblem's ticks to a pulse."""


class CardPlaces(NamedTuple):
    """Where a card's parts stand on a canvas."""

    line: float
    """The line across."""
    top: float
    """Of the title's capitals."""
    title_bottom: float
    bottom: float
    """The last entry's baseline."""
    emblem_left: float
    """Where the figure begins."""
    room: float
    """How wide texts are; left of the figure, but on a tall canvas over it."""


def lay_places(canvas: Canvas, entries: int) -> CardPlaces:
    """The figure stands at the right of the texts, or between title and list. A slide has no captions, and its line
    stands higher over a long list."""
    if canvas.tall:
        line = 0.52 * canvas.height
        return CardPlaces(
            line, canvas.top + 30, line - 360, canvas.bottom - 14, canvas.left, canvas.right - canvas.left
        )
    emblem = EMBLEM_SHARE * canvas.width
    low = canvas.low < 1
    line = canvas.height * (LINE_LOW if low and entries > MOST_LOW else LINE)
    room = emblem - EMBLEM_GAP - canvas.left
    top = canvas.top if low else canvas.lines[-1]
    return CardPlaces(line, top + 32, line - 35, canvas.bottom - 14, emblem, room)


class CardLine(NamedTuple):
    """One line of text in its place."""

    text: str
    x: float
    baseline: float
    size: float
    colour: str
    weight: int = REGULAR


class CardSegment(HeadedSegment):
    """A card."""

    schedule: CardSchedule

    def __init__(self, schedule: CardSchedule, look: Look) -> None:
        super().__init__(schedule, look)
        self.places = lay_places(look.canvas, len(schedule.entries))
        self.figure = schedule.figure
        self.bar_pulses = schedule.bar.meter.length / self.figure.pulse if self.figure else Fraction(4)
        self.row = self._row()
        self.repetition = self._repetition()
        self.title = self._lay_title()
        self.entries = self._lay_entries()

    def sentence(self, moment: Moment) -> Sentence:
        """A card speaks by itself; what is said over it stands in the head."""
        return Sentence("", ())

    def music(self, moment: Moment) -> Picture:
        schedule = self.schedule
        drawn: Picture = self._line(moment)
        drawn += self._emblem(moment)
        drawn += self.keep(self._texts, tuple(self.title), 1.0)
        for start, lines in zip(schedule.entry_starts, self.entries, strict=True):
            if moment.reached(start):
                opacity = min(1.0, 0.2 + moment.since(start) / self.look.fade)
                drawn += self.keep(self._texts, tuple(lines), opacity)
        return drawn

    def _texts(self, lines: tuple[CardLine, ...], opacity: float) -> Picture:
        return [
            draw_text(each.text, each.x, each.baseline, each.size, each.colour, each.weight, opacity=opacity)
            for each in lines
        ]

    # The figure over one bar

    def _row(self) -> Row:
        """As many whole bars as the figure needs, from the emblem's left to the music's right."""
        style, pulses = self.look.row_card, Fraction(self.figure.pulses) if self.figure else self.bar_pulses
        bars = -(-pulses // self.bar_pulses)
        ticks = int(bars * self.bar_pulses * FINE)
        scale = (min(self.canvas.music_right, self.canvas.right) - self.places.emblem_left) / ticks
        longest = max(self.figure.groups, default=1) * FINE if self.figure else 1
        start = -round((self.places.emblem_left - self.canvas.music_left) / scale)
        return Row(start, ticks, scale, self.places.line - style.line(self.look), style, self.look, longest)

    def _repetition(self) -> Repetition | None:
        figure = self.figure
        if figure is None:
            return None
        starts = [0, *accumulate(figure.groups)][:-1]
        groups = tuple(
            Group(at * FINE, n * FINE, n * FINE) for at, n in zip(starts, figure.groups, strict=True)
        )
        length = figure.pulses * FINE
        accents = tuple((number - 1) * FINE for number in figure.accents)
        return Repetition(
            "",
            1,
            0,
            1,
            0,
            0,
            Statement(figure.name, "whole", False, FINE, length, length, groups, (), accents),
        )

    def _line(self, moment: Moment) -> Picture:
        """The line, drawn from the left over the first beat, and the posts under it once it has reached them."""
        share = glide(moment.share(Fraction(0), self.schedule.drawn))
        right = self.canvas.sky_left + (self.canvas.sky_right - self.canvas.sky_left) * share
        look, half, line = self.look, self.look.width_line / 2, self.places.line
        if share <= 0:
            return []
        drawn: Picture = [draw(look.line, rectangle(look.canvas.sky_left, line - half, right, line + half))]
        for at, downbeat in self._posts():
            if self.row.x(at) <= right:
                drawn += self.keep(self._post, at, downbeat)
        return drawn

    def _posts(self) -> list[tuple[float, bool]]:
        """Where bars and beats stand, in the emblem's ticks, the closing downbeat too."""
        meter = self.schedule.bar.meter
        pulse = self.figure.pulse if self.figure else meter.length / 4
        beats = [Fraction(0), *accumulate(length / pulse for length in meter.beats)][:-1]
        bars = int(self.row.end / FINE / self.bar_pulses)
        posts = [
            (float((bar * self.bar_pulses + beat) * FINE), number == 0)
            for bar in range(bars)
            for number, beat in enumerate(beats)
        ]
        return [*posts, (float(self.row.end), True)]

    def _post(self, at: float, downbeat: bool) -> Picture:
        style, look = self.row.style, self.look
        length, width = (style.post, look.width_post) if downbeat else (style.beat, look.width_beat)
        return [draw_post(self.row, at, length, width, look.meter_line)]

    def _emblem(self, moment: Moment) -> Picture:
        """The vessel on its way along the line, and its mastheads once it stands."""
        schedule, repetition = self.schedule, self.repetition
        share = glide(moment.share(schedule.drawn, schedule.arrived))
        if repetition is None or share <= 0:
            return []
        shift = -GLIDE_IN * (1 - share)
        colour = self.look.sail_one
        drawn = [*self.keep(draw_vessel, self.row, repetition, colour, None, shift, share)]
        if not moment.reached(schedule.arrived):
            return drawn
        swell = 1 + (1 - arrive(moment.since(schedule.arrived) / self.look.swell)) / 3
        return drawn + self.keep(self._mastheads, repetition, swell)

    def _mastheads(self, repetition: Repetition, swell: float) -> Picture:
        statement = repetition.statement
        accents = set(statement.accents)
        drawn: Picture = []
        for group in statement.groups:
            if group.at in accents and group.length * self.row.scale > 8:
                drawn += draw_masthead(self.row, repetition, group.at, group.written, swell)
        return drawn

    # The texts

    @property
    def _room(self) -> float:
        return self.places.room if self.figure else self.canvas.right - self.canvas.left

    def _lay_title(self) -> list[CardLine]:
        """Title and line: the title on one line if it is large so, else on several, as large as both have room above
        the line across."""
        look, schedule = self.look, self.schedule
        widest = max(text_width(word, 1, BOLD) for word in schedule.title.split())
        sizes = [look.size_card * step for step in TITLE_STEPS]
        for size in sizes:
            if size >= ONE_LINE * look.size_card and text_width(schedule.title, size, BOLD) <= self._room:
                return self._with_line(size)
        for size in sizes:
            laid = self._with_line(size)
            if (
                laid[-1].baseline + 0.22 * laid[-1].size <= self.places.title_bottom
                and widest * size <= self._room
            ):
                return laid
        return self._cut_title(self._with_line(sizes[-1]))

    def _cut_title(self, lines: list[CardLine]) -> list[CardLine]:
        """What has room above the line across; the last of it ends with an ellipsis."""
        kept = [each for each in lines if each.baseline + 0.22 * each.size <= self.places.title_bottom]
        if len(kept) < len(lines):
            last = kept[-1]
            kept[-1] = last._replace(text=shorten(last.text + " …", last.size, self._room, last.weight))
        return kept

    def _with_line(self, size: float) -> list[CardLine]:
        """The title at a size, with its line as large as there is room for."""
        look = self.look
        for small in (look.size_title, look.size_sentence, look.size_least):
            laid = self._try_title(size, small)
            if laid[-1].baseline + 0.22 * laid[-1].size <= self.places.title_bottom:
                break
        return laid

    def _try_title(self, size: float, small: float) -> list[CardLine]:
        look, schedule = self.look, self.schedule
        lines: list[CardLine] = []
        baseline = self.places.top + size * CAPITAL
        for text in wrap(schedule.title, size, self._room, BOLD):
            lines.append(
                CardLine(text, look.canvas.left - _bearing(text, size), baseline, size, look.ink, BOLD)
            )
            baseline += size * 1.06
        baseline = lines[-1].baseline + 0.26 * size + small * 0.95
        for text in wrap(schedule.line, small, self._room):
            lines.append(CardLine(text, look.canvas.left, baseline, small, look.figure_text))
            baseline += small * 1.22
        return lines

    def _lay_entries(self) -> list[list[CardLine]]:
        """The list's entries in lines, numbered where there are several, as large as they have room."""
        look, room, line = self.look, self._room, self.places.line + (70 if self.canvas.tall else 0)
        tries = (
            (look.size_title, 72.0, line + 86, room),
            (look.size_sentence, 56.0, line + 76, room),
            (look.size_least, 44.0, line + 70, room),
            (look.size_least, 38.0, line + 122, look.canvas.right - look.canvas.left),
        )
        for size, pitch, first, wide in tries:
            laid = self._try_entries(size, pitch, first, wide)
            if not laid or laid[-1][-1].baseline <= self.places.bottom:
                return laid
        return self._try_entries(*tries[-1], cut=True)

    def _try_entries(
        self, size: float, pitch: float, first: float, room: float, cut: bool = False
    ) -> list[list[CardLine]]:
        """The entries at a size; with `cut` each on one line, cut off where it is longer."""
        look, entries = self.look, self.schedule.entries
        numbered = len(entries) > 1
        indent = text_width(str(len(entries)), size, BOLD) + 0.62 * size if numbered else 0.0
        laid: list[list[CardLine]] = []
        baseline = first
        for number, entry in enumerate(entries, start=1):
            lines = (
                [CardLine(str(number), look.canvas.left, baseline, size, look.meter_text, BOLD)]
                if numbered
                else []
            )
            for text in [entry] if cut else wrap(entry, size, room - indent):
                lines.append(
                    CardLine(
                        shorten(text, size, room - indent),
                        look.canvas.left + indent,
                        baseline,
                        size,
                        look.ink,
                    )
                )
                baseline += size * 1.12
            baseline += pitch - size * 1.12
            laid.append(lines)
        return laid


def _bearing(text: str, size: float) -> float:
    """How far right of its start a line's ink begins: large letters stand flush with what is below them."""
    contours = letter(text, size, BOLD).contours
    return min((float(contour[:, :, 0].min()) for contour in contours), default=0.0)
