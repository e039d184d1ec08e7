"""A reading as a spec's figures and plays lists, section by section."""

from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import count, groupby, pairwise
from string import ascii_uppercase
from typing import NamedTuple

import numpy as np

from renderer.core import limits
from renderer.core.names import counted
from renderer.listening.grouping import Heads, groups_of, heads_of, hits_text
from renderer.listening.reading import Reading
from renderer.listening.sections import ScoreSection
from renderer.listening.telling import Symbols

ONCE = "once-"
"""How the name of a figure begins that is played once."""
SPARSE = 2
"""Pulses from note to note, on average, where each note begins a group though the file marks none."""
ONCE_PULSES = 128
"""Pulses of a figure that is played once, at most; longer stretches are several."""


class Span(NamedTuple):
    """One statement, in pulses. `name` is a figure's, None for a tail of `groups`."""

    at: int
    end: int
    name: str | None
    length: int
    groups: tuple[int, ...] = ()

    @property
    def whole(self) -> bool:
        """Whether all of its figure is played."""
        return self.name is not None and self.end - self.at == self.length


@dataclass
class FigureBook:
    """The figures of a spec as they are met; `pulse` is written where the piece's is another."""

    pulse: Fraction | None
    marked: bool
    """Whether the file marks accents."""
    taken: Collection[str] = ()
    """Names of parts and sections, that no figure gets."""
    patterns: dict[bytes, str] = field(default_factory=dict)
    lines: list[str] = field(default_factory=list)
    groups: dict[str, tuple[int, ...]] = field(default_factory=dict)

    def add(self, pattern: Symbols, name: str, heads: Heads | None = None) -> str | None:
        """A figure's name, the one that it has already if it is known; None if there is no room for more. `heads` begin
        its groups, if not the likely ones."""
        known = self.patterns.get(pattern.tobytes())
        if known or len(self.patterns) >= limits.FIGURES:
            return known
        self.patterns[pattern.tobytes()] = name
        heads = heads or heads_of(pattern)
        self.groups[name] = groups_of(pattern, heads)
        self.lines.append(f"{name}: {self._text(pattern, name, heads)}")
        return name

    def letters(self) -> Iterator[str]:
        """Names of figures that come again: `figure A`, then on by the alphabet, then by numbers."""
        taken = {name.casefold() for name in self.taken}
        names = (f"figure {mark}" for marks in (ascii_uppercase, count(1)) for mark in marks)
        return (name for name in names if name.casefold() not in taken)

    def _text(self, pattern: Symbols, name: str, heads: Heads) -> str:
        groups = self.groups[name]
        origin = next((other for other in self.groups if is_variant(groups, self.groups[other])), None)
        alike = bool(np.all(pattern[pattern > 0] == 2)) and len(groups) <= limits.FIGURE_GROUPS
        if alike and (self.marked or sum(groups) >= SPARSE * len(groups)):
            what, value, more = "groups", f"[{', '.join(map(str, groups))}]", []
        elif heads == "notes":
            accents = ", ".join(str(place + 1) for place in np.flatnonzero(pattern == 2))
            what, value, more = "groups", f"[{', '.join(map(str, groups))}]", [f"accents: [{accents}]"]
        else:
            what, value, more = "hits", hits_text(pattern, self.marked), []
        more += [f"from: {origin}"] if origin and not name.startswith(ONCE) else []
        more += [f"pulse: {self.pulse}"] if self.pulse else []
        return f"{{{what}: {value}, {', '.join(more)}}}" if more else value


def is_variant(groups: Sequence[int], origin: Sequence[int]) -> bool:
    """Whether one group was taken out, put in, or made longer or shorter.

    >>> is_variant((3, 3, 2), (5, 3, 3)), is_variant((5, 3), (5, 3, 3)), is_variant((5, 3, 2), (5, 3, 3))
    (False, True, True)
    """
    if tuple(groups) == tuple(origin) or len(origin) < 2:
        return False
    shorter, longer = sorted((tuple(groups), tuple(origin)), key=len)
    if len(shorter) == len(longer):
        return sum(a != b for a, b in zip(shorter, longer, strict=True)) == 1
    return any(longer[:index] + longer[index + 1 :] == shorter for index in range(len(longer)))


def spans_of(reading: Reading, book: FigureBook) -> tuple[list[Span], list[int]]:
    """What is played, in order, and where notes are left out for want of room."""
    names = [
        book.add(figure, name, None if index else reading.heads) or name
        for index, (figure, name) in enumerate(zip(reading.figures, book.letters(), strict=False))
    ]
    found: list[Span] = []
    left_out: list[int] = []
    for kind, at, end, figure in reading.statements:
        if figure is not None:
            found.append(Span(at, end, names[figure], len(reading.figures[figure])))
        elif kind == "tail":
            for span in _alone(reading.laid.symbols, at, end, book):
                if span:
                    found.append(span)
                else:
                    left_out.append(at)
    return found, left_out


def _alone(symbols: Symbols, at: int, end: int, book: FigureBook) -> Iterator[Span | None]:
    """Notes told one by one: tails where all are accented, else figures that are played once."""
    hits = [at + int(hit) for hit in np.flatnonzero(symbols[at:end])]
    first = 0
    while first < len(hits):
        after = first + 1
        while (
            after < len(hits)
            and after - first < limits.FIGURE_GROUPS
            and hits[after] - hits[first] < ONCE_PULSES
        ):
            after += 1
        stop = min(hits[after] if after < len(hits) else end, hits[first] + limits.FIGURE_PULSES)
        pattern = symbols[hits[first] : stop]
        if np.all(pattern[pattern > 0] == 2):
            groups = tuple(b - a for a, b in pairwise([*hits[first:after], stop]))
            yield Span(hits[first], stop, None, stop - hits[first], groups)
        else:
            name = book.add(pattern, f"{ONCE}{len(book.patterns) + 1}")
            yield Span(hits[first], stop, name, len(pattern)) if name else None
        first = after


class PlaysWriter:
    """Plays lists of spans. What runs goes on over a section's line where nothing else begins there."""

    def __init__(
        self,
        spans: Sequence[Span],
        lines: Sequence[int],
        end: int,
        pulse: Fraction | None,
        book: FigureBook,
        upbeat: Callable[[int], str | None],
    ) -> None:
        self._spans = spans
        self._lines = lines
        """Where sections begin, in pulses."""
        self._end = end
        self._pulse = pulse
        """What tails and rests say that they count in, where the piece counts in another."""
        self._book = book
        self._upbeat = upbeat
        """How a pulse before the first section is written."""

    def sections(self) -> dict[int, list[str]]:
        """The lines of each section that plays anything: `plays`, and `starts` where it is needed."""
        modes = [self._mode(index) for index in range(len(self._lines))]
        found: dict[int, list[str]] = {}
        for index, mode in enumerate(modes):
            if mode == "on":
                found[index] = ["plays: on"]
            elif mode != "silent":
                after = index + 1
                while after < len(modes) and modes[after] == "on":
                    after += 1
                follows = modes[after] if after < len(modes) else "end"
                found[index] = self._list(index, after, mode, follows)
        return found

    def _line(self, index: int) -> int:
        return self._lines[index] if index < len(self._lines) else self._end

    def _own(self, first: int, after: int) -> list[Span]:
        start = self._line(first) if first else 0
        return [span for span in self._spans if start <= span.at < self._line(after)]

    def _running(self, line: int) -> Span | None:
        """What runs over a line, or up to it."""
        return next((span for span in reversed(self._spans) if span.at < line <= span.end), None)

    def _mode(self, index: int) -> str:
        """`on`, `after` what runs, at the `downbeat`, or `silent`."""
        line = self._line(index)
        own, before = self._own(index, index + 1), self._running(line) if index else None
        crossing = before is not None and before.end > line
        if not own:
            return "on" if crossing else "silent"
        if before is not None and before.whole and before.end == own[0].at and _goes_on(before, own):
            return "on"
        return "after" if crossing else "downbeat"

    def _list(self, first: int, after: int, mode: str, follows: str) -> list[str]:
        own = self._own(first, after)
        line = self._line(first)
        before = self._running(line) if first else None
        start = before.end if mode == "after" and before else line
        upbeat = self._upbeat(own[0].at) if own[0].at < line else None
        if upbeat:
            start, mode = own[0].at, upbeat
        items = self._items(own, start, self._line(after), follows)
        lines = [f"plays: {items[0]}"] if len(items) == 1 else _wrapped(items)
        return lines if mode == "downbeat" else [*lines, f"starts: {mode}"]

    def _items(self, own: Sequence[Span], start: int, line: int, follows: str) -> list[str]:
        ends_open = own[-1].name is not None and (
            (own[-1].end == line and follows != "after") or (own[-1].end > line and own[-1].whole)
        )
        rows = [
            (key, [*group])
            for key, group in groupby(
                own, key=lambda span: (span.name, span.whole, span.at if not span.whole else 0)
            )
        ]
        items: list[str] = []
        at = start
        for index, ((name, whole, _), group) in enumerate(rows):
            items += self._rest(group[0].at - at)
            at = group[-1].end
            rest_is_same = all(other[0] == name for other, _ in rows[index:])
            unbroken = all(
                a.end == b.at for a, b in pairwise([span for _, each in rows[index:] for span in each])
            )
            if ends_open and whole and rest_is_same and unbroken and len(rows) - index <= 2:
                return [*items, str(name)]
            last = index == len(rows) - 1
            if whole:
                items += self._several(str(name), group, last)
            elif ends_open and last:
                items.append(str(name))
            else:
                items.append(self._part(group[0]))
        return items

    def _several(self, name: str, group: Sequence[Span], last: bool) -> Iterator[str]:
        """Whole repetitions on end, or with rests between."""
        count = 1
        for span, after in pairwise(group):
            if span.end == after.at:
                count += 1
                continue
            yield _times(name, count, last=False)
            yield from self._rest(after.at - span.end)
            count = 1
        yield _times(name, count, last)

    def _rest(self, pulses: int) -> list[str]:
        most = limits.TIMES
        found = []
        while pulses > 0:
            found.append(f"{{rest: {min(pulses, most)}{self._counted_in()}}}")
            pulses -= most
        return found

    def _part(self, span: Span) -> str:
        if span.name is None:
            groups = str(span.groups[0]) if len(span.groups) == 1 else f"[{', '.join(map(str, span.groups))}]"
            return f"{{tail: {groups}{self._counted_in()}}}"
        played = span.end - span.at
        sums = np.cumsum(self._book.groups[span.name])
        count = int(np.searchsorted(sums, played)) + 1
        by_groups = self._book.marked and played in sums
        return f"{{first: {counted(count, 'group') if by_groups else played}, of: {span.name}}}"

    def _counted_in(self) -> str:
        return f", pulse: {self._pulse}" if self._pulse else ""


def _goes_on(before: Span, own: Sequence[Span]) -> bool:
    """Whether a section plays nothing but more of what runs."""
    unbroken = all(a.end == b.at for a, b in pairwise(own))
    same = all(span.name == before.name for span in own)
    return same and unbroken and all(span.whole for span in own[:-1])


def _times(name: str, count: int, last: bool) -> str:
    return name if count == 1 and not last else f"{{figure: {name}, times: {count}}}"


def _wrapped(items: Sequence[str]) -> list[str]:
    text = f"plays: [{', '.join(items)}]"
    if len(text) <= 100:
        return [text]
    return ["plays:", *(f"  - {item}" for item in items)]


def section_lines(sections: Sequence[ScoreSection], start: int, step: int) -> list[int]:
    """Where sections begin, in pulses."""
    return [(section.at - start) // step for section in sections]
