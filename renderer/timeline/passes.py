"""The form laid out: `again` and `repeat` written out as passes, their bars with their meters, the grid."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import accumulate
from math import lcm
from typing import TypeVar

from renderer.core.errors import KeyPath, Problem
from renderer.core.limits import BARS
from renderer.core.names import nearest_mend
from renderer.spec.meter import Meter
from renderer.spec.model import Entry, Position, SectionSpec, Spec, Start
from renderer.timeline.lanes import LaneChange, Measure, Placed, Restart, Scope, lay_lane, position_text

T = TypeVar("T")

FINEST_GRID = 10**9
"""Ticks to a whole note. Only counts that never meet in a piece of any length need more."""

INHERITED = (
    "bar_count",
    "repeat",
    "meter",
    "tempo",
    "harmony",
    "parts",
    "plays",
    "starts",
    "fermata",
    "click",
)
"""What `again` takes over where nothing is given in its place: all but the name and `sync`."""


@dataclass(frozen=True, slots=True)
class Pass:
    """One time through a section. `text` has everything that holds for it, taken over or given."""

    text: SectionSpec
    name: str
    number: int
    """1 for the first pass of that name."""
    root: int
    """Index of the form entry that was written first of what this is a pass of."""
    first_bar_number: int
    bar_count: int
    path: KeyPath
    inherited: frozenset[str]

    @property
    def scope(self) -> Scope:
        """What its positions are counted in."""
        return Scope(self.name, self.first_bar_number, self.bar_count)

    def holds(self, key: str, position: Position) -> bool:
        """Whether a position under `key` counts: one that was taken over falls away beyond the bars."""
        return key not in self.inherited or self.scope.bar_number(position.bar) is not None

    def start(self, voice: str) -> Start:
        """When the section's list for a voice takes over."""
        starts = self.text.starts
        start = starts.get(voice) if isinstance(starts, Mapping) else starts
        if start is None or (isinstance(start, Position) and not self.holds("starts", start)):
            return "downbeat"
        return start


def lay_passes(spec: Spec, problems: list[Problem]) -> tuple[Pass, ...]:
    """The form as played. Faults go to `problems`; a form entry at fault is left out."""
    passes: list[Pass] = []
    known: dict[str, tuple[SectionSpec, int]] = {}
    counts: dict[str, int] = {}
    bar = 1
    for index, entry in enumerate(spec.form):
        found = _resolve(entry, index, known, problems)
        if found is None:
            continue
        text, name, root, inherited = found
        known.setdefault(name, (text, root))
        if text.bar_count is None or text.bar_count < 1:
            got = "no bars" if text.bar_count is None else f"{text.bar_count} bars"
            problems.append(Problem(entry.path, f"{name} has {got}.", "Say how many, such as bars: 8."))
            continue
        repeat = text.repeat or 1
        if repeat > 1 and text.sync:
            again = f"Write repeat: 1 and the other passes one by one, each as - again: {name}."
            problems.append(Problem(text.sync[0].path, "sync can't stand beside repeat.", again))
        if bar + repeat * text.bar_count - 1 > BARS:
            problems.append(Problem(entry.path, f"the piece has more than {BARS:,} bars.", "Shorten it."))
            break
        for turn in range(repeat):
            counts[name] = counts.get(name, 0) + 1
            plain = replace(text, sync=None) if turn else text
            passes.append(Pass(plain, name, counts[name], root, bar, text.bar_count, entry.path, inherited))
            bar += text.bar_count
    return tuple(passes)


def _resolve(
    entry: SectionSpec, index: int, known: dict[str, tuple[SectionSpec, int]], problems: list[Problem]
) -> tuple[SectionSpec, str, int, frozenset[str]] | None:
    """A form entry with all that holds for it, its name, its root, and the keys that it took over."""
    if entry.again is None:
        if entry.name is None:
            text = "this part of the form has no name."
            problems.append(Problem(entry.path, text, "Write section: and a name."))
            return None
        if entry.name in known:
            mend = f"Write again: {entry.name}, or give it a name of its own."
            text = f"there is a section {entry.name} already."
            problems.append(Problem((*entry.path, "section"), text, mend))
        return entry, entry.name, index, frozenset()
    if entry.again not in known:
        text = f"there is no section {entry.again} before this."
        problems.append(Problem((*entry.path, "again"), text, nearest_mend(entry.again, known)))
        return None
    original, root = known[entry.again]
    name = entry.name or entry.again
    if name in known and name != entry.again:
        text = f"there is a section {name} already."
        problems.append(Problem((*entry.path, "section"), text, "Give it a name of its own."))
    taken = [key for key in INHERITED if getattr(entry, key) is None and getattr(original, key) is not None]
    merged = replace(entry, **{key: getattr(original, key) for key in taken})
    return merged, name, root, frozenset(taken)


def lay_meters(spec: Spec, passes: tuple[Pass, ...], problems: list[Problem]) -> tuple[Meter, ...]:
    """The meter of each bar, from bar 1. Empty if the piece has none."""
    total = sum(section.bar_count for section in passes)
    placed = []
    for entry, scope, rank in lane_entries(spec.meter, "meter", lambda text: text.meter, passes):
        if entry.position.beat != 1 or entry.position.pulse not in (None, 1):
            text = f"the meter can't change at {position_text(entry.position)}: it changes on bar lines only."
            mend = f"Write {entry.position.bar} or {entry.position.bar + 1}."
            problems.append(Problem(entry.path, text, mend, on_key=True))
            continue
        bar = scope.bar_number(entry.position.bar)
        if bar is None:
            problems.append(scope.outside(entry.position, entry.path))
            continue
        if bar < 1:
            text = "the meter can't change before bar 1: a pick-up is counted in bar 1's meter."
            problems.append(Problem(entry.path, text, "Write 1.", on_key=True))
            continue
        written = position_text(entry.position)
        placed.append(Placed(bar, bar, entry.values, rank, total + 1, entry.path, written, scope))
    restarts = [
        Restart(section.first_bar_number, section.first_bar_number, section.root) for section in passes
    ]
    changes = lay_lane(placed, restarts, lambda bar: bar if bar <= total else None, problems)
    if not changes or changes[0].at > 1:
        if not problems:
            text = "there is no meter at bar 1."
            problems.append(Problem(("meter",), text, "Write one, such as meter: 4/4."))
        return ()
    return tuple(_held(changes, total))


def _held(changes: list[LaneChange[Meter]], total: int) -> Iterator[Meter]:
    for index, change in enumerate(changes):
        end = changes[index + 1].at if index + 1 < len(changes) else total + 1
        yield from [change.value] * (end - change.at)


def lane_entries(
    top: Iterable[Entry[T]],
    key: str,
    of: Callable[[SectionSpec], Iterable[Entry[T]] | None],
    passes: tuple[Pass, ...],
) -> Iterator[tuple[Entry[T], Scope, int]]:
    """A lane's entries, the top's and each pass's, with what their positions are counted in, and their rank.

    Entries that a pass took over and that lie beyond its bars fall away.
    """
    piece = piece_scope(passes)
    yield from ((entry, piece, 0) for entry in top)
    for rank, section in enumerate(passes, start=1):
        scope = section.scope
        for entry in of(section.text) or ():
            if section.holds(key, entry.position):
                yield entry, scope, rank


def piece_scope(passes: tuple[Pass, ...]) -> Scope:
    """What the top's positions are counted in."""
    return Scope("the piece", 1, sum(section.bar_count for section in passes))


def lay_measures(meters: tuple[Meter, ...], grid: int, pickup: int) -> tuple[Measure, ...]:
    """The bars in ticks, from bar 1, or from bar 0 if there is a pick-up of `pickup` ticks."""
    beats = {id(meter): meter_beats(meter, grid) for meter in different(meters)}
    measures = []
    if pickup:
        first = beats[id(meters[0])]
        measures.append(Measure(-first[-1], -pickup, meters[0], first))
    at = 0
    for meter in meters:
        starts = beats[id(meter)]
        measures.append(Measure(at, at, meter, starts))
        at += starts[-1]
    return tuple(measures)


def different(meters: Iterable[Meter]) -> Iterable[Meter]:
    """The meters that are not the same object: few, where comparing thousands of bars takes time."""
    return {id(meter): meter for meter in meters}.values()


def meter_beats(meter: Meter, grid: int) -> tuple[int, ...]:
    """Where each felt beat of a bar begins, and the bar's length, in ticks."""
    return tuple(int(start * grid) for start in accumulate(meter.beats, initial=Fraction(0)))


def common_grid(lengths: Iterable[Fraction], problems: list[Problem]) -> int:
    """The fewest ticks to a whole note on which all `lengths` are whole."""
    grid = lcm(*{length.denominator for length in lengths})
    if grid > FINEST_GRID:
        text = "the piece's pulses and beats have no common count that is not absurdly fine."
        problems.append(Problem((), text, "Write pulses that fit each other, such as 1/8, 1/12 and 1/16."))
    return grid
