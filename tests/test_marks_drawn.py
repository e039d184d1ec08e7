"""Marks in the pictures: words stand at their bars, clear of all else, and stand out while the music is there."""

from fractions import Fraction

import pytest

from scenes.catalogue import build_segment
from scenes.draw.look import canvas_for
from scenes.draw.segment import Moment, Segment
from scenes.draw.shapes import FilledShape, across
from tests.boxes import FRAME, segment_faults
from tests.lessons import DARK, SHORT, make_lesson
from tests.test_layout import SIZES

MARKED = SHORT.replace(
    "    plays: on\n", "    plays: on\n    marks: {1: strings enter, 2: brass alone}\n"
).replace("meter: 4/4\n", "meter: 4/4\nmarks: {2-3: only the oboe}\n")
CROWDED = SHORT.replace(
    "meter: 4/4\n",
    "meter: 4/4\nmarks: {1: "
    + "w" * 40
    + ", 1.2: x, 1.3: a few words, 2-5: "
    + "long words " * 3
    + ", 5: end}\n",
)
SHOWS = ("form", "spread", "parts", "play")


def drawn(text: str, show: str, size: tuple[int, int] = (1920, 1080)) -> Segment:
    return build_segment(make_lesson(text).schedule_show(show), DARK.on(canvas_for(*size)))


def words(segment: Segment, seconds: Fraction, text: str) -> list[FilledShape]:
    return [shape for shape in segment.picture(Moment(seconds, FRAME)) if shape.text == text]


def colour(shape: FilledShape) -> list[float]:
    return [round(part, 3) for part in shape.fill[:3]]


@pytest.mark.parametrize("show", SHOWS)
def test_words_stand_at_their_bars_and_stand_out_while_the_music_is_there(show: str) -> None:
    segment = drawn(MARKED, show)
    timeline = segment.timeline
    seconds = {number: segment.schedule.seconds_at(number * timeline.grid) for number in range(5)}
    before, there, after = seconds[0], seconds[1], seconds[3]
    assert before is not None
    assert there is not None
    assert after is not None
    moment = Fraction(1, 10)
    (quiet,), (loud,), (again,) = (
        words(segment, at + moment, "only the oboe") for at in (before, there, after)
    )
    assert colour(quiet) == colour(again)
    ink = [round(int(segment.look.ink[place : place + 2], 16) / 255, 3) for place in (1, 3, 5)]
    assert colour(loud) == ink != colour(quiet)


@pytest.mark.parametrize("show", ["spread", "play"])
def test_over_a_row_they_begin_where_their_bar_does(show: str) -> None:
    segment = drawn(MARKED, show)
    begins = segment.schedule.seconds_at(3 * segment.timeline.grid)
    assert begins is not None
    picture = segment.picture(Moment(begins + Fraction(1, 10), FRAME))
    texts = {shape.text: across(shape)[0] for shape in picture if shape.text}
    assert texts["Lower"] < texts["strings enter"] < texts["brass alone"]
    if show == "spread":  # a row each: bar 2 of three over bar 2 of two
        assert abs(texts["brass alone"] - texts["only the oboe"]) < 8


@pytest.mark.parametrize("size", SIZES, ids=lambda size: "x".join(map(str, size)))
@pytest.mark.parametrize("show", SHOWS)
@pytest.mark.parametrize("text", [MARKED, CROWDED], ids=["marked", "crowded"])
def test_words_keep_apart(text: str, show: str, size: tuple[int, int]) -> None:
    assert segment_faults(drawn(text, show, size)) == []
