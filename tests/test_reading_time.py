"""Sentences stay as long as they take to read, in every show of the examples and at the extremes.

How fast a sentence is read is common practice: 2.5 words a second and a moment beside (`pace.reading_seconds`).
"""

from fractions import Fraction
from pathlib import Path

import pytest

from renderer.lesson.lesson import open_lesson
from renderer.schedule.form import FormSchedule
from renderer.schedule.model import Schedule
from renderer.schedule.pace import reading_seconds
from renderer.schedule.parts import PartsSchedule
from renderer.schedule.spread import SpreadSchedule
from scenes.catalogue import build_segment
from scenes.draw.segment import Moment
from scenes.frame.headed import HeadedSegment
from tests.extremes import EXTREMES
from tests.lessons import DARK, make_lesson

SPECS = sorted((Path(__file__).parent.parent / "specs").glob("*.yaml"))
STEP = Fraction(1, 10)
SILENT = ("card", "play")
"""A card's texts are read all the time; over `play` stands the title."""
BEYOND = Fraction(4)
"""Seconds that the last sentence stands at most beyond what it takes to read."""
EMPTY = Fraction(3, 2)
"""Seconds at the start in which there may be nothing to read."""
SHOWS = ("figure", "spread", "crossings", "form", "parts", "fit", "wheel", "handover")
FERRY = Path(__file__).parent.parent / "specs" / "lantern-ferry.yaml"
LEAD, HURRY = Fraction(5, 2), Fraction(6)
"""Seconds that an explaining segment counts in at most, and that music without its click takes at most."""


def read_sentences(schedule: Schedule) -> list[tuple[str, Fraction]]:
    """The sentences that stand one after another, each with its seconds."""
    segment = build_segment(schedule, DARK)
    if not isinstance(segment, HeadedSegment):
        pytest.skip("what is said stands over it")
    found: list[tuple[str, Fraction]] = []
    for number in range(int(schedule.seconds / STEP) + 1):
        moment = Moment(number * STEP, Fraction(1, 60))
        text = "".join(word.text for word in segment.sentence(moment).words)
        if found and found[-1][0] == text:
            found[-1] = (text, found[-1][1] + STEP)
        else:
            found.append((text, STEP))
    return found


def too_short(sentences: list[tuple[str, Fraction]]) -> list[tuple[str, float, float]]:
    return [
        (text, float(seconds), float(reading_seconds(text)))
        for text, seconds in sentences
        if text and seconds < reading_seconds(text) - 2 * STEP
    ]


CASES = [pytest.param(path, number, id=f"{path.stem}-{number}") for path in SPECS for number in range(1, 7)]


@pytest.mark.parametrize(("path", "number"), CASES)
def test_sentences_of_the_examples_can_be_read(path: Path, number: int) -> None:
    planned = {each.number: each for each in open_lesson(path).segments()}
    if number not in planned or planned[number].show in SILENT:
        pytest.skip("nothing to read in time")
    schedule = planned[number].schedule
    sentences = read_sentences(schedule)
    assert too_short(sentences) == []
    text, seconds = sentences[-1]
    assert seconds <= reading_seconds(text) + BEYOND
    assert sentences[0][0] or sentences[0][1] <= EMPTY


@pytest.mark.parametrize("show", SHOWS)
@pytest.mark.parametrize("name", ["one bar", "300 bars", "very fast", "very slow", "changing meters"])
def test_sentences_can_be_read_at_the_extremes(name: str, show: str) -> None:
    sentences = read_sentences(make_lesson(EXTREMES[name]).schedule_show(show))
    assert too_short(sentences) == []


def longest_still(schedule: Schedule) -> tuple[Fraction, str]:
    """How many seconds a picture stands at most beyond what its sentence takes to read, and that sentence; looked at
    every second."""
    segment = build_segment(schedule, DARK)
    assert isinstance(segment, HeadedSegment)
    worst, since, last = (-BEYOND, ""), Fraction(0), 0
    for number in range(int(schedule.seconds) + 1):
        moment = Moment(Fraction(number), Fraction(1, 60))
        picture = segment.picture(moment)
        seen = hash(tuple((shape.points.tobytes(), shape.fill) for shape in picture if shape.fill[3] > 0.02))
        if seen != last:
            since, last = moment.seconds, seen
        text = "".join(word.text for word in segment.sentence(moment).words)
        worst = max(worst, (moment.seconds - since - reading_seconds(text), text))
    return worst


@pytest.mark.parametrize("show", SHOWS)
@pytest.mark.parametrize("tempo", [30, 280])
def test_nothing_stands_still_long_after_it_is_read(tempo: int, show: str) -> None:
    """A step stays for its words, or its music, and never more than four seconds beyond."""
    lesson = make_lesson(FERRY.read_text(encoding="utf-8").replace("tempo: 112", f"tempo: {tempo}"))
    beyond, text = longest_still(lesson.schedule_show(show))
    assert beyond <= BEYOND, text


@pytest.mark.parametrize("show", ["spread", "form", "parts"])
@pytest.mark.parametrize("tempo", [20, 30, 112, 280])
def test_it_counts_in_shortly_runs_eight_bars_at_tempo_and_hurries_without_a_click(
    tempo: int, show: str
) -> None:
    lesson = make_lesson(FERRY.read_text(encoding="utf-8").replace("tempo: 112", f"tempo: {tempo}"))
    schedule = lesson.schedule_show(show)
    assert isinstance(schedule, SpreadSchedule | FormSchedule | PartsSchedule)
    course, clicks = schedule.course, [click.seconds for click in schedule.clicks]
    assert course.begins <= LEAD
    bars = [bar for bar in lesson.timeline.bars if bar.end <= course.spans[-1].end]
    assert len(bars) == max(1, min(8, int(24 / (240 / tempo)))), "eight bars, or whole ones within 24 seconds"
    assert min(clicks) >= 0
    assert max(clicks) < course.real_end
    assert sum(hurry.until - hurry.seconds for hurry in course.hurries) <= HURRY
    assert (
        schedule.seconds - course.ends <= reading_seconds(schedule.finding()) + 1 + BEYOND or show == "parts"
    )
