"""The form as it is played: `again` and `repeat` written out as passes. Nothing else follows these two words."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

from renderer.core.errors import KeyPath, Problem
from renderer.core.limits import BARS
from renderer.core.names import nearest_mend
from renderer.spec.model import Position, SectionSpec, Start
from renderer.timeline.positions import Scope

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
    "marks",
)
"""What `again` takes over where nothing is given in its place: all but the name and `sync`."""


class Pass(NamedTuple):
    """One time through a section."""

    spec: SectionSpec
    """All that holds for it, taken over or given."""
    name: str
    number: int
    """From 1: which pass of that name it is."""
    root_index: int
    """Index into the form, of the entry that was written first of what this is a pass of."""
    first_bar_number: int
    bar_count: int
    sources: Mapping[str, KeyPath]
    """Where each key that was taken over is written: the path of a form entry."""

    @property
    def path(self) -> KeyPath:
        """The form entry that asks for it."""
        return self.spec.path

    @property
    def scope(self) -> Scope:
        """What its positions are counted in."""
        return Scope(self.name, self.first_bar_number, self.bar_count)

    def holds(self, key: str, position: Position) -> bool:
        """Whether a position under `key` counts: one that was taken over is dropped after the last bar."""
        return key not in self.sources or self.scope.bar_number(position.bar) is not None

    def start(self, voice: str) -> Start:
        """When the section's list for a voice takes over."""
        starts = self.spec.starts
        start = starts.get(voice) if isinstance(starts, Mapping) else starts
        if start is None or (isinstance(start, Position) and not self.holds("starts", start)):
            return "downbeat"
        return start

    def start_path(self, voice: str) -> KeyPath:
        """Where `start` is written."""
        path = (*self.sources.get("starts", self.path), "starts")
        return (*path, voice) if isinstance(self.spec.starts, Mapping) else path


class _Known(NamedTuple):
    """A section that `again` can name."""

    spec: SectionSpec
    root_index: int
    sources: Mapping[str, KeyPath]


def piece_scope(passes: Sequence[Pass]) -> Scope:
    """What the top's positions are counted in."""
    last = passes[-1]
    return Scope("the piece", 1, last.first_bar_number + last.bar_count - 1)


def resolve(form: Sequence[SectionSpec], problems: list[Problem]) -> tuple[Pass, ...]:
    """The form as played. What is wrong with it goes to `problems`; an entry that leads nowhere is left out."""
    names = {entry.name for entry in form}
    known: dict[str, _Known] = {}
    counts: dict[str, int] = {}
    passes: list[Pass] = []
    bar_number = 1
    for index, entry in enumerate(form):
        name = entry.name or entry.again or ""
        if name in known and name != entry.again:
            mend = f"Write again: {name}, or give it a name of its own."
            text = f"there is a section {name} already."
            problems.append(Problem((*entry.path, "section"), text, mend))
        found = _Known(entry, index, {}) if entry.again is None else _taken_over(entry, known)
        if found is None:
            problems.append(_unknown(entry, names, known))
            if entry.name is not None:  # a later `again` of it is not at fault
                known.setdefault(name, _Known(replace(entry, bar_count=entry.bar_count or 1), index, {}))
            continue
        known.setdefault(name, found)
        spec, root_index, sources = found
        repeat, bar_count = spec.repeat or 1, spec.bar_count or 1
        problems.extend(_check(name, entry, spec, sources))
        after = bar_number + repeat * bar_count
        if after - 1 > BARS:
            text = f"the piece comes to {after - 1:,} bars here; there is room for {BARS:,}."
            problems.append(Problem((*entry.path, "repeat" if entry.repeat else "bars"), text))
            break
        for first in range(bar_number, after, bar_count):
            counts[name] = counts.get(name, 0) + 1
            passes.append(Pass(spec, name, counts[name], root_index, first, bar_count, sources))
        bar_number = after
    return tuple(passes)


def _taken_over(entry: SectionSpec, known: Mapping[str, _Known]) -> _Known | None:
    """An `again` with all that holds for it; None if it names no section before it."""
    original = known.get(entry.again or "")
    if original is None:
        return None
    keys = [
        key for key in INHERITED if getattr(entry, key) is None and getattr(original.spec, key) is not None
    ]
    spec = replace(entry, **{key: getattr(original.spec, key) for key in keys})
    sources = {key: original.sources.get(key, original.spec.path) for key in keys}
    return _Known(spec, original.root_index, sources)


def _unknown(entry: SectionSpec, names: set[str | None], known: Mapping[str, _Known]) -> Problem:
    path = (*entry.path, "again")
    if entry.again in names:
        mend = f"Write section: {entry.again} here."
        return Problem(path, f"{entry.again} comes later; again looks back.", mend)
    mend = nearest_mend(entry.again or "", known)
    return Problem(path, f"there is no section {entry.again} before this.", mend)


def _check(
    name: str, entry: SectionSpec, spec: SectionSpec, sources: Mapping[str, KeyPath]
) -> Iterator[Problem]:
    """What an entry's own words say about keys that it may have taken over."""
    if entry.sync is not None and (spec.repeat or 1) > 1:
        text = "sync can't be used with repeat: one place can't be several."
        mend = "Write the repeat out with again, or put sync at the top."
        yield Problem((*entry.path, "sync"), text, mend, on_key=True)
    if entry.starts is None:
        return
    path = (*entry.path, "starts")
    plays = spec.plays or {}
    if isinstance(entry.starts, Mapping):
        for voice in entry.starts:
            if voice not in plays:
                text = f"{name} has no voice {voice}."
                yield Problem((*path, voice), text, nearest_mend(voice, plays), on_key=True)
    elif all(each.items is None for each in plays.values()):
        text = f"starts says when a list takes over, but {name} gives none."
        yield Problem(path, text, "Leave starts out, or write under plays what is to start.")
