"""Plays lists walked through the piece, voice by voice: who plays what from where, what is cut, waits or runs on."""

from collections.abc import Sequence
from typing import NamedTuple

from renderer.core.errors import KeyPath, Problem
from renderer.spec.model import Item
from renderer.timeline.model import Statement
from renderer.timeline.statements import PlaysRow, shortened


class Run(NamedTuple):
    """A plays list on its way in one voice: it begins where the list takes over, and goes on under `plays: on`."""

    number: int
    """From 1 in its voice."""
    section_index: int
    """Of the pass whose list it is."""
    at: int
    rows: tuple[PlaysRow, ...]


class VoiceSpan(NamedTuple):
    """One statement, or a rest (None), as it came: `cut` if the form ended it, which also a rest can be."""

    at: int
    end: int
    statement: Statement | None
    cut: bool
    item: Item
    run: Run


class PlaysChange(NamedTuple):
    """What a section says to one voice. `line` is the section's first tick.

    `rows` is the list that takes over at `at`, or `after` what runs then; None to end what runs, or with `on` to
    let it go on.
    """

    section_index: int
    line: int
    rows: tuple[PlaysRow, ...] | None
    at: int
    after: bool
    on: bool
    name: str
    path: KeyPath


class Budget:
    """How much a piece may play in all its voices, so that a slip in a pulse is told and fills no memory."""

    def __init__(self, statements: int = 3_000_000, hits: int = 12_000_000) -> None:
        self._statements = statements
        self._hits = hits

    @property
    def spent(self) -> bool:
        """Whether more was asked for than there is."""
        return self._statements < 0 or self._hits < 0

    def spend(self, count: int, statement: Statement | None) -> bool:
        """Take off `count` statements. False once the budget is spent: then nothing more is played."""
        self._statements -= count
        self._hits -= count * len(statement.hits) if statement else 0
        return not self.spent


class VoiceWalk:
    """One voice on its way through the piece."""

    def __init__(self, budget: Budget) -> None:
        self._budget = budget
        self.spans: list[VoiceSpan] = []
        self._run = Run(0, 0, 0, ())
        self._index = 0
        self._done = 0
        """Statements of the present row that are over."""
        self._at = 0
        """Where the present statement began or will begin."""
        self._waiting: PlaysChange | None = None

    @property
    def is_running(self) -> bool:
        """Whether anything is left of the present list."""
        return self._index < len(self._run.rows)

    @property
    def is_waiting(self) -> bool:
        """Whether a list waits for what runs to end."""
        return self._waiting is not None

    def obey(self, change: PlaysChange) -> bool:
        """Go on to a section's first and do what it says. False if nothing runs that could go on."""
        self._settle(min(change.line, change.at), keep=change.on)
        if change.on:
            self._advance(change.line)
            return self.is_running or self.is_waiting
        self._advance(change.at)
        if change.rows is not None and change.after and self.is_running and self._at < change.at:
            self._waiting = change
            return True
        self._cut(change.at)
        if change.rows is not None:
            self._begin(change, change.at)
        return True

    def finish(self, end: int) -> None:
        """Go on to the piece's end."""
        self._settle(end, keep=False)
        self._advance(end)
        self._cut(end)

    def _settle(self, before: int, keep: bool) -> None:
        """Let a waiting list take over if its time comes before the tick; else it waits on or is dropped."""
        if self._waiting is None:
            return
        row = self._run.rows[self._index]
        end = self._at + row.length
        if end < before:
            self.spans.append(VoiceSpan(self._at, end, row.statement, False, row.item, self._run))
            self._begin(self._waiting, end)
            self._waiting = None
        elif not keep:
            self._waiting = None

    def _begin(self, change: PlaysChange, at: int) -> None:
        self._run = Run(self._run.number + 1, change.section_index, at, change.rows or ())
        self._index, self._done, self._at = 0, 0, at

    def _advance(self, until: int) -> None:
        """Play every statement that ends by the tick."""
        if self._waiting is not None:
            return
        while self.is_running:
            run = self._run
            statement, length, times, item = run.rows[self._index]
            count = max(0, until - self._at) // length
            if times is not None:
                count = min(count, times - self._done)
            end = self._at + count * length
            if not self._budget.spend(count, statement):
                count, end = 0, self._at
                times = self._done
            make = tuple.__new__
            self.spans += [
                make(VoiceSpan, (at, at + length, statement, False, item, run))
                for at in range(self._at, end, length)
            ]
            self._at, self._done = end, self._done + count
            if self._done != times:
                return
            self._index, self._done = self._index + 1, 0

    def _cut(self, at: int) -> None:
        """End what runs."""
        if self.is_running and self._at < at:
            row = self._run.rows[self._index]
            short = row.statement and shortened(row.statement, at - self._at, by_form=True)
            self.spans.append(VoiceSpan(self._at, at, short, True, row.item, self._run))
        self._index = len(self._run.rows)


def walk_voice(
    changes: Sequence[PlaysChange], end: int, budget: Budget, problems: list[Problem]
) -> tuple[VoiceSpan, ...]:
    """All that one voice plays, and its rests, in order. `end` is the piece's."""
    walk = VoiceWalk(budget)
    latest: PlaysChange | None = None
    for change in changes:
        if latest is not None and change.at < latest.at:
            text = f"{change.name} would start before {latest.name} has."
            problems.append(Problem(change.path, text, "Let it start later."))
            continue
        if not walk.obey(change) and not budget.spent:
            text = f"plays: on, but nothing runs at the start of {change.name}."
            problems.append(Problem(change.path, text, "Write a figure in place of on."))
        if change.rows is not None:
            latest = change
    walk.finish(end)
    return tuple(walk.spans)
