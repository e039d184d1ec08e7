"""How a figure can be made to end on a downbeat: every way that comes out, the shortest change first.

A figure of n pulses that starts on a downbeat and has a span of s pulses up to the next section's downbeat leaves
s mod n over. It can be cut there; a tail can fill what is left; some repetitions can lose a group or get one twice; or
a pattern is stated three times with equal gaps so that its last stroke is the downbeat itself (3a + 2g = what is left
+ 1). Whatever is offered has been counted through as the timeline would play it.
"""

from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction
from functools import partial
from itertools import accumulate, islice, pairwise
from math import gcd
from typing import NamedTuple

from renderer.core.errors import Problem
from renderer.core.limits import FIGURE_GROUPS, FIGURE_PULSES, LABEL_CHARACTERS
from renderer.spec.model import FigureSpec, Item
from renderer.timeline.model import Figure
from renderer.timeline.statements import StatementCompiler

MOST_WAYS = 12
"""Beyond that the changes are longer than the music."""


class Way(NamedTuple):
    """One way to land: in words, as a plays list, and how many pulses it changes.

    `variants` are figures that the list needs besides the one that is to land.
    """

    text: str
    items: tuple[Item, ...]
    changed: int
    variants: tuple[FigureSpec, ...] = ()
    cut: bool = False
    """Whether the next section ends it in the middle of a repetition."""

    @property
    def plays(self) -> str:
        """The list as it is written in a spec, after `plays:`."""
        return f"[{', '.join(map(_item_text, self.items))}]"

    @property
    def figures(self) -> tuple[str, ...]:
        """Its variants as they are written in a spec, under `figures:`."""
        return tuple(map(_figure_text, self.variants))


class _Candidate(NamedTuple):
    """A way that has yet to be put together: few of many are asked for."""

    changed: int
    build: Callable[[], Way]


def ways_to_land(figure: Figure, span: int, most: int = MOST_WAYS, cut: bool = True) -> tuple[Way, ...]:
    """The first ways to fill `span` pulses with a figure and start afresh on the downbeat after them.

    Each is verified: what is played ends on that downbeat, uncut unless the way says so; without `cut` there is none
    that says so. Raises ValueError if the span is less than one pulse.
    """
    if span < 1:
        raise ValueError(f"span {span}: at least one pulse")
    candidates = [*_whole(figure, span), *(_cut(figure, span) if cut else ()), *_tail(figure, span)]
    candidates += [*_groups(figure, span), *_three_times(figure, span)]
    candidates.sort(key=lambda candidate: candidate.changed)
    built = (candidate.build() for candidate in candidates)
    return tuple(islice((way for way in built if _verified(figure, span, way)), most))


def _verified(figure: Figure, span: int, way: Way) -> bool:
    """Whether a spec can hold it, and its items, in ticks of one pulse, end with the span, or if cut after it."""
    figures = {figure.name: figure._replace(pulse=Fraction(1))}
    for variant in way.variants:
        if len(variant.name) > LABEL_CHARACTERS or not _fits(variant.groups):
            return False
        figures[variant.name] = Figure(
            variant.name, Fraction(1), variant.groups, variant.hits, variant.accents, variant.origin
        )
    problems: list[Problem] = []
    rows = StatementCompiler(figures, 1, Fraction(1)).compile(way.items, problems)
    end = sum(row.length * (row.times or 1) for row in rows)
    if problems or not all(_fits(item.groups) for item in way.items):
        return False
    return end - rows[-1].length < span < end if way.cut else end == span


def _fits(groups: Sequence[int]) -> bool:
    return sum(groups) <= FIGURE_PULSES and len(groups) <= FIGURE_GROUPS


def even_groups(count: int, pulses: int) -> tuple[int, ...]:
    """`pulses` parted into `count` groups as evenly as can be (E(count, pulses) up to rotation).

    Source: G. Toussaint, The Euclidean algorithm generates traditional musical rhythms, Bridges 2005.

    >>> even_groups(3, 8)
    (3, 3, 2)
    """
    starts = [-(-index * pulses // count) for index in range(count + 1)]
    return tuple(end - start for start, end in pairwise(starts))


def three_times(pulses: int) -> tuple[tuple[int, int], ...]:
    """All (a, g) with 3a + 2g = `pulses`, g at least 1: a pattern of a pulses three times, with gaps of g.

    If `pulses` is one more than a whole number of bars, the last pulse of the third time is a downbeat.
    Source: R. W. Hall's lecture notes on rhythm cycles (the tihai of Indian music).

    >>> three_times(17)
    ((1, 7), (3, 4), (5, 1))
    """
    return tuple(
        (length, (pulses - 3 * length) // 2)
        for length in range(1, pulses // 3 + 1)
        if (pulses - length) % 2 == 0 and 3 * length < pulses
    )


def _whole(figure: Figure, span: int) -> Iterator[_Candidate]:
    times, left = divmod(span, figure.pulses)
    if not left:
        text = f"{_times(times, figure.pulses)} fits as it is"
        yield _Candidate(0, lambda: Way(text, (_repeat(figure.name, times),), 0))


def _cut(figure: Figure, span: int) -> Iterator[_Candidate]:
    times, left = divmod(span, figure.pulses)
    if left:
        rows = _sum(_times(times, figure.pulses), f"{left} cut")
        lost = figure.pulses - left
        items = (_repeat(figure.name, times + 1),)
        yield _Candidate(lost, lambda: Way(f"{rows}: let the next section cut it", items, lost, cut=True))


def _tail(figure: Figure, span: int) -> Iterator[_Candidate]:
    """What is left over as a tail, or so much and one repetition more."""
    whole, left = divmod(span, figure.pulses)
    for times, length in ((whole, left), (whole - 1, figure.pulses + left)):
        if times >= 0 and left:
            yield _Candidate(length, partial(_with_tail, figure, times, length))


def _with_tail(figure: Figure, times: int, length: int) -> Way:
    unit = gcd(length, *figure.groups)
    units = even_groups(max(1, round(length / unit / 3)), length // unit)
    groups = tuple(count * unit for count in units)
    rows = _sum(_times(times, figure.pulses), f"tail {length}")
    text = f"{rows}: a tail of {'+'.join(map(str, groups))}"
    return Way(text, (*_some(figure.name, times), Item("tail", (), groups=groups)), length)


def _groups(figure: Figure, span: int) -> Iterator[_Candidate]:
    """Some repetitions without one of the groups, or with one of them twice."""
    whole = span // figure.pulses
    order = range(len(figure.groups))
    for size in sorted(set(figure.groups)):
        last = max(index for index in order if figure.groups[index] == size)
        fewer = [index for index in order if index != last]
        more = [*order[: last + 1], *order[last:]]
        for kept, word, change in ((fewer, "without a", -size), (more, "with one more", size)):
            for times in (whole, whole + 1, whole + 2):
                count, odd = divmod(span - times * figure.pulses, change)
                if kept and not odd and 1 <= count <= times:
                    build = partial(_varied, figure, kept, f"{word} {size}", times - count, count)
                    yield _Candidate(count * size, build)


def _varied(figure: Figure, order: Sequence[int], word: str, plain: int, varied: int) -> Way:
    variant = regrouped(figure, order, word)
    length = sum(variant.groups)
    rows = _sum(_times(plain, figure.pulses), _times(varied, length))
    text = f"{rows}: {variant.name}, {_often(varied)} ({'+'.join(map(str, variant.groups))})"
    items = (*_some(figure.name, plain), _repeat(variant.name, varied))
    return Way(text, items, varied * abs(length - figure.pulses), (variant,))


def regrouped(figure: Figure, order: Sequence[int], word: str) -> FigureSpec:
    """A variant with the figure's groups in another order, by index: left out or twice, hits and accents with them."""
    starts = [sum(figure.groups[:index]) for index in range(len(figure.groups))]
    hits: list[int] = []
    accents: list[int] = []
    at = 0
    for index in order:
        inside = range(starts[index] + 1, starts[index] + figure.groups[index] + 1)
        hits += [hit - starts[index] + at for hit in figure.hits if hit in inside]
        accents += [accent - starts[index] + at for accent in figure.accents if accent in inside]
        at += figure.groups[index]
    groups = tuple(figure.groups[index] for index in order)
    name = f"{figure.name} {word}"
    return FigureSpec(name, groups, tuple(hits), tuple(accents), figure.pulse, figure.name, ())


def _three_times(figure: Figure, span: int) -> Iterator[_Candidate]:
    """The figure's beginning up to a hit, three times with equal gaps; the very last stroke is the downbeat.

    Nothing longer than three whole figures and two gaps as long is looked for.
    """
    strokes = {hit for hit in figure.hits if hit > 1}
    for left in range(span % figure.pulses, min(span, 5 * figure.pulses) + 1, figure.pulses):
        times = (span - left) // figure.pulses
        for length, gap in three_times(left + 1):
            if length in strokes and gap <= figure.pulses:
                yield _Candidate(left, partial(_stated_three_times, figure, times, length, gap, left))


def _stated_three_times(figure: Figure, times: int, length: int, gap: int, left: int) -> Way:
    rows = _sum(_times(times, figure.pulses), f"3 x {length} with gaps of {gap}")
    text = f"{rows}: the first {length} three times; the last stroke is the downbeat"
    first = Item("first", (), figure.name, count=length)
    rest = Item("rest", (), count=gap)
    last = Item("first", (), figure.name, count=length - 1)
    return Way(text, (*_some(figure.name, times), first, rest, first, rest, last), left)


def _times(times: int, pulses: int) -> str:
    return "" if not times else f"{pulses}" if times == 1 else f"{times} x {pulses}"


def _sum(*terms: str) -> str:
    return " + ".join(term for term in terms if term)


def _often(count: int) -> str:
    return {1: "once", 2: "twice"}.get(count, f"{count} times")


def _repeat(name: str, times: int) -> Item:
    return Item("figure", (), name, times=Fraction(times))


def _some(name: str, times: int) -> tuple[Item, ...]:
    return (_repeat(name, times),) if times else ()


def _figure_text(figure: FigureSpec) -> str:
    """A figure as it is written: by its groups, or by its hits where those are not the groups' firsts."""
    starts = list(accumulate(figure.groups, initial=0))
    firsts = tuple(start + 1 for start in starts[:-1])
    if figure.hits == figure.accents == firsts:
        return f"{figure.name}: {{groups: {list(figure.groups)}, from: {figure.origin}}}"
    signs = [
        "X" if pulse in figure.accents else "x" if pulse in figure.hits else "."
        for pulse in range(1, starts[-1] + 1)
    ]
    text = " ".join("".join(signs[start:end]) for start, end in pairwise(starts))
    return f"{figure.name}: {{hits: {text}, from: {figure.origin}}}"


def _item_text(item: Item) -> str:
    if item.kind == "tail":
        return f"{{tail: {list(item.groups)}}}"
    if item.kind == "rest":
        return f"{{rest: {item.count}}}"
    if item.kind == "first":
        unit = (" group" if item.count == 1 else " groups") if item.counts_groups else ""
        return f"{{first: {item.count}{unit}, of: {item.figure}}}"
    return f"{{figure: {item.figure}, times: {item.times}}}"
