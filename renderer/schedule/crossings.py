"""When `crossings` shows what: one crossing after another close up, counted through in time, then its two shares.

A long repetition is counted from some pulses before the crossing to some after it.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

from renderer.core.errors import Problem
from renderer.core.names import briefly_listed
from renderer.schedule.lead import beat_click, lead_to
from renderer.schedule.model import SLOWEST_COUNT, Schedule, Step
from renderer.schedule.pace import AFTER_ANSWER, reading_seconds
from renderer.schedule.spans import choose_spans, choose_voice
from renderer.schedule.wording import NO_CROSSING, crossing_answer, crossing_question
from renderer.spec.click import Click
from renderer.spec.model import SegmentSpec
from renderer.spec.sound import ClickSpec
from renderer.timeline.model import Crossing, Repetition, Timeline

MOST_COUNTED, COUNTED_ASIDE = 34, 15
"""Pulses: a repetition longer than the first is counted only so many to either side of its crossing."""
MOST_SLOWNESS = Fraction(4)
"""Pulses too fine to be counted aloud even then are shown as they come."""
MOST_NAMED = 3
"""So many changes are named as what it comes to; more are counted."""
MOVE_ROOM = Fraction(9, 10)
"""Seconds between two close-ups, for the move."""
SHARE_SECONDS = Fraction(6, 5)
"""Seconds after which the second share is told after the first, and the sentence after it."""


class CloseUp(NamedTuple):
    """One crossing close up. It stands from `seconds` on; `start`, the beat on which counting begins, sounds at
    `start_seconds`, and from there the music runs `slowness` times slower than it is up to `stop`."""

    crossing: Crossing
    repetition: Repetition
    number: int
    """Among the crossings of the voice in the chosen sections, from 1."""
    first: int
    """The ticks from which and up to which it is counted."""
    last: int
    seconds: Fraction
    start: int
    start_seconds: Fraction
    stop: int
    slowness: Fraction
    braces: tuple[Fraction, Fraction]
    """When the share before the change is told, and when the one after it."""
    sentence: Fraction
    end: Fraction

    def seconds_of(self, timeline: Timeline, at: int) -> Fraction:
        """When tick `at` sounds in the segment."""
        return self.start_seconds + (timeline.seconds(at) - timeline.seconds(self.start)) * self.slowness

    def position(self, timeline: Timeline, seconds: Fraction) -> float:
        """Which tick sounds at `seconds`, from `start` up to `stop`."""
        elapsed = (seconds - self.start_seconds) / self.slowness
        at = timeline.clock.position(timeline.seconds(self.start) + elapsed)
        return min(float(self.stop), max(float(self.start), at))


@dataclass(frozen=True)
class CrossingsSchedule(Schedule):
    """The chosen crossings of one voice, in the piece's order. `count` is how many there are to choose from."""

    close_ups: tuple[CloseUp, ...]
    count: int
    voice: str

    def finding(self) -> str:
        """Which changes are looked at."""
        turns = [f"{each.crossing.before} to {each.crossing.after}" for each in self.close_ups]
        return f"{briefly_listed(turns, MOST_NAMED)}: the rhythm runs on" if turns else NO_CROSSING

    def seconds_at(self, at: int) -> Fraction | None:
        """When tick `at` sounds in a close-up that counts through it."""
        shown = next((each for each in self.close_ups if each.start <= at < each.stop), None)
        return shown.seconds_of(self.timeline, at) if shown else None


def choose_crossings(timeline: Timeline, options: SegmentSpec) -> list[Crossing]:
    """The voice's crossings in the sections that are asked for, or in all, in order: number 1 is the first."""
    spans, voice = choose_spans(timeline, options), choose_voice(timeline, options.voice)
    return [
        crossing
        for crossing in timeline.crossings
        if crossing.voice == voice and any(start <= crossing.at < end for start, end in spans)
    ]


def check_crossings(timeline: Timeline, options: SegmentSpec) -> Iterator[Problem]:
    """The crossings that are asked for by number and are not there."""
    if not options.crossings:
        return
    count = len(choose_crossings(timeline, options))
    mend = f"Write 1 to {count}." if count else "No harmony change falls inside a repetition there."
    for index, number in enumerate(options.crossings):
        if number > count:
            yield Problem((*options.path, "crossing", index), f"there is no crossing {number}.", mend)


def schedule_crossings(
    timeline: Timeline, options: SegmentSpec, click: ClickSpec | None
) -> CrossingsSchedule:
    """Count in, count the repetition through its crossing, tell its shares; then the next one.

    Crossings are numbered as in `choose_crossings`; without numbers the first in each section.
    """
    crossings, voice = choose_crossings(timeline, options), choose_voice(timeline, options.voice)
    chosen = _firsts(timeline, crossings)
    if options.crossings is not None:
        chosen = sorted(set(options.crossings)) or list(range(1, len(crossings) + 1))
    repetitions = {each.number: each for each in timeline.repetitions if each.voice == voice}
    close_ups: list[CloseUp] = []
    clicks: list[Click] = []
    seconds = Fraction(0)
    for number in chosen:
        crossing = crossings[number - 1]
        repetition = repetitions[crossing.repetition_number]
        lead = click if not close_ups else None
        close_up, sounds = _close_up(timeline, crossing, repetition, number, seconds, lead)
        read = reading_seconds("".join(crossing_answer(crossing, repetition)), timeline.words)
        hold = read + AFTER_ANSWER if number == chosen[-1] else read
        close_up = close_up._replace(end=close_up.sentence + hold)
        close_ups.append(close_up)
        clicks += sounds
        seconds = close_up.end + MOVE_ROOM
    return CrossingsSchedule(
        timeline=timeline,
        seconds=close_ups[-1].end
        if close_ups
        else reading_seconds(NO_CROSSING, timeline.words) + AFTER_ANSWER,
        clicks=tuple(clicks) if click else (),
        steps=tuple(step for each in close_ups for step in _steps(timeline, each))
        or (Step("bars", Fraction(0)),),
        close_ups=tuple(close_ups),
        count=len(crossings),
        voice=voice,
    )


def _firsts(timeline: Timeline, crossings: Sequence[Crossing]) -> list[int]:
    """The number of the first crossing in each section, a section that comes again only once."""
    found: dict[str, int] = {}
    for number, crossing in enumerate(crossings, start=1):
        name = timeline.sections[timeline.bar_at(crossing.at).section_index].name
        found.setdefault(name, number)
    return sorted(found.values())


def _close_up(
    timeline: Timeline,
    crossing: Crossing,
    repetition: Repetition,
    number: int,
    seconds: Fraction,
    click: ClickSpec | None,
) -> tuple[CloseUp, list[Click]]:
    """A close-up that stands from `seconds` on, and its clicks."""
    statement = repetition.statement
    first, last = repetition.at, repetition.end
    if statement.sounding_length > MOST_COUNTED * statement.pulse:
        before = (crossing.at - first) // statement.pulse
        first += max(0, before - COUNTED_ASIDE) * statement.pulse
        last = min(last, crossing.at + COUNTED_ASIDE * statement.pulse)
    beat = timeline.beat_at(first)
    stop = timeline.beat_at(last - 1).end
    pulses = Fraction(last - first, statement.pulse)
    pulse = (timeline.seconds(last) - timeline.seconds(first)) / pulses
    slowness = min(MOST_SLOWNESS, max(Fraction(1), SLOWEST_COUNT / pulse))
    question = reading_seconds("".join(crossing_question(crossing)), timeline.words)
    lead, clicks = lead_to(timeline, beat, seconds, slowness, click, question)
    start_seconds = seconds + lead
    close_up = CloseUp(
        crossing, repetition, number, first, last, seconds, beat.at, start_seconds, stop, slowness,
        (start_seconds, start_seconds), start_seconds, start_seconds,
    )  # fmt: skip
    beats = timeline.beats_between(beat.at, stop)
    clicks += [beat_click(close_up.seconds_of(timeline, each.at), each.number) for each in beats]
    counted = close_up.seconds_of(timeline, stop)
    told = [counted + number * SHARE_SECONDS for number in range(3)]
    return close_up._replace(braces=(told[0], told[1]), sentence=told[2]), clicks


def _steps(timeline: Timeline, close_up: CloseUp) -> list[Step]:
    number, crossing = close_up.number, close_up.crossing
    return [
        Step(f"crossing {number}", close_up.seconds),
        Step(f"count {number}", close_up.start_seconds),
        Step(f"change {number}", close_up.seconds_of(timeline, crossing.at)),
        Step(f"shares {number}", close_up.braces[0]),
        Step(f"sentence {number}", close_up.sentence),
    ]
