"""A part's figures as a reading: what is claimed, how sure it is, what else would do.

A rhythm that keeps in step with the bar is told by how often each place of the bar sounds, so a figure that crosses
the bar must be cheaper than the best telling in step, and three whole repetitions on end must begin in two places or
more of the bar. Otherwise what comes again is an ostinato, or nothing.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from renderer.core import limits
from renderer.listening.finder import find_figures
from renderer.listening.grouping import Heads
from renderer.listening.pulses import LaidPart
from renderer.listening.repetitions import candidates, rotations
from renderer.listening.score import Score
from renderer.listening.sections import ScoreSection
from renderer.listening.telling import (
    WRONG,
    WRONG_IN_NOISE,
    Bits,
    Row,
    Statement,
    Symbols,
    Telling,
    alone_bits,
    telling_bits,
)

Places = NDArray[np.int64]
"""How far into its bar each pulse is."""

WHOLE_ON_END = 3
"""Repetitions that make a figure."""
CLEAR = 10.0
"""Bits by which a figure must be shorter than the best telling in step."""
OSTINATO = 0.75
"""The share of the notes that an ostinato plays, or several in turn, at least."""
SHORTER = 0.3
"""How long the telling is with it, at most, beside one note by note."""
BARS_ON_END = 5
"""Repetitions of an ostinato of several bars: tunes repeat those too."""
CLOSE = 6.0
"""Bits within which another reading is as good."""
LEAST_NOTES = 9
STEP_BARS = 8
"""Bars of the longest figure that is in step."""


@dataclass(frozen=True)
class Reading:
    """How a part is told."""

    kind: Literal["figure", "ostinato", "none"]
    laid: LaidPart
    figures: tuple[Symbols, ...]
    statements: tuple[Statement, ...]
    saved: float
    """Bits by which it is shorter than what would be said without it."""
    others: tuple[Symbols, ...] = ()
    """The first figure from other notes, where that is as short."""
    heads: Heads | None = None
    """What begins the first figure's groups, if not what likely does."""


def row_of(laid: LaidPart, sections: Sequence[ScoreSection]) -> Row:
    """A laid part, to be told."""
    lines = np.zeros(len(laid.symbols) + 1, np.bool_)
    for section in sections:
        lines[(section.at - laid.start) // laid.step] = True
    lines[0] = lines[-1] = True
    return Row(laid.symbols, alone_bits(laid.symbols), lines, WRONG if laid.exact else WRONG_IN_NOISE)


def read_part(score: Score, sections: Sequence[ScoreSection], laid: LaidPart) -> Reading:
    """What a part plays again and again."""
    nothing = Reading("none", laid, (), (), 0.0)
    if np.count_nonzero(laid.symbols) < LEAST_NOTES:
        return nothing
    row = row_of(laid, sections)
    figures, told = find_figures(row)
    places = bar_places(score, laid)
    bars = in_bars(score, laid)
    crossing = [
        index
        for index, figure in enumerate(figures)
        if crosses(told, index, len(figure), places) and not are_even_notes(figure, bars)
    ]
    if crossing:
        saved = _saved(row, figures, crossing, score, laid, places)
        if saved > CLEAR:
            return _led_by(Reading("figure", laid, tuple(figures), told.statements, saved), crossing[0], row)
    bar = max(bars)
    steps = [index for index in range(len(figures)) if _is_ostinato(told, index, figures[index], bar)]
    alone = telling_bits(row, [])
    if steps and _played(row, told, steps) >= OSTINATO and told.bits <= SHORTER * alone:
        return _led_by(
            Reading("ostinato", laid, tuple(figures), told.statements, alone - told.bits), steps[0], row
        )
    return nothing


def screen(score: Score, laid: LaidPart) -> float:
    """How promising a part is, in bits of repetitions that are out of step."""
    row = row_of(laid, ())
    steps = in_step(score, laid)
    found = candidates(row.symbols, row.alone, row.lines)
    return max((each.saving for each in found if len(min(each.beginnings)) not in steps), default=0.0)


def bar_places(score: Score, laid: LaidPart) -> Places:
    """For each pulse, how far into its bar it is."""
    places = np.zeros(len(laid.symbols), np.int64)
    for bar in score.bars:
        first, after = (bar.at - laid.start) // laid.step, (bar.end - laid.start) // laid.step
        full = int(bar.meter.length * score.grid) // laid.step
        places[first:after] = np.arange(full - (after - first), full)
    return places


def in_bars(score: Score, laid: LaidPart) -> set[int]:
    """The lengths of the bars, in pulses."""
    return {int(bar.meter.length * score.grid) // laid.step for bar in score.bars}


def in_step(score: Score, laid: LaidPart) -> set[int]:
    """The lengths in pulses that divide a bar, or are some bars long."""
    lengths = in_bars(score, laid)
    parts = {part for length in lengths for part in range(1, length + 1) if length % part == 0}
    return parts | {length * bars for length in lengths for bars in range(1, STEP_BARS + 1)}


def crosses(told: Telling, figure: int, length: int, places: Places) -> bool:
    """Whether three whole repetitions on end, anywhere, begin in two or more places of the bar."""
    for _, group in groupby(
        told.statements, key=lambda each: each.figure == figure and each.end - each.at == length
    ):
        stretch = list(group)
        whole = stretch[0].figure == figure and stretch[0].end - stretch[0].at == length
        if whole and len(stretch) >= WHOLE_ON_END:
            begun = [int(places[each.at]) for each in stretch]
            if any(len({*begun[i : i + WHOLE_ON_END]}) > 1 for i in range(len(begun) - WHOLE_ON_END + 1)):
                return True
    return False


def longest_run(statements: Sequence[Statement], figure: int, length: int) -> int:
    """Whole repetitions of a figure on end, at most."""
    runs = groupby(statements, key=lambda each: each.figure == figure and each.end - each.at == length)
    return max((len([*group]) for whole, group in runs if whole), default=0)


def place_bits(symbols: Symbols, places: Places) -> Bits:
    """What each pulse costs, by how often its place in the bar sounds so."""
    bits = np.zeros(len(symbols))
    for place in np.unique(places):
        here = np.flatnonzero(places == place)
        counts = np.bincount(symbols[here], minlength=3) + 0.5
        bits[here] = -np.log2(counts / counts.sum())[symbols[here]]
    return bits


def _saved(
    row: Row,
    figures: Sequence[Symbols],
    crossing: Collection[int],
    score: Score,
    laid: LaidPart,
    places: Places,
) -> float:
    """Bits by which the figures are shorter than the best telling in step, where places of the bar have their price."""
    priced = row._replace(alone=place_bits(row.symbols, places))
    steps = in_step(score, laid)
    _, stepping = find_figures(priced, steps)
    kept = [figures[index] for index in crossing]
    more = [figure for index, figure in enumerate(figures) if index not in crossing]
    return stepping.bits - min(telling_bits(priced, kept), telling_bits(priced, [*kept, *more]))


def are_even_notes(figure: Symbols, bars: Collection[int]) -> bool:
    """Whether a figure is one note that comes so often in every bar; spoilt tunes are full of those."""
    return np.count_nonzero(figure) == 1 and all(bar % len(figure) == 0 for bar in bars)


def _is_ostinato(told: Telling, index: int, figure: Symbols, bar: int) -> bool:
    """Whether a figure keeps in step with the bar, comes often enough on end, and is more than even notes."""
    hits = np.flatnonzero(figure)
    gaps = {*np.diff(np.append(hits, len(figure))).tolist()}
    uneven = len(gaps) > 1 or len({*figure[hits].tolist()}) > 1
    on_end = longest_run(told.statements, index, len(figure))
    fits = bar % len(figure) == 0 or (len(figure) % bar == 0 and on_end >= BARS_ON_END)
    return uneven and fits and on_end >= WHOLE_ON_END


def _played(row: Row, told: Telling, which: Collection[int]) -> float:
    """The share of a part's notes that figures play."""
    own = [each for each in told.statements if each.figure in which]
    notes = sum(int(np.count_nonzero(row.symbols[each.at : each.end])) for each in own)
    return notes / int(np.count_nonzero(row.symbols))


def _led_by(reading: Reading, index: int, row: Row) -> Reading:
    """The reading with its main figure first, and that figure's other beginnings that are as short."""
    order = [index, *(each for each in range(len(reading.figures)) if each != index)]
    figures = [reading.figures[each] for each in order]
    statements = tuple(
        each if each.figure is None else each._replace(figure=order.index(each.figure))
        for each in reading.statements
    )
    least = telling_bits(row, figures)
    others = tuple(
        turned
        for turned in [*rotations(figures[0])][1 : limits.FIGURE_GROUPS]
        if telling_bits(row, [turned, *figures[1:]]) <= least + CLOSE
    )
    return Reading(reading.kind, reading.laid, tuple(figures), statements, reading.saved, others)
