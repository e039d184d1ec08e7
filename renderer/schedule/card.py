"""When `card` shows what: the title stands at once, the line is drawn, the figure glides in, the list comes.

A card is silent: there is no music in it to count in.
"""

from dataclasses import dataclass
from fractions import Fraction

from renderer.schedule.model import HOLD, Schedule, Step
from renderer.schedule.pace import choose_pace
from renderer.spec.model import SegmentSpec
from renderer.spec.sound import ClickSpec
from renderer.timeline.model import Bar, Figure, Timeline

LEAST_BEAT, MOST_BEAT = Fraction(1, 2), Fraction(5, 4)
"""Seconds between two entries; a faster or slower piece takes several beats, or a part of one."""
WORD = Fraction(2, 5)
"""Seconds to read a word, at 150 a minute: unhurried, as narration goes; common practice."""


@dataclass(frozen=True)
class CardSchedule(Schedule):
    """A title, a line, a list, and the piece's own figure over one bar."""

    title: str
    line: str
    entries: tuple[str, ...]
    figure: Figure | None
    bar: Bar
    beat: Fraction
    drawn: Fraction
    """When the line across stands."""
    arrived: Fraction
    """When the figure stands on it."""
    entry_starts: tuple[Fraction, ...]

    def finding(self) -> str:
        """Its title."""
        return self.title


def schedule_card(timeline: Timeline, options: SegmentSpec, click: ClickSpec | None = None) -> CardSchedule:
    """A card; without a title the piece's, without a figure its first. It stands until it can have been read."""
    pace = choose_pace(timeline, timeline.start, None)
    beat = pace.beats[0]
    while beat < LEAST_BEAT:
        beat *= 2
    while beat > MOST_BEAT:
        beat /= 2
    title, line, texts = options.title or timeline.title, options.line or "", options.entries or ()
    figure = timeline.figure(options.figure) if options.figure else next(iter(timeline.figures), None)
    arrived = 2 * beat
    starts = tuple(arrived + (number + 1) * beat for number in range(len(texts)))
    last = starts[-1] if starts else arrived
    words = sum(len(text.split()) for text in (title, line, *texts))
    steps = [Step("title", Fraction(0)), Step("figure", arrived)]
    steps += [Step(f"entry {number}", start) for number, start in enumerate(starts, start=1)]
    return CardSchedule(
        timeline=timeline,
        seconds=max(last + HOLD, words * WORD + 1),
        clicks=(),
        steps=tuple(steps),
        title=title,
        line=line,
        entries=texts,
        figure=figure,
        bar=pace.bar,
        beat=beat,
        drawn=beat,
        arrived=arrived,
        entry_starts=starts,
    )
