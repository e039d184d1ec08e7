"""Ranges of bars: read, found in the piece, played so many times round."""

from fractions import Fraction
from itertools import pairwise

import pytest

from renderer.core.errors import SpecError, ValueProblem, path_text
from renderer.lesson.lesson import check_choices
from renderer.mix.notes import segment_notes
from renderer.reading.load import parse_spec
from renderer.reading.scalars.parse import parse_range
from renderer.schedule.play import PlaySchedule
from renderer.schedule.spans import choose_spans
from renderer.spec.model import BarRange, SegmentSpec
from scenes.catalogue import build_segment
from scenes.draw.segment import Moment
from tests.lessons import DARK, SHORT, make_lesson


def with_segment(segment: str) -> str:
    return SHORT.replace("segments: [figure, spread, play]", f"segments: [{segment}]")


@pytest.mark.parametrize(
    ("text", "bars"),
    [
        ("35-38", (35, 38)),
        ("35 - 38", (35, 38)),
        ("35–38", (35, 38)),
        ("35 to 38", (35, 38)),
        ("-4 to -1", (-4, -1)),
        ("2 to -1", (2, -1)),
        ("9", (9, 9)),
        ("-1", (-1, -1)),
    ],
)
def test_a_range_is_read_as_musicians_say_it(text: str, bars: tuple[int, int]) -> None:
    assert parse_range(text) == BarRange(*bars)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("9 to 5", "got 9 to 5; a range runs forwards. Write 5 to 9."),
        ("-1 to -4", "got -1 to -4; a range runs forwards. Write -4 to -1."),
        ("9.3", "got 9.3; a range is bars from one to another, or one bar. Write 35-38, -4 to -1, or 9."),
        ("all", "got all; a range is bars from one to another, or one bar. Write 35-38, -4 to -1, or 9."),
    ],
)
def test_what_is_no_range_is_reported(text: str, told: str) -> None:
    with pytest.raises(ValueProblem) as caught:
        parse_range(text)
    assert f"{caught.value.text} {caught.value.mend}" == told


@pytest.mark.parametrize(
    ("ranges", "spans"),
    [
        ([(2, 3)], [(1, 3)]),
        ([(1, -1)], [(0, 5)]),
        ([(-2, -1)], [(3, 5)]),
        ([(4, 5), (1, 1)], [(0, 1), (3, 5)]),
        ([(1, 2), (3, 4)], [(0, 4)]),
        ([(1, 4), (2, 3)], [(0, 4)]),
    ],
)
def test_bars_are_found_in_the_pieces_order(
    ranges: list[tuple[int, int]], spans: list[tuple[int, int]]
) -> None:
    timeline = make_lesson().timeline
    asked = SegmentSpec("play", bars=tuple(BarRange(*bars) for bars in ranges))
    whole = [(start * timeline.grid, end * timeline.grid) for start, end in spans]  # bars of 4/4
    assert choose_spans(timeline, asked) == whole


@pytest.mark.parametrize(
    ("bars", "told"),
    [
        ("7", "segments[0].bars[0]: there is no bar 7. The bars are 1 to 5."),
        ("3-8", "segments[0].bars[0]: there is no bar 8. The bars are 1 to 5."),
        ("4 to -4", "segments[0].bars[0]: bar 2 comes before bar 4. Write 2 to 4."),
    ],
)
def test_bars_that_are_not_there_are_reported(bars: str, told: str) -> None:
    lesson = make_lesson(with_segment(f"{{show: play, bars: {bars}}}"))
    with pytest.raises(SpecError) as caught:
        check_choices(lesson.spec, lesson.timeline)
    (problem,) = caught.value.problems
    assert f"{path_text(problem.path)}: {problem.text} {problem.mend}" == told


def test_sections_and_bars_are_a_choice() -> None:
    with pytest.raises(SpecError, match=r"segments\[0\]\.bars: bars can't stand beside sections\.") as caught:
        parse_spec(with_segment("{show: play, bars: 2, sections: Upper}"), "x")
    assert caught.value.problems[0].mend == "Choose sections or bars."


def test_bars_so_many_times_round_repeat_clicks_and_notes_without_a_gap() -> None:
    lesson = make_lesson(with_segment("{show: play, bars: 2-3, times: 3}"))
    schedule = lesson.segments()[0].schedule
    assert isinstance(schedule, PlaySchedule)
    once = make_lesson(with_segment("{show: play, bars: 2-3}")).segments()[0].schedule
    timeline = lesson.timeline
    length = timeline.seconds(3 * timeline.grid) - timeline.seconds(timeline.grid)
    lead = once.seconds - length
    assert schedule.seconds == lead + 3 * length
    assert [step.name for step in schedule.steps] == ["count-in", "round 1", "round 2", "round 3"]
    assert {b.seconds - a.seconds for a, b in pairwise(schedule.steps[1:])} == {length}
    sounded = [click for click in once.clicks if click.seconds >= lead]
    assert [click for click in schedule.clicks if click.seconds >= lead] == [
        click._replace(seconds=click.seconds + number * length) for number in range(3) for click in sounded
    ]
    notes, first = segment_notes(schedule)["main"], segment_notes(once)["main"]
    assert [note.seconds for note in notes] == [
        note.seconds + number * length for number in range(3) for note in first
    ]


def test_a_stretch_that_begins_inside_a_section_has_a_step_by_its_bar() -> None:
    schedule = make_lesson(with_segment("{show: play, bars: 2-4}")).segments()[0].schedule
    assert [step.name for step in schedule.steps] == ["count-in", "bar 2", "Lower"]


def test_rounds_take_turns_in_the_two_rows() -> None:
    lesson = make_lesson(with_segment("{show: play, bars: 2-3, times: 4}"))
    schedule = lesson.segments()[0].schedule
    assert isinstance(schedule, PlaySchedule)
    segment, frame = build_segment(schedule, DARK), Fraction(1, 24)
    rounds = [step.seconds for step in schedule.steps[1:]]
    half = (rounds[1] - rounds[0]) / 2

    def seen(start: Fraction) -> list[bytes]:
        return [shape.points.tobytes() for shape in segment.picture(Moment(start + half, frame))]

    assert seen(rounds[0])
    assert seen(rounds[1]) != seen(rounds[0])  # in the other of the two rows
    second, third = schedule.spans[1], schedule.spans[2]
    assert schedule.position(second.seconds + half) == schedule.position(third.seconds + half)
