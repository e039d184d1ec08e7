"""What `form` asks of a piece at its beginning and says at its end."""

from collections import Counter
from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise

from renderer.core.names import listed
from renderer.schedule.phrases import Phrase, Phrases, sentence
from renderer.schedule.wording import count_of, number_word
from renderer.timeline.model import Section, Timeline

MOST_COUNTED, MOST_NAMED = 4, 3
"""So many sections have their bars told one by one, and so many names are listed; more are counted."""
BEAT_NAMES = {
    Fraction(1, 8): "an eighth",
    Fraction(3, 16): "a dotted eighth",
    Fraction(1, 4): "a quarter",
    Fraction(3, 8): "a dotted quarter",
    Fraction(1, 2): "a half",
    Fraction(3, 4): "a dotted half",
}
"""What a felt beat is called."""


def piece_line(timeline: Timeline) -> str:
    """`Kiln Song, 32 bars of 4/4, a quarter at 112`, and less where meter or tempo change."""
    bars = [bar for bar in timeline.bars if bar.number > 0]
    meters = {bar.meter.text for bar in bars}
    text = f"{timeline.title}, {count_of(len(bars), 'bar')}"
    text += f" of {meters.pop()}" if len(meters) == 1 else ", the meter changes"
    if len(timeline.tempo) == 1 and not timeline.tempo[0].to:
        beats = {length for bar in bars for length in bar.meter.beats}
        beat = beats.pop() if len(beats) == 1 and beats <= set(BEAT_NAMES) else Fraction(1, 4)
        pace = timeline.tempo[0].quarters / (4 * beat)
        speed = f"{pace}" if pace.denominator == 1 else f"{float(pace):.1f}"
        text += f", {BEAT_NAMES[beat]} at {speed}"
    return text


def form_question(timeline: Timeline, sections: Sequence[Section]) -> Phrases:
    """What is asked while the bars are still empty."""
    first, last = sections[0].first_bar_number, sections[-1].last_bar_number
    count = sum(section.bar_count for section in sections)
    if count == 1:
        return sentence("What is this ", Phrase("bar", "meter"), " made of?")
    if count == len([bar for bar in timeline.bars if bar.number > 0]):
        return sentence("What are these ", Phrase(f"{count} bars", "meter"), " made of?")
    if count == last - first + 1:
        return sentence("What are ", Phrase(f"bars {first} to {last}", "meter"), " made of?")
    return sentence("What are these sections made of?")


def form_answer(timeline: Timeline, sections: Sequence[Section]) -> Phrases:
    """How many bars each section has, and what runs on over a section line, comes again, or is played."""
    return sentence(
        *_bars(timeline, sections),
        *(_runs_on(timeline, sections) or _again(sections) or _plays(timeline, sections)),
    )


def _bars(timeline: Timeline, sections: Sequence[Section]) -> list[str | Phrase]:
    counts = [section.bar_count for section in sections]
    if not set(sections) <= set(timeline.sections):  # parts of sections
        first, last = sections[0].first_bar_number, sections[-1].last_bar_number
        together = sum(counts) == last - first + 1
        named = (
            f"Bar {first}"
            if first == last
            else f"Bars {first} to {last}"
            if together
            else _bar_words(sum(counts))
        )
        return [Phrase(f"{named[0].upper()}{named[1:]}", "meter")]
    if len(sections) == 1:
        return ["One section of ", Phrase(_bar_words(counts[0]), "meter")]
    if len(set(counts)) == 1:
        number = number_word(len(sections), capital=True)
        return [f"{number} sections of ", Phrase(_bar_words(counts[0]), "meter")]
    if len(sections) > MOST_COUNTED:
        number = number_word(len(sections), capital=True)
        return [f"{number} sections, ", Phrase(f"{sum(counts)} bars", "meter")]
    words = listed([number_word(count) for count in counts], "and")
    return [Phrase(f"{words[0].upper()}{words[1:]} bars", "meter")]


def _bar_words(count: int) -> str:
    return f"{number_word(count)} bar{'s' if count > 1 else ''}"


def _runs_on(timeline: Timeline, sections: Sequence[Section]) -> list[str | Phrase]:
    """Which sections the first figure that runs on over a section line runs into, all of them."""
    starts = {section.at: section for before, section in pairwise(sections) if before.end == section.at}
    over = [
        (repetition.statement.figure, starts[at])
        for repetition in timeline.repetitions
        for at in starts
        if repetition.statement.figure and repetition.at < at < repetition.end
    ]
    if not over:
        return []
    figure = over[0][0]
    into = list(dict.fromkeys(section_text(section) for name, section in over if name == figure))
    names = listed(into, "and") if len(into) <= MOST_NAMED else count_of(len(into), "section")
    return ["; ", Phrase(str(figure), "figure"), f" runs on into {names}."]


def section_text(section: Section) -> str:
    """A section's name; where it comes again, which time that is: `Theme 2`."""
    return section.name if section.pass_number == 1 else f"{section.name} {section.pass_number}"


def _again(sections: Sequence[Section]) -> list[str | Phrase]:
    """Which sections come again, and how often."""
    times = {
        name: count for name, count in Counter(section.name for section in sections).items() if count > 1
    }
    if not times or len(times) > MOST_NAMED:
        return []
    told = [
        f"{name} {'twice' if count == 2 else f'{number_word(count)} times'}" for name, count in times.items()
    ]
    return [f"; {listed(told, 'and')}."]


def _plays(timeline: Timeline, sections: Sequence[Section]) -> list[str | Phrase]:
    inside = [r for r in timeline.repetitions if any(s.at <= r.at < s.end for s in sections)]
    figures = list(dict.fromkeys(r.statement.figure for r in inside if r.statement.figure))
    if not figures:
        return ["."] if inside else ["; nothing is played."]
    if len(figures) > MOST_NAMED:
        return [", ", Phrase(f"{number_word(len(figures))} figures", "figure"), "."]
    return [" of " if len(sections) > 1 else ", ", Phrase(listed(figures, "and"), "figure"), "."]
