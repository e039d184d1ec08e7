"""Count-ins of any length, in bars or beats: how long they last, what clicks, what the counter shows."""

from fractions import Fraction

import pytest

from renderer.lesson.lesson import Lesson
from renderer.schedule.figure import FigureSchedule
from renderer.schedule.play import PlaySchedule
from renderer.schedule.spread import SpreadSchedule
from scenes.catalogue import build_segment
from scenes.draw.segment import Moment
from tests.lessons import DARK, SHORT, make_lesson

QUARTER = Fraction(60, 137)


def lesson_counting(count_in: str, every: str = "beat") -> Lesson:
    return make_lesson(SHORT.replace("every: beat, count_in: 1", f"every: {every}, count_in: {count_in}"))


@pytest.mark.parametrize(("count_in", "beats"), [("1", 4), ("2", 8), ("2 beats", 2), ("6 beats", 6)])
@pytest.mark.parametrize("show", ["figure", "spread", "play"])
def test_a_count_in_lasts_as_long_as_it_says(count_in: str, beats: int, show: str) -> None:
    """An explaining segment counts in for 2.5 s at most: five beats of 60/137 s, or three of the figure's, in which a
    beat is four pulses of 0.2 s, slower than the piece."""
    beats = min(beats, 5) if show == "spread" else beats
    schedule = lesson_counting(count_in).schedule_show(show)
    beat = QUARTER
    if show == "figure":
        beat, beats = Fraction(4, 5), min(beats, 3)
    if isinstance(schedule, FigureSchedule):
        starts = schedule.count_start
    elif isinstance(schedule, SpreadSchedule):
        starts = schedule.course.begins
    else:
        assert isinstance(schedule, PlaySchedule)
        starts = schedule.spans[0].seconds
    assert starts == beats * beat
    before = [click for click in schedule.clicks if click.seconds < starts]
    assert [click.seconds for click in before] == [number * beat for number in range(beats)]
    kinds = ["downbeat" if (number - beats) % 4 == 0 else "beat" for number in range(beats)]
    assert [click.kind for click in before] == kinds


@pytest.mark.parametrize("every", ["beat", "bar", "figure", "[beat, pulse]"])
def test_the_counter_counts_up_to_the_downbeat(every: str) -> None:
    lesson = lesson_counting("6 beats", every)
    schedule = lesson.schedule_show("play")
    segment = build_segment(schedule, DARK)
    beat = QUARTER
    shown = []
    for number in range(6):
        moment = Moment(beat * number + beat / 2, Fraction(1, 60))
        texts = [drawn.text for drawn in segment.picture(moment)]
        shown.append(texts[texts.index("beat") - 1])
    assert shown == ["3", "4", "1", "2", "3", "4"]
