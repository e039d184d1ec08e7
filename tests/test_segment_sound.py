"""A segment's own click and sound: for it alone, all else as at the top."""

import pytest

from renderer.core.errors import SpecError
from renderer.lesson.lesson import Lesson
from renderer.mix.stems import segment_master, segment_stems
from renderer.reading.load import parse_spec
from renderer.schedule.shows import SHOWS
from tests.lessons import SHORT, make_lesson


def asking(segments: str, text: str = SHORT) -> Lesson:
    return make_lesson(text.replace("segments: [figure, spread, play]", f"segments: [{segments}]"))


def kinds(lesson: Lesson, number: int) -> dict[str, int]:
    """How many clicks of each kind a segment has."""
    clicks = lesson.segments()[number].schedule.clicks
    return {kind: [click.kind for click in clicks].count(kind) for kind in sorted({c.kind for c in clicks})}


def test_a_segment_has_its_own_click_and_the_next_one_the_piece_s() -> None:
    lesson = asking("{show: play, click: {every: [bar, group], count_in: 0}}, play, {show: play, click: off}")
    assert kinds(lesson, 0) == {
        "downbeat": 5,
        "group": sum(len(r.statement.groups) for r in lesson.timeline.repetitions),
    }
    assert kinds(lesson, 1) == {"beat": 18, "downbeat": 6}
    assert kinds(lesson, 2) == {}
    assert lesson.segments()[0].schedule.steps[0].name == "Upper"  # no count-in


def test_a_segment_may_click_where_the_piece_does_not() -> None:
    silent = SHORT.replace("click: {every: beat, count_in: 1}\n", "")
    lesson = asking("play, {show: play, click: bar}", silent)
    assert kinds(lesson, 0) == {}
    assert kinds(lesson, 1)["downbeat"] == 6
    quiet = silent.replace("    plays: on\n", "    plays: on\n    click: off\n")
    assert kinds(asking("{show: play, click: {every: bar, count_in: 0}}", quiet), 0) == {"downbeat": 3}


@pytest.mark.parametrize("show", [name for name, show in SHOWS.items() if "click" in show.options])
def test_every_show_that_clicks_can_be_silent(show: str) -> None:
    """The second section begins anew, so that there is a handover."""
    lesson = asking(f"{show}, {{show: {show}, click: off}}", SHORT.replace("plays: on", "plays: weir"))
    assert kinds(lesson, 0)
    assert not kinds(lesson, 1)


def test_a_segment_has_its_own_sound_at_the_lesson_s_loudness() -> None:
    text = SHORT + "sound: {figure: struck, loudness: broadcast}\n"
    lesson = asking("play, {show: play, sound: off}, {show: play, sound: {figure: low, level: -6 dB}}", text)
    first, silent, low = (planned.schedule for planned in lesson.segments())
    assert [stem.name for stem in segment_stems(lesson, first)] == ["click", "main"]
    assert [stem.name for stem in segment_stems(lesson, silent)] == ["click"]
    assert segment_stems(lesson, first)[1].source.digest() != segment_stems(lesson, low)[1].source.digest()
    assert [segment_master(lesson, schedule).aim for schedule in (first, silent, low)] == [-23, -23, -23]


def test_a_segment_that_says_something_keeps_its_click() -> None:
    lesson = asking("{show: spread, click: {every: bar, sound: beep}, say: [Look at the bars.]}")
    schedule = lesson.segments()[0].schedule
    assert schedule.click is not None
    assert set(schedule.click.sound.values()) == {"beep"}


@pytest.mark.parametrize(
    ("segment", "told"),
    [
        ("{show: card, click: beat}", "segments[0].click: card takes no click."),
        ("{show: parts, sound: off}", "segments[0].sound: parts takes no sound."),
        (
            "{show: play, click: beet}",
            "segments[0].click: got beet; bar, beat, pulse, group",
        ),
        (
            "{show: play, sound: {voices: {mian: low}}}",
            "segments[0].sound.voices.mian: there is no voice mian.",
        ),
        (
            "{show: play, sound: {loudness: web}}",
            "segments[0].sound.loudness: a segment's sound has no such key.",
        ),
    ],
)
def test_what_a_segment_can_t_have_is_told(segment: str, told: str) -> None:
    with pytest.raises(SpecError) as caught:
        parse_spec(SHORT.replace("segments: [figure, spread, play]", f"segments: [{segment}]"), "weir.yaml")
    assert told in str(caught.value)
