"""Positions resolved to ticks, and lanes: values that hold from a place until the lane's next one."""

from collections.abc import Callable, Iterable, Sequence
from typing import Generic, NamedTuple, TypeVar

from renderer.core.errors import KeyPath, Problem
from renderer.spec.meter import Meter
from renderer.spec.model import Position

T = TypeVar("T")


def position_text(position: Position) -> str:
    """As it is written: `9`, `9.3` or `9.3.2`.

    >>> position_text(Position(9, 3, 2)), position_text(Position(-4))
    ('9.3.2', '-4')
    """
    bar, beat, pulse = position
    if pulse is not None:
        return f"{bar}.{beat}.{pulse}"
    return f"{bar}.{beat}" if beat != 1 else f"{bar}"


class Scope(NamedTuple):
    """What a position is counted in: the piece or one pass of a section."""

    name: str
    first_bar_number: int
    bar_count: int

    def bar_number(self, bar: int) -> int | None:
        """The piece's number of the scope's `bar` (-1 its last one, 0 the one before it); None outside."""
        within = bar if bar >= 0 else self.bar_count + 1 + bar
        return (
            self.first_bar_number + within - 1
            if within <= self.bar_count and (within > 0 or bar == 0)
            else None
        )

    def outside(self, position: Position, path: KeyPath) -> Problem:
        """The fault of a position that is in none of the scope's bars."""
        bars = "1 bar" if self.bar_count == 1 else f"{self.bar_count} bars"
        text = f"there is no {position_text(position)}: {self.name} has {bars}."
        there = f"a bar from 1 to {self.bar_count}, or -1 for the last one" if self.bar_count > 1 else "bar 1"
        return Problem(path, text, f"Write {there}.", on_key=True)


class Measure(NamedTuple):
    """A bar's ticks: where its full length begins, where it sounds from (the pick-up: later), its beats."""

    full_at: int
    at: int
    meter: Meter
    beats: tuple[int, ...]
    """Where each felt beat begins, in ticks from `full_at`, and the bar's length."""


class Places:
    """Where the bars stand, to turn positions into ticks. `first` is the first measure's bar number."""

    def __init__(self, measures: Sequence[Measure], first: int, pulse: int | None, pulse_text: str) -> None:
        self.measures = measures
        self.first = first
        self.pulse = pulse
        self.pulse_text = pulse_text

    def measure(self, bar: int) -> Measure:
        """The measure of a bar, by the piece's number."""
        return self.measures[bar - self.first]

    def find(self, position: Position, scope: Scope, path: KeyPath) -> "BarPlace | Problem":
        """The place of a position, or what is wrong with it."""
        bar = scope.bar_number(position.bar)
        if bar is None:
            return scope.outside(position, path)
        written = position_text(position)
        if bar < self.first:
            text = f"there is no {written}: nothing comes before bar 1."
            return Problem(path, text, "Write a bar from 1, or give the piece a pickup.", on_key=True)
        measure = self.measure(bar)
        count = len(measure.beats) - 1
        if not 1 <= position.beat <= count:
            beats = "1 beat" if count == 1 else f"{count} beats"
            text = f"there is no {written}: bar {position.bar} has {beats} ({measure.meter.text})."
            return Problem(path, text, f"Write a beat from 1 to {count}.", on_key=True)
        within = self._within_beat(position, measure, path)
        if isinstance(within, Problem):
            return within
        ticks = measure.full_at + measure.beats[position.beat - 1] + within
        return BarPlace(ticks, bar) if ticks >= measure.at else self._before_pickup(position, measure, path)

    def _within_beat(self, position: Position, measure: Measure, path: KeyPath) -> "int | Problem":
        """Ticks from the beat to the position's pulse."""
        if position.pulse is None:
            return 0
        written = position_text(position)
        if self.pulse is None:
            text = f"{written} counts pulses, but the piece names none."
            return Problem(path, text, "Write one at the top, such as pulse: 1/16.", on_key=True)
        length = measure.beats[position.beat] - measure.beats[position.beat - 1]
        pulses = -(-length // self.pulse)
        if not 1 <= position.pulse <= pulses:
            count = "1 pulse" if pulses == 1 else f"{pulses} pulses"
            text = f"there is no {written}: that beat has {count} of {self.pulse_text}."
            return Problem(path, text, "Write one of them, or the next beat.", on_key=True)
        return (position.pulse - 1) * self.pulse

    def _before_pickup(self, position: Position, measure: Measure, path: KeyPath) -> Problem:
        text = f"there is no {position_text(position)}: the pick-up, counted from its end, begins later."
        inside = [n for n, start in enumerate(measure.beats[:-1], 1) if measure.full_at + start >= measure.at]
        if inside:
            mend = f"Its first beat is 0.{inside[0]}."
        elif at := self._in_last_beat(measure):
            mend = f"It begins at {at}."
        else:
            mend = "It begins between two pulses; give the piece a longer pickup."
        return Problem(path, text, mend, on_key=True)

    def _in_last_beat(self, measure: Measure) -> str | None:
        """The position at which a pick-up shorter than a beat begins, if it begins on a pulse."""
        pulses, left = divmod(measure.at - measure.full_at - measure.beats[-2], self.pulse or 1)
        return f"0.{len(measure.beats) - 1}.{pulses + 1}" if self.pulse and not left else None


class BarPlace(NamedTuple):
    """A tick, and the number of the bar that it lies in."""

    at: int
    bar: int


class Placed(NamedTuple, Generic[T]):
    """A lane's entry at its place. `rank` 0 is the top's; each pass has its own, the later the higher."""

    at: int
    bar: int
    values: tuple[T, ...]
    rank: int
    scope_end: int
    path: KeyPath
    written: str
    scope: Scope
    """What its position is counted in."""


class Restart(NamedTuple):
    """A pass's first bar: from the second pass of a section on, its lanes begin as in the first one."""

    at: int
    bar: int
    section: int
    """What the passes of one section share."""


class LaneChange(NamedTuple, Generic[T]):
    """A value from `at` on. `since` is the place whose value a later pass takes up again."""

    at: int
    value: T
    entry: Placed[T]
    since: int | None = None


def lay_lane(
    entries: Iterable[Placed[T]],
    restarts: Sequence[Restart],
    bar_at: Callable[[int], int | None],
    problems: list[Problem],
) -> list[LaneChange[T]]:
    """The values of a lane in order of place: entries, lists dealt out a bar each, and passes begun afresh.

    `bar_at` gives the place of a bar by number, None beyond the last one. Top and section at one place: the
    section's holds. Two entries of one scope at one place are a fault.
    """
    chosen = _chosen(entries, problems)
    starts = {restart.at: restart for restart in restarts}
    places = sorted(chosen.keys() | starts.keys())
    seen: set[int] = set()
    saved: dict[int, tuple[Placed[T], int, int]] = {}
    changes: list[LaneChange[T]] = []
    entry: Placed[T] | None = None
    origin = 0
    """The bar in which the running list's first value stood or would have stood."""
    for index, place in enumerate(places):
        restart = starts.get(place)
        if place in chosen:
            entry = chosen[place]
            origin = bar = entry.bar
            changes.append(LaneChange(place, entry.values[0], entry))
        elif restart is not None:
            bar = restart.bar
            since = None
            if restart.section in saved:
                entry, phase, since = saved[restart.section]
                origin = bar - phase
            if entry is not None and (since is not None or len(entry.values) > 1):
                changes.append(
                    LaneChange(place, entry.values[(bar - origin) % len(entry.values)], entry, since)
                )
        if restart is not None and restart.section not in seen:
            seen.add(restart.section)
            if entry is not None:
                saved[restart.section] = entry, bar - origin, place
        if entry is not None and len(entry.values) > 1:
            end = places[index + 1] if index + 1 < len(places) else None
            changes += _dealt(entry, origin, bar, bar_at, end)
    return changes


def _dealt(
    entry: Placed[T], origin: int, bar: int, bar_at: Callable[[int], int | None], end: int | None
) -> Iterable[LaneChange[T]]:
    """A list's further values, one a bar, from the bar after `bar` up to `end`."""
    count = len(entry.values)
    bar += 1
    while (at := bar_at(bar)) is not None and (end is None or at < end):
        yield LaneChange(at, entry.values[(bar - origin) % count], entry)
        bar += 1


def _chosen(entries: Iterable[Placed[T]], problems: list[Problem]) -> dict[int, Placed[T]]:
    chosen: dict[int, Placed[T]] = {}
    for entry in entries:
        other = chosen.get(entry.at)
        if other is not None and other.rank == entry.rank:
            scope = entry.scope
            bars = "1 bar" if scope.bar_count == 1 else f"{scope.bar_count} bars"
            text = f"{other.written} and {entry.written} are the same place where {scope.name} has {bars}."
            if other.written == entry.written:
                text = f"{entry.written} is given twice."
            problems.append(Problem(entry.path, text, "Leave one of them out.", on_key=True))
        if other is None or entry.rank >= other.rank:
            chosen[entry.at] = entry
    return chosen
