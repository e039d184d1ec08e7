"""What `wheel` says: its question, its answer, how each start slips against the bar, and where the way ends."""

from fractions import Fraction
from typing import NamedTuple

from renderer.core.note_values import pulse_word
from renderer.schedule.phrases import Phrase, Phrases, sentence
from renderer.schedule.wording import count_of, mixed, number_word, ordinal_word
from renderer.timeline.model import Figure


class Slip(NamedTuple):
    """How starts move against the bar: so many repetitions are `by` pulses longer than so many bars."""

    repetitions: int
    bars: int
    by: Fraction


class Way(NamedTuple):
    """A figure's way round the bar: whole repetitions and bars until it starts on the downbeat again, and how much of
    it the piece plays."""

    repetitions: int
    bars: int
    reached: int
    """Starts that the piece plays; with the return one more than `repetitions`."""
    sounding: Fraction
    """Bars that it plays of it."""
    shown: int
    """Repetitions that are shown."""

    @property
    def comes_home(self) -> bool:
        """Whether the piece plays the repetition that is back on the downbeat."""
        return self.reached > self.repetitions


def slip_of(pulses: int, bar: Fraction) -> Slip:
    """The smallest step of the starts, from a figure's and a bar's length in pulses.

    >>> slip_of(11, Fraction(16)), slip_of(5, Fraction(12))
    (Slip(repetitions=1, bars=1, by=Fraction(-5, 1)), Slip(repetitions=2, bars=1, by=Fraction(-2, 1)))
    """
    repetitions = max(1, round(bar / pulses))
    bars = max(1, round(pulses / bar))
    return Slip(repetitions, bars, repetitions * pulses - bars * bar)


def slip_text(slip: Slip, figure: Figure) -> str:
    """How far the next start lies from the one before: `each start is 5 sixteenths earlier in its bar`."""
    which = "each" if slip.repetitions == 1 else f"every {ordinal_word(slip.repetitions)}"
    if not slip.by:
        return f"{which} start is in the same place"
    by = abs(slip.by)
    return f"{which} start is {mixed(by)} {pulse_word(figure.pulse, by)} {_earlier(slip)} in its bar"


def _earlier(slip: Slip) -> str:
    return "earlier" if slip.by < 0 else "later"


def wheel_question(figure: Figure) -> Phrases:
    """What is asked while a figure walks round the bar."""
    name, downbeat = Phrase(figure.name, "figure"), Phrase("downbeat", "meter")
    return sentence("When does ", name, " start on a ", downbeat, " again?")


def wheel_answer(figure: Figure, slip: Slip, way: Way) -> Phrases:
    """How the starts move, and when one is on the downbeat again, or how far the piece goes."""
    if way.repetitions == 1:
        bars = Phrase(count_of(way.bars, "bar"), "meter")
        return sentence(Phrase(figure.name, "figure"), " fills ", bars, ": each start is on the downbeat.")
    if way.bars == 1:
        many = Phrase(f"{number_word(way.repetitions, capital=True)} repetitions", "figure")
        return sentence(many, " fill ", Phrase("1 bar", "meter"), ": every bar is alike.")
    if way.shown < way.repetitions:
        return sentence(
            "On a ", Phrase("downbeat", "meter"), " again only after ",
            Phrase(count_of(way.repetitions, "repetition"), "figure"), ".",
        )  # fmt: skip
    moves = f"Each start comes {mixed(abs(slip.by))} {_earlier(slip)}" if slip.repetitions == 1 else ""
    bars = Phrase(f"{number_word(way.bars)} bars", "meter")
    if way.comes_home:
        if moves:
            return sentence(f"{moves}, on the downbeat again after ", bars, ".")
        return sentence("On the downbeat again after ", bars, ".")
    far = Phrase(f"{_far(way)} {way.reached} of {way.repetitions} places.", "figure")
    return sentence(f"{moves}. ", far) if moves else sentence(far)


def _far(way: Way) -> str:
    """Who reaches so many places: `Eight bars reach`."""
    if way.sounding.denominator > 1 or not way.sounding:
        return "The piece reaches"
    bars = int(way.sounding)
    return f"{number_word(bars, capital=True)} {'bar reaches' if bars == 1 else 'bars reach'}"


def home_text(way: Way, bar_number: int) -> str:
    """Where the way ends; `bar_number` is that of the bar in which it begins."""
    if way.shown < way.repetitions:
        return f"Only {way.shown} of {way.repetitions} starts are shown."
    if way.comes_home:
        return f"On the downbeat of bar {bar_number + way.bars} again."
    return f"On the downbeat {count_of(way.bars, 'bar')} later, if it ran on."
