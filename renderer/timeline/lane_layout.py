"""The lanes of a piece whose bars are laid out: harmony, sides and tempo as rows that follow each other."""

from bisect import bisect_right
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from typing import TypeVar

from renderer.core.errors import Problem, path_text
from renderer.core.names import listed, nearest_mend
from renderer.spec.model import Entry, Point, SectionSpec, Spec, Tempo
from renderer.timeline.clock import Instant, TempoMark
from renderer.timeline.lanes import LaneChange, Measure, Placed, Places, Restart, lay_lane, position_text
from renderer.timeline.model import Harmony, Side
from renderer.timeline.passes import Pass, lane_entries, piece_scope

T = TypeVar("T")

NO_VOICE = ("meter", "tacet")
"""Sides of a part that are no voice. Where there is one voice, `figure` is its side too."""


@dataclass(frozen=True)
class Layout:
    """A spec with its passes and bars in ticks. `problems` gathers what is wrong."""

    spec: Spec
    passes: tuple[Pass, ...]
    measures: tuple[Measure, ...]
    grid: int
    places: Places
    problems: list[Problem]

    @property
    def end(self) -> int:
        """The tick after the last bar."""
        return self.measures[-1].full_at + self.measures[-1].beats[-1]

    def bar_at(self, bar: int) -> int | None:
        """Where a bar begins, by number; None after the last one."""
        index = bar - self.places.first
        return self.measures[index].at if index < len(self.measures) else None

    def pass_start(self, section: Pass) -> int:
        """A pass's first tick."""
        return self.places.measure(section.first_bar_number).at

    def pass_end(self, section: Pass) -> int:
        """The tick after a pass's last bar."""
        at = self.bar_at(section.first_bar_number + section.bar_count)
        return self.end if at is None else at

    def lane(
        self, key: str, top: Iterable[Entry[T]], of: Callable[[SectionSpec], Iterable[Entry[T]] | None]
    ) -> list[LaneChange[T]]:
        """One lane's changes of value. `key` is its name in the spec."""
        placed: list[Placed[T]] = []
        ends = [self.end, *(self.pass_end(section) for section in self.passes)]
        for entry, scope, rank in lane_entries(top, key, of, self.passes):
            found = self.places.find(entry.position, scope, entry.path)
            if isinstance(found, Problem):
                self.problems.append(taken_over(found, self.passes[rank - 1], key) if rank else found)
                continue
            written = position_text(entry.position)
            where = found.at, found.bar
            placed.append(Placed(*where, entry.values, rank, ends[rank], entry.path, written, scope))
        restarts = [Restart(self.pass_start(each), each.first_bar_number, each.root) for each in self.passes]
        return lay_lane(placed, restarts, self.bar_at, self.problems)

    def harmony_changes(self) -> list[LaneChange[str]]:
        """What the harmony lane says, also where that changes nothing."""
        return self.lane("harmony", self.spec.harmony, lambda text: text.harmony)

    def harmony(self) -> tuple[Harmony, ...]:
        """The harmonies in order, each up to the next other one."""
        changes = _changed(self.harmony_changes(), plain_harmony)
        return tuple(Harmony(change.value, change.at, end) for change, end in _spans(changes, self.end))

    def sides(self, voices: tuple[str, ...]) -> tuple[Side, ...]:
        """Which clock each part keeps, part by part."""
        names = list(self.spec.parts)
        for section in self.passes:
            names += [name for name in section.text.parts or () if name not in names]
        sides: list[Side] = []
        for name in names:
            lane = self.lane("parts", self.spec.parts.get(name, ()), _part_lane(name))
            named = [change._replace(value=side) for change in lane if (side := self._side(change, voices))]
            changed = _changed(named, str)
            sides += [Side(name, change.value, change.at, end) for change, end in _spans(changed, self.end)]
        return tuple(sides)

    def _side(self, change: LaneChange[str], voices: tuple[str, ...]) -> str | None:
        side = change.value
        if side in voices or side in NO_VOICE:
            return side
        if side == "figure" and len(voices) <= 1:
            return voices[0] if voices else "main"
        if side == "figure":
            text, mend = "figure is clear with one voice only.", f"Write {listed(voices)}."
        else:
            text = f"there is no voice {side}."
            mend = nearest_mend(side, (*voices, *(["figure"] if len(voices) <= 1 else []), *NO_VOICE))
        self.problems.append(Problem(change.entry.path, text, mend))
        return None

    def tempo(self) -> tuple[TempoMark, ...]:
        """The tempo's steps and ramps, without a gap from the first one to the piece's end."""
        changes = self.lane("tempo", self.spec.tempo, lambda text: text.tempo)
        if not changes or changes[0].at > 0:
            text = "there is no tempo at bar 1."
            self.problems.append(Problem(("tempo",), text, "Write one, such as tempo: 112."))
            return ()
        if changes[0].value.moves:
            text = "the tempo has nothing to move from."
            self.problems.append(Problem(changes[0].entry.path, text, "Give a plain tempo before it."))
            return ()
        return tuple(_tempo_marks(changes, self.end))

    def instants(
        self, key: str, top: Iterable[Point], of: Callable[[SectionSpec], Iterable[Point] | None]
    ) -> list[tuple[Instant, Point]]:
        """Fermatas or sync points in order of place, each with what it was written as."""
        found: dict[int, tuple[Instant, Point]] = {}
        points: list[tuple[Point, Pass | None]] = [(point, None) for point in top]
        for section in self.passes:
            for point in of(section.text) or ():
                if section.holds(key, point.position):
                    points.append((point, section))
        for point, within in points:
            scope = within.scope if within else piece_scope(self.passes)
            place = self.places.find(point.position, scope, point.path)
            if isinstance(place, Problem):
                self.problems.append(taken_over(place, within, key) if within else place)
            elif place.at in found:
                what = "a fermata" if key == "fermata" else "its place in the recording"
                text = f"{position_text(point.position)} has {what} already."
                self.problems.append(Problem(point.path, text, "Leave one of them out.", on_key=True))
            else:
                found[place.at] = Instant(place.at, point.seconds), point
        return [found[at] for at in sorted(found)]


def taken_over(problem: Problem, section: Pass, key: str) -> Problem:
    """A position's fault, with the form entry that took it over, if it stands in an earlier one."""
    if problem.path[: len(section.path)] == section.path:
        return problem
    entry = path_text(section.path)
    text = f"{problem.text.removesuffix('.')} where {entry} takes it over."
    return replace(problem, text=text, mend=f"Give {entry} its own {key}.")


def plain_harmony(name: str) -> str:
    """A harmony's name with its signs in letters, to compare: `B♭7` is `Bb7`."""
    return name.replace("♭", "b").replace("♯", "#")


def _part_lane(name: str) -> Callable[[SectionSpec], Iterable[Entry[str]] | None]:
    return lambda text: (text.parts or {}).get(name)


def _changed(changes: Iterable[LaneChange[T]], compared: Callable[[T], object]) -> list[LaneChange[T]]:
    """The changes that are none left out: the same value again."""
    kept: list[LaneChange[T]] = []
    for change in changes:
        if not kept or compared(kept[-1].value) != compared(change.value):
            kept.append(change)
    return kept


def _spans(changes: list[LaneChange[T]], end: int) -> Iterable[tuple[LaneChange[T], int]]:
    """Each change with the place of the next one, the last with the piece's end."""
    ends = [change.at for change in changes[1:]]
    return zip(changes, [*ends, end], strict=bool(changes))


def _tempo_marks(changes: list[LaneChange[Tempo]], end: int) -> list[TempoMark]:
    """Steps, and ramps from the tempo that they begin in to the lane's next entry or their scope's end."""
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
    return _joined(marks, end)


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


def voice_names(passes: Iterable[Pass]) -> tuple[str, ...]:
    """The voices in the order in which the form names them."""
    names: dict[str, None] = {}
    for section in passes:
        names.update(dict.fromkeys(section.text.plays or {}))
    return tuple(names)
