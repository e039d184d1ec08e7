"""The figures of a part: candidates are tried one by one, and whichever makes the telling shortest is kept."""

from collections.abc import Collection, Iterator, Sequence
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
SHORT = 32
"""Pulses of a figure that is looked for first, where a longer one was found."""
LEAST = 1e-6
"""Bits by which a telling is shorter, at least."""
WORK = 500_000_000
"""Pulses of a part times pulses of figures that are gone through, at most: a second or two. Then what was found is
kept."""

Found = tuple[list[Symbols], Telling]


def find_figures(row: Row, periods: Collection[int] | None = None) -> Found:
    """The figures with which a row is told in the fewest bits; only of these lengths, if they are given."""
    search = _Search(row)
    figures, best = search.improved([], periods)
    if any(len(figure) > SHORT for figure in figures) and search.left > 0:
        # What was taken for one long figure may be two short ones in turn: begin once more with short ones alone.
        search = _Search(row)
        short = [period for period in periods or range(2, SHORT + 1) if period <= SHORT]
        others, told = search.improved(search.improved([], short)[0], periods)
        if told.bits < best.bits - LEAST:
            figures, best = others, told
    return _by_use(figures, best)


class _Search:
    """A walk to shorter tellings, step by step, until none is shorter or the work is done."""

    def __init__(self, row: Row) -> None:
        self._row = row
        self.left = WORK

    def _bits(self, figures: Sequence[Symbols]) -> float:
        """What a telling with these figures costs; without end once the work is done."""
        self.left -= len(self._row.symbols) * (10 + sum(map(len, figures)))
        return telling_bits(self._row, figures) if self.left > 0 else float("inf")

    def improved(self, figures: list[Symbols], periods: Collection[int] | None) -> Found:
        """The figures, changed one by one as long as the telling gets shorter."""
        row = self._row
        best = tell(row, figures)
        always = candidates(row.symbols, row.alone, row.lines, periods, ALWAYS)
        while True:
            bits = _unexplained(row, best)
            now = candidates(row.symbols, bits, row.lines, periods, TRIED) if figures else []
            patterns = [*_patterns([*now, *always], figures)]
            found = (
                self._shortest(([*figures, new] for new in patterns if len(figures) < FIGURES), best)
                or self._shortest((other for new in patterns for other in _replaced(figures, new)), best)
                or self._shortest(_turned_in_pairs(figures), best)
            )
            if found is None:
                return figures, best
            figures, best = self._without_needless(*self._turned(*found))

    def _shortest(self, tried: Iterator[list[Symbols]], best: Telling) -> Found | None:
        """The figures that make the telling shortest; None if it is no shorter with any."""
        chosen, least = None, best.bits
        for figures in tried:
            bits = self._bits(figures)
            if bits < least - LEAST:
                chosen, least = figures, bits
            if self.left <= 0:
                break
        return (chosen, tell(self._row, chosen)) if chosen else None

    def _turned(self, figures: list[Symbols], best: Telling) -> Found:
        """Each figure from the note that makes the telling shortest."""
        for index in range(len(figures)):
            for turned in [*rotations(figures[index])][1:ROTATIONS]:
                other = [*figures[:index], turned, *figures[index + 1 :]]
                if self._bits(other) < best.bits - LEAST:
                    figures, best = other, tell(self._row, other)
        return figures, best

    def _without_needless(self, figures: list[Symbols], best: Telling) -> Found:
        for index in reversed(range(len(figures))):
            fewer = [*figures[:index], *figures[index + 1 :]]
            if self._bits(fewer) <= best.bits:
                figures, best = fewer, tell(self._row, fewer)
        return figures, best


def _patterns(offered: Sequence[Candidate], figures: Sequence[Symbols]) -> Iterator[Symbols]:
    """The likeliest beginnings of all candidates, each once, that are no figures yet."""
    known = {figure.tobytes() for figure in figures}
    for candidate in offered:
        for pattern in candidate.patterns():
            if pattern.tobytes() not in known:
                known.add(pattern.tobytes())
                yield pattern


def _replaced(figures: Sequence[Symbols], new: Symbols) -> Iterator[list[Symbols]]:
    for index in range(len(figures)):
        yield [*figures[:index], new, *figures[index + 1 :]]


def _turned_in_pairs(figures: Sequence[Symbols]) -> Iterator[list[Symbols]]:
    """Two figures at once from other notes."""
    for (first, one), (second, other) in combinations(enumerate(figures), 2):
        for turned in product([*rotations(one)][:PAIRED], [*rotations(other)][:PAIRED]):
            changed = [*figures]
            changed[first], changed[second] = turned
            yield changed


def _unexplained(row: Row, telling: Telling) -> Bits:
    """The bits of notes that are told one by one, or in scraps: figures that do not run on."""
    bits = row.alone.copy()
    for before, each in pairwise(telling.statements):
        if each.figure is None or each.figure != before.figure:
            continue
        length = telling.lengths[each.figure]
        if each.end - each.at == length == before.end - before.at:
            bits[before.at : each.end] = 0.0
    return bits


def _by_use(figures: list[Symbols], best: Telling) -> Found:
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
