"""Exact time on a grid. Expected values are arithmetic, or from the source named beside them."""

from fractions import Fraction
from itertools import accumulate

import pytest
from hypothesis import given
from hypothesis import strategies as st

from renderer.core.time_grid import (
    frame_index_to_seconds,
    nearest,
    seconds_to_frame_index,
    seconds_to_sample_index,
)

NTSC = Fraction(30000, 1001)
DAY = 24 * 60 * 60
RATES = [Fraction(24000, 1001), Fraction(24), Fraction(25), NTSC, Fraction(30), Fraction(50), Fraction(60)]

seconds_of_a_day = st.fractions(min_value=-60, max_value=DAY, max_denominator=10**9)
rates = st.sampled_from(RATES)


@pytest.mark.parametrize(
    ("frames_per_second", "frame_index"),
    [(24, 30), (25, 31), (30, 38), (50, 63), (60, 75)],
)
def test_a_second_and_a_quarter_in_frames_with_ties_going_up(
    frames_per_second: int, frame_index: int
) -> None:
    # 1.25 s is 30, 31.25, 37.5, 62.5 and 75 frames.
    assert seconds_to_frame_index(Fraction(5, 4), Fraction(frames_per_second)) == frame_index


def test_eleven_sixteenths_at_132_are_60000_samples() -> None:
    whole_note = Fraction(240, 132)
    onsets = [seconds_to_sample_index(k * Fraction(11, 16) * whole_note, 48_000) for k in range(17)]
    assert onsets == [60_000 * k for k in range(17)]
    assert seconds_to_sample_index(11 * whole_note, 48_000) == 960_000


def test_44_beats_end_where_11_bars_end_and_a_sum_of_rounded_beats_does_not() -> None:
    beat = Fraction(60, 132)
    rounded_beat = seconds_to_sample_index(beat, 48_000)
    assert rounded_beat == 21_818
    assert list(accumulate([rounded_beat] * 44))[-1] == 960_000 - 8
    assert seconds_to_sample_index(44 * beat, 48_000) == 960_000


def test_no_drift_in_24_hours_at_30000_1001() -> None:
    # A day of drop-frame time code is 2,589,408 frames (SMPTE ST 12-1, from memory: 107,892 an hour), which
    # last 86.4 ms less than a day.
    frame_count = 24 * 107_892
    assert frame_index_to_seconds(frame_count, NTSC) == DAY - Fraction(864, 10_000)
    for frame_index in [*range(0, frame_count, 997), frame_count]:
        seconds = frame_index_to_seconds(frame_index, NTSC)
        assert seconds * 30_000 == frame_index * 1001
        assert seconds_to_frame_index(seconds, NTSC) == frame_index


@given(st.integers(-(10**4), 60 * DAY), rates)
def test_a_frame_is_found_again_from_its_seconds(frame_index: int, frames_per_second: Fraction) -> None:
    seconds = frame_index_to_seconds(frame_index, frames_per_second)
    assert seconds_to_frame_index(seconds, frames_per_second) == frame_index


@given(seconds_of_a_day, rates)
def test_a_frame_is_at_most_half_a_frame_away(seconds: Fraction, frames_per_second: Fraction) -> None:
    frame_index = seconds_to_frame_index(seconds, frames_per_second)
    late = frame_index_to_seconds(frame_index, frames_per_second) - seconds
    assert -Fraction(1, 2) < late * frames_per_second <= Fraction(1, 2)


@given(seconds_of_a_day, st.sampled_from([44_100, 48_000, 96_000]))
def test_a_sample_is_at_most_half_a_sample_away(seconds: Fraction, samples_per_second: int) -> None:
    late = seconds_to_sample_index(seconds, samples_per_second) - seconds * samples_per_second
    assert -Fraction(1, 2) < late <= Fraction(1, 2)


@given(st.lists(seconds_of_a_day, min_size=2), rates)
def test_order_in_time_is_order_in_frames(times: list[Fraction], frames_per_second: Fraction) -> None:
    frames = [seconds_to_frame_index(seconds, frames_per_second) for seconds in sorted(times)]
    assert frames == sorted(frames)


@given(st.integers())
def test_halves_go_up_on_both_sides_of_zero(integer: int) -> None:
    assert nearest(integer + Fraction(1, 2)) == integer + 1
    assert nearest(Fraction(integer)) == integer
