"""A figure that comes home by itself is told and drawn so; what the writer brings to a bar line is not."""

import pytest

from renderer.report.section_advice import describe
from renderer.report.table import timeline_listing
from renderer.schedule.phrases import text_of
from renderer.schedule.spread import SpreadSchedule
from renderer.timeline.plan import plan_spec
from scenes.catalogue import build_segment
from scenes.draw.look import canvas_for, read_look
from scenes.draw.segment import Moment, Segment
from tests.boxes import FRAME, text_boxes
from tests.lessons import make_lesson

HEAD = """
title: Weir
tempo: 60
meter: 4/4
pulse: 1/16
figures: {weir: [5, 3, 3], plank: [4, 2], eddy: [5, 4]}
"""
PLAIN = {
    "another figure": "form: [{section: A, bars: 4, plays: [{figure: weir, times: 4}, {first: 4, of: weir}, plank]}]",
    "a tail": "form: [{section: A, bars: 4, plays: [weir, weir, {tail: [5, 5]}, weir]}]",
    "a repeat": "form: [{section: A, bars: 3, repeat: 2, plays: [{figure: weir, times: 4}, {first: 4, of: weir}]}]",
    "a new list": "form: [{section: A, bars: 9, plays: eddy}, {section: B, bars: 1, plays: eddy}]",
}
"""Each has a start on a downbeat after starts off it, and no cut before it; 9 bars of 16 are 16 x 9."""
HOME = "form: [{section: A, bars: 9, plays: eddy}, {section: B, bars: 1, plays: on}]"


def segment_of(form: str, show: str) -> Segment:
    lesson = make_lesson(f"{HEAD}{form}\nsegments: [spread, play]\n")
    return build_segment(lesson.schedule_show(show), read_look("dark").on(canvas_for(1920, 1080)))


def told(form: str) -> str:
    """All that `check` and the table tell."""
    lesson = make_lesson(f"{HEAD}{form}\n")
    return "\n".join([*describe(plan_spec(lesson.spec), lesson.timeline), *timeline_listing(lesson.timeline)])


def shown(form: str, show: str) -> str:
    """All texts at a segment's end, the legend's too."""
    segment = segment_of(form, show)
    boxes = text_boxes(segment.picture(Moment(segment.schedule.seconds - FRAME, FRAME)))
    return " | ".join(box.text for box in boxes)


@pytest.mark.parametrize("form", PLAIN.values(), ids=PLAIN)
def test_what_the_writer_brings_to_a_downbeat_is_not_said_to_come_back(form: str) -> None:
    schedule = segment_of(form, "spread").schedule
    assert isinstance(schedule, SpreadSchedule)
    starts = [r for r in schedule.repetitions if not r.offset]
    assert len(starts) > 1
    assert any(r.offset for r in schedule.repetitions)
    assert "Back" not in text_of(schedule.lights[-1].phrases)
    assert "again" not in text_of(schedule.question)
    assert "downbeat again:" not in told(form)
    assert "starts on a" not in told(form)
    for show in ("spread", "play"):
        assert "again" not in shown(form, show)


def test_what_runs_on_into_the_downbeat_is() -> None:
    schedule = segment_of(HOME, "spread").schedule
    assert isinstance(schedule, SpreadSchedule)
    assert text_of(schedule.question) == "When does eddy start on a downbeat again?"
    assert text_of(schedule.lights[-1].phrases) == "Back on a downbeat at bar 10."
    assert "starts on a downbeat again: bar 10" in told(HOME)
    assert "starts on a section's downbeat again" in told(HOME)
    assert "starts on a downbeat again" in shown(HOME, "play")
