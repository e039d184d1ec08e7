"""The meter under a figure: posts of bars, beats and pulses, with their numbers and what is counted between beats."""

from collections.abc import Iterator, Sequence
from fractions import Fraction

from renderer.schedule.wording import SYLLABLES
from scenes.draw.look import BOLD, REGULAR
from scenes.draw.paths import rectangle
from scenes.draw.segment import Picture
from scenes.draw.shapes import draw, draw_text
from scenes.draw.text import text_width
from scenes.row.line import Row, draw_line, draw_post

BAR_NUMBER = 42.0
SYLLABLE_PULSE, SYLLABLE_GAP = 72.0, 14.0
"""Pixels a pulse needs at least for what is counted between the beats, and from its post to it."""
POST_BELOW = 0.55
"""Opacity of the posts that run down to the foot of a tall picture."""


class FigurePosts:
    """The posts of a row of which `unit` ticks are a pulse; `beats` are the lengths of a bar's beats, in pulses."""

    def __init__(self, row: Row, unit: int, beats: Sequence[Fraction], has_staff: bool) -> None:
        self.row, self.unit, self.look = row, unit, row.look
        self.step = row.scale * unit
        self.beats, self.has_staff = beats, has_staff

    def places(self) -> Iterator[tuple[Fraction, int, int]]:
        """Where beats fall in the row, in pulses: place, bar and beat, both from 1; the closing downbeat too."""
        at, number, end = Fraction(0), 0, Fraction(self.row.end, self.unit)
        while at <= end:
            bar, beat = divmod(number, len(self.beats))
            yield at, bar + 1, beat + 1
            at += self.beats[beat]
            number += 1

    def draw(self) -> Picture:
        """Bars, beats and pulses under the line; in a tall picture they run down to its foot."""
        row, look = self.row, self.look
        places = list(self.places())
        drawn: Picture = [draw_line(row)]
        taken = {at for at, _, _ in places}
        if self.step >= 12:
            pulses = [at for at in range(row.end // self.unit + 1) if at not in taken]
            drawn += [
                draw_post(row, at * self.unit, 18, look.width_pulse + 1, look.meter_line) for at in pulses
            ]
        every = 0 if self._beats_counted() else self._numbered_bars()
        for at, bar, beat in places:
            length, width = self._post(bar, beat, every)
            drawn.append(draw_post(row, float(at * self.unit), length, width, look.meter_line))
            if self.look.canvas.tall and not self.has_staff and (not every or beat == 1):
                x, top = row.x(float(at * self.unit)), row.line + length
                below = rectangle(x - width / 2, top, x + width / 2, self.look.canvas.height)
                drawn.append(draw(look.meter_line, below, opacity=POST_BELOW))
        return drawn + (self._bar_numbers(places, every) if every else self._beat_numbers(places))

    def _post(self, bar: int, beat: int, every: int) -> tuple[float, float]:
        """Length and width of a post. Where only bars are numbered, those between them are short."""
        style, look = self.row.style, self.look
        if beat == 1:
            short = every and (bar - 1) % every
            return (style.beat * 0.6 if short else style.post), look.width_post
        return (style.beat * 0.4 if every else style.beat), look.width_beat + (0 if every else 1)

    def _beats_counted(self) -> bool:
        """Whether there is room for the beats' numbers."""
        shortest = min(self.beats) * self.unit * self.row.scale
        return shortest >= text_width("00", self.row.style.bar, BOLD) + 2 * SYLLABLE_GAP

    def _numbered_bars(self) -> int:
        """Every which bar is numbered, where beats are not."""
        bar = float(sum(self.beats)) * self.step
        return next(every for every in (1, 2, 4, 8, 16, 32, 64, 256) if every * bar >= BAR_NUMBER + 22)

    def _bar_numbers(self, places: list[tuple[Fraction, int, int]], every: int) -> Picture:
        row, size = self.row, min(self.row.style.bar, BAR_NUMBER)
        drawn: Picture = []
        for at, bar, beat in places:
            x, text = row.x(float(at * self.unit)) + SYLLABLE_GAP, str(bar)
            fits = x + text_width(text, size, BOLD) <= self.look.canvas.right
            if beat == 1 and not (bar - 1) % every and at * self.unit < row.end and fits:
                drawn.append(draw_text(text, x, row.feet - 1, size, self.look.meter_text, BOLD))
        return drawn

    def _beat_numbers(self, places: list[tuple[Fraction, int, int]]) -> Picture:
        """The beats' numbers, and what is counted between them where there is room."""
        row, look, size = self.row, self.look, self.row.style.bar
        drawn: Picture = []

        def write(at: Fraction, text: str, weight: int) -> None:
            x = row.x(float(at * self.unit)) + SYLLABLE_GAP
            if at * self.unit < row.end and x + text_width(text, size, weight) <= self.look.canvas.right:
                drawn.append(draw_text(text, x, self._count_line(), size, look.meter_text, weight))

        for at, _, beat in places:
            write(at, str(beat), BOLD)
            length = self.beats[beat - 1]
            if self.step >= SYLLABLE_PULSE and length.denominator == 1:
                for number, syllable in enumerate(SYLLABLES.get(int(length), ()), start=1):
                    write(at + number, syllable, REGULAR)
        return drawn

    def _count_line(self) -> float:
        """The baseline of what is counted under the line."""
        return self.row.line + self.row.style.beat + (8 if not self.look.canvas.tall else -2)
