"""Hypothesis strategies for specs: small pieces in which everything that a form does can meet.

Strategies are kept: to make one takes Hypothesis longer than to draw from it.
"""

from fractions import Fraction
from functools import cache, lru_cache
from typing import TypeVar

from hypothesis import strategies as st

from renderer.spec.meter import Meter
from renderer.spec.model import (
    BarRange,
    Entry,
    FigureSpec,
    Item,
    MarkSpec,
    Plays,
    Point,
    Position,
    SectionSpec,
    Spec,
    Start,
    Tempo,
)


def even_meter(count: int, unit: int) -> Meter:
    """A meter whose beats are its lower number."""
    return Meter(count, unit, (Fraction(1, unit),) * count, f"{count}/{unit}")


def grouped_meter(unit: int, *beats: int) -> Meter:
    """A meter in beats of so many lower-number units."""
    text = f"{sum(beats)}/{unit} in {'+'.join(map(str, beats))}"
    return Meter(sum(beats), unit, tuple(Fraction(beat, unit) for beat in beats), text)


METERS = (
    even_meter(4, 4),
    even_meter(3, 4),
    even_meter(5, 8),
    Meter(6, 8, (Fraction(3, 8),) * 2, "6/8 in 2"),
    grouped_meter(8, 2, 2, 3),
)
"""Each has at least two beats, so that beat 2 is in all of them."""

PULSES = (Fraction(1, 16), Fraction(1, 8), Fraction(1, 12))
GRID = 48
"""Ticks to a whole note on which all of the above are whole."""

HARMONIES = ("Em", "G", "Dm", "N.C.")
FIGURES = ("kiln", "brief", "bell")
SIDES = ("meter", "tacet")
TEMPI = tuple(Tempo(Fraction(quarters)) for quarters in (60, 90, 132))

OWN_PULSES = st.none() | st.sampled_from(PULSES)
"""A figure's own pulse, if it has one."""

T = TypeVar("T")

NO_KEYS = dict.fromkeys(
    (
        "again",
        "bar_count",
        "repeat",
        "meter",
        "tempo",
        "harmony",
        "parts",
        "plays",
        "starts",
        "fermata",
        "sync",
    )
)


def section_text(name: str | None, **keys: object) -> SectionSpec:
    """A form entry with only these keys given."""
    return SectionSpec(**{"path": ("form", 0), "name": name, **NO_KEYS, **keys})  # type: ignore[arg-type]


@st.composite
def figure_texts(draw: st.DrawFn, name: str) -> FigureSpec:
    """A figure of one to four groups; all groups hit and accented, or hits and accents of its own."""
    groups = tuple(draw(st.lists(st.integers(1, 5), min_size=1, max_size=4)))
    starts = tuple(sum(groups[:index]) + 1 for index in range(len(groups)))
    pulse = draw(OWN_PULSES)
    if draw(st.booleans()):
        return FigureSpec(name, groups, starts, starts, pulse, None, ("figures", name))
    pulses = st.integers(1, sum(groups))
    hits = tuple(sorted(draw(st.sets(pulses, min_size=1, max_size=6))))
    accents = tuple(sorted(draw(st.sets(st.sampled_from(hits)))))
    return FigureSpec(name, groups, hits, accents, pulse, None, ("figures", name))


@lru_cache(maxsize=8)
@st.composite
def items(draw: st.DrawFn, figures: tuple[FigureSpec, ...]) -> Item:
    """One item of a plays list."""
    kind = draw(st.sampled_from(("figure", "figure", "figure", "first", "tail", "rest")))
    pulse = draw(st.sampled_from((None, None, None, *PULSES)))
    if kind == "tail":
        groups = tuple(draw(st.lists(st.integers(1, 4), min_size=1, max_size=3)))
        return Item("tail", (), groups=groups, pulse=pulse)
    if kind == "rest":
        return Item("rest", (), count=draw(st.integers(1, 7)), pulse=pulse)
    figure = draw(st.sampled_from(figures))
    length = sum(figure.groups)
    if kind == "first":
        by_groups = draw(st.booleans())
        count = draw(st.integers(1, len(figure.groups) if by_groups else length))
        return Item("first", (), figure.name, count=count, counts_groups=by_groups, pulse=pulse)
    times = draw(st.none() | st.integers(1, 3 * length).map(lambda pulses: Fraction(pulses, length)))
    return Item("figure", (), figure.name, times=times, pulse=pulse)


@lru_cache(maxsize=8)
@st.composite
def plays(draw: st.DrawFn, figures: tuple[FigureSpec, ...], on: bool) -> Plays:
    """A plays list, or `on` where that may stand."""
    if on and draw(st.integers(0, 2)) == 0:
        return Plays(None, ())
    return Plays(tuple(draw(st.lists(items(figures), min_size=1, max_size=4))), ())


@cache
def positions(bars: int, reach: bool) -> st.SearchStrategy[Position]:
    """Positions in a section: from the front, from the end, and with `reach` in the bar before it."""
    numbers = [*range(0 if reach else 1, bars + 1), *range(-bars, 0)]
    pulse = st.sampled_from((None, None, 1, 2))
    parts = st.tuples(st.sampled_from(numbers), st.sampled_from((1, 1, 2)), pulse)
    return parts.map(lambda part: Position(*part))


@cache
@st.composite
def lanes(draw: st.DrawFn, bars: int, reach: bool, values: tuple[T, ...]) -> tuple[Entry[T], ...]:
    """A lane: up to three entries, some with lists."""
    places = draw(st.lists(positions(bars, reach), max_size=3, unique=True))
    lists = st.lists(st.sampled_from(values), min_size=1, max_size=3).map(tuple)
    return tuple(Entry(place, draw(lists), ("harmony",)) for place in places)


@cache
@st.composite
def points(draw: st.DrawFn, bars: int) -> tuple[Point, ...]:
    """One or two fermatas."""
    places = draw(st.lists(positions(bars, False), min_size=1, max_size=2, unique=True))
    return tuple(Point(place, draw(st.sampled_from((Fraction(1), Fraction(5, 2)))), ()) for place in places)


@cache
@st.composite
def meter_lanes(draw: st.DrawFn, bars: int) -> tuple[Entry[Meter], ...]:
    """A lane of meters on bar lines."""
    numbers = draw(st.lists(st.integers(1, bars), max_size=2, unique=True))
    lists = st.lists(st.sampled_from(METERS), min_size=1, max_size=2).map(tuple)
    return tuple(Entry(Position(number), draw(lists), ("meter",)) for number in numbers)


@cache
def starts(reach: bool) -> st.SearchStrategy[Start]:
    """When a list takes over; a position in the section's first bar or the one before."""
    bars = (0, 1) if reach else (1,)
    place = st.tuples(st.sampled_from(bars), st.sampled_from((1, 2))).map(lambda part: Position(*part))
    words: tuple[Start, ...] = ("downbeat", "after", "after")
    return st.sampled_from(words) | place


@st.composite
def sections(
    draw: st.DrawFn,
    index: int,
    names: tuple[str, ...],
    figures: tuple[FigureSpec, ...],
    voices: tuple[str, ...],
) -> SectionSpec:
    """A form entry: new, or one of `names` again with some keys replaced."""
    reach = index > 0
    again = draw(st.none() | st.sampled_from(names)) if names else None
    bars = draw(st.integers(1, 4))
    keys: dict[str, object] = {"bar_count": bars}
    if again is not None:
        keys["again"] = again
        if draw(st.booleans()):
            del keys["bar_count"]
            bars = 1
    if draw(st.integers(0, 3)) == 0:
        keys["repeat"] = draw(st.integers(1, 3))
    if draw(st.booleans()):
        keys["harmony"] = draw(lanes(bars, reach, HARMONIES))
    if draw(st.integers(0, 3)) == 0:
        keys["meter"] = draw(meter_lanes(bars))
    if draw(st.integers(0, 2)) == 0:
        keys["tempo"] = draw(lanes(bars, reach, TEMPI))
    if draw(st.integers(0, 2)) == 0:
        keys["parts"] = {"drum": draw(lanes(bars, reach, SIDES))}
    if draw(st.integers(0, 3)) == 0:
        keys["fermata"] = draw(points(bars))
    if draw(st.integers(0, 3)) == 0:
        keys["marks"] = draw(marks(bars))
    if draw(st.integers(0, 4)):
        named = draw(st.lists(st.sampled_from(voices), min_size=1, unique=True))
        keys["plays"] = {voice: draw(plays(figures, on=reach)) for voice in named}
    if draw(st.booleans()) and any(play.items for play in keys.get("plays", {}).values()):  # type: ignore[attr-defined]
        keys["starts"] = draw(starts(reach))
    return section_text(None if again else f"S{index}", **keys)


@cache
@st.composite
def marks(draw: st.DrawFn, bars: int) -> tuple[MarkSpec, ...]:
    """Words at bars of a section, over some of them, or inside one."""
    found: dict[object, MarkSpec] = {}
    for number in range(draw(st.integers(1, 3))):
        first = draw(st.integers(1, bars))
        last = draw(st.integers(first, bars))
        back = BarRange(first - bars - 1, last - bars - 1)
        places: tuple[Position | BarRange, ...] = (BarRange(first, last), Position(first, 1, 1), back)
        where = draw(st.sampled_from(places))
        found[where] = MarkSpec(where, f"words {number}", ("marks", number))
    return tuple(found.values())


@st.composite
def specs(draw: st.DrawFn) -> Spec:
    """A whole piece, of at most about thirty bars."""
    figures = tuple(draw(figure_texts(name)) for name in FIGURES)
    voices = draw(st.sampled_from((("main",), ("main", "low"))))
    form: list[SectionSpec] = []
    for index in range(draw(st.integers(1, 4))):
        names = tuple(section.name for section in form if section.name)
        form.append(draw(sections(index, names, figures, voices)))
    return Spec(
        title="A random piece",
        tempo=(Entry(Position(1), (Tempo(Fraction(132)),), ("tempo",)),),
        meter=(Entry(Position(1), (draw(st.sampled_from(METERS)),), ("meter",)),),
        harmony=draw(lanes(1, False, HARMONIES)),
        parts={"drum": ()},
        pulse=draw(st.sampled_from((Fraction(1, 16), Fraction(1, 12)))),
        pickup=draw(st.sampled_from((Fraction(0), Fraction(0), Fraction(1, 4), Fraction(3, 8)))),
        figures=figures,
        form=tuple(form),
        fermata=(),
        sync=(),
        recording=None,
        click=None,
        segments=(),
    )
