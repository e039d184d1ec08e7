"""The builder against a walk tick by tick, and what must hold for every piece."""

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import HealthCheck, assume, given, settings

from renderer.core.errors import SpecError
from renderer.spec.model import Spec
from renderer.timeline.build import build_timeline
from renderer.timeline.model import Timeline
from tests.pulse_walk import NothingRunsError, PulseWalk, walk
from tests.strategies import GRID, specs

AS_WRITTEN = ("is given twice", "are the same place", "has a fermata already")
"""Faults that random positions stumble on; the walk takes either entry."""


def built(spec: Spec) -> Timeline | None:
    """The timeline; None where a list can't go on or start. Drops specs that give two values at one place."""
    try:
        return build_timeline(spec)
    except SpecError as error:
        texts = [problem.text for problem in error.problems]
        assume(not any(phrase in text for phrase in AS_WRITTEN for text in texts))
        assert all("nothing runs" in text or "would start before" in text for text in texts), texts
        return None


def check_against_walk(spec: Spec) -> None:
    timeline = built(spec)
    try:
        piece, found = walk(spec, GRID)
    except NothingRunsError:
        assert timeline is None
        return
    assert timeline is not None
    scale = Fraction(GRID, timeline.grid)
    assert timeline.end * scale == piece.end
    assert [bar.meter for bar in timeline.bars if bar.number] == piece.meters
    assert [
        (
            *(row.voice, row.number, row.counted, row.section_index, row.bar_number),
            *(row.offset * scale, row.at * scale),
            *(row.statement.figure, row.statement.kind, row.statement.length * scale),
            *(row.statement.sounding_length * scale, row.statement.pulse * scale),
        )
        for row in timeline.repetitions
    ] == found.repetitions
    assert [(v, n, at * scale, accent) for v, n, at, accent in timeline.hits] == found.hits
    assert [
        (*row[:4], row.at * scale, row.into * scale, row.group_number, row.into_group * scale)
        for row in timeline.crossings
    ] == found.crossings
    assert [(*row[:3], row.at * scale, *row[4:]) for row in timeline.landings] == found.landings
    assert [(*row[:2], row.at * scale, *row[3:]) for row in timeline.realignments] == found.realignments
    assert [
        (row.voice, row.before, row.after, row.at * scale, row.line * scale, row.over * scale, row.cut)
        for row in timeline.handovers
    ] == found.handovers
    assert sorted((mark.at * scale, mark.to * scale, mark.text) for mark in timeline.marks) == found.marks
    check_lanes_against_walk(timeline, piece)


def check_lanes_against_walk(timeline: Timeline, piece: PulseWalk) -> None:
    """Seconds of every tick; sides and harmonies from one to the next, or told as long as they hold."""
    scale = Fraction(timeline.grid, GRID)
    for tick, seconds in piece.seconds().items():
        assert timeline.clock.seconds(tick * scale) == seconds
    harmony = piece.lane(piece.spec.harmony, "harmony")
    sides = piece.lane((), "parts", "drum")
    for tick in range(piece.start, piece.end):
        place = tick * timeline.grid
        names = [row.name for row in timeline.harmony if row.at * GRID <= place < row.end * GRID]
        assert names == ([harmony[tick]] if harmony[tick] else [])
        kept = [row.side for row in timeline.sides if row.at * GRID <= place < row.end * GRID]
        assert kept == ([sides[tick]] if sides[tick] else [])


@settings(max_examples=100, deadline=None, suppress_health_check=list(HealthCheck))
@given(specs())
def test_the_builder_agrees_with_a_walk_tick_by_tick(spec: Spec) -> None:
    check_against_walk(spec)


@pytest.mark.slow
@settings(max_examples=2000, deadline=None, suppress_health_check=list(HealthCheck))
@given(specs())
def test_the_builder_agrees_with_a_walk_tick_by_tick_two_thousand_times(spec: Spec) -> None:
    check_against_walk(spec)


@settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
@given(specs())
def test_rows_tile_the_piece_and_time_leads_back_to_its_place(spec: Spec) -> None:
    timeline = built(spec)
    assume(timeline is not None)
    assert timeline is not None
    check_bars_tile_sections_and_sections_tile_the_piece(timeline)
    check_the_repetitions_of_a_voice_never_overlap_and_their_groups_tile_them(timeline)
    check_a_place_in_time_leads_back_to_the_place(timeline)


def check_bars_tile_sections_and_sections_tile_the_piece(timeline: Timeline) -> None:
    ends = [section.end for section in timeline.sections]
    assert [section.at for section in timeline.sections] == [0, *ends[:-1]]
    assert ends[-1] == timeline.end
    for index, section in enumerate(timeline.sections):
        bars = [bar for bar in timeline.bars if bar.section_index == index and bar.number]
        assert [bar.number for bar in bars] == list(
            range(section.first_bar_number, section.last_bar_number + 1)
        )
        assert [bar.at for bar in bars] == [section.at, *(bar.end for bar in bars[:-1])]
        assert bars[-1].end == section.end
    for bar in timeline.bars:
        beats = [beat for beat in timeline.beats if beat.bar_number == bar.number]
        assert all(left.end == right.at for left, right in pairwise(beats))
        if bar.number:
            assert (beats[0].at, beats[-1].end) == (bar.at, bar.end)
            assert [timeline.whole(beat.end - beat.at) for beat in beats] == list(bar.meter.beats)


def check_the_repetitions_of_a_voice_never_overlap_and_their_groups_tile_them(timeline: Timeline) -> None:
    for voice in timeline.voices:
        rows = [row for row in timeline.repetitions if row.voice == voice]
        assert [row.number for row in rows] == list(range(1, len(rows) + 1))
        assert all(left.end <= right.at for left, right in pairwise(rows))
        assert all(timeline.start <= row.at < row.end <= timeline.end for row in rows)
    for row in timeline.repetitions:
        statement = row.statement
        assert sum(group.length for group in statement.groups) == statement.sounding_length
        assert statement.cut == (statement.kind == "cut")
        assert (statement.sounding_length < statement.length) == (statement.kind in ("cut", "first"))


def check_a_place_in_time_leads_back_to_the_place(timeline: Timeline) -> None:
    for row in timeline.repetitions:
        assert timeline.clock.position(timeline.seconds(row.at)) == row.at
