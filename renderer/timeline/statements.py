"""What plays lists say, as rows of like statements in ticks; where they come to stand is settled in `voices`."""

from bisect import bisect_right
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import accumulate
from typing import NamedTuple

from renderer.core.errors import Problem
from renderer.core.names import counted, listed
from renderer.spec.model import Item
from renderer.timeline.model import Figure, Group, Statement


class PlaysRow(NamedTuple):
    """A row of like statements in a plays list; None for silence. `times` is None for over and over."""

    statement: Statement | None
    length: int
    times: int | None
    item: Item
    """The plays list's item that it comes from."""


class StatementCompiler:
    """The piece's figures, and the statements that plays lists make of them; `grid` ticks to a whole note."""

    def __init__(self, figures: Mapping[str, Figure], grid: int, pulse: Fraction | None) -> None:
        self._figures = figures
        self._grid = grid
        self._pulse = pulse
        self._lists: dict[int, tuple[Sequence[Item], tuple[PlaysRow, ...]]] = {}
        """What was made of each list, by its identity: passes of one section share their statements."""

    def compile(self, items: Sequence[Item], problems: list[Problem]) -> tuple[PlaysRow, ...]:
        """A plays list in ticks, the same objects each time. What is wrong with it goes to `problems`, once."""
        made = self._lists.get(id(items))
        if made is None:
            rows: list[PlaysRow] = []
            pulse = self._pulse
            for item in items:
                figure = self._figures[item.figure] if item.figure is not None else None
                pulse = item.pulse or (figure.pulse if figure else pulse)
                if pulse is None:
                    text = f"this {item.kind} follows nothing whose pulse it could count in."
                    problems.append(Problem(item.path, text, "Add its pulse, such as pulse: 1/16."))
                else:
                    rows += self._rows(item, figure, int(pulse * self._grid), item is items[-1], problems)
            made = self._lists[id(items)] = items, tuple(rows)
        return made[1]

    def _rows(
        self, item: Item, figure: Figure | None, pulse: int, last: bool, problems: list[Problem]
    ) -> Iterator[PlaysRow]:
        """What one item comes to, counted in `pulse` ticks."""
        if figure is None:
            tail = state_tail(item.groups, pulse) if item.kind == "tail" else None
            yield PlaysRow(tail, tail.length if tail else (item.count or 0) * pulse, 1, item)
            return
        whole = state_figure(figure, pulse)
        if item.kind == "figure" and item.times is None:
            yield PlaysRow(whole, whole.length, None if last else 1, item)
            return
        if item.kind == "first":
            groups = item.counts_groups
            there, unit = (len(figure.groups), "group") if groups else (figure.pulses, "pulse")
            count = item.count or 0
            if count > there:
                text = f"{figure.name} has {there} {unit}{'s' if there > 1 else ''}, fewer than {count}."
                mend = f"Write a number from 1 to {there}." if there > 1 else "Write 1."
                problems.append(Problem(item.path, text, mend))
                return
            pulses = Fraction(sum(figure.groups[:count]) if groups else count)
        else:
            pulses = (item.times or Fraction(1)) * figure.pulses
        if pulses.denominator != 1:
            problems.append(_uneven(item, figure, pulses))
        else:
            times, left = divmod(int(pulses), figure.pulses)
            if times:
                yield PlaysRow(whole, whole.length, times, item)
            if left:
                first = shortened(whole, left * pulse, by_form=False)
                yield PlaysRow(first, first.sounding_length, 1, item)


def _uneven(item: Item, figure: Figure, pulses: Fraction) -> Problem:
    """What is wrong with a fraction of a figure, and the nearest there are: by groups, as musicians halve, then by
    pulses."""
    times = decimal_text(item.times or Fraction(0))
    whole = int(item.times or 0)
    left = pulses - whole * figure.pulses
    text = f"{times} x {figure.pulses} is {decimal_text(pulses)}, which is not whole pulses."
    sums = list(accumulate(figure.groups))
    before = bisect_right(sums, left)
    by_groups = {
        sums[count - 1]: counted(count, "group") for count in (before, before + 1) if 0 < count < len(sums)
    }
    by_pulses = {count: str(count) for count in (int(left), int(left) + 1) if 0 < count < figure.pulses}
    choices = [
        f"{{first: {said}, of: {figure.name}}} ({counted(length, 'pulse')})"
        for length, said in by_groups.items()
    ]
    choices += [
        f"{{first: {said}, of: {figure.name}}}"
        for length, said in by_pulses.items()
        if length not in by_groups
    ]
    rows = f"{{figure: {figure.name}, times: {whole}}}, then " if whole else ""
    return Problem(item.path, text, f"Write {rows}{listed(choices)}.")


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
