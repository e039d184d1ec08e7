"""The sum of `fit`: its numbers in their places, and which of them are known at a moment."""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import NamedTuple

from renderer.schedule.fit import FitSchedule
from renderer.schedule.fit_sum import FitTerm, Part
from scenes.draw.look import Look
from scenes.draw.segment import Moment
from scenes.draw.shapes import Words
from scenes.draw.sum_lines import number, sign, sum_places, sum_width

MOST, LEAST, MOST_LOW = 104.0, 56.0, 84.0
"""Type sizes; the last at most on a slide."""
TIGHT = 0.3
"""Signs stand closer in a tall picture."""


class SumPiece(NamedTuple):
    """Some numbers and signs of the sum that come together: those of a term, or of the whole section."""

    words: tuple[Words, ...]
    term: FitTerm | None
    comes: Fraction


class FitSums:
    """A section's sum: laid out once for its final numbers, so that nothing moves while they run."""

    def __init__(self, schedule: FitSchedule, look: Look) -> None:
        self.schedule, self.look = schedule, look
        self.tight = TIGHT if look.canvas.tall else 1.0
        self.pieces, self.size = self._fit_pieces()
        words = [word for piece in self.pieces for word in piece.words]
        self._places, self.width = sum_places(words, self.size, self.tight)

    def _fit_pieces(self) -> tuple[list[SumPiece], float]:
        """The sum as large as it fits; where it does not, its middle terms taken together."""
        terms = list(self.schedule.sum.terms)
        room = self.look.canvas.right - self.look.canvas.left
        most = MOST if self.look.canvas.low == 1 else MOST_LOW
        while True:
            pieces = self._word(terms)
            words = [word for piece in pieces for word in piece.words]
            size = min(most, MOST * room / sum_width(words, MOST, self.tight))
            if size >= LEAST or len(terms) < 3:
                return pieces, size
            first, second = terms[-3], terms[-2]
            ticks = first.times * first.ticks + second.times * second.ticks
            terms[-3:-1] = [FitTerm("rest", 1, ticks, None)]

    def _word(self, terms: Sequence[FitTerm]) -> list[SumPiece]:
        look, schedule = self.look, self.schedule
        section = schedule.section.end - schedule.section.at
        equals, plus, times = (sign(look, text) for text in "=+×")
        room = number(schedule.pulses(section), look.meter_text)
        over = schedule.sum.over
        pieces = [] if over else [SumPiece((room,), None, Fraction(0))]
        for index, term in enumerate(terms):
            before = (plus,) if index else () if over else (equals,)
            colour = look.figure_text if term.kind in ("whole", "first", "tail", "cut") else look.ink
            closing = index == len(terms) - 1 and term.kind != "whole" and len(terms) > 1
            length = number(schedule.pulses(term.ticks), look.ink if closing else colour)
            many = (number(str(term.times), colour), times) if term.times > 1 else ()
            pieces.append(SumPiece((*before, *many, length), term, self._comes(term)))
        if over:
            total = number(schedule.pulses(section + over), look.figure_text)
            many_terms = len(terms) > 1 or terms[0].times > 1
            if many_terms:
                pieces.append(SumPiece((equals, total), None, schedule.filled))
            over_words = (equals, room, plus, number(schedule.pulses(over), look.ink))
            pieces.append(SumPiece(over_words, None, schedule.landed))
        return pieces

    def _comes(self, term: FitTerm) -> Fraction:
        """When a term's first stretch stands; what is left over comes with its step."""
        schedule = self.schedule
        for index, part in enumerate(schedule.parts):
            if belongs(part, term):
                return schedule.arrivals[index] if index < schedule.closing else schedule.left_over
        return schedule.filled if schedule.sum.over else schedule.left_over

    def shown(self, moment: Moment) -> Iterator[tuple[tuple[Words, ...], float, float]]:
        """What stands there at a moment: words, where they begin from the sum's left, and their opacity. A term's count
        runs with its stretches."""
        index = 0
        for piece in self.pieces:
            place = self._places[index]
            index += len(piece.words)
            if not moment.reached(piece.comes):
                continue
            opacity = min(1.0, 0.35 + moment.since(piece.comes) / self.look.fade) if piece.comes else 1.0
            yield self._running(piece, moment), place, opacity

    def _running(self, piece: SumPiece, moment: Moment) -> tuple[Words, ...]:
        """A piece's words while so many of its term's stretches have come."""
        term = piece.term
        if term is None or term.times < 2:
            return piece.words
        schedule = self.schedule
        come = sum(
            moment.reached(arrival) and belongs(part, term)
            for part, arrival in zip(schedule.parts, schedule.arrivals, strict=True)
        )
        if schedule.sum.over and term.kind == "whole" and moment.reached(schedule.filled):
            last = schedule.parts[-1]
            come += last.end - last.at + schedule.sum.over == term.ticks
        count = min(term.times, max(1, come))
        at = len(piece.words) - 3
        return (*piece.words[:at], piece.words[at]._replace(text=str(count)), *piece.words[at + 1 :])


def belongs(part: Part, term: FitTerm) -> bool:
    """Whether a stretch is counted in a term."""
    figure = part.repetition.statement.figure if part.repetition else None
    if part.kind in ("rest", "carried") or term.kind in ("rest", "carried"):
        return part.kind == term.kind
    return (part.kind, part.end - part.at, figure) == (term.kind, term.ticks, term.figure)
