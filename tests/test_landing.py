"""Ways to make a figure land."""

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from renderer.report.ways_to_land import Way, even_groups, regrouped, three_times, ways_to_land
from renderer.spec.meter import Meter
from renderer.spec.model import Entry, FigureSpec, Item, Plays, Position
from renderer.timeline.build import build_timeline
from renderer.timeline.model import Figure, Timeline
from tests.pieces import HEAD, spec_of, timeline_of
from tests.strategies import section_text

KILN = Figure("kiln", Fraction(1, 16), (5, 3, 3), (1, 6, 9), (1, 6, 9))


@st.composite
def figures(draw: st.DrawFn) -> Figure:
    groups = tuple(draw(st.lists(st.integers(1, 6), min_size=1, max_size=5)))
    starts = tuple(sum(groups[:index]) + 1 for index in range(len(groups)))
    return Figure("fig", Fraction(1, draw(st.sampled_from((8, 12, 16)))), groups, starts, starts)


@pytest.mark.parametrize(
    ("count", "pulses", "expected"),
    [
        (3, 8, "332"),
        (5, 8, "21212"),
        (5, 16, "33334"),
        (7, 16, "3223222"),
        (4, 11, "3332"),
        (5, 12, "32322"),
    ],
)
def test_even_groups_are_those_of_the_literature_up_to_rotation(
    count: int, pulses: int, expected: str
) -> None:
    # G. Toussaint, Bridges 2005, 47-56.
    text = "".join(map(str, even_groups(count, pulses)))
    assert len(text) == len(expected)
    assert text in expected * 2


def test_three_times_with_equal_gaps_that_ends_on_beat_1() -> None:
    # R. W. Hall, lecture notes on rhythm cycles: 3a + 2g = 1 (mod m).
    assert (13, 5) in three_times(49)
    assert 49 % 12 == 1  # beat 1 of a cycle of 12
    assert list(three_times(17)) == [(1, 7), (3, 4), (5, 1)]


@given(st.integers(1, 60))
def test_three_times_finds_what_trying_all_finds(pulses: int) -> None:
    tried = [(a, g) for a in range(1, 61) for g in range(1, 61) if 3 * a + 2 * g == pulses]
    assert list(three_times(pulses)) == tried


def test_the_ways_of_an_11_pulse_figure_in_8_bars() -> None:
    # 128 = 11 x 11 + 7.
    texts = [way.text for way in ways_to_land(KILN, 128)]
    assert texts == [
        "11 x 11 + 7 cut: let the next section cut it",
        "11 x 11 + tail 7: a tail of 4+3",
        "8 x 11 + 5 x 8: kiln without a 3, 5 times (5+3)",
        "10 x 11 + 3 x 6: kiln without a 5, 3 times (3+3)",
        "10 x 11 + tail 18: a tail of 3+3+3+3+3+3",
        "9 x 11 + 3 x 6 with gaps of 6: the first 6 three times; the last stroke is the downbeat",
        "8 x 11 + 3 x 9 with gaps of 7: the first 9 three times; the last stroke is the downbeat",
    ]


@given(figures(), st.integers(1, 120))
def test_the_shortest_change_comes_first(figure: Figure, span: int) -> None:
    changed = [way.changed for way in ways_to_land(figure, span)]
    assert changed == sorted(changed)


def test_a_way_can_be_written_into_the_spec_as_it_is() -> None:
    for way in ways_to_land(KILN, 128):
        figures = "".join(f"  {text}\n" for text in way.figures)
        timeline = timeline_of(
            f"form:\n  - {{section: A, bars: 8, plays: {way.plays}}}\n  - {{section: B, bars: 1, plays: kiln}}\n",
            HEAD + figures,
        )
        starts = [row.at for row in timeline.repetitions]
        assert 128 in starts
        assert timeline.repetitions[starts.index(128) - 1].end == 128


def test_a_variant_keeps_the_hits_and_accents_of_the_groups_that_it_keeps() -> None:
    bell = Figure("bell", Fraction(1, 8), (4, 3), (1, 3, 4, 6), (1, 6))
    less = regrouped(bell, [1], "without a 4")
    more = regrouped(bell, [0, 0, 1], "with one more 4")
    bell_less = Way("", (), 0, (less,)).figures
    assert bell_less == ("bell without a 4: {hits: .X., from: bell}",)
    assert (less.groups, less.hits, less.accents) == ((3,), (2,), (2,))
    assert (more.groups, more.hits, more.accents) == ((4, 4, 3), (1, 3, 4, 5, 7, 8, 10), (1, 5, 10))


def test_a_tail_keeps_to_the_figure_s_own_unit() -> None:
    even = Figure("even", Fraction(1, 16), (10, 6, 6), (1, 11, 17), (1, 11, 17))
    assert "2 x 22 + tail 20: a tail of 8+6+6" in [way.text for way in ways_to_land(even, 64)]


def test_a_span_that_fits_needs_no_change() -> None:
    first = ways_to_land(KILN, 176)[0]
    assert (first.text, first.changed) == ("16 x 11 fits as it is", 0)


def timeline_played(figure: Figure, span: int, way: Way) -> Timeline:
    """One bar as long as the span, played that way, and a bar of the figure after it."""
    own = FigureSpec(figure.name, figure.groups, figure.hits, figure.accents, figure.pulse, None, ())
    again = (Item("figure", (), figure.name, times=Fraction(1)),)
    bars = (("span", span, way.items), ("next", figure.pulses, again))
    spec = replace(
        spec_of("form: [{section: A, bars: 1}]\n"),
        pulse=figure.pulse,
        figures=(own, *way.variants),
        form=tuple(
            section_text(
                name,
                bar_count=1,
                meter=(Entry(Position(1), (one_beat(figure.pulse * pulses),), ()),),
                plays={"main": Plays(items, ())},
            )
            for name, pulses, items in bars
        ),
    )
    return build_timeline(spec)


def one_beat(length: Fraction) -> Meter:
    return Meter(length.numerator, length.denominator, (length,), str(length))


@settings(max_examples=60, deadline=None)
@given(figures(), st.integers(1, 120))
def test_every_way_is_what_the_timeline_plays(figure: Figure, span: int) -> None:
    """The next statement stands on the downbeat, and the one before it ends there, cut if the way says so."""
    for way in ways_to_land(figure, span):
        timeline = timeline_played(figure, span, way)
        line = timeline.sections[1].at
        before = [row for row in timeline.repetitions if row.at < line]
        after = [row for row in timeline.repetitions if row.at >= line]
        assert (before[-1].end, after[0].at) == (line, line)
        assert before[-1].statement.cut is way.cut


@given(figures(), st.integers(1, 120), st.integers(1, 5))
def test_the_first_few_ways_are_those_that_come_first_of_all(figure: Figure, span: int, most: int) -> None:
    every = ways_to_land(figure, span, most=1000)
    assert ways_to_land(figure, span, most) == every[:most]
    assert ways_to_land(figure, span, 1000, cut=False) == tuple(way for way in every if not way.cut)


def test_a_way_that_no_spec_can_hold_is_not_offered() -> None:
    """With one more group of 100 it would have 300 pulses, and there is room for 200."""
    long = Figure("long", Fraction(1, 16), (100, 100), (1, 101), (1, 101))
    assert not [way for way in ways_to_land(long, 500) if way.variants and sum(way.variants[0].groups) > 200]
    named = KILN._replace(name="k" * 40)
    assert not any(way.variants for way in ways_to_land(named, 128))


@given(figures(), st.integers(1, 120))
def test_every_way_fills_the_span_to_the_pulse(figure: Figure, span: int) -> None:
    ways = ways_to_land(figure, span)
    assert ways
    for way in ways:
        lengths = {figure.name: figure.pulses, **{v.name: sum(v.groups) for v in way.variants}}
        total = sum(
            item.count or sum(item.groups) or lengths[item.figure or ""] * int(item.times or 0)
            for item in way.items
        )
        assert total >= span if way.cut else total == span


def test_a_span_of_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="at least one pulse"):
        ways_to_land(KILN, 0)
