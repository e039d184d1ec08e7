"""How musicians count on paper: a place in a bar, a figure aloud, a length in pulses."""

from fractions import Fraction

from renderer.core.note_values import pulse_word
from renderer.schedule.wording import SYLLABLES, mixed
from renderer.timeline.model import Bar, Beat, Repetition, Timeline


def pulses_of(ticks: int, pulse: int) -> str:
    """Ticks as a number of pulses."""
    return mixed(Fraction(ticks, pulse))


def count_text(repetition: Repetition) -> str:
    """Which repetition it is, as a teacher counts; nothing for a tail."""
    return "" if repetition.counted is None else str(repetition.counted)


def beat_of(timeline: Timeline, at: int) -> Beat | None:
    """The felt beat that a place falls in; None before the first one of a pick-up."""
    beat = timeline.beat_at(at)
    return beat if beat.at <= at < beat.end else None


def syllables(timeline: Timeline, bar: Bar, pulse: int) -> tuple[tuple[int, str], ...]:
    """What is counted on each pulse of a bar, `1 e & a 2 ...`, and where; a beat that is no two, three or four pulses
    long is counted in numbers: its own, then 2, 3 and so on. Only beats where pulses do not fit."""
    found: list[tuple[int, str]] = []
    for beat in timeline.beats_in(bar):
        count, rest = divmod(beat.end - beat.at, pulse)
        said = SYLLABLES.get(count, tuple(str(number) for number in range(2, count + 1)))
        found.append((beat.at, str(beat.number)))
        if not rest:
            found += [
                (beat.at + pulse * number, text) for number, text in enumerate(said[: count - 1], start=1)
            ]
    return tuple(found)


def counted_text(timeline: Timeline, at: int, pulse: int) -> str:
    """A place as it is counted: `3`, `a of 3`; `3 + 2/5` where that has no syllable."""
    beat = beat_of(timeline, at)
    if beat is None:
        return ""
    if at == beat.at:
        return str(beat.number)
    count, rest = divmod(beat.end - beat.at, pulse)
    into, off = divmod(at - beat.at, pulse)
    if count in SYLLABLES and not rest and not off:
        return f"{SYLLABLES[count][into - 1]} of {beat.number}"
    return f"{beat.number} + {Fraction(at - beat.at, beat.end - beat.at)}"


def short_counted_text(timeline: Timeline, at: int, pulse: int) -> str:
    """The same where many stand beside each other: `3`, `3a`."""
    beat = beat_of(timeline, at)
    text = counted_text(timeline, at, pulse)
    syllable, of, number = text.partition(" of ")
    return f"{number}{syllable}" if of and beat else text.replace(" ", "")


def pulse_words(timeline: Timeline, pulse: int, count: int = 2) -> str:
    """What so many ticks are called: `sixteenths`."""
    return pulse_word(timeline.whole(pulse), count)


def groups_said(groups: tuple[int, ...]) -> str:
    """A figure counted aloud: `1 2 3 4 5, 1 2 3, 1 2 3`."""
    return ", ".join(" ".join(map(str, range(1, group + 1))) for group in groups)
