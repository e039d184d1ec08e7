"""Sentences stay as long as they take to read, in every show of the examples and at the extremes.

How fast a sentence is read is common practice: 2.5 words a second and a moment beside (`pace.reading_seconds`).
"""

from fractions import Fraction
from pathlib import Path

import pytest

from renderer.lesson.lesson import open_lesson
from renderer.schedule.model import Schedule
from renderer.schedule.pace import reading_seconds
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
SHOWS = ("figure", "spread", "crossings", "form", "parts", "fit", "wheel")


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


CASES = [pytest.param(path, number, id=f"{path.stem}-{number}") for path in SPECS for number in range(1, 6)]


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
