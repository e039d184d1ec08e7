"""The sum of `fit`: its numbers in their places, and which of them are known at a moment."""

from collections.abc import Iterator, Sequence
from fractions import Fraction

from renderer.schedule.fit import FitSchedule, FitTerm, Part
from scenes.draw.look import Look
from scenes.draw.segment import Moment
from scenes.draw.sums import SumPlace, lay_sum
from scenes.draw.wording import count_of, mixed
from scenes.fit.words import term_word

SUM_BASELINE = 292.0


class FitSum:
    """A section's sum: laid out once for its final numbers, so that nothing moves while they run."""

    def __init__(self, schedule: FitSchedule, look: Look) -> None:
        self.timeline, self.schedule, self.look = schedule.timeline, schedule, look
        self.places = self._places()

    def _pulses(self, ticks: int) -> str:
        return mixed(Fraction(ticks, self.schedule.pulse))

    def _places(self) -> list[tuple[FitTerm | None, SumPlace]]:
        """The sum's numbers and signs in their places, each with the term that it belongs to."""
        terms = list(self.schedule.terms)
        while True:
            pieces = self._pieces(terms)
            laid = lay_sum(self.look, [place for _, place in pieces], SUM_BASELINE)
            if laid is not None or len(terms) < 3:
                break
            first, second = terms[-3], terms[-2]
            ticks = first.times * first.ticks + second.times * second.ticks
            terms[-3:-1] = [FitTerm("rest", 1, ticks, "more")]
        return [(term, place) for (term, _), place in zip(pieces, laid or [], strict=True)] if laid else []

    def _pieces(self, terms: Sequence[FitTerm]) -> list[tuple[FitTerm | None, SumPlace]]:
        look, section = self.look, self.schedule.section
        bars = [bar for bar in self.timeline.bars if section.at <= bar.at < section.end]
        lengths = {bar.end - bar.at for bar in bars}
        of = f" of {self._pulses(lengths.pop())}" if len(lengths) == 1 else ""
        word = count_of(len(bars), "bar") + of
        total = SumPlace(self._pulses(section.end - section.at), look.meter_text, word, look.meter_text)
        pieces: list[tuple[FitTerm | None, SumPlace]] = [(None, total)]
        one = sum(1 for term in terms if term.kind == "whole") == 1
        for number, term in enumerate(terms):
            pieces.append((term, SumPlace("+" if number else "=", look.mute)))
            last = number == len(terms) - 1
            if term.kind == "whole" and one:
                repetitions = "repetition" if term.times == 1 else "repetitions"
                pieces.append((term, SumPlace(str(term.times), look.sail_one, repetitions, look.sail_one)))
                pieces.append((term, SumPlace("×", look.mute)))
                pieces.append(
                    (term, SumPlace(self._pulses(term.ticks), look.sail_one, "pulses", look.sail_one))
                )
                continue
            colour = look.sail_one if term.kind == "whole" else look.ink
            times = f"{term.times} × " if term.times > 1 else ""
            text = times + self._pulses(term.ticks)
            pieces.append((term, SumPlace(text, colour, term_word(self.schedule, term, last), look.mute)))
        return pieces

    def shown(self, arrived: int, moment: Moment) -> Iterator[tuple[SumPlace, float]]:
        """What stands there at a moment, with its opacity: a term comes with its first stretch, its count runs on;
        what is left over comes with its step."""
        schedule = self.schedule
        filled, closing = schedule.parts[: min(arrived, schedule.closing)], schedule.parts[schedule.closing :]
        opened = moment.reached(schedule.left_over)
        opacity = min(1.0, moment.since(schedule.left_over) / self.look.fade)
        for term, place in self.places:
            count = sum(1 for part in filled if term and _belongs(part, term))
            if term is None:
                yield place, 1.0
            elif count:
                yield place._replace(text=self._running(term, place, count)), 1.0
            elif opened and (term.figure == "more" or any(_belongs(part, term) for part in closing)):
                yield place, opacity

    def _running(self, term: FitTerm, place: SumPlace, count: int) -> str:
        """A number of the sum while so many of its term's stretches have come."""
        if place.word in ("repetition", "repetitions") and "×" not in place.text:
            return str(count)
        if term.kind == "whole" and "×" in place.text and place.word:
            return f"{count} × {self._pulses(term.ticks)}" if count > 1 else self._pulses(term.ticks)
        return place.text


def _belongs(part: Part, term: FitTerm) -> bool:
    """Whether a stretch is counted in a term."""
    figure = part.repetition.statement.figure if part.repetition else None
    if part.kind in ("rest", "carried") or term.kind in ("rest", "carried"):
        return part.kind == term.kind
    return (part.kind, part.end - part.at, figure) == (term.kind, term.ticks, term.figure)
