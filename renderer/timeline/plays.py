"""Plays lists walked into statements: who plays what from where, what is cut, what waits, what runs on."""

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import accumulate
from typing import NamedTuple

from renderer.core.errors import KeyPath, Problem
from renderer.core.names import nearest_mend
from renderer.spec.model import Item
from renderer.timeline.model import Figure, Group, Statement


class PlaysRun(NamedTuple):
    """A row of like statements in a plays list; None for silence. `times` is None for over and over."""

    statement: Statement | None
    length: int
    times: int | None
    item: Item
    """The plays list's item that it comes from."""


class VoiceSpan(NamedTuple):
    """One statement, or a rest (None), as it came: `cut` if the form ended it, which also a rest can be."""

    at: int
    end: int
    statement: Statement | None
    cut: bool
    item: Item


class PlaysChange(NamedTuple):
    """What a section says to one voice. `line` is the section's first tick.

    chunks: the list that takes over at `at`, or `after` what runs then; None to end what runs, or with `on`
    to let it go on.
    """

    line: int
    chunks: tuple[PlaysRun, ...] | None
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
        self._chunks: tuple[PlaysRun, ...] = ()
        self._index = 0
        self._done = 0
        """Statements of the present chunk that are over."""
        self._at = 0
        """Where the present statement began or will begin."""
        self._waiting: tuple[PlaysRun, ...] | None = None

    @property
    def runs(self) -> bool:
        """Whether anything is left of the present list."""
        return self._index < len(self._chunks)

    @property
    def waits(self) -> bool:
        """Whether a list waits for what runs to end."""
        return self._waiting is not None

    def obey(self, takeover: PlaysChange) -> bool:
        """Go on to a section's first and do what it says. False if nothing runs that could go on."""
        self._settle(min(takeover.line, takeover.at), keep=takeover.on)
        if takeover.on:
            self._advance(takeover.line)
            return self.runs or self.waits
        self._advance(takeover.at)
        if takeover.chunks is not None and takeover.after and self.runs and self._at < takeover.at:
            self._waiting = takeover.chunks
            return True
        self._cut(takeover.at)
        if takeover.chunks is not None:
            self._begin(takeover.chunks, takeover.at)
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
        chunk = self._chunks[self._index]
        end = self._at + chunk.length
        if end < before:
            self.spans.append(VoiceSpan(self._at, end, chunk.statement, False, chunk.item))
            self._begin(self._waiting, end)
            self._waiting = None
        elif not keep:
            self._waiting = None

    def _begin(self, chunks: tuple[PlaysRun, ...], at: int) -> None:
        self._chunks, self._index, self._done, self._at = chunks, 0, 0, at

    def _advance(self, until: int) -> None:
        """Play every statement that ends by the tick."""
        if self._waiting is not None:
            return
        while self.runs:
            statement, length, times, item = self._chunks[self._index]
            count = max(0, until - self._at) // length
            if times is not None:
                count = min(count, times - self._done)
            end = self._at + count * length
            if not self._budget.spend(count, statement):
                count, end = 0, self._at
                times = self._done
            self.spans += [
                VoiceSpan(at, at + length, statement, False, item) for at in range(self._at, end, length)
            ]
            self._at, self._done = end, self._done + count
            if self._done != times:
                return
            self._index, self._done = self._index + 1, 0

    def _cut(self, at: int) -> None:
        """End what runs."""
        if self.runs and self._at < at:
            chunk = self._chunks[self._index]
            short = chunk.statement and shortened(chunk.statement, at - self._at, by_form=True)
            self.spans.append(VoiceSpan(self._at, at, short, True, chunk.item))
        self._begin((), at)


def walk_voice(
    takeovers: Sequence[PlaysChange], end: int, budget: Budget, problems: list[Problem]
) -> tuple[VoiceSpan, ...]:
    """All that one voice plays, and its rests, in order. `end` is the piece's."""
    walk = VoiceWalk(budget)
    latest: PlaysChange | None = None
    for takeover in takeovers:
        if latest is not None and takeover.at < latest.at:
            text = f"{takeover.name} would start before {latest.name} has."
            problems.append(Problem(takeover.path, text, "Let it start later."))
            continue
        if not walk.obey(takeover) and not budget.spent:
            text = f"plays: on, but nothing runs at the start of {takeover.name}."
            problems.append(Problem(takeover.path, text, "Write a figure in place of on."))
        if takeover.chunks is not None:
            latest = takeover
    walk.finish(end)
    return tuple(walk.spans)


class StatementCompiler:
    """The piece's figures, and the statements that plays lists make of them; `grid` ticks to a whole note."""

    def __init__(self, figures: Mapping[str, Figure], grid: int, pulse: Fraction | None) -> None:
        self.figures = figures
        self.grid = grid
        self.pulse = pulse

    def chunks(self, items: Sequence[Item], problems: list[Problem]) -> tuple[PlaysRun, ...]:
        """A plays list in ticks. Faults go to `problems`, and their items are left out."""
        chunks: list[PlaysRun] = []
        pulse = self.pulse
        for number, item in enumerate(items, start=1):
            figure = self._figure(item, problems)
            if item.figure is not None and figure is None:
                continue
            pulse = item.pulse or (figure.pulse if figure else pulse)
            if _nothing(item):
                problems.append(Problem(item.path, f"this {item.kind} has no pulses.", "Write at least 1."))
                continue
            if pulse is None:
                text = f"this {item.kind} follows nothing whose pulse it could count in."
                problems.append(Problem(item.path, text, "Add its pulse, such as pulse: 1/16."))
                continue
            last = number == len(items)
            chunks += self._item_chunks(item, figure, int(pulse * self.grid), last, problems)
        return tuple(chunks)

    def _figure(self, item: Item, problems: list[Problem]) -> Figure | None:
        if item.figure is None:
            return None
        figure = self.figures.get(item.figure)
        if figure is None:
            text = f"there is no figure {item.figure}."
            problems.append(Problem(item.path, text, nearest_mend(item.figure, self.figures)))
        return figure

    def _item_chunks(
        self, item: Item, figure: Figure | None, pulse: int, last: bool, problems: list[Problem]
    ) -> Iterator[PlaysRun]:
        if figure is None:
            if item.kind == "rest":
                yield PlaysRun(None, (item.count or 0) * pulse, 1, item)
            else:
                tail = state_tail(item.groups, pulse)
                yield PlaysRun(tail, tail.length, 1, item)
            return
        whole = state_figure(figure, pulse)
        if item.kind == "first":
            count = item.count or 0
            if count > figure.pulses:
                text = f"{figure.name} has {figure.pulses} pulses, fewer than {count}."
                problems.append(Problem(item.path, text, f"Write a number from 1 to {figure.pulses}."))
                return
            first = shortened(whole, count * pulse, by_form=False)
            yield PlaysRun(first, first.sounding_length, 1, item)
            return
        if item.times is None:
            yield PlaysRun(whole, whole.length, None if last else 1, item)
            return
        pulses = item.times * figure.pulses
        if pulses.denominator != 1:
            problems.append(_uneven(item, figure, pulses))
            return
        times, left = divmod(int(pulses), figure.pulses)
        if times:
            yield PlaysRun(whole, whole.length, times, item)
        if left:
            first = shortened(whole, left * pulse, by_form=False)
            yield PlaysRun(first, first.sounding_length, 1, item)


def _nothing(item: Item) -> bool:
    """Whether an item would last no time at all."""
    if item.kind == "tail":
        return sum(item.groups) < 1 or min(item.groups) < 1
    if item.kind == "figure":
        return item.times is not None and item.times <= 0
    return (item.count or 0) < 1


def _uneven(item: Item, figure: Figure, pulses: Fraction) -> Problem:
    times = decimal_text(item.times or Fraction(0))
    whole = int(item.times or 0)
    left = int(pulses) - whole * figure.pulses
    text = f"{times} x {figure.pulses} is {decimal_text(pulses)}, which is not whole pulses."
    rows = f"{{figure: {figure.name}, times: {whole}}}, " if whole else ""
    mend = f"Write {rows}{{first: {left or 1}, of: {figure.name}}} for the nearest."
    return Problem(item.path, text, mend)


def decimal_text(value: Fraction) -> str:
    """A number as a musician writes it: `3.5`, else `10/3`.

    >>> decimal_text(Fraction(7, 2)), decimal_text(Fraction(10, 3)), decimal_text(Fraction(4))
    ('3.5', '10/3', '4')
    """
    if value.denominator in (2, 4, 5, 8, 10, 20):
        return f"{float(value):.3f}".rstrip("0")
    return str(value)


def state_figure(figure: Figure, pulse: int) -> Statement:
    """A whole statement of a figure, `pulse` ticks to its pulse."""
    return Statement(
        figure=figure.name,
        kind="whole",
        cut=False,
        pulse=pulse,
        length=figure.pulses * pulse,
        sounding_length=figure.pulses * pulse,
        groups=_groups(figure.groups, pulse),
        hits=tuple((hit - 1) * pulse for hit in figure.hits),
        accents=tuple((accent - 1) * pulse for accent in figure.accents),
    )


def state_tail(groups: Sequence[int], pulse: int) -> Statement:
    """A tail: each group begins with an accented hit."""
    rows = _groups(groups, pulse)
    starts = tuple(group.at for group in rows)
    length = sum(groups) * pulse
    return Statement(None, "tail", False, pulse, length, length, rows, starts, starts)


def _groups(groups: Sequence[int], pulse: int) -> tuple[Group, ...]:
    starts = accumulate(groups, initial=0)
    return tuple(
        Group(at * pulse, length * pulse, length * pulse) for at, length in zip(starts, groups, strict=False)
    )


def shortened(statement: Statement, played: int, by_form: bool) -> Statement:
    """A statement of which only `played` ticks sound: cut by the form, or its first pulses as written."""
    if played >= statement.sounding_length:
        return statement
    accents = tuple(accent for accent in statement.accents if accent < played)
    return statement._replace(
        kind="cut" if by_form else "first",
        cut=by_form,
        sounding_length=played,
        groups=tuple(
            Group(at, min(length, played - at), written)
            for at, length, written in statement.groups
            if at < played
        ),
        hits=tuple(hit for hit in statement.hits if hit < played),
        accents=accents,
        missed_accent_number=len(accents) + 1 if played in statement.accents else None,
    )
