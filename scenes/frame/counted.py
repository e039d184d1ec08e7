"""What the counter says: which repetition sounds, or in which bar the music is."""

from collections.abc import Iterable, Sequence
from math import ceil

from renderer.schedule.course import Course
from renderer.schedule.wording import number_text
from renderer.spec.model import Numbers
from renderer.timeline.model import Repetition, Timeline
from scenes.draw.look import Look
from scenes.draw.segment import Moment
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


def count_bar(look: Look, timeline: Timeline, course: Course, moment: Moment) -> Sequence[Count]:
    """The bar while time is real; before that the beats that are counted in."""
    if not moment.reached(course.begins):
        beat = course.counted_beat(moment.end)
        return (Count("beat", str(beat), 1, look.meter_text),) if beat else ()
    bar = timeline.bar_at(max(course.start, ceil(course.position(moment.end)) - 1))
    digits = len(str(timeline.bars[-1].number))
    return (Count("bar", str(bar.number), digits, look.meter_text),)
