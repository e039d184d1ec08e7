"""Upright and square pictures are composed: the height that a player leaves is used, and marks are told there too."""

from functools import cache

import pytest

from renderer.lesson.lesson import Lesson, open_lesson
from scenes.catalogue import build_segment
from scenes.draw.look import canvas_for
from scenes.draw.segment import Moment, Picture
from scenes.draw.shapes import MIDDLE, TURNED
from tests.boxes import FRAME, text_boxes
from tests.extremes import EXTREMES
from tests.golden import SPECS
from tests.lessons import DARK, make_lesson

UPRIGHT = ((1080, 1920), (1080, 1080), (1080, 1350))
EXAMPLES = sorted(SPECS.glob("*.yaml"))
MARKED = {
    "figure": "accent",
    "fit": "accent",
    "crossings": "chord turns inside a repetition",
    "play": "accent on a downbeat",
}
"""A mark that the examples' pictures of a show have."""


@cache
def lesson_of(name: str) -> Lesson:
    return open_lesson(SPECS / f"{name}.yaml")


def last_picture(name: str, number: int, size: tuple[int, int]) -> Picture:
    schedule = lesson_of(name).segments()[number].schedule
    return build_segment(schedule, DARK.on(canvas_for(*size))).picture(
        Moment(schedule.seconds - FRAME, FRAME)
    )


@pytest.mark.parametrize("size", UPRIGHT, ids=lambda size: "x".join(map(str, size)))
@pytest.mark.parametrize("name", [path.stem for path in EXAMPLES])
def test_three_quarters_of_the_height_are_used(name: str, size: tuple[int, int]) -> None:
    """Of what texts may use, from the first text to the lowest text or shape that is no post to the foot."""
    canvas = canvas_for(*size)
    for number, planned in enumerate(lesson_of(name).segments()):
        picture = last_picture(name, number, size)
        ends = [box.bottom for box in text_boxes(picture)]
        for shape in picture:
            if len(shape.points):
                y = (shape.points[:, 1] / TURNED[1] + MIDDLE[1]).max()
                ends += [float(y)] if y <= canvas.bottom else []
        first = min(box.top for box in text_boxes(picture))
        assert max(ends) - first >= 0.75 * (canvas.bottom - canvas.top), planned.name
        told = " ".join(box.text for box in text_boxes(picture))
        assert MARKED.get(planned.show, "") in told, planned.name


def test_the_marks_of_an_upright_spread_cover_nothing_that_stands_out() -> None:
    """They are told on a plate, which is painted last: the lowest row's label would lie behind it."""
    schedule = make_lesson(EXTREMES["tails and cuts"]).schedule_show("spread")
    picture = build_segment(schedule, DARK.on(canvas_for(1080, 1920))).picture(
        Moment(schedule.seconds - FRAME, FRAME)
    )
    (mark,) = [box for box in text_boxes(picture) if "downbeat again" in box.text]
    labels = [box for box in text_boxes(picture) if box.text == "17" and box.top > 1400]
    assert labels
    assert max(box.bottom for box in labels) < mark.top - 8
