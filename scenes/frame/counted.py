"""The counter's word on which repetition sounds."""

from collections.abc import Iterable

from renderer.schedule.wording import number_text
from renderer.spec.model import Numbers
from renderer.timeline.model import Repetition
from scenes.draw.look import Look
from scenes.frame.head import Count


def count_repetition(
    look: Look, repetition: Repetition, numbers: Numbers, digits: int, voice: str = ""
) -> Count:
    """`repetition 6`, or the word `tail`; after the voice's name where there are several. `digits`: the most that any
    of them has."""
    number = number_text(repetition, numbers)
    words = voice, "repetition" if number else "tail"
    return Count(", ".join(filter(None, words)), number, digits if number else 0, look.figure_text)


def most_digits(repetitions: Iterable[Repetition], numbers: Numbers) -> int:
    """How many characters the longest of their numbers has."""
    return max((len(number_text(repetition, numbers)) for repetition in repetitions), default=1)
