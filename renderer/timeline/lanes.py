"""Lanes: values that hold from a place until the lane's next one."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Generic, NamedTuple, TypeVar

from renderer.core.errors import KeyPath, Problem
from renderer.spec.model import Entry, Position, SectionSpec
from renderer.timeline.passes import Pass, piece_scope
from renderer.timeline.positions import Scope, position_text

T = TypeVar("T")


def lane_entries(
    top: Iterable[Entry[T]],
    key: str,
    of: Callable[[SectionSpec], Iterable[Entry[T]] | None],
    passes: Sequence[Pass],
) -> Iterator[tuple[Entry[T], Scope, int]]:
    """A lane's entries with what their positions are counted in, and their rank.

    First come the top's, of rank 0; then each pass's, of its number in the form as played, from 1. Entries that a
    pass took over and that lie after its last bar are left out.
    """
    piece = piece_scope(passes)
    yield from ((entry, piece, 0) for entry in top)
    for rank, each in enumerate(passes, start=1):
        scope = each.scope
        for entry in of(each.spec) or ():
            if each.holds(key, entry.position):
                yield entry, scope, rank


class Placed(NamedTuple, Generic[T]):
    """A lane's entry at its place. `rank` 0 is the top's; each pass has its own, the later the higher."""

    at: int
    bar_number: int
    values: tuple[T, ...]
    rank: int
    scope_end: int
    path: KeyPath
    position: Position
    scope: Scope
    """What its position is counted in."""

    @property
    def written(self) -> str:
        """Its position as it is written."""
        return position_text(self.position)


class Restart(NamedTuple):
    """A pass's first bar: from the second pass of a section on, its lanes begin as in the first one."""

    at: int
    bar_number: int
    root_index: int
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
            origin = bar = entry.bar_number
            changes.append(LaneChange(place, entry.values[0], entry))
        elif restart is not None:
            bar = restart.bar_number
            since = None
            if restart.root_index in saved:
                entry, phase, since = saved[restart.root_index]
                origin = bar - phase
            if entry is not None and (since is not None or len(entry.values) > 1):
                changes.append(
                    LaneChange(place, entry.values[(bar - origin) % len(entry.values)], entry, since)
                )
        if restart is not None and restart.root_index not in seen:
            seen.add(restart.root_index)
            if entry is not None:
                saved[restart.root_index] = entry, bar - origin, place
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
            problems.append(Problem(entry.path, text, "Remove one of them.", on_key=True))
        if other is None or entry.rank >= other.rank:
            chosen[entry.at] = entry
    return chosen
