"""The figures of a part: candidates are tried one by one, and whichever makes the telling shortest is kept."""

from collections.abc import Collection, Sequence
from itertools import combinations, pairwise, product

from renderer.listening.repetitions import Candidate, candidates, rotations
from renderer.listening.telling import Bits, Row, Symbols, Telling, tell, telling_bits

FIGURES = 8
TRIED = 12
"""Candidates for what is not yet explained, that are tried in each round."""
ALWAYS = 8
"""Candidates for the whole part, that are tried in each round."""
ROTATIONS = 24
PAIRED = 8
"""Of the beginnings of each of two figures that are turned together."""
PAIRS_PULSES = 8_000
"""Of a part in which that is tried."""
SHORT = 32
"""Pulses of a figure that is looked for first, where a longer one was found."""
LEAST = 1e-6
"""Bits by which a telling is shorter, at least."""


def find_figures(row: Row, periods: Collection[int] | None = None) -> tuple[list[Symbols], Telling]:
    """The figures with which a row is told in the fewest bits; only of these lengths, if they are given."""
    figures, best = _improved(row, [], tell(row, []), periods)
    if any(len(figure) > SHORT for figure in figures):
        # What was taken for one long figure may be two short ones in turn: begin once more with short ones alone.
        short = [period for period in periods or range(2, SHORT + 1) if period <= SHORT]
        others, told = _improved(row, *_improved(row, [], tell(row, []), short), periods)
        if told.bits < best.bits - LEAST:
            figures, best = others, told
    return _by_use(row, figures, best)


def _improved(
    row: Row, figures: list[Symbols], best: Telling, periods: Collection[int] | None
) -> tuple[list[Symbols], Telling]:
    """The figures, changed one by one as long as the telling gets shorter."""
    always = candidates(row.symbols, row.alone, row.lines, periods, ALWAYS)
    while True:
        bits = _unexplained(row, best)
        now = candidates(row.symbols, bits, row.lines, periods, TRIED) if figures else []
        found = _best_change(row, figures, best, [*now, *always])
        if found is None:
            found = _turned_in_pairs(row, figures, best)
        if found is None:
            return figures, best
        figures, best = _turned(row, *found)
        figures, best = _without_needless(row, figures, best)


def _best_change(
    row: Row, figures: list[Symbols], best: Telling, offered: Sequence[Candidate]
) -> tuple[list[Symbols], Telling] | None:
    """The one figure more, or in place of another, that makes the telling shortest; None if nothing does."""
    chosen, least = None, best.bits
    tried: set[bytes] = {figure.tobytes() for figure in figures}
    for candidate in offered:
        for pattern in candidate.patterns():
            if pattern.tobytes() in tried:
                continue
            tried.add(pattern.tobytes())
            changed = [[*figures, pattern]] if len(figures) < FIGURES else []
            changed += [[*figures[:index], pattern, *figures[index + 1 :]] for index in range(len(figures))]
            for other in changed:
                bits = telling_bits(row, other)
                if bits < least - LEAST:
                    chosen, least = other, bits
    return (chosen, tell(row, chosen)) if chosen else None


def _unexplained(row: Row, telling: Telling) -> Bits:
    """The bits of notes that are told one by one, or in scraps: figures that do not run on."""
    bits = row.alone.copy()
    for before, each in pairwise(telling.statements):
        if (
            each.figure is not None
            and each.figure == before.figure
            and each.end - each.at == before.end - before.at
        ):
            whole = telling.lengths[each.figure] == each.end - each.at
            bits[before.at : each.end] *= 0.0 if whole else 1.0
    return bits


def _turned(row: Row, figures: list[Symbols], best: Telling) -> tuple[list[Symbols], Telling]:
    """Each figure from the note that makes the telling shortest."""
    for index in range(len(figures)):
        for turned in [*rotations(figures[index])][1:ROTATIONS]:
            other = [*figures[:index], turned, *figures[index + 1 :]]
            if telling_bits(row, other) < best.bits - LEAST:
                figures, best = other, tell(row, other)
    return figures, best


def _turned_in_pairs(row: Row, figures: list[Symbols], best: Telling) -> tuple[list[Symbols], Telling] | None:
    """Two figures at once from other notes; None if that is no shorter. Only where the part is short enough."""
    if len(row.symbols) > PAIRS_PULSES:
        return None
    for (first, one), (second, other) in combinations(enumerate(figures), 2):
        turns = product([*rotations(one)][:PAIRED], [*rotations(other)][:PAIRED])
        for turned in turns:
            changed = [*figures]
            changed[first], changed[second] = turned
            if telling_bits(row, changed) < best.bits - LEAST:
                return changed, tell(row, changed)
    return None


def _without_needless(row: Row, figures: list[Symbols], best: Telling) -> tuple[list[Symbols], Telling]:
    for index in reversed(range(len(figures))):
        fewer = [*figures[:index], *figures[index + 1 :]]
        if telling_bits(row, fewer) <= best.bits:
            figures, best = fewer, tell(row, fewer)
    return figures, best


def _by_use(row: Row, figures: list[Symbols], best: Telling) -> tuple[list[Symbols], Telling]:
    """The figure that is heard longest first."""
    used = [sum(s.end - s.at for s in best.statements if s.figure == index) for index in range(len(figures))]
    order = sorted(range(len(figures)), key=lambda index: -used[index])
    renamed = {old: new for new, old in enumerate(order)}
    statements = tuple(
        each if each.figure is None else each._replace(figure=renamed[each.figure])
        for each in best.statements
    )
    figures = [figures[index] for index in order]
    return figures, Telling(best.bits, statements, tuple(map(len, figures)))
