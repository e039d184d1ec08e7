"""Which repetition it is, as a teacher counts: in the timeline, in hulls, in the counter and in sentences."""

from fractions import Fraction

import pytest

from renderer.schedule.phrases import text_of
from renderer.schedule.spread_sentences import Spot, point_sentence
from renderer.schedule.wheel import WheelSchedule
from renderer.timeline.model import Timeline
from scenes.catalogue import build_segment
from scenes.draw.look import canvas_for, read_look
from scenes.draw.segment import Moment
from scenes.frame.headed import HeadedSegment
from tests.boxes import FRAME, text_boxes
from tests.lessons import make_lesson

HEAD = """
title: Weir
tempo: 90
meter: 4/4
pulse: 1/16
figures: {weir: [5, 3, 3], plank: [4, 2, 2]}
"""
PIECE = f"""{HEAD}
form:
  - section: Upper
    bars: 4
    plays: [{{figure: plank, times: 3.5}}, {{tail: [2, 2]}}, weir, {{first: 5, of: weir}}, weir]
  - {{section: Lower, bars: 4, plays: on}}
segments: [play]
"""


def counts(form: str) -> list[int | None]:
    return [row.counted for row in make_lesson(f"{HEAD}form: {form}\n").timeline.repetitions]


@pytest.mark.parametrize(
    ("form", "expected"),
    [
        # a new list begins again, `on` counts on, a cut one has its place too
        ("[{section: A, bars: 2, plays: weir}, {section: B, bars: 1, plays: weir}]", [1, 2, 3, 1, 2]),
        ("[{section: A, bars: 2, plays: weir}, {section: B, bars: 1, plays: on}]", [1, 2, 3, 4, 5]),
        ("[{section: A, bars: 1, repeat: 2, plays: plank}]", [1, 2, 1, 2]),
        # another figure, a tail, a rest
        ("[{section: A, bars: 2, plays: [plank, weir, plank, plank]}]", [1, 1, 1, 2]),
        ("[{section: A, bars: 2, plays: [plank, {tail: [4]}, plank, plank]}]", [1, None, 1, 2, 3]),
        ("[{section: A, bars: 2, plays: [plank, plank, {rest: 4}, plank]}]", [1, 2, 1, 2]),
        # fractions, firsts and items that follow each other are one row
        ("[{section: A, bars: 2, plays: [{figure: plank, times: 1.5}, plank, {first: 3, of: plank}]}]",
         [1, 2, 3, 4]),
    ],
)  # fmt: skip
def test_the_row_of_a_figure_is_counted(form: str, expected: list[int | None]) -> None:
    assert counts(form) == expected


def hulls(options: str) -> list[str]:
    """The texts in the first row's hulls at the beginning of `play`, from left to right."""
    lesson = make_lesson(PIECE.replace("segments: [play]", f"segments: [{{show: play{options}}}]"))
    segment = build_segment(lesson.segments()[0].schedule, read_look("dark").on(canvas_for(1920, 1080)))
    assert isinstance(segment, HeadedSegment)
    boxes = text_boxes(segment.picture(Moment(Fraction(0), FRAME)))
    note = next(box for box in boxes if box.text == "4 of 8")
    row = [box for box in boxes if box.size == note.size and abs(box.bottom - note.bottom) < 12]
    return [box.text for box in sorted(row, key=lambda box: box.left)]


def test_hulls_count_as_a_teacher_does() -> None:
    assert hulls("") == ["1", "2", "3", "½", "4 of 8", "tail 2 + 2"]


def test_the_number_in_the_piece_is_shown_where_it_is_asked_for() -> None:
    assert hulls(", numbers: piece") == ["1", "2", "3", "4", "4 of 8", "5", "tail 2 + 2"]


def test_sentences_and_counter_count_alike() -> None:
    timeline: Timeline = make_lesson(PIECE).timeline
    rows = timeline.repetitions
    said = [text_of(point_sentence(timeline, Spot("start", row, row.at))) for row in rows[2:8]]
    assert [text.partition(" starts")[0] for text in said] == [
        "Repetition 3", "The half repetition", "The tail", "Repetition 1", "Repetition 2", "Repetition 3",
    ]  # fmt: skip
    spot = Spot("start", rows[5], rows[5].at)
    assert text_of(point_sentence(timeline, spot, "piece")).startswith("Repetition 6 starts on the downbeat")


def test_the_counter_has_no_number_for_a_tail() -> None:
    schedule = make_lesson(PIECE).segments()[0].schedule
    segment = build_segment(schedule, read_look("dark").on(canvas_for(1920, 1080)))
    assert isinstance(segment, HeadedSegment)
    words = {}
    for row in schedule.timeline.repetitions[:6]:
        seconds = schedule.seconds_at(row.at)
        assert seconds is not None
        count = segment.counts(Moment(seconds + FRAME, FRAME))[0]
        words[row.number] = count.word, count.number
    assert words[4] == ("repetition", "½")
    assert words[5] == ("tail", "")
    assert words[6] == ("repetition", "1")


def test_a_wheel_counts_in_its_figure_s_row() -> None:
    for option, first in (("", 1), (", numbers: piece", 6)):
        show = f"segments: [{{show: wheel, figure: weir{option}}}]"
        schedule = make_lesson(PIECE.replace("segments: [play]", show)).segments()[0].schedule
        assert isinstance(schedule, WheelSchedule)
        assert schedule.first_number == first
