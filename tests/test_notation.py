"""Figures as notes, read back by music21's MEI reader, which shares nothing with what writes them."""

from collections.abc import Iterator
from fractions import Fraction
from itertools import accumulate
from typing import Any

import music21
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from renderer.schedule.mei import figure_mei
from renderer.schedule.notation import split_length, write_groups
from renderer.timeline.model import Figure

QUARTERS = 4
"""music21 counts in quarter notes."""
PULSES = [Fraction(1, n) for n in (2, 4, 6, 8, 12, 16, 20, 24, 28, 32, 64)] + [
    Fraction(3, 16),
    Fraction(1, 3),
]


def make_figure(pulse: Fraction, groups: list[int], hits: set[int], accents: set[int]) -> Figure:
    """A figure with these hits (pulses from 1); only hits carry accents."""
    return Figure("f", pulse, tuple(groups), tuple(sorted(hits)), tuple(sorted(hits & accents)))


@st.composite
def figures(draw: st.DrawFn) -> Figure:
    """Any figure of up to 72 pulses, with hits and accents anywhere; silent groups only where no bracket stands, since
    music21 10.5 fails on a tuplet of nothing but rests."""
    groups = draw(st.lists(st.integers(1, 12), min_size=1, max_size=6))
    pulses = st.sets(st.integers(1, sum(groups)))
    figure = make_figure(draw(st.sampled_from(PULSES)), groups, draw(pulses), draw(pulses))
    assume(all(group.tuplet is None or not group.signs[-1].rest for group in write_groups(figure)))
    return figure


def read(figure: Figure) -> list[list[Any]]:
    """Its notes and rests, measure by measure, as music21 understands what is written."""
    score = music21.converter.parse(figure_mei(figure), format="mei")
    measures = score.recurse().getElementsByClass(music21.stream.Measure)
    return [list(measure.recurse().notesAndRests) for measure in measures]


def sounds(figure: Figure) -> Iterator[tuple[Fraction, Fraction, bool]]:
    """(onset, length, accent) of each sound, in quarters: ties joined. Asserts that measures follow without a gap."""
    at = Fraction(0)
    open_sound: tuple[Fraction, Fraction, bool] | None = None
    for measure in read(figure):
        for sign in measure:
            length = Fraction(sign.duration.quarterLength)
            tie = sign.tie.type if sign.isNote and sign.tie else None
            if sign.isNote and tie in ("continue", "stop"):
                assert open_sound is not None
                open_sound = (open_sound[0], open_sound[1] + length, open_sound[2])
                assert not sign.articulations
            elif sign.isNote:
                accent = any(isinstance(mark, music21.articulations.Accent) for mark in sign.articulations)
                open_sound = (at, length, accent)
            if sign.isNote and tie in (None, "stop"):
                assert open_sound is not None
                yield open_sound
                open_sound = None
            at += length
        assert open_sound is None, "a tie leaves its group"


def near(value: Fraction) -> Fraction:
    """What music21 keeps as a float for want of a small denominator, as the fraction it stands for."""
    return value.limit_denominator(4096)


@given(figures())
def test_hits_begin_and_end_where_the_figure_says(figure: Figure) -> None:
    starts = [0, *accumulate(figure.groups)]
    expected = []
    for hit in figure.hits:
        ends = [n for n in (*(other - 1 for other in figure.hits), *starts) if n > hit - 1]
        length = (min(ends) - (hit - 1)) * figure.pulse * QUARTERS
        expected.append(((hit - 1) * figure.pulse * QUARTERS, length, hit in figure.accents))
    assert [(near(at), near(length), accent) for at, length, accent in sounds(figure)] == expected


@given(figures())
def test_each_group_is_a_measure_as_long_as_it_is(figure: Figure) -> None:
    lengths = [sum(Fraction(sign.duration.quarterLength) for sign in measure) for measure in read(figure)]
    assert [near(Fraction(length)) for length in lengths] == [
        n * figure.pulse * QUARTERS for n in figure.groups
    ]


@given(figures())
def test_only_a_group_without_a_hit_at_its_first_pulse_has_rests_and_at_its_beginning(figure: Figure) -> None:
    starts = [0, *accumulate(figure.groups)]
    for start, measure in zip(starts, read(figure), strict=False):
        kinds = [sign.isRest for sign in measure]
        assert kinds == sorted(kinds, reverse=True)
        assert kinds[0] == (start + 1 not in figure.hits)


def beams(measure: list[Any]) -> list[list[int]]:
    """Which notes of a measure stand under one beam, by index, in music21's reading."""
    runs: list[list[int]] = []
    for index, sign in enumerate(measure):
        kinds = [beam.type for beam in sign.beams] if sign.isNote else []
        if "start" in kinds:
            runs.append([index])
        elif runs and ("continue" in kinds or "stop" in kinds) and runs[-1][-1] == index - 1:
            runs[-1].append(index)
    return [run for run in runs if len(run) > 1]


@given(figures())
def test_beams_join_all_short_notes_of_a_group_that_follow_each_other(figure: Figure) -> None:
    for measure in read(figure):
        wanted: list[list[int]] = [[]]
        for index, sign in enumerate(measure):
            short = sign.isNote and music21.duration.convertTypeToNumber(sign.duration.type) > 4
            wanted = [*wanted[:-1], [*wanted[-1], index]] if short else [*wanted, []]
        assert beams(measure) == [run for run in wanted if len(run) > 1]


def names(figure: Figure) -> list[list[str]]:
    """What a musician would read out of each group: value, dot, `r` for a rest, `~` for what is tied on."""
    return [
        [
            f"{'r' if sign.rest else ''}{sign.value}{'.' * sign.dotted}{'~' * sign.tied_on}{'>' * sign.accent}"
            for sign in group.signs
        ]
        for group in write_groups(figure)
    ]


@pytest.mark.parametrize(
    ("pulse", "groups", "hits", "written"),
    [
        (16, [5, 3, 3], {1, 6, 9}, [["4~", "16"], ["8."], ["8."]]),
        (8, [2, 3], {1, 2, 3}, [["8", "8"], ["4."]]),
        (16, [3, 4], {2, 3, 5}, [["r16", "16", "16"], ["r16", "8."]]),
        (12, [3, 3], {1, 2, 3, 4}, [["8", "8", "8"], ["4"]]),
        (16, [7, 9], {1, 8}, [["4~", "8."], ["2~", "16"]]),
    ],
    ids=["five", "eighths", "rests", "triplets", "ties"],
)
def test_groups_are_written_as_common_practice_has_it(
    pulse: int, groups: list[int], hits: set[int], written: list[list[str]]
) -> None:
    assert names(make_figure(Fraction(1, pulse), groups, hits, set())) == written


@pytest.mark.parametrize(
    ("groups", "single"), [([3], True), ([2, 1], True), ([6], True), ([4], False), ([5], False)], ids=str
)
def test_a_bracket_says_3_only_where_it_fills_one_triplet(groups: list[int], single: bool) -> None:
    """Common practice: a lone 3 stands for three in the time of two; six eighths fill one of
    quarters; what fills none needs the ratio."""
    figure = make_figure(Fraction(1, 12), [sum(groups)], set(range(1, sum(groups) + 1)), set())
    (group,) = write_groups(figure)
    assert group.tuplet == (3, 2)
    assert group.single == single
    assert f'num.format="{"count" if single else "ratio"}"' in figure_mei(figure)


def test_no_bracket_stands_over_a_length_that_needs_none() -> None:
    (group,) = write_groups(make_figure(Fraction(1, 12), [6], {1, 4}, set()))
    assert group.tuplet is None
    assert [sign.value for sign in group.signs] == [4, 4]


@settings(deadline=None)
@given(st.integers(1, 4000), st.integers(0, 10))
def test_a_length_is_split_into_notes_that_add_up(count: int, halvings: int) -> None:
    length = Fraction(count, 2**halvings)
    parts = split_length(length)
    assert sum(parts) == length
    assert all(part.numerator in (1, 3) and part <= Fraction(3, 2) for part in parts)
