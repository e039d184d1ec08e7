"""Cycles of figure and bar against published values; a row without a source is arithmetic."""

from fractions import Fraction
from math import lcm

import pytest

from renderer.spec.meter import Meter
from renderer.spec.model import Entry, FigureSpec, Item, Plays, Position, Spec, Tempo
from renderer.timeline.build import build_timeline
from renderer.timeline.model import Timeline
from tests.strategies import even_meter, section_text


def cycle(
    groups: tuple[int, ...], meter: Meter, bars: int, pulse: Fraction = Fraction(1, 16), tempo: int = 132
) -> Timeline:
    """A figure over and over through so many bars."""
    starts = tuple(sum(groups[:index]) + 1 for index in range(len(groups)))
    plays = {"main": Plays((Item("figure", (), "cycle"),), ())}
    return build_timeline(
        Spec(
            title="Cycle",
            tempo=(Entry(Position(1), (Tempo(Fraction(tempo)),), ()),),
            meter=(Entry(Position(1), (meter,), ()),),
            harmony=(),
            parts={},
            pulse=pulse,
            pickup=Fraction(0),
            figures=(FigureSpec("cycle", groups, starts, starts, None, None, ()),),
            form=(section_text("A", bar_count=bars, plays=plays),),
            fermata=(),
            sync=(),
            recording=None,
            click=None,
            segments=(),
        )
    )


def first_realignment(timeline: Timeline) -> tuple[int, int]:
    """After how many repetitions, and how many bars, the figure starts on a downbeat again."""
    row = timeline.realignments[0]
    return row.repetition_number - 1, row.bar_number - 1


def test_eleven_sixteenths_over_four_four() -> None:
    timeline = cycle((4, 4, 3), even_meter(4, 4), 12)
    assert first_realignment(timeline) == (16, 11)
    assert timeline.realignments[0].at == lcm(11, 16) == 176
    expected = [0, 11, 6, 1, 12, 7, 2, 13, 8, 3, 14, 9, 4, 15, 10, 5]
    assert [row.offset for row in timeline.repetitions[:16]] == expected
    assert timeline.repetitions[16].offset == 0


@pytest.mark.parametrize(
    ("groups", "meter", "pulse", "repetitions", "bars"),
    [
        ((4, 3), even_meter(4, 4), Fraction(1, 16), 16, 7),
        ((5, 5, 3), even_meter(4, 4), Fraction(1, 16), 16, 13),
        ((3, 3, 3, 3), even_meter(4, 4), Fraction(1, 16), 4, 3),
        ((6, 6, 5, 5), even_meter(4, 4), Fraction(1, 16), 8, 11),
        ((4, 4, 3), even_meter(7, 4), Fraction(1, 8), 14, 11),
        ((4, 4, 3), even_meter(12, 8), Fraction(1, 8), 12, 11),
    ],
)
def test_other_cycles(
    groups: tuple[int, ...], meter: Meter, pulse: Fraction, repetitions: int, bars: int
) -> None:
    timeline = cycle(groups, meter, bars + 1, pulse)
    assert first_realignment(timeline) == (repetitions, bars)


def test_a_figure_as_long_as_the_bar_starts_on_every_downbeat() -> None:
    timeline = cycle((5, 5, 6), even_meter(4, 4), 3)
    assert [row.offset for row in timeline.repetitions] == [0, 0, 0]
    assert timeline.realignments == ()


def test_seventeen_durations_against_twenty_nine_chords() -> None:
    # O. Messiaen, Quatuor pour la fin du Temps, I (1941): 493 notes before both start together, as published
    # analyses state; a bar stands for the cycle of chords.
    timeline = cycle((1,) * 17, Meter(29, 16, (Fraction(29, 16),), "29/16"), 18)
    assert first_realignment(timeline) == (29, 17)
    assert timeline.realignments[0].at == 493


def test_three_cycles_of_the_same_movement_take_over_230_minutes() -> None:
    # Handout analysis of the same movement: lcm(29 x 26, 33) = 24,882 eighths; quarter = 54 from memory.
    timeline = cycle((26,) * 29, Meter(33, 8, (Fraction(33, 8),), "33/8"), 755, Fraction(1, 8), 54)
    row = timeline.realignments[0]
    assert timeline.whole(row.at) * 8 == lcm(29 * 26, 33) == 24_882
    assert float(timeline.seconds(row.at)) / 60 == pytest.approx(230.39, abs=0.005)


def test_a_colour_of_18_notes_against_a_talea_of_12() -> None:
    # G. de Machaut, De bon espoir (14th century), handbook analyses: 36 = 2 x 18 = 3 x 12.
    timeline = cycle((4, 4, 4), Meter(18, 16, (Fraction(18, 16),), "18/16"), 3)
    assert first_realignment(timeline) == (3, 2)
    assert timeline.realignments[0].at == 36


def test_a_pattern_of_12_shifted_by_one_meets_itself_after_12_shifts() -> None:
    # S. Reich, Clapping Music (1972): shifted unit by unit, so 13 sections until it is in unison again.
    timeline = cycle((13,), even_meter(12, 8), 14, Fraction(1, 8))
    assert [row.offset for row in timeline.repetitions[:13]] == [*range(12), 0]
    assert first_realignment(timeline) == (12, 13)


@pytest.mark.parametrize(("x", "y", "length"), [(3, 2, 6), (4, 3, 12), (5, 4, 20), (7, 4, 28), (6, 4, 12)])
def test_grouping_dissonance_lasts_for_the_least_common_multiple(x: int, y: int, length: int) -> None:
    # H. Krebs, Fantasy Pieces (1999), ch. 2; R. Cohn, Integral 6 (1992): Gx/y.
    timeline = cycle((x,), Meter(y, 8, (Fraction(y, 8),), f"{y}/8"), length // y + 1, Fraction(1, 8))
    assert timeline.whole(timeline.realignments[0].at) * 8 == length
