"""Ticks to seconds and back: steps, ramps, fermatas, recordings."""

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from renderer.timeline.clock import Clock, Instant, TempoMark, build_clock
from tests.pieces import HEAD, timeline_of

GRID = 48

tempi = st.fractions(min_value=20, max_value=300, max_denominator=10)
gaps = st.integers(1, 400)
seconds = st.fractions(min_value=Fraction(1, 10), max_value=20, max_denominator=100)


@st.composite
def clocks(draw: st.DrawFn, synced: bool = False) -> tuple[Clock, int]:
    """A clock of steps, ramps and fermatas, perhaps ruled by a recording; and where its last mark ends."""
    marks: list[TempoMark] = []
    at = draw(st.sampled_from((0, 0, -12)))
    for _ in range(draw(st.integers(1, 5))):
        end = at + draw(gaps)
        quarters, to = draw(tempi), draw(st.none() | tempi)
        marks.append(TempoMark(quarters, to if to != quarters else None, at, end))
        at = end
    places = st.integers(-10, max(at, 0))
    fermatas = [Instant(place, draw(seconds)) for place in sorted(draw(st.sets(places, max_size=3)))]
    sync: list[Instant] = []
    if synced:
        place, heard = draw(st.integers(-10, 20)), draw(seconds)
        for _ in range(draw(st.integers(1, 4))):
            sync.append(Instant(place, heard))
            place, heard = place + draw(gaps), heard + draw(seconds)
    return build_clock(GRID, marks, fermatas, sync), at


@given(clocks(), st.integers(-100, 2500))
def test_a_place_leads_to_its_seconds_and_back(clock: tuple[Clock, int], at: int) -> None:
    # 1e-6 of a tick: a ramp's logarithm and its inverse are floats, over up to an hour of seconds.
    assert clock[0].position(clock[0].seconds(at)) == pytest.approx(at, abs=1e-6)


@given(clocks(synced=True), st.integers(-100, 2500))
def test_it_does_so_with_a_recording_too(clock: tuple[Clock, int], at: int) -> None:
    assert clock[0].position(clock[0].seconds(at)) == pytest.approx(at, abs=1e-6)


@given(clocks(synced=True))
def test_later_places_sound_later_and_bar_1_sounds_at_0(clock: tuple[Clock, int]) -> None:
    found = [clock[0].seconds(at) for at in range(-100, clock[1] + 100, 7)]
    assert all(left < right for left, right in pairwise(found))
    assert clock[0].seconds(0) == 0


@given(clocks(synced=True), st.lists(st.integers(-100, 2500), min_size=1, max_size=30))
def test_many_places_at_once_sound_as_one_by_one(clock: tuple[Clock, int], ticks: list[int]) -> None:
    ticks.sort()
    assert clock[0].floats(ticks) == [float(clock[0].seconds(at)) for at in ticks]


def test_a_step_is_exact_and_goes_on_beyond_both_ends() -> None:
    clock = build_clock(16, [TempoMark(Fraction(132), None, 0, 16)], (), ())
    assert clock.seconds(11) == Fraction(5, 4)
    assert clock.seconds(-4) == Fraction(-60, 132)
    assert clock.seconds(176) == 20
    assert clock.seconds(Fraction(11, 2)) == Fraction(5, 8)


def test_what_lies_after_a_fermata_is_later_and_its_own_place_is_not() -> None:
    timeline = timeline_of("""\
        fermata: {2: 3}
        form:
          - {section: A, bars: 2, fermata: {1.4: 2}}
        """)
    beat = Fraction(60, 132)
    assert [timeline.seconds(at) for at in (12, 13, 16, 17)] == [
        3 * beat,
        3 * beat + 2 + beat / 4,
        4 * beat + 2,
        4 * beat + 2 + 3 + beat / 4,
    ]
    assert timeline.clock.position(float(3 * beat) + 1) == 12
    assert timeline.end == 32


def test_a_fermata_in_every_pass_is_there_in_every_pass() -> None:
    timeline = timeline_of("form:\n  - {section: A, bars: 1, repeat: 3, fermata: {1.4: 2}}\n")
    assert timeline.seconds(48) == 3 * (4 * Fraction(60, 132) + 2)


def test_a_ramp_reaches_its_tempo_at_the_lane_s_next_entry_or_the_section_s_end_and_stays() -> None:
    timeline = timeline_of("""\
        form:
          - {section: A, bars: 4, tempo: {1: 60, 2: {to: 120}, 4: 90}}
          - {section: B, bars: 2, tempo: {2: {to: 45}}}
          - {section: C, bars: 1}
        """)
    rows = [
        (int(row.quarters), row.to and int(row.to), row.at // 16, row.end // 16) for row in timeline.tempo
    ]
    assert rows == [(60, None, 0, 1), (60, 120, 1, 3), (90, None, 3, 5), (90, 45, 5, 6), (45, None, 6, 7)]
    assert timeline.seconds(7 * 16) - timeline.seconds(6 * 16) == Fraction(240, 45)


def test_a_metronome_mark_counts_its_own_note() -> None:
    # Dotted quarter = 60 is quarter = 90: W3C MusicXML 4.0, metronome element.
    timeline = timeline_of(
        "form:\n  - {section: A, bars: 1}\n", HEAD.replace("tempo: 132", "tempo: 3/8 = 60")
    )
    assert timeline.tempo[0].quarters == 90


def test_sync_points_stretch_the_piece_s_own_seconds_between_neighbours() -> None:
    timeline = timeline_of(
        """\
        sync: {1: 0.5, 3: 4.5, 5: 12.5}
        form:
          - {section: A, bars: 6}
        """,
        HEAD.replace("tempo: 132", "tempo: 120"),
    )
    assert [int(stretch) for stretch in timeline.clock.sync_ratios] == [1, 2]
    assert timeline.clock.file_start == Fraction(1, 2)
    assert [timeline.seconds(bar * 16) for bar in range(7)] == [0, 2, 4, 8, 12, 16, 20]
    assert timeline.seconds(-16) == -2


def test_one_sync_point_only_shifts() -> None:
    timeline = timeline_of("""\
        form:
          - {section: A, bars: 2}
          - {section: B, bars: 2, sync: 10}
        """)
    bar = Fraction(20, 11)
    assert timeline.clock.file_start == 10 - 2 * bar
    assert timeline.seconds(16) == bar


def test_a_fermata_between_sync_points_is_stretched_with_the_rest() -> None:
    timeline = timeline_of(
        """\
        sync: {1: 0, 2: 8}
        fermata: {1.3: 2}
        form:
          - {section: A, bars: 2}
        """,
        HEAD.replace("tempo: 132", "tempo: 120"),
    )
    # Two seconds of music and two of standing make four, stretched to eight.
    assert [timeline.seconds(at) for at in (0, 8, 12, 16)] == [0, 2, 7, 8]


def test_thousands_of_unlike_tempi_keep_their_denominators_small() -> None:
    marks = [
        TempoMark(Fraction(4000 + 7 * index, 100), None, index * 16, index * 16 + 16) for index in range(5000)
    ]
    clock = build_clock(16, marks, (), ())
    exact = sum((Fraction(240) / mark.quarters for mark in marks), Fraction(0))
    assert abs(clock.seconds(5000 * 16) - exact) < Fraction(1, 10**60)
    assert clock.stretches[-1].seconds.denominator.bit_length() < 1100
