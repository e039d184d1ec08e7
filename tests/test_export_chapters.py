"""Chapters: where they begin, how long they are, what they are called."""

import re
from fractions import Fraction
from itertools import accumulate, pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from renderer.export.chapters import make_chapters
from renderer.export.kinds import NothingThereError
from renderer.lesson.lesson import Planned, open_lesson
from renderer.schedule.model import Schedule
from renderer.schedule.shows import SHOWS
from renderer.timeline.model import Timeline
from renderer.video.chapters import LEAST, MOST_CHARACTERS, lay_chapters
from renderer.video.reel import lay_reels
from tests.lessons import EXAMPLE, SHORT, make_lesson

RATES = st.sampled_from([Fraction(24), Fraction(30000, 1001), Fraction(60)])
TIMELINE = make_lesson().timeline


def film(number: int, seconds: Fraction, timeline: Timeline = TIMELINE) -> Planned:
    return Planned(number, "play", Schedule(timeline, seconds, (), ()))


@settings(deadline=None)
@given(st.lists(st.fractions(0, 40, max_denominator=480), min_size=1, max_size=12), RATES)
def test_each_chapter_is_long_enough_and_they_follow_without_a_gap(
    lengths: list[Fraction], rate: Fraction
) -> None:
    reels = lay_reels([film(number, seconds) for number, seconds in enumerate(lengths, start=1)], rate)
    chapters = lay_chapters(reels)
    assert chapters[0].start_frame == 0
    assert chapters[-1].end_frame == sum(reel.frame_count for reel in reels)
    assert all(before.end_frame == after.start_frame for before, after in pairwise(chapters))
    assert {chapter.start_frame for chapter in chapters} <= {reel.start_frame for reel in reels}
    if len(chapters) > 1:
        assert all(chapter.end_frame - chapter.start_frame >= LEAST * rate for chapter in chapters)


def test_the_example_s_chapters() -> None:
    """Each begins when the films before it have passed, in whole seconds that have: 0:23 after 23.41 s."""
    lesson = open_lesson(EXAMPLE)
    (made,) = make_chapters(lesson, Fraction(60))
    assert made.name == "lesson-chapters.txt"
    lengths = [round(planned.schedule.seconds * 60) / 60 for planned in lesson.segments()]
    starts = [int(seconds) for seconds in accumulate(lengths[:-1], initial=0)]
    lines = made.content.decode().splitlines()
    assert [line.partition(" ")[0] for line in lines] == [f"{s // 60}:{s % 60:02}" for s in starts]
    assert lines[0] == "0:00 ferry: 5 + 3 + 3 = 11"
    assert "Lantern Ferry, played" in lines[3]


@pytest.mark.parametrize("name", SHOWS)
def test_each_show_says_what_it_comes_to_in_one_line(name: str) -> None:
    lesson = make_lesson(SHORT.replace("[figure, spread, play]", f"[{name}]"))
    (chapter,) = lay_chapters(lay_reels(lesson.segments(), Fraction(60)))
    assert re.fullmatch(r"\S.*\S", chapter.title)
    assert len(chapter.title) <= MOST_CHARACTERS + 1
    assert chapter.title[-1] != "."


def test_what_is_played_is_named() -> None:
    def title(play: str) -> str:
        lesson = make_lesson(SHORT.replace("[figure, spread, play]", f"[{play}]"))
        return lesson.segments()[0].schedule.finding()

    assert title("play") == "Weir, played"
    assert title("{show: play, sections: [Lower], speed: 75 %}") == "Lower, played at 75 %"
    assert title("{show: play, bars: 2-4, times: 3}") == "bars 2 to 4, played"
    assert title("{show: play, say: {Upper: Here.}}") == "Weir, played"


def test_an_hour_is_told() -> None:
    lesson = make_lesson(SHORT.replace("bars: 3", "bars: 2100"))
    (made,) = make_chapters(lesson, Fraction(25))
    assert made.content.decode().splitlines()[-1].startswith("0:")
    longer = make_lesson(
        SHORT.replace("bars: 3", "bars: 2100").replace("[figure, spread, play]", "[play, play]")
    )
    (made,) = make_chapters(longer, Fraction(25))
    assert re.match(r"1:01:\d\d ", made.content.decode().splitlines()[-1])


@pytest.mark.parametrize(
    ("segments", "message"),
    [
        ("[]", "No chapters: the spec asks for no segments."),
        (
            "[{show: play, sections: [Lower]}]",
            "No chapters: all segments together are shorter than 10 seconds.",
        ),
    ],
)
def test_a_lesson_without_chapters_says_so(segments: str, message: str) -> None:
    with pytest.raises(NothingThereError) as error:
        make_chapters(make_lesson(SHORT.replace("[figure, spread, play]", segments)), Fraction(60))
    assert str(error.value) == message
