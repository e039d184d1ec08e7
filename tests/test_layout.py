"""Every show on specs at the edges of the format, in frames of every shape: no two texts meet, none is small, none
leaves the room for text."""

from functools import cache

import pytest

from renderer.lesson.lesson import Lesson
from renderer.schedule.shows import SHOWS
from renderer.timeline.sides import part_names
from scenes.catalogue import build_segment
from scenes.draw.look import SLIDE, Canvas, canvas_for
from scenes.draw.segment import Segment
from tests.boxes import segment_faults
from tests.extremes import EXTREMES
from tests.lessons import DARK, make_lesson

SIZES = ((1920, 1080), (1080, 1920), (1080, 1080), (1080, 1350), (1440, 1080), (2520, 1080))
SHOWN = ("form", "figure", "spread", "crossings", "parts", "fit", "wheel", "handover", "play")
"""All but card and compare, whose own tests have texts and variants at the edges."""
TIMES = 5
"""Beside the steps and the last frame."""


@pytest.mark.parametrize("size", SIZES, ids=lambda size: "x".join(map(str, size)))
@pytest.mark.parametrize("show", SHOWN)
@pytest.mark.parametrize("name", list(EXTREMES))
def test_texts_keep_apart(name: str, show: str, size: tuple[int, int]) -> None:
    assert segment_faults(make_segment(name, show, canvas_for(*size)), TIMES) == []


@pytest.mark.parametrize("show", SHOWN)
@pytest.mark.parametrize("name", list(EXTREMES))
def test_texts_keep_apart_on_slides(name: str, show: str) -> None:
    """At the steps: no slide shows anything else."""
    assert segment_faults(make_segment(name, show, SLIDE), 0) == []


@cache
def lesson_of(name: str) -> Lesson:
    return make_lesson(EXTREMES[name])


def make_segment(name: str, show: str, canvas: Canvas) -> Segment:
    lesson = lesson_of(name)
    if SHOWS[show].needs == "figures" and not lesson.timeline.figures:
        pytest.skip("there is no figure to show")
    if SHOWS[show].needs == "parts" and not part_names(lesson.timeline):
        pytest.skip("there is no part to show")
    return build_segment(lesson.schedule_show(show), DARK.on(canvas))
