"""What is told beside the wheel or under it: how far each start moves, the offsets as they come, the sum, where the way
ends, and what is an outline."""

from typing import NamedTuple

from renderer.core.note_values import pulse_word
from renderer.schedule.wheel import WheelSchedule
from renderer.schedule.wheel_sentences import home_text, slip_text
from renderer.schedule.wording import mixed
from scenes.draw.look import REGULAR, SEMIBOLD, Look
from scenes.draw.paths import rectangle
from scenes.draw.segment import Picture
from scenes.draw.shapes import Words, draw, draw_text
from scenes.draw.sum_lines import draw_sum, number, sign, sum_width
from scenes.draw.text import text_width
from scenes.frame.head import fit_name
from scenes.wheel.layout import WheelLayout
from scenes.wheel.way import EDGE

SUM, LEAST_SUM = 92.0, 44.0
"""Type sizes."""
WORDS_DROP, LIST_DROP, RULE_DROP, SUM_DROP = 64.0, 150.0, 52.0, 102.0
"""From a sum down to its words, from there to the list, from its last line to the rule, from there to the next sum."""
LINE_PITCH = 44.0
OFFSET, ROW_PITCH, MOST_ROWS, ARROW_ROOM = 56.0, 74.0, 3, 76.0
SWATCH, SWATCH_HEIGHT, SWATCH_GAP, ENTRY_GAP = 46.0, 24.0, 16.0, 48.0


class Place(NamedTuple):
    """An offset of the list and where it stands: its right end."""

    number: int
    """The start that it comes with."""
    text: str
    x: float
    baseline: float


class WheelColumn:
    """The column beside the wheel; on a canvas where it stands under it, only its sums with their words."""

    def __init__(self, schedule: WheelSchedule, look: Look, layout: WheelLayout) -> None:
        self.schedule, self.look, self.layout = schedule, look, layout
        self.room = layout.right - layout.left
        self.slips = schedule.way.repetitions > 1 and schedule.way.bars > 1
        self.places = self._lay_offsets() if layout.beside else ()
        last = self.places[-1].baseline if self.places else layout.top
        self.rule = last + RULE_DROP
        self.end = self.rule + SUM_DROP if layout.beside else layout.top

    # How each start moves

    def slip(self, opacity: float) -> Picture:
        """`11 − 16 = −5`, and in words what that means for the next start."""
        schedule, look, slip = self.schedule, self.look, self.schedule.slip
        pulses, bar = str(schedule.figure.pulses), mixed(schedule.bar_pulses)
        times, minus, equals = (sign(look, text) for text in "×−=")
        first = [number(pulses, look.figure_text)]
        if slip.repetitions > 1:
            first = [number(str(slip.repetitions), look.figure_text), times, *first]
        second = [number(bar, look.meter_text)]
        if slip.bars > 1:
            second = [number(str(slip.bars), look.meter_text), times, *second]
        by = ("−" if slip.by < 0 else "+") + mixed(abs(slip.by))
        terms = [*first, minus, *second, equals, number(by, look.ink)]
        return [
            *self._sum(terms, self.layout.top, opacity),
            *self._words(self._slip_words(), self.layout.top + WORDS_DROP, look.mute, opacity),
        ]

    def _slip_words(self) -> str:
        return f"so {slip_text(self.schedule.slip, self.schedule.figure)}" + (
            ":" if self.layout.beside else ""
        )

    def head(self, opacity: float) -> Picture:
        """What the offsets are, until the words about the next start take its place."""
        pulses = pulse_word(self.schedule.figure.pulse)
        text = f"starts, in {pulses} after the downbeat:"
        return self._words(text, self.layout.top + WORDS_DROP, self.look.mute, opacity)

    def _sum(self, terms: list[Words], baseline: float, opacity: float) -> Picture:
        """A sum as large as it fits."""
        size = max(LEAST_SUM, min(SUM, SUM * self.room / sum_width(terms, SUM)))
        return [*draw_sum(terms, self.layout.left, baseline, size, opacity)]

    def _words(self, text: str, baseline: float, colour: str, opacity: float) -> Picture:
        """Words under a sum, on two lines where they are long."""
        size, lines = self._lay(text)
        return [
            draw_text(line, self.layout.left, baseline + index * LINE_PITCH, size, colour, opacity=opacity)
            for index, line in enumerate(lines)
        ]

    def _lay(self, text: str) -> tuple[float, list[str]]:
        said = self.look.words.say(text)
        return fit_name(self.look, said, self.look.size_sentence, self.room, REGULAR, 2)

    # The offsets

    def _lay_offsets(self) -> tuple[Place, ...]:
        """As many as have room, row by row, and the return with which the way closes; where there are more, an ellipsis
        in place of the last ones before it."""
        offsets = self.schedule.offsets if self.schedule.complete else self.schedule.offsets[:-1]
        texts = [(number, mixed(offset)) for number, offset in enumerate(offsets)]
        widest = max(text_width(text, OFFSET, SEMIBOLD) for _, text in texts)
        columns = max(1, int((self.room + ARROW_ROOM - 30) // (widest + ARROW_ROOM)))
        most = columns * (MOST_ROWS if self.look.canvas.low == 1 else 1)
        if len(texts) > most:
            closing = texts[-1:] if self.schedule.complete else []
            before = most - 1 - len(closing)
            texts = [*texts[:before], (before, "…"), *closing]
        _, lines = self._lay(self._slip_words())
        top = self.layout.top + LIST_DROP + (len(lines) - 1) * LINE_PITCH
        return tuple(
            Place(
                number,
                text,
                self.layout.left + widest + index % columns * (widest + ARROW_ROOM),
                top + index // columns * ROW_PITCH,
            )
            for index, (number, text) in enumerate(texts)
        )

    def offset(self, index: int, opacity: float) -> Picture:
        """Where a repetition starts, after an arrow from the one before."""
        look, place = self.look, self.places[index]
        plays = place.number < self.schedule.way.reached
        colour, weight = (look.ink, SEMIBOLD) if plays else (look.mute, REGULAR)
        drawn = [draw_text(place.text, place.x, place.baseline, OFFSET, colour, weight, 1, opacity)]
        if index:
            before = self.places[index - 1]
            x = before.x + ARROW_ROOM / 2
            drawn.append(draw_text("→", x, before.baseline - 3, 34, look.mute, REGULAR, 0.5, opacity))
        return drawn

    # What it comes to

    def sum(self, opacity: float) -> Picture:
        """Both products and what they have in common, and where the way ends."""
        schedule, look, way = self.schedule, self.look, self.schedule.way
        figure, meter = look.figure_text, look.meter_text
        times, equals = sign(look, "×"), sign(look, "=")
        many, pulses = number(str(way.repetitions), figure), number(str(schedule.figure.pulses), figure)
        bars, bar = number(str(way.bars), meter), number(mixed(schedule.bar_pulses), meter)
        total = number(str(way.repetitions * schedule.figure.pulses), look.ink)
        terms = [many, times, pulses, equals, total, equals, bars, times, bar]
        if sum_width(terms, SUM) * 0.62 > self.room:
            terms = [many, times, pulses, equals, bars, times, bar]
        drawn = self._sum(terms, self.end, opacity)
        drawn += self._words(home_text(way, schedule.bar.number), self.end + WORDS_DROP, look.ink, opacity)
        if self.layout.beside:
            rule = rectangle(self.layout.left, self.rule - 2, self.layout.right, self.rule)
            drawn.append(draw(look.mute, rule, opacity=0.6 * opacity))
        return drawn

    # What the outlines mean

    def legend(self) -> Picture:
        """Filled: played; an outline: not."""
        look, baseline = self.look, self.look.canvas.legend
        if baseline is None or not self.layout.beside:
            return []
        drawn: Picture = []
        x = self.layout.left
        for kind in ("played", "not played"):
            text = look.words.say(kind)
            y = baseline - 11
            box = rectangle(x, y - SWATCH_HEIGHT / 2, x + SWATCH, y + SWATCH_HEIGHT / 2)
            inner = rectangle(
                x + EDGE, y - SWATCH_HEIGHT / 2 + EDGE, x + SWATCH - EDGE, y + SWATCH_HEIGHT / 2 - EDGE
            )
            drawn.append(draw(look.sail_one, *([box] if kind == "played" else [box, inner[::-1, ::-1]])))
            x += SWATCH + SWATCH_GAP
            drawn.append(draw_text(text, x, baseline, look.size_least, look.mute))
            x += text_width(text, look.size_least) + ENTRY_GAP
        return drawn
