"""crossings: what is counted, when the harmony turns, which crossings are shown, and that all texts keep apart."""

from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest

from renderer.core.errors import SpecError
from renderer.lesson.lesson import check_choices
from renderer.schedule.crossings import CrossingsSchedule, choose_crossings
from renderer.spec.model import SegmentSpec
from renderer.video.rasterizer import Painter
from scenes.catalogue import build_segment
from scenes.crossings.crossings import CrossingsSegment
from scenes.draw.look import WIDE, read_look
from scenes.draw.segment import Moment
from scenes.draw.shapes import PIXEL, FilledShape
from tests.boxes import FRAME, faults, segment_faults
from tests.extremes import EXTREMES
from tests.lessons import DARK, make_lesson

PIECE = """
title: Weir
tempo: 60
meter: 4/4
pulse: 1/16
figures: {weir: [5, 3, 3]}
form:
  - {section: Upper, bars: 4, harmony: {1: Dm, 2.2: Bb, 4: F#m}, plays: weir}
  - {section: Lower, bars: 4, harmony: {1: Dm, 3: Bb}, plays: on}
click: {every: beat, count_in: 1}
segments: [crossings]
"""


def build(text: str = PIECE, theme: str = "dark") -> CrossingsSegment:
    lesson = make_lesson(text)
    segment = build_segment(lesson.schedule_show("crossings"), read_look(theme))
    assert isinstance(segment, CrossingsSegment)
    return segment


def rgb(colour: str) -> tuple[int, ...]:
    return tuple(int(colour[index : index + 2], 16) for index in (1, 3, 5))


def shape_middle(shape: FilledShape) -> float:
    """How far down a shape's middle is, in pixels."""
    _, low, _, high = shape.extent
    return WIDE.height / 2 - (low + high) / 2 / PIXEL


def schedule_of(text: str = PIECE) -> CrossingsSchedule:
    schedule = make_lesson(text).schedule_show("crossings")
    assert isinstance(schedule, CrossingsSchedule)
    return schedule


def texts(segment: CrossingsSegment, seconds: Fraction) -> list[str]:
    return [shape.text for shape in segment.picture(Moment(seconds, FRAME)) if shape.text]


def colour_at(segment: CrossingsSegment, seconds: Fraction, x: float, y: float) -> tuple[int, ...]:
    pixels = Painter(1920, 1080, DARK.ground).paint(segment.picture(Moment(seconds, FRAME)))
    return tuple(int(value) for value in np.asarray(pixels)[int(y), int(x), :3])


def test_without_a_choice_the_first_crossing_of_each_section_is_shown() -> None:
    chosen = schedule_of().close_ups
    assert [each.number for each in chosen] == [1, 3]
    assert [each.crossing.after for each in chosen] == ["Bb", "Dm"]


def test_crossings_are_chosen_by_number_in_the_chosen_sections() -> None:
    text = PIECE.replace("[crossings]", "[{show: crossings, crossing: [2, 1], sections: Upper}]")
    assert [each.crossing.after for each in schedule_of(text).close_ups] == ["Bb", "F#m"]
    assert schedule_of(text).count == 2


def test_all_of_them_are_shown_where_that_is_asked_for() -> None:
    every = PIECE.replace("[crossings]", "[{show: crossings, crossing: all}]")
    schedule, timeline = schedule_of(every), make_lesson(every).timeline
    assert [each.crossing for each in schedule.close_ups] == list(timeline.crossings)
    assert len(schedule.close_ups) == schedule.count > len(schedule_of().close_ups)
    one = PIECE.replace("[crossings]", "[{show: crossings, crossing: 2}]")
    assert [each.number for each in schedule_of(one).close_ups] == [2]
    with pytest.raises(SpecError, match="crossing"):
        make_lesson(PIECE.replace("[crossings]", "[{show: crossings, crossing: every}]"))


def test_a_crossing_that_is_not_there_is_told() -> None:
    lesson = make_lesson(PIECE.replace("[crossings]", "[{show: crossings, crossing: 9}]"))
    with pytest.raises(SpecError, match="there is no crossing 9") as error:
        check_choices(lesson.spec, lesson.timeline)
    assert error.value.problems[0].path == ("segments", 0, "crossing", 0)
    count = len(choose_crossings(lesson.timeline, SegmentSpec("crossings")))
    assert error.value.problems[0].mend == f"Write 1 to {count}."


def test_counting_runs_through_the_crossing_at_an_even_pace() -> None:
    schedule, timeline = schedule_of(), make_lesson(PIECE).timeline
    for each in schedule.close_ups:
        pulse = each.repetition.statement.pulse
        sounds = [each.seconds_of(timeline, at) for at in range(each.first, each.last, pulse)]
        assert len(sounds) == 11
        assert len({later - earlier for earlier, later in pairwise(sounds)}) == 1
        assert sounds[0] - each.start_seconds == (each.first - each.start) * Fraction(1, 4) / pulse


def test_a_place_of_the_piece_is_found_where_it_is_counted() -> None:
    schedule, timeline = schedule_of(), make_lesson(PIECE).timeline
    each = schedule.close_ups[1]
    turns = schedule.seconds_at(each.crossing.at)
    assert turns in [step.seconds for step in schedule.steps if step.name == f"change {each.number}"]
    assert schedule.seconds_at(timeline.end) is None


def test_a_fast_piece_is_counted_at_five_pulses_a_second() -> None:
    text = PIECE.replace("tempo: 60", "tempo: 240")
    schedule, timeline = schedule_of(text), make_lesson(text).timeline
    each = schedule.close_ups[0]
    assert each.seconds_of(timeline, each.first + 1) - each.seconds_of(timeline, each.first) == Fraction(1, 5)


def test_clicks_stand_on_the_beats_of_the_music() -> None:
    schedule, timeline = schedule_of(), make_lesson(PIECE).timeline
    each = schedule.close_ups[0]
    beats = {each.seconds_of(timeline, beat.at) for beat in timeline.beats_between(each.start, each.stop)}
    assert beats <= {click.seconds for click in schedule.clicks}
    downbeats = {click.seconds for click in schedule.clicks if click.kind == "downbeat"}
    assert each.seconds_of(timeline, 16) in downbeats


def test_the_sky_turns_on_the_crossings_own_pulse() -> None:
    segment = build()
    each, row = segment.schedule.close_ups[0], segment.rows[0]
    turns = each.seconds_of(segment.timeline, each.crossing.at)
    far = row.right - 3, WIDE.stage_top + 20
    before, after = colour_at(segment, turns - FRAME * 15, *far), colour_at(segment, turns, *far)
    assert before == rgb(DARK.sky_one)
    assert after == rgb(DARK.sky_two)


def test_the_lit_repetition_stands_where_its_pulses_are() -> None:
    segment = build()
    each, row = segment.schedule.close_ups[0], segment.rows[0]
    middle = (row.hull_bottom - 6,)
    first, last = row.x(each.repetition.at), row.x(each.repetition.end)
    lit = rgb(DARK.sail_one)
    assert colour_at(segment, each.braces[-1], first + 40, *middle) == lit
    assert colour_at(segment, each.braces[-1], last - 110, *middle) == lit


def test_lit_is_what_has_sounded() -> None:
    """Up to the playhead, to the pixel; the repetitions beside it stand further back."""
    segment = build()
    each, row = segment.schedule.close_ups[0], segment.rows[0]
    low = row.hull_top + 4
    soft = rgb(DARK.sail_soft)
    for pulses in (Fraction(0), Fraction(7, 2), Fraction(21, 2)):
        ticks = pulses * each.repetition.statement.pulse
        start = each.seconds_of(segment.timeline, each.first)
        second = each.seconds_of(segment.timeline, each.first + 1) - start
        x = row.x(each.repetition.at + float(ticks))
        if pulses:
            assert colour_at(segment, start + ticks * second, x - 3, low) == rgb(DARK.sail_one)
        assert colour_at(segment, start + ticks * second, x + 3, low) == soft
    assert colour_at(segment, Fraction(0), row.x(each.repetition.end) + 40, low) != soft


def test_counts_come_one_by_one_and_begin_again_with_each_group() -> None:
    segment = build()
    each = segment.schedule.close_ups[0]
    for counted in range(12):
        at = each.first + max(0, counted - 1)
        seconds = each.seconds_of(segment.timeline, at) if counted else each.start_seconds - 1
        row = segment.rows[0]
        shown = [
            shape.text
            for shape in segment.picture(Moment(seconds, FRAME))
            if shape.text and shape.text.isdigit() and row.hull_top < shape_middle(shape) < row.hull_bottom
        ]
        assert shown == ["1", "2", "3", "4", "5", "1", "2", "3", "1", "2", "3"][:counted]


def test_the_two_shares_add_up_to_the_repetition() -> None:
    segment = build()
    shown = texts(segment, segment.schedule.close_ups[0].end - FRAME)
    assert "9 in Dm" in shown
    assert "2 in B♭" in shown


@pytest.mark.parametrize("theme", ["dark", "light"])
@pytest.mark.parametrize("name", EXTREMES)
def test_texts_keep_apart_at_the_extremes(name: str, theme: str) -> None:
    assert segment_faults(build(EXTREMES[name], theme)) == []


def test_a_glide_never_shows_a_text_outside_the_frame() -> None:
    segment = build()
    arrival = segment.schedule.close_ups[1].seconds
    for frame in range(60):
        shapes = segment.picture(Moment(arrival - frame * FRAME, FRAME))

        assert faults(shapes) == []
