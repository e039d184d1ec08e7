"""The cheapest telling of a part, in bits, out of given figures: a shortest path from its first pulse to its last.

A part is a row of pulses, each a rest, a note or an accented note. It is told as figures that run on, as silence, or
note by note. Running on is free, and so is being cut where a section begins; all else costs bits, so that the shortest
telling is the most regular one (minimum description length: Rissanen 1978, from memory; the search is Viterbi's).
"""

from collections.abc import Callable, Sequence
from itertools import pairwise
from math import log2
from typing import Any, Literal, NamedTuple, TypeVar, cast

import numpy as np
from numba import njit
from numpy.typing import NDArray

Symbols = NDArray[np.uint8]
"""0 a rest, 1 a note, 2 an accented note."""
Bits = NDArray[np.float64]
Function = TypeVar("Function", bound=Callable[..., Any])

START = 3.0
"""Bits to begin a figure, other than by running on."""
COUNT = 3.0
"""To say how often a figure is played before something else comes."""
AFTER = 1.0
"""To let what runs over a section's line come to its end before something else comes."""
REST = 3.0
"""To say that nothing is played for a while."""
TAIL = 6.0
"""To begin telling notes one by one."""
WRONG = 16.0
"""A pulse that is not as the figure has it."""
WRONG_IN_NOISE = 5.0
FIGURE = 6.0
"""To name a figure, besides its notes."""

FIGURE_END, FRACTION_END, SILENCE_END, TAIL_END = 1, 2, 3, 4
"""How a statement's end was reached."""


class Statement(NamedTuple):
    """A stretch of the telling, in pulses; `figure` is an index, None for silence and for notes told one by one."""

    kind: Literal["figure", "silence", "tail"]
    at: int
    end: int
    figure: int | None = None


class Telling(NamedTuple):
    """Statements from the first pulse to the last, and what they cost, their figures included."""

    bits: float
    statements: tuple[Statement, ...]
    lengths: tuple[int, ...]
    """Of its figures."""


class Row(NamedTuple):
    """A part to be told."""

    symbols: Symbols
    alone: Bits
    """What each pulse costs when it is told by itself."""
    lines: NDArray[np.bool_]
    """Where sections begin; one longer than the pulses."""
    wrong: float = WRONG


def compiled(function: Function) -> Function:
    """Compiled once for an install where that can be kept, else once a process."""
    try:
        return cast(Function, njit(cache=True)(function))
    except RuntimeError:  # neither the install nor a home can be written
        return cast(Function, njit(function))


def figure_bits(pattern: Symbols) -> float:
    """What a figure costs to be named once: each note and the way to the next one."""
    hits = [place for place, symbol in enumerate(pattern.tolist()) if symbol]
    return FIGURE + sum(2 + log2(after - before + 1) for before, after in pairwise([*hits, len(pattern)]))


def alone_bits(symbols: Symbols) -> Bits:
    """What each pulse costs when notes are told one by one: the way to the next note; rests come with it."""
    bits = np.zeros(len(symbols))
    hits = np.flatnonzero(symbols)
    gaps = np.minimum(np.diff(np.append(hits, len(symbols))), 64)
    bits[hits] = 3 + np.log2(gaps + 1)
    return bits


def telling_bits(row: Row, figures: Sequence[Symbols]) -> float:
    """What the cheapest telling of a row with these figures costs, with their names."""
    return float(_searched(row, figures)[0]) + sum(map(figure_bits, figures))


def tell(row: Row, figures: Sequence[Symbols]) -> Telling:
    """The cheapest telling of a row with these figures."""
    bits, ways, owners, spans, running, silent, told = _searched(row, figures)
    lengths = tuple(map(len, figures))
    statements = _walk_back(len(row.symbols), ways, owners, spans, running, silent, told, lengths)
    return Telling(float(bits) + sum(map(figure_bits, figures)), statements, lengths)


def _searched(row: Row, figures: Sequence[Symbols]) -> tuple[Any, ...]:
    patterns = np.concatenate([*figures, np.zeros(0, np.uint8)]).astype(np.uint8)
    lengths = np.array([len(figure) for figure in figures], np.int64)
    start = START + log2(max(1, len(figures)))
    return cast(
        "tuple[Any, ...]", _search(row.symbols, row.alone, row.lines, patterns, lengths, row.wrong, start)
    )


def _walk_back(
    end: int, ways: Any, owners: Any, spans: Any, running: Any, silent: Any, told: Any, lengths: Sequence[int]
) -> tuple[Statement, ...]:
    """The statements of the cheapest path, from the last one."""
    found: list[Statement] = []
    at = end
    while at > 0:
        way = ways[at]
        if way in (FIGURE_END, FRACTION_END):
            figure, span = int(owners[at]), int(spans[at])
            found.append(Statement("figure", at - span, at, figure))
            at -= span
            while running[at, figure]:
                at -= int(lengths[figure])
                found.append(Statement("figure", at, at + int(lengths[figure]), figure))
            continue
        fresh = silent if way == SILENCE_END else told
        first = at - 1
        while not fresh[first]:
            first -= 1
        found.append(Statement("silence" if way == SILENCE_END else "tail", first, at))
        at = first
    return tuple(reversed(found))


@compiled
def _search(
    symbols: Symbols,
    alone: Bits,
    lines: NDArray[np.bool_],
    patterns: Symbols,
    lengths: NDArray[np.int64],
    wrong: float,
    start: float,
) -> tuple[float, Any, Any, Any, Any, Any, Any]:
    """Costs and ways back, pulse by pulse. `ended` is the cost of having ended a statement at a pulse; `whole[f]` that
    of having ended figure f whole, so that it may run on; `inside` that of being so many pulses into each figure."""
    count, figures = len(symbols), len(lengths)
    far = 1e18
    offsets = np.zeros(figures + 1, np.int64)
    for f in range(figures):
        offsets[f + 1] = offsets[f] + lengths[f]
    inside = np.full(offsets[figures] + 1, far)
    whole = np.full(figures, far)
    ways = np.zeros(count + 1, np.uint8)
    owners = np.zeros(count + 1, np.int16)
    spans = np.zeros(count + 1, np.int16)
    running = np.zeros((count + 1, max(1, figures)), np.bool_)
    silent = np.zeros(count, np.bool_)
    told = np.zeros(count, np.bool_)
    silence, tail = far, far
    ended, last_line = 0.0, 0
    for at in range(count):
        symbol = symbols[at]
        # What begins here, or goes on.
        if symbol == 0:
            if ended + REST < silence:
                silence, silent[at] = ended + REST, True
        else:
            silence = far
            if ended + TAIL < tail:
                tail, told[at] = ended + TAIL, True
        tail += alone[at]
        for f in range(figures):
            first, after = offsets[f], offsets[f + 1]
            begun = ended + start
            if whole[f] <= begun:
                begun, running[at, f] = whole[f], True
            for place in range(after - 1, first, -1):
                cost = inside[place - 1]
                if patterns[place] != symbol:
                    cost += wrong
                inside[place] = cost
            inside[first] = begun + (wrong if patterns[first] != symbol else 0.0)
        # What may end after this pulse.
        best, way, owner, span = silence, 3, 0, 0
        if tail < best:
            best, way = tail, 4
        line = lines[at + 1]
        if lines[at]:
            last_line = at
        for f in range(figures):
            first, after = offsets[f], offsets[f + 1]
            length = after - first
            whole[f] = inside[after - 1]
            cost = whole[f] + (0.0 if line else AFTER if last_line > at + 1 - length else COUNT)
            if cost < best:
                best, way, owner, span = cost, 1, f, length
            part = 0.0 if line else COUNT + np.log2(length)
            for place in range(first, after - 1):
                if inside[place] + part < best:
                    best, way, owner, span = inside[place] + part, 2, f, place - first + 1
        ended = best
        ways[at + 1], owners[at + 1], spans[at + 1] = way, owner, span
    return ended, ways, owners, spans, running, silent, told
