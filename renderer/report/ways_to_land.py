"""How a figure can be made to end on a downbeat: every way that comes out, the shortest change first.

A figure of n pulses that starts on a downbeat and has a span of s pulses up to the next section's downbeat leaves
s mod n over. It can be cut there; a tail can fill what is left; some repetitions can lose a group or get one twice; or
a pattern is stated three times with equal gaps so that its last stroke is the downbeat itself (3a + 2g = what is left
+ 1). Whatever is offered has been played through by the timeline first.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate, pairwise
from math import gcd

from renderer.spec.meter import Meter
from renderer.spec.model import Entry, FigureSpec, Item, Plays, Position, SectionSpec, Spec, Tempo
from renderer.timeline.build import build_timeline
from renderer.timeline.model import Figure, Timeline

MOST_WAYS = 12
"""Beyond that the changes are longer than the music."""


@dataclass(frozen=True, slots=True)
class Way:
    """One way to land: in words, as a plays list, and how many pulses it changes.

    `variants` are figures that the list needs besides the one that is to land.
    """

    text: str
    items: tuple[Item, ...]
    changed: int
    variants: tuple[FigureSpec, ...] = ()
    cut: bool = False
    """Whether the next section ends it in the middle of a repetition."""

    def plays(self) -> str:
        """The list as it is written in a spec, after `plays:`."""
        return f"[{', '.join(map(_item_text, self.items))}]"

    def figures(self) -> tuple[str, ...]:
        """Its variants as they are written in a spec, under `figures:`."""
        return tuple(_figure_text(variant) for variant in self.variants)


def ways_to_land(figure: Figure, span: int) -> tuple[Way, ...]:
    """All ways to fill `span` pulses with a figure and start afresh on the downbeat after them.

    Each is verified: the timeline has the next statement on that downbeat, and the one before it ends there, uncut
    unless the way says so. Raises ValueError if the span is less than one pulse.
    """
    if span < 1:
        raise ValueError(f"span {span}: at least one pulse")
    found = (*_whole(figure, span), *_cut(figure, span), *_tail(figure, span), *_groups(figure, span))
    ways = sorted((*found, *_three_times(figure, span)), key=lambda way: way.changed)
    return tuple(way for way in ways if _verified(figure, span, way))[:MOST_WAYS]


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


def _whole(figure: Figure, span: int) -> Iterator[Way]:
    times, left = divmod(span, figure.pulses)
    if not left:
        yield Way(f"{_times(times, figure.pulses)} fits as it is", (_repeat(figure.name, times),), 0)


def _cut(figure: Figure, span: int) -> Iterator[Way]:
    times, left = divmod(span, figure.pulses)
    if left:
        rows = _sum(_times(times, figure.pulses), f"{left} cut")
        lost = figure.pulses - left
        yield Way(f"{rows}: let the next section cut it", (_repeat(figure.name, times + 1),), lost, cut=True)


def _tail(figure: Figure, span: int) -> Iterator[Way]:
    """What is left over as a tail, or so much and one repetition more."""
    whole, left = divmod(span, figure.pulses)
    for times, length in ((whole, left), (whole - 1, figure.pulses + left)):
        if times < 0 or not left:
            continue
        unit = gcd(length, *figure.groups)
        units = even_groups(max(1, round(length / unit / 3)), length // unit)
        groups = tuple(count * unit for count in units)
        rows = _sum(_times(times, figure.pulses), f"tail {length}")
        text = f"{rows}: a tail of {'+'.join(map(str, groups))}"
        yield Way(text, (*_some(figure.name, times), Item("tail", (), groups=groups)), length)


def _groups(figure: Figure, span: int) -> Iterator[Way]:
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
                    yield _varied(figure, regrouped(figure, kept, f"{word} {size}"), times - count, count)


def _varied(figure: Figure, variant: FigureSpec, plain: int, varied: int) -> Way:
    length = sum(variant.groups)
    rows = _sum(_times(plain, figure.pulses), _times(varied, length))
    text = f"{rows}: {variant.name}, {_often(varied)} ({'+'.join(map(str, variant.groups))})"
    changed = varied * abs(length - figure.pulses)
    return Way(text, (*_some(figure.name, plain), _repeat(variant.name, varied)), changed, (variant,))


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


def _three_times(figure: Figure, span: int) -> Iterator[Way]:
    """The figure's beginning up to a hit, three times with equal gaps; the very last stroke is the downbeat."""
    for times in range(span // figure.pulses, -1, -1):
        left = span - times * figure.pulses
        for length, gap in three_times(left + 1):
            if length > 1 and length in figure.hits and gap <= figure.pulses:
                rows = _sum(_times(times, figure.pulses), f"3 x {length} with gaps of {gap}")
                text = f"{rows}: the first {length} three times; the last stroke is the downbeat"
                first = Item("first", (), figure.name, count=length)
                rest = Item("rest", (), count=gap)
                last = Item("first", (), figure.name, count=length - 1)
                yield Way(text, (*_some(figure.name, times), first, rest, first, rest, last), left)


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
        return f"{{first: {item.count}, of: {item.figure}}}"
    return f"{{figure: {item.figure}, times: {item.times}}}"


def _verified(figure: Figure, span: int, way: Way) -> bool:
    """Whether the timeline has it so: what is played ends on the next section's downbeat, cut only if that is meant."""
    timeline = _played(figure, span, way)
    line = timeline.sections[1].at
    before = [row for row in timeline.repetitions if row.at < line]
    after = [row for row in timeline.repetitions if row.at >= line]
    ends = before[-1].end == line and after[0].at == line
    return ends and before[-1].statement.cut is way.cut


def _played(figure: Figure, span: int, way: Way) -> Timeline:
    """The timeline of one bar as long as the span, played that way, and a bar of the figure after it."""
    text = FigureSpec(figure.name, figure.groups, figure.hits, figure.accents, figure.pulse, None, ())
    bars = (("span", span, way.items), ("next", figure.pulses, (_repeat(figure.name, 1),)))
    return build_timeline(
        Spec(
            title="",
            tempo=(Entry(Position(1), (Tempo(Fraction(120)),), ()),),
            meter=(),
            harmony=(),
            parts={},
            pulse=figure.pulse,
            pickup=Fraction(0),
            figures=(text, *way.variants),
            form=tuple(_section(name, figure.pulse * pulses, items) for name, pulses, items in bars),
            fermata=(),
            sync=(),
            recording=None,
            click=None,
            segments=(),
        )
    )


def _section(name: str, length: Fraction, items: tuple[Item, ...]) -> SectionSpec:
    """One bar of one beat."""
    meter = Meter(length.numerator, length.denominator, (length,), str(length))
    return SectionSpec(
        path=(),
        name=name,
        again=None,
        bar_count=1,
        repeat=None,
        meter=(Entry(Position(1), (meter,), ()),),
        tempo=None,
        harmony=None,
        parts=None,
        plays={"main": Plays(items, ())},
        starts=None,
        fermata=None,
        sync=None,
    )
