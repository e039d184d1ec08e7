"""The timeline: what happens where and when, exact, the only source for pictures and sound.

Musical time is counted in ticks: integers on one grid for the whole piece, `Timeline.grid` ticks to a whole
note, so fine that every position of the piece is a whole number. Tick 0 is bar 1's downbeat; a pick-up lies
below it. Ranges are half-open: what lies exactly on an end belongs to what begins there. `at` and `end` are ticks of
the piece. Numbers of bars, beats, groups, accents and repetitions count from 1 (bar 0 is the pick-up); an index counts
from 0. Seconds come from `Timeline.clock`.

Rows are named tuples, not frozen dataclasses: a long piece has hundreds of thousands of them, and a frozen
dataclass takes several times as long to make.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property
from typing import Literal, NamedTuple

from renderer.spec.meter import Meter
from renderer.spec.words import USUAL_WORDS, OwnWords, Vocabulary
from renderer.timeline.clock import Clock
from renderer.timeline.clock import TempoMark as TempoMark

Kind = Literal["whole", "cut", "first", "tail"]


class Figure(NamedTuple):
    """A rhythm that repeats, as the spec names it. Hits and accents are pulse numbers, from 1."""

    name: str
    pulse: Fraction
    """Length of its pulse, in whole notes."""
    groups: tuple[int, ...]
    hits: tuple[int, ...]
    accents: tuple[int, ...]
    origin: str | None = None
    """The figure that this one is a variant of."""

    @property
    def pulses(self) -> int:
        """Its length in pulses."""
        return sum(self.groups)


class Section(NamedTuple):
    """One pass of a section."""

    name: str
    pass_number: int
    first_bar_number: int
    bar_count: int
    at: int
    end: int
    click: bool | None = None
    """Whether a click sounds in it; None: as in the piece."""

    @property
    def last_bar_number(self) -> int:
        """Counted in the piece, as `first_bar_number` is."""
        return self.first_bar_number + self.bar_count - 1


class Bar(NamedTuple):
    """One bar. The pick-up is bar 0, its `at` below 0."""

    number: int
    section_index: int
    """Into `Timeline.sections`."""
    meter: Meter
    at: int
    end: int


class Beat(NamedTuple):
    """One felt beat; `number` counts from 1 in its bar. A beat that begins before a pick-up does is none."""

    bar_number: int
    number: int
    at: int
    end: int


class Group(NamedTuple):
    """A group inside a statement; ticks from the statement's start. The last one may be shortened."""

    at: int
    length: int
    written: int
    """Its length before anything was cut off."""


class Statement(NamedTuple):
    """What a repetition states, in ticks from its own start; shared by all repetitions that are alike.

    Groups, hits and accents beyond `sounding_length` are left out.
    """

    figure: str | None
    """None for a tail."""
    kind: Kind
    cut: bool
    """Shortened by the form."""
    pulse: int
    """Ticks to its own pulse."""
    length: int
    """The full figure's (a tail's sum)."""
    sounding_length: int
    """What is left of it when it was cut short, else all of it."""
    groups: tuple[Group, ...]
    hits: tuple[int, ...]
    accents: tuple[int, ...]
    missed_accent_number: int | None = None
    """The accent that would have come exactly at `sounding_length`, where that ended it early."""

    @property
    def marked_hits(self) -> Iterator[tuple[int, bool]]:
        """Each hit, in ticks from the statement's start, and whether it is accented."""
        accents = frozenset(self.accents)
        return ((hit, hit in accents) for hit in self.hits)

    def group_at(self, into: int) -> Group:
        """The group in which the tick `into` the statement lies; the last one at or beyond its end."""
        return next((group for group in self.groups if into < group.at + group.length), self.groups[-1])


class Repetition(NamedTuple):
    """One statement of a figure or a tail in a voice; `number` counts from 1 in its voice."""

    voice: str
    number: int
    section_index: int
    """Into `Timeline.sections`: the section in which it starts."""
    bar_number: int
    """The bar in which it starts."""
    offset: int
    """Ticks from that bar's downbeat (bar 0 counts as if it were full)."""
    at: int
    statement: Statement
    counted: int | None = None
    """Which one it is as a teacher counts: its place in an unbroken row of the same figure in one run of a list, from
    1; None for tails."""

    @property
    def end(self) -> int:
        """Where it stops sounding, in ticks."""
        return self.at + self.statement.sounding_length


class Hit(NamedTuple):
    """One sounding pulse of a repetition."""

    voice: str
    repetition_number: int
    at: int
    accented: bool


class Crossing(NamedTuple):
    """A harmony change strictly inside what sounds of a repetition."""

    voice: str
    repetition_number: int
    before: str
    after: str
    at: int
    into: int
    """Ticks from the repetition's start."""
    group_number: int
    into_group: int
    """Ticks from the group's start."""


class Landing(NamedTuple):
    """An accent on a downbeat; it `sounds` unless its repetition was ended just there."""

    voice: str
    repetition_number: int
    accent_number: int
    """Which of the statement's accents it is."""
    at: int
    bar_number: int
    """The bar that begins there; one more than the last where the piece ends there."""
    sounds: bool


class Realignment(NamedTuple):
    """A repetition that has come round to a downbeat by itself: the one before it was a whole one of the same figure,
    in the same run of a list. `full` if the downbeat is a section's first."""

    voice: str
    repetition_number: int
    at: int
    bar_number: int
    full: bool


class Handover(NamedTuple):
    """Where one list's sounding stops and the next one's first statement begins, in one voice."""

    voice: str
    last_number: int
    """The number of the repetition that the old list ends with."""
    first_number: int
    """The number of the repetition that the new list begins with."""
    before: str | None
    """The figure that the old list ends with; None for a tail."""
    after: str | None
    """The figure that the new list begins with; None for a tail."""
    at: int
    """Where the new list begins to sound."""
    line: int
    """The first tick of the section whose list it is."""
    over: int
    """How far past the line the old list sounded, in ticks; below zero, how far before it that stopped."""
    cut: bool
    """Whether what the old list ends with was cut."""


class Harmony(NamedTuple):
    """One harmony, from where it begins to the next."""

    name: str
    at: int
    end: int


class Side(NamedTuple):
    """Which clock a part keeps for a stretch: a voice's name, `meter` or `tacet`."""

    part: str
    side: str
    at: int
    end: int


class Mark(NamedTuple):
    """The teacher's own words from tick `at` to `to`, over so many bars from `bar_number` on."""

    text: str
    at: int
    to: int
    bar_number: int
    bar_count: int


@dataclass(frozen=True)
class Timeline:
    """A whole piece. All positions in ticks; rows in order of time, voice by voice where there are voices."""

    title: str
    grid: int
    """Ticks to a whole note."""
    start: int
    """0, or below it by the pick-up."""
    end: int
    sections: tuple[Section, ...]
    bars: tuple[Bar, ...]
    beats: tuple[Beat, ...]
    figures: tuple[Figure, ...]
    voices: tuple[str, ...]
    repetitions: tuple[Repetition, ...]
    crossings: tuple[Crossing, ...]
    landings: tuple[Landing, ...]
    realignments: tuple[Realignment, ...]
    handovers: tuple[Handover, ...]
    harmony: tuple[Harmony, ...]
    sides: tuple[Side, ...]
    tempo: tuple[TempoMark, ...]
    clock: Clock
    pulse: int | None = None
    """Ticks to the piece's own pulse, where the spec names one."""
    marks: tuple[Mark, ...] = ()
    clicks: bool = True
    """Whether a click sounds where a section does not say."""
    speed: Fraction = Fraction(1)
    """The share of the spec's tempo at which the clock runs."""
    own_words: OwnWords = ()
    """What pictures call things, where a spec says so."""

    def seconds(self, at: int) -> Fraction:
        """When tick `at` sounds, in seconds from bar 1's downbeat (a pick-up is negative)."""
        return self.clock.seconds(at)

    def whole(self, ticks: int) -> Fraction:
        """Ticks as an exact fraction of a whole note."""
        return Fraction(ticks, self.grid)

    def bar_at(self, at: int) -> Bar:
        """The bar that tick `at` falls in; the first or last one beyond the piece."""
        return self.bars[max(0, bisect_right(self._bar_starts, at) - 1)]

    def beat_at(self, at: int) -> Beat:
        """The felt beat that tick `at` falls in; the first or last one beyond the piece."""
        return self.beats[max(0, bisect_right(self._beat_starts, at) - 1)]

    def beats_in(self, bar: Bar) -> tuple[Beat, ...]:
        """The felt beats of a bar."""
        first = bisect_left(self._beat_starts, bar.at)
        return self.beats[first : bisect_left(self._beat_starts, bar.end)]

    def beats_between(self, start: int, end: int) -> tuple[Beat, ...]:
        """The felt beats that begin from tick `start` up to `end`."""
        first = bisect_left(self._beat_starts, start)
        return self.beats[first : bisect_left(self._beat_starts, end)]

    def slowed(self, speed: Fraction) -> "Timeline":
        """The same music at a share of its speed (3/4: a quarter slower)."""
        return self if speed == 1 else replace(self, clock=self.clock.slowed(speed), speed=self.speed * speed)

    def figure(self, name: str) -> Figure:
        """The figure of that name. Raises KeyError."""
        return self._figures[name]

    @cached_property
    def words(self) -> Vocabulary:
        """What pictures call things; the piece's own names stay."""
        if not self.own_words:
            return USUAL_WORDS
        names = {self.title, *self.voices, *(field.name for field in self.harmony)}
        names |= {section.name for section in self.sections} | {figure.name for figure in self.figures}
        names |= {side.part for side in self.sides} | {mark.text for mark in self.marks}
        return Vocabulary(self.own_words, frozenset(names))

    @cached_property
    def hits(self) -> tuple[Hit, ...]:
        """Every sounding pulse, in the order of the repetitions; made when first asked for."""
        make = tuple.__new__
        marked: dict[int, list[tuple[int, bool]]] = {}
        hits: list[Hit] = []
        for voice, number, _, _, _, at, statement, _ in self.repetitions:
            pulses = marked.get(id(statement))
            if pulses is None:
                pulses = marked[id(statement)] = list(statement.marked_hits)
            hits += [make(Hit, (voice, number, at + hit, accented)) for hit, accented in pulses]
        return tuple(hits)

    @cached_property
    def _bar_starts(self) -> list[int]:
        return [bar.at for bar in self.bars]

    @cached_property
    def _beat_starts(self) -> list[int]:
        return [beat.at for beat in self.beats]

    @cached_property
    def _figures(self) -> dict[str, Figure]:
        return {figure.name: figure for figure in self.figures}
