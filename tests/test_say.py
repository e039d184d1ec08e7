"""Lines that are said: steps wait for the words, clicks and pictures wait with them, a `play` never waits."""

from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest

from renderer.core.errors import SpecError
from renderer.lesson.lesson import Lesson
from renderer.schedule.model import Caption
from renderer.schedule.play import PlaySchedule
from renderer.schedule.say import SaidSchedule, words_seconds
from renderer.video.rasterizer import Painter
from scenes.catalogue import build_segment
from scenes.draw.look import canvas_for
from scenes.draw.segment import Moment
from scenes.frame.captions import CaptionedSegment, take_turns
from scenes.frame.head import fits_head
from tests.lessons import DARK, SHORT, make_lesson

LONG = (
    "Count the groups with me and keep the beat in your foot while the figure runs over it again and again."
)
BEAT = Fraction(4, 5)
"""The figure is counted at 0.2 s a pulse, four to the beat."""


def lesson_saying(said: str, show: str = "figure") -> Lesson:
    return make_lesson(
        SHORT.replace("segments: [figure, spread, play]", f"segments: [{{show: {show}, say: {said}}}]")
    )


def test_150_words_take_a_minute() -> None:
    assert words_seconds(" ".join(["word"] * 150)) == 60


def test_a_step_waits_for_its_words_in_whole_beats() -> None:
    plain = make_lesson().schedule_show("figure")
    said = lesson_saying(f"{{accents: {LONG}}}").schedule_show("figure")
    assert isinstance(said, SaidSchedule)
    steps = {step.name: step.seconds for step in said.steps}
    waited = said.seconds - plain.seconds
    assert waited > 0
    assert (waited / BEAT).denominator == 1
    assert steps["sum"] - steps["accents"] >= words_seconds(LONG)
    assert steps["accents"] == {step.name: step.seconds for step in plain.steps}["accents"]


def test_a_line_that_fits_its_step_makes_nothing_wait() -> None:
    plain = make_lesson().schedule_show("figure")
    assert lesson_saying("{sum: Eleven.}").schedule_show("figure").seconds == plain.seconds


def test_clicks_wait_with_the_picture() -> None:
    plain = make_lesson().schedule_show("figure")
    said = lesson_saying(f"{{accents: {LONG}}}").schedule_show("figure")
    assert isinstance(said, SaidSchedule)
    assert [said.inner_seconds(click.seconds) for click in said.clicks] == [
        click.seconds for click in plain.clicks
    ]
    gaps = {b.seconds - a.seconds for a, b in zip(said.clicks, said.clicks[1:], strict=False)}
    assert gaps == {BEAT, BEAT + said.holds[0].length}


def test_what_is_shown_never_runs_back_and_ends_at_the_end() -> None:
    said = lesson_saying(f"[{LONG}, {LONG}, {LONG}, {LONG}]").schedule_show("figure")
    assert isinstance(said, SaidSchedule)
    shown = [said.inner_seconds(Fraction(tenth, 10)) for tenth in range(int(said.seconds * 10))]
    assert shown == sorted(shown)
    assert said.inner_seconds(said.seconds) == said.inner.seconds


def test_lines_in_order_belong_to_the_steps_in_order() -> None:
    said = lesson_saying("[One, Two]").schedule_show("figure")
    steps = [step.seconds for step in said.steps]
    assert [(caption.text, caption.start) for caption in said.captions] == [
        ("One", steps[0]),
        ("Two", steps[1]),
    ]


def test_a_play_runs_in_real_time_whatever_is_said() -> None:
    plain = make_lesson().schedule_show("play")
    said = lesson_saying(f"{{Upper: {LONG}}}", "play").schedule_show("play")
    assert isinstance(said, PlaySchedule)
    assert (said.seconds, said.clicks, said.steps) == (plain.seconds, plain.clicks, plain.steps)
    assert said.captions[0].text == LONG


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ("{finale: Done}", "unknown step finale"),
        ("[a, b, c, d, e, f]", "line 6 has no step"),
    ],
)
def test_a_line_without_a_step_is_told(said: str, told: str) -> None:
    with pytest.raises(SpecError) as caught:
        lesson_saying(said).segments()
    assert told in caught.value.problems[0].text


@pytest.mark.parametrize("size", [(1920, 1080), (1080, 1920), (1080, 1080)], ids=str)
def test_a_caption_stands_in_the_head_and_the_rest_of_the_picture_is_untouched(size: tuple[int, int]) -> None:
    schedule = lesson_saying("[Count with me.]", "play").schedule_show("play")
    segment = build_segment(schedule, DARK.on(canvas_for(*size)))
    assert isinstance(segment, CaptionedSegment)
    moment = Moment(schedule.captions[0].start + 1, Fraction(1, 60))
    inner = moment
    if isinstance(schedule, SaidSchedule):
        inner = Moment(schedule.inner_seconds(moment.seconds), moment.frame)
    painter = Painter(size[0] // 2, size[1] // 2, DARK.ground, segment.canvas)
    with_words = painter.paint(segment.picture(moment)).copy()
    without = painter.paint(segment.segment.picture(inner)).copy()
    different = np.argwhere((with_words != without).any(axis=2))
    assert len(different)
    assert different[:, 0].max() < segment.canvas.stage_top / 2


@pytest.mark.parametrize("size", [(1920, 1080), (1080, 1920), (1080, 1080)], ids=str)
def test_a_long_caption_takes_turns_that_fit(size: tuple[int, int]) -> None:
    """160 letters are said in one go and read in two or more; each word is read once, in order."""
    look = DARK.on(canvas_for(*size))
    said = Caption(Fraction(2), Fraction(12), ("Wheels within wheels " * 8).strip()[:160])
    turns = take_turns(look, said)
    assert " ".join(turn.text for turn in turns) == said.text
    assert (turns[0].start, turns[-1].end) == (said.start, said.end)
    assert all(before.end == after.start for before, after in pairwise(turns))
    assert all(fits_head(look, turn.text) for turn in turns)
