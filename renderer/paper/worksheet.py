"""A worksheet's tasks with their answers, each from the timeline. What does not occur is not asked."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from renderer.paper.counting import count_text, counted_text, pulses_of, syllables
from renderer.paper.facts import own_figure
from renderer.report.table import place_text as position_text
from renderer.report.table import section_names
from renderer.schedule.parts_sentences import place_text, steady_parts
from renderer.timeline.model import (
    Bar,
    Crossing,
    Figure,
    Landing,
    Realignment,
    Repetition,
    Section,
    Timeline,
)
from renderer.timeline.sides import find_nobody, part_names

COUNT_BARS, START_BARS = 4, 12
MOST_CELLS = 96
"""Pulses of two bars that are still boxes to write in."""
MOST_STARTS = 4
MOST_SUMS, MOST_TURNS, MOST_OFFSETS = 3, 3, 18


class Cell(NamedTuple):
    """A pulse: what is counted under it, and the figure's count, which is to be written."""

    at: int
    beat: str
    strong: bool
    number: str
    begins: bool
    """Whether a repetition begins here: its 1 gets a circle."""
    given: bool


@dataclass(frozen=True)
class CountOn:
    """Go on counting the figure over the first bars."""

    figure: Figure
    bars: tuple[Bar, ...]
    pulse: int
    cells: tuple[Cell, ...]


@dataclass(frozen=True)
class Starts:
    """Write where each repetition starts, under its bar; the first bar is done. Circle the accents that land."""

    bars: tuple[Bar, ...]
    pulse: int
    repetitions: tuple[Repetition, ...]
    answers: tuple[tuple[str, ...], ...]
    """For each bar the places of its starts."""
    landings: tuple[Landing, ...]

    @property
    def lines(self) -> int:
        """How many lines to write on each bar has: as many as the fullest needs, so that blanks tell nothing."""
        return max(2, *map(len, self.answers))


@dataclass(frozen=True)
class Sum:
    """How often the figure fits a section, and what is left over."""

    title: str
    figure: Figure
    bars: int
    per_bar: str
    total: int
    whole: int
    left: int
    end: str
    """What becomes of what is left over."""


@dataclass(frozen=True)
class Offsets:
    """Fill in how many pulses after the downbeat each repetition starts."""

    figure: Figure
    numbers: tuple[str, ...]
    offsets: tuple[str, ...]
    per_bar: int
    home: tuple[str, int] | None
    """The first that starts on a downbeat again, and its bar."""


@dataclass(frozen=True)
class Turn:
    """A chord that turns in a repetition: how many pulses come before, how many after."""

    crossing: Crossing
    repetition: Repetition
    before: int
    after: int
    place: str


@dataclass(frozen=True)
class Keepers:
    """Who keeps what: where nobody keeps the meter, and who keeps the figure all the time."""

    begins: str
    last: str
    """Nothing if it lasts to the end."""
    figure: tuple[str, ...]


@dataclass(frozen=True)
class Worksheet:
    """All tasks; those that are not asked are None or empty."""

    voice: str
    count_on: CountOn | None
    starts: Starts | None
    sums: tuple[Sum, ...]
    offsets: Offsets | None
    turns: tuple[Turn, ...]
    keepers: Keepers | None

    @property
    def empty(self) -> bool:
        """Whether there is nothing to ask."""
        asked = self.count_on, self.starts, self.sums, self.offsets, self.turns, self.keepers
        return not any(asked)


def make_worksheet(timeline: Timeline) -> Worksheet:
    """The tasks of a piece, about its first figure."""
    found = own_figure(timeline)
    if found is None:
        return Worksheet("", None, None, (), None, (), _keepers(timeline))
    figure, first = found
    own = tuple(row for row in timeline.repetitions if row.voice == first.voice)
    section = timeline.sections[first.section_index]
    return Worksheet(
        voice=first.voice,
        count_on=_count_on(timeline, figure, own, section),
        starts=_starts(timeline, own, section, first.statement.pulse),
        sums=tuple(_sums(timeline, own))[:MOST_SUMS],
        offsets=_offsets(timeline, figure, own, first),
        turns=tuple(_turns(timeline, figure, own))[:MOST_TURNS],
        keepers=_keepers(timeline),
    )


def _count_on(
    timeline: Timeline, figure: Figure, own: Sequence[Repetition], section: Section
) -> CountOn | None:
    """None unless the figure alone is played from the section's first downbeat on, for more than its first time."""
    pulse = int(figure.pulse * timeline.grid)
    bars = [bar for bar in timeline.bars if section.at <= bar.at < section.end][:COUNT_BARS]
    inside = {row.at: row for row in own if row.statement.figure == figure.name}
    at = section.at
    counted: dict[int, tuple[str, bool, bool]] = {}
    while row := inside.get(at):
        for into in range(0, row.statement.sounding_length, row.statement.pulse):
            count = (into - row.statement.group_at(into).at) // row.statement.pulse + 1
            counted[at + into] = str(count), not into, at == section.at
        at = row.end
        if at >= bars[-1].end:
            break
    bars = [bar for bar in bars if bar.end <= at]
    if len(bars) > 1 and len(bars) % 2:
        bars.pop()
    unfit = any((bar.end - bar.at) % pulse for bar in bars)
    if not bars or unfit or 2 * (bars[0].end - bars[0].at) // pulse > MOST_CELLS:
        return None
    if bars[-1].end - section.at <= inside[section.at].statement.sounding_length:
        return None
    cells = []
    for bar in bars:
        beats = {beat.at for beat in timeline.beats_in(bar)}
        said = dict(syllables(timeline, bar, pulse))
        for place in range(bar.at, bar.end, pulse):
            cells.append(Cell(place, said.get(place, ""), place in beats, *counted[place]))
    return CountOn(figure, tuple(bars), pulse, tuple(cells))


def _starts(timeline: Timeline, own: Sequence[Repetition], section: Section, pulse: int) -> Starts | None:
    bars = tuple(bar for bar in timeline.bars if section.at <= bar.at < section.end)[:START_BARS]
    start, end = bars[0].at, bars[-1].end
    shown = tuple(row for row in own if row.at < end and row.end > start)
    answers = tuple(
        tuple(
            counted_text(timeline, row.at, row.statement.pulse) for row in shown if bar.at <= row.at < bar.end
        )
        for bar in bars
    )
    if len(bars) < 2 or max(map(len, answers)) > MOST_STARTS or not any(answers[1:]):
        return None
    landings = tuple(
        row
        for row in timeline.landings
        if row.voice == shown[0].voice and row.sounds and start <= row.at < end
    )
    return Starts(bars, pulse, shown, answers, landings)


def _sums(timeline: Timeline, own: Sequence[Repetition]) -> Iterator[Sum]:
    """Sections that one figure fills from their first downbeat on, with something left over or not."""
    for section, title in zip(timeline.sections, section_names(timeline), strict=True):
        inside = [row for row in own if section.at <= row.at < section.end]
        figures = {row.statement.figure for row in inside}
        name = next(iter(figures), None)
        if len(figures) != 1 or name is None or inside[0].at != section.at:
            continue
        figure, pulse = timeline.figure(name), inside[0].statement.pulse
        joined = all(a.end == b.at for a, b in pairwise(inside))
        wholes = [row for row in inside if row.end <= section.end and row.statement.kind == "whole"]
        left = section.end - section.at - sum(row.statement.length for row in wholes)
        lengths = {bar.end - bar.at for bar in timeline.bars if section.at <= bar.at < section.end}
        if not joined or left % pulse or not 0 <= left < inside[0].statement.length or len(lengths) > 1:
            continue
        last = inside[-1]
        end = ""
        if last.end > section.end:
            end = "they run on into the next section"
        elif last.statement.kind == "cut":
            end = f"the last one is cut to {pulses_of(last.statement.sounding_length, pulse)} of {figure.pulses}"
        elif left:
            end = (
                "they stay silent"
                if last.end < section.end
                else f"the first {left // pulse} of it are played"
            )
        total = (section.end - section.at) // pulse
        per_bar = pulses_of(lengths.pop(), pulse)
        yield Sum(title, figure, section.bar_count, per_bar, total, len(wholes), left // pulse, end)


def _offsets(
    timeline: Timeline, figure: Figure, own: Sequence[Repetition], first: Repetition
) -> Offsets | None:
    """Of an unbroken row of whole repetitions, up to the first that starts on a downbeat again."""
    run: list[Repetition] = []
    homes = {row.repetition_number: row for row in timeline.realignments if row.voice == first.voice}
    home: Realignment | None = None
    for row in own[own.index(first) :]:
        if row.statement.figure != figure.name or (run and run[-1].end != row.at):
            break
        run.append(row)
        home = homes.get(row.number)
        if home or row.statement.kind != "whole" or len(run) == MOST_OFFSETS:
            break
    bars = {bar.end - bar.at for bar in timeline.bars if run[0].at < bar.end and run[-1].at >= bar.at}
    pulse = first.statement.pulse
    whole = all(row.offset % pulse == 0 for row in run) and len(bars) == 1 and not next(iter(bars)) % pulse
    if len(run) < 5 or not whole or len({row.offset for row in run}) < 2:
        return None
    return Offsets(
        figure,
        tuple(count_text(row) for row in run),
        tuple(str(row.offset // pulse) for row in run),
        next(iter(bars)) // pulse,
        (count_text(run[-1]), home.bar_number) if home else None,
    )


def _turns(timeline: Timeline, figure: Figure, own: Sequence[Repetition]) -> Iterator[Turn]:
    by_number = {row.number: row for row in own}
    for crossing in timeline.crossings:
        row = by_number.get(crossing.repetition_number)
        if row is None or crossing.voice != row.voice or row.statement.figure != figure.name:
            continue
        before = Fraction(crossing.into, row.statement.pulse)
        after = Fraction(row.statement.sounding_length - crossing.into, row.statement.pulse)
        if before.denominator == 1 and after.denominator == 1 and row.statement.kind == "whole":
            beat = timeline.beat_at(crossing.at)
            bar = timeline.bar_at(crossing.at)
            place = f"bar {bar.number}" + (f", beat {beat.number}" if crossing.at != bar.at else "")
            yield Turn(crossing, row, int(before), int(after), place)


def _keepers(timeline: Timeline) -> Keepers | None:
    names, spans = part_names(timeline), [(timeline.start, timeline.end)]
    steady = [name for name, clock in steady_parts(timeline, names, spans) if clock == "figure"]
    gone = [row for row in find_nobody(timeline, names, spans) if row.clock == "meter"]
    begins = last = ""
    if gone and (gone[0].start, gone[0].end) != spans[0]:
        start, end = gone[0].start, gone[0].end
        begins = place_text(timeline, start)
        whole_bars = {start, end} <= {bar.at for bar in timeline.bars}
        last = str(timeline.bar_at(end - 1).number) if whole_bars else position_text(timeline, end)
        last = "" if end == timeline.end else last
    if len(names) < 2 or not (begins or (steady and len(steady) < len(names))):
        return None
    return Keepers(begins, last, tuple(steady) if len(steady) < len(names) else ())
