"""The pace of an explaining segment: a count-in, then steps of whole bars (or beats, where bars are slow), each
ending on a beat; how long a sentence is read; and how bars are shared out to pages.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from fractions import Fraction
from typing import NamedTuple

from renderer.schedule.clicks import bar_seconds, beat_starts, count_in_seconds
from renderer.schedule.model import Step as Step
from renderer.spec.sound import ClickSpec
from renderer.spec.words import USUAL_WORDS, Vocabulary
from renderer.timeline.model import Bar, Timeline

LEAST_STEP, MOST_STEP = Fraction(8, 5), Fraction(4)
"""Seconds: a step is a bar, several where the bar is shorter than the first, some beats where it is longer than the
second."""
WORDS_A_SECOND, THOUGHT, LEAST_READING = Fraction(5, 2), Fraction(4, 5), Fraction(2)
"""How fast a sentence is read, and seconds: what a reader has beside, and how long it stands at least."""
AFTER_ANSWER = Fraction(1)
"""Seconds that a segment's last sentence stands longer than it takes to read."""
MOST_LEAD, STILL_LEAD = Fraction(5, 2), Fraction(1)
"""Seconds that an explaining segment counts in at most, and that pass in silence where a beat is longer than that."""


def reading_seconds(text: str, words: Vocabulary = USUAL_WORDS) -> Fraction:
    """How long a sentence stands so that it can be read, as it is said in these words.

    >>> reading_seconds("Where does the next one start?"), reading_seconds("Here.")
    (Fraction(16, 5), Fraction(2, 1))
    """
    return max(LEAST_READING, len(words.say(text).split()) / WORDS_A_SECOND + THOUGHT)


def short_lead(beats: Sequence[Fraction], click: ClickSpec | None) -> Fraction:
    """How long an explaining segment counts in: what the click asks for (without one, a bar), but no more beats than
    last 2.5 seconds. `beats` are one bar's, in seconds; the last ones are counted.

    >>> short_lead([Fraction(1)] * 4, None), short_lead([Fraction(3)], None)
    (Fraction(2, 1), Fraction(1, 1))
    """
    asked = (click.count_in_beats or click.count_in * len(beats)) if click else 0
    lead = Fraction(0)
    for number in range(asked or len(beats)):
        longer = lead + beats[-1 - number % len(beats)]
        if longer > MOST_LEAD:
            break
        lead = longer
    return lead or STILL_LEAD


class Pace(NamedTuple):
    """How fast a segment unfolds, in seconds: its count-in, one step, the beats of one bar."""

    bar: Bar
    lead: Fraction
    step: Fraction
    beats: tuple[Fraction, ...]


def choose_pace(timeline: Timeline, at: int, click: ClickSpec | None) -> Pace:
    """The pace of a segment whose music begins at tick `at`: at the tempo of its first full bar."""
    bar = timeline.bar_at(max(0, at))
    length = bar_seconds(timeline, bar)
    beats = tuple(beat * length / bar.meter.length for beat in bar.meter.beats)
    lead = count_in_seconds(timeline, bar, click.count_in, click.count_in_beats) if click else Fraction(0)
    if length <= MOST_STEP:
        return Pace(bar, lead or length, -(-LEAST_STEP // length) * length, beats)
    starts = beat_starts(beats, 2 * len(beats) + 1)
    return Pace(bar, lead or length, next(start for start in starts if start >= LEAST_STEP), beats)


def name_steps(steps: Iterable[Step]) -> tuple[Step, ...]:
    """The same steps with names of their own: `Theme`, and where it comes again `Theme 2`."""
    counts: Counter[str] = Counter()
    named = []
    for step in steps:
        counts[step.name] += 1
        number = counts[step.name]
        named.append(step if number == 1 else step._replace(name=f"{step.name} {number}"))
    return tuple(named)


def share_pages(timeline: Timeline, spans: Sequence[tuple[int, int]], longest: int) -> list[tuple[int, int]]:
    """Pages of whole sections, none longer than `longest` ticks; a longer section is shared out in like runs of bars.
    No page reaches over a place where the spans do not touch."""
    pages: list[tuple[int, int]] = []
    for start, end in spans:
        open_from = start
        for section in timeline.sections:
            if not (section.at < end and start < section.end):
                continue
            first = (
                start if section.at == 0 else max(start, section.at)
            )  # a pick-up goes with the first section
            stop = min(section.end, end)
            if stop - open_from > longest and first > open_from:
                pages.append((open_from, first))
                open_from = first
            if stop - open_from > longest:
                parts = share_bars(timeline, open_from, stop, longest)
                pages += parts[:-1]
                open_from = parts[-1][0]
        pages.append((open_from, end))
    return pages


def share_bars(timeline: Timeline, start: int, end: int, longest: int) -> list[tuple[int, int]]:
    """Like runs of whole bars between two ticks, none longer than `longest` ticks unless one bar is; a pick-up
    goes with bar 1."""
    bars = [bar.at for bar in timeline.bars if start <= bar.at < end and bar.number > 0]
    count = -(-(end - start) // longest)
    while True:
        size = -(-len(bars) // count)
        starts = [start, *bars[::size][1:]]
        runs = list(zip(starts, [*starts[1:], end], strict=True))
        if size == 1 or max(stop - at for at, stop in runs) <= longest:
            return runs
        count += 1
