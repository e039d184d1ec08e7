"""Ranges of bars: read, found in the piece, played so many times round."""

from fractions import Fraction
from itertools import pairwise

import pytest

from renderer.core.errors import SpecError, ValueProblem, path_text
from renderer.lesson.lesson import check_choices
from renderer.mix.notes import segment_notes
from renderer.reading.load import parse_spec
from renderer.reading.scalars.parse import parse_range
from renderer.schedule.form import FormSchedule
from renderer.schedule.phrases import text_of
from renderer.schedule.play import PlaySchedule
from renderer.schedule.spans import choose_spans
from renderer.spec.model import BarRange, SegmentSpec
from scenes.catalogue import build_segment
from scenes.draw.look import canvas_for
from scenes.draw.segment import Moment, Segment
from scenes.draw.shapes import FilledShape, across
from tests.boxes import FRAME, segment_faults
from tests.lessons import DARK, SHORT, make_lesson
from tests.test_layout import SIZES


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
        ("9 to 5", "got 9 to 5; a range runs forwards. Write 5-9."),
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
    with pytest.raises(SpecError, match=r"segments\[0\]\.bars: bars can't be used with sections\.") as caught:
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


FOOT = -2.6
"""In Manim's units: what stands lower is the legend and who keeps what."""
RUNNING = SHORT.replace("bars: 3\n", "bars: 6\n").replace("bars: 2\n", "bars: 4\n")
"""Repetitions of eleven, bars of sixteen: bar 5 begins nine pulses into the sixth one."""


def run_into(segment: str, size: tuple[int, int] = (1920, 1080)) -> Segment:
    lesson = make_lesson(RUNNING.replace("segments: [figure, spread, play]", f"segments: [{segment}]"))
    return build_segment(lesson.segments()[0].schedule, DARK.on(canvas_for(*size)))


def texts(segment: Segment, seconds: Fraction) -> list[str]:
    return [shape.text for shape in segment.picture(Moment(seconds, FRAME)) if shape.text]


@pytest.mark.parametrize("show", ["play", "spread"])
def test_music_that_runs_into_the_bars_is_seen_for_a_bar_and_not_lit(show: str) -> None:
    segment = run_into(f"{{show: {show}, bars: 5-8}}")
    assert "4" in texts(segment, Fraction(0))  # the number of the bar before
    schedule = segment.schedule
    grid = segment.timeline.grid
    assert schedule.seconds_at(3 * grid) is None
    begins = schedule.seconds_at(4 * grid)
    assert begins is not None
    sails = [DARK.sail_one, DARK.sail_two]
    picture = segment.picture(Moment(begins + Fraction(3, 10), FRAME))
    above = [shape for shape in picture if len(shape.points) and shape.extent[1] > FOOT]
    lit = [shape for shape in above if colour(shape) in sails and not shape.text]
    soft = [shape for shape in picture if colour(shape) == DARK.sail_soft]
    fifth = next(across(shape)[0] for shape in picture if shape.text == "5") - 12  # right of its post
    assert lit
    assert min(across(shape)[0] for shape in lit) >= fifth - 1
    assert min(across(shape)[0] for shape in soft) < fifth - 100


def colour(shape: FilledShape) -> str:
    return "#" + "".join(f"{round(part * 255):02X}" for part in shape.fill[:3])


def test_without_music_that_runs_in_nothing_is_seen_before_the_bars() -> None:
    text = RUNNING.replace("weir: [4, 4, 3]", "weir: [4, 4, 4, 4]")
    lesson = make_lesson(text.replace("[figure, spread, play]", "[{show: play, bars: 5-8}]"))
    shown = texts(build_segment(lesson.segments()[0].schedule, DARK), Fraction(0))
    assert "5" in shown
    assert "4" not in shown


def test_a_form_of_some_bars_speaks_of_those() -> None:
    lesson = make_lesson(RUNNING.replace("[figure, spread, play]", "[{show: form, bars: 5-8}]"))
    schedule = lesson.segments()[0].schedule
    assert isinstance(schedule, FormSchedule)
    assert text_of(schedule.question) == "What are bars 5 to 8 made of?"
    assert text_of(schedule.answer) == "Bars 5 to 8; weir runs on into Lower."
    assert [step.name for step in schedule.steps] == ["bars", "Upper", "Lower", "answer"]


def test_parts_of_some_bars_end_with_them() -> None:
    segment = run_into("{show: parts, bars: 2-5}")
    ticks = segment.timeline.grid
    assert segment.schedule.seconds_at(ticks) is not None
    assert segment.schedule.seconds_at(5 * ticks) is None
    shown = texts(segment, segment.schedule.seconds - FRAME)
    assert any("bars 2 to 5" in text for text in shown)


@pytest.mark.parametrize("size", SIZES, ids=lambda size: "x".join(map(str, size)))
@pytest.mark.parametrize("show", ["play", "spread", "form", "parts"])
def test_texts_keep_apart_in_some_bars(show: str, size: tuple[int, int]) -> None:
    times = ", times: 2" if show == "play" else ""
    assert segment_faults(run_into(f"{{show: {show}, bars: 5-8{times}}}", size)) == []
