"""The lanes of a piece whose bars are laid out: harmony, sides and tempo as rows that follow each other."""

from bisect import bisect_right
from collections.abc import Callable, Iterable, Mapping, Sequence
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple, TypeVar

from renderer.core.errors import Problem, path_text
from renderer.spec.model import MAIN_VOICE, Entry, Point, Position, SectionSpec, Tempo
from renderer.timeline.clock import Instant, TempoMark
from renderer.timeline.lanes import LaneChange, Placed, Restart, lane_entries, lay_lane
from renderer.timeline.model import Bar, Harmony, Side
from renderer.timeline.passes import Pass, piece_scope
from renderer.timeline.positions import BarPlace, Places, position_text

T = TypeVar("T")


class Layout(NamedTuple):
    """A form as it is played, with its bars in ticks; `grid` ticks to a whole note."""

    passes: tuple[Pass, ...]
    bars: tuple[Bar, ...]
    grid: int
    places: Places

    @property
    def end(self) -> int:
        """The tick after the last bar."""
        return self.bars[-1].end

    def bar_at(self, number: int) -> int | None:
        """The tick where a bar begins, by its number; None after the last one."""
        index = number - self.places.first_bar_number
        return self.bars[index].at if index < len(self.bars) else None

    def pass_start(self, one: Pass) -> int:
        """A pass's first tick."""
        return self.bars[one.first_bar_number - self.places.first_bar_number].at

    def pass_end(self, one: Pass) -> int:
        """The tick after a pass's last bar."""
        return self.bars[one.first_bar_number + one.bar_count - 1 - self.places.first_bar_number].end

    def is_full(self, bar: Bar) -> bool:
        """Whether a bar has its meter's length: a pick-up may be shorter, and begin after its downbeat."""
        return bar.end - bar.at == self.places.beats[bar.number - self.places.first_bar_number][-1]

    def start_place(self, one: Pass, voice: str, start: Position) -> BarPlace | Problem:
        """Where a pass's `starts` is, given as a position."""
        found = self.places.find(start, one.scope, one.start_path(voice))
        return (
            taken_over(found._replace(on_key=False), one, "starts") if isinstance(found, Problem) else found
        )

    def lane(
        self,
        key: str,
        top: Iterable[Entry[T]],
        of: Callable[[SectionSpec], Iterable[Entry[T]] | None],
        problems: list[Problem],
    ) -> list[LaneChange[T]]:
        """One lane's values in order of place, also where the same value comes again. `key` is its name in the spec."""
        placed: list[Placed[T]] = []
        ends = [self.end, *(self.pass_end(each) for each in self.passes)]
        for entry, scope, rank in lane_entries(top, key, of, self.passes):
            found = self.places.find(entry.position, scope, entry.path)
            if isinstance(found, Problem):
                problems.append(taken_over(found, self.passes[rank - 1], key) if rank else found)
            else:
                where = *found, entry.values, rank, ends[rank]
                placed.append(Placed(*where, entry.path, entry.position, scope))
        restarts = [
            Restart(self.pass_start(each), each.first_bar_number, each.root_index) for each in self.passes
        ]
        return lay_lane(placed, restarts, self.bar_at, problems)

    def harmony(self, changes: Iterable[LaneChange[str]]) -> tuple[Harmony, ...]:
        """The harmonies in order, each up to the next other one."""
        kept = _changed(changes, plain_harmony)
        return tuple(Harmony(change.value, change.at, end) for change, end in _spans(kept, self.end))

    def sides(
        self, parts: Mapping[str, tuple[Entry[str], ...]], voices: tuple[str, ...], problems: list[Problem]
    ) -> tuple[Side, ...]:
        """Which clock each part keeps, part by part; `figure` is the one voice's."""
        figure = voices[0] if voices else MAIN_VOICE
        sides: list[Side] = []
        for name, top in parts.items():
            lane = self.lane("parts", top, _part_lane(name), problems)
            named = [change._replace(value=figure) if change.value == "figure" else change for change in lane]
            sides += [
                Side(name, change.value, change.at, end)
                for change, end in _spans(_changed(named, str), self.end)
            ]
        return tuple(sides)

    def tempo_changes(self, top: Iterable[Entry[Tempo]], problems: list[Problem]) -> list[LaneChange[Tempo]]:
        """What the tempo lane says; it begins with a plain tempo, by bar 1."""
        found: list[Problem] = []
        changes = self.lane("tempo", top, lambda spec: spec.tempo, found)
        if not found and changes[0].value.moves:
            text = "the tempo has nothing to move from."
            found.append(Problem(changes[0].entry.path, text, "Give a plain tempo before it."))
        problems += found
        return changes

    def instants(
        self,
        key: str,
        top: Iterable[Point],
        of: Callable[[SectionSpec], Iterable[Point] | None],
        problems: list[Problem],
    ) -> list[tuple[Instant, Point]]:
        """Fermatas or sync points in order of place, each with what it was written as."""
        found: dict[int, tuple[Instant, Point]] = {}
        points: list[tuple[Point, Pass | None]] = [(point, None) for point in top]
        for each in self.passes:
            points += [(point, each) for point in of(each.spec) or () if each.holds(key, point.position)]
        for point, within in points:
            scope = within.scope if within else piece_scope(self.passes)
            place = self.places.find(point.position, scope, point.path)
            if isinstance(place, Problem):
                problems.append(taken_over(place, within, key) if within else place)
            elif place.at in found:
                what = "a fermata" if key == "fermata" else "its place in the recording"
                text = f"{position_text(point.position)} has {what} already."
                problems.append(Problem(point.path, text, "Remove one of them.", on_key=True))
            else:
                found[place.at] = Instant(place.at, point.seconds), point
        return [found[at] for at in sorted(found)]


def taken_over(problem: Problem, one: Pass, key: str) -> Problem:
    """What is wrong with a position, and the form entry that took it over, if it is written in an earlier one."""
    if problem.path[: len(one.path)] == one.path:
        return problem
    entry = path_text(one.path)
    text = f"{problem.text.removesuffix('.')} where {entry} takes it over."
    return problem._replace(text=text, mend=f"Give {entry} its own {key}.")


def plain_harmony(name: str) -> str:
    """A harmony's name with its signs in letters, to compare: `B♭7` is `Bb7`."""
    return name.replace("♭", "b").replace("♯", "#")


def _part_lane(name: str) -> Callable[[SectionSpec], Iterable[Entry[str]] | None]:
    return lambda spec: (spec.parts or {}).get(name)


def _changed(changes: Iterable[LaneChange[T]], compared: Callable[[T], object]) -> list[LaneChange[T]]:
    """The changes without those that say the same value again."""
    kept: list[LaneChange[T]] = []
    for change in changes:
        if not kept or compared(kept[-1].value) != compared(change.value):
            kept.append(change)
    return kept


def _spans(changes: list[LaneChange[T]], end: int) -> Iterable[tuple[LaneChange[T], int]]:
    """Each change with the place of the next one, the last with the piece's end."""
    ends = [change.at for change in changes[1:]]
    return zip(changes, [*ends, end], strict=bool(changes))


def lay_tempo(changes: Sequence[LaneChange[Tempo]], end: int) -> tuple[TempoMark, ...]:
    """The tempo's steps and ramps, without a gap from the first one to the piece's end.

    A ramp moves from the tempo that it begins in to the lane's next entry, or to its section's end.
    """
    marks: list[TempoMark] = []
    for index, change in enumerate(changes):
        at, tempo = change.at, change.value
        running = marks[-1] if marks else None
        if change.since is not None:
            if running is not None and running.to is not None and at < running.end:
                continue
            tempo = Tempo(quarters_at(marks, change.since))
        before = quarters_at(marks, at) if marks else tempo.quarters
        if running is not None and running.to is not None and running.end < at:
            marks.append(TempoMark(running.to, None, running.end, at))
        if not tempo.moves:
            marks.append(TempoMark(tempo.quarters, None, at, end))
            continue
        written = (each.at for each in changes[index + 1 :] if each.since is None)
        marks.append(TempoMark(before, tempo.quarters, at, min(next(written, end), change.entry.scope_end)))
    if marks[-1].to is not None and marks[-1].end < end:
        marks.append(TempoMark(marks[-1].to, None, marks[-1].end, end))
    return tuple(_joined(marks, end))


def _joined(marks: list[TempoMark], end: int) -> list[TempoMark]:
    """Steps end where the next mark begins; the same tempo again is no change."""
    kept: list[TempoMark] = []
    for mark in marks:
        before = kept[-1] if kept else None
        same = before and mark.to is None and before.to is None and before.quarters == mark.quarters
        if not same:
            kept.append(mark)
    followed = [mark._replace(end=after.at) for mark, after in pairwise(kept)]
    return [*followed, kept[-1]._replace(end=end)]


def quarters_at(marks: Sequence[TempoMark], at: int) -> Fraction:
    """The tempo at a place, quarters a minute; before the first mark, the first's. `marks` are not empty."""
    index = bisect_right(marks, at, key=lambda mark: mark.at) - 1
    mark = marks[max(0, index)]
    if mark.to is None or at <= mark.at:
        return mark.quarters
    if at >= mark.end:
        return mark.to
    return mark.quarters + (mark.to - mark.quarters) * Fraction(at - mark.at, mark.end - mark.at)
