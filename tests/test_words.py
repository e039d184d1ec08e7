"""A teacher's own words for what the pictures call things: in every picture, in the time to read, and in messages."""

import re
from dataclasses import replace
from fractions import Fraction
from functools import cache
from pathlib import Path

import pytest

from renderer.core.errors import SpecError
from renderer.core.limits import OWN_WORD_CHARACTERS
from renderer.lesson.lesson import Lesson, open_lesson
from renderer.schedule.shows import SHOWS
from renderer.spec.words import FIXED_WORDS, NOUNS, OwnWords, Vocabulary, fixed_pattern, plural_of
from renderer.timeline.build import build_timeline
from scenes.catalogue import build_segment
from scenes.draw.look import Look, canvas_for, read_look
from scenes.draw.segment import Moment
from tests.boxes import FRAME, segment_faults, text_boxes
from tests.lessons import SHORT, make_lesson

SPECS = Path(__file__).parent.parent / "specs"
WIDE, TALL = (1920, 1080), (1080, 1920)
EXAMPLES = ("lantern-ferry", "moth-signals", "slow-water")
LETTERS = "abcdefghij"
MARKERS: OwnWords = tuple(
    (word, (f"qz{LETTERS[number // 10]}{LETTERS[number % 10]}",)) for number, word in enumerate(FIXED_WORDS)
)
"""Each fixed word -> a word that no example has."""
FIXED = re.compile(rf"(?<!\w)(?:{fixed_pattern()})(?!\w)")


@cache
def marked(name: str) -> Lesson:
    """An example in which every fixed word is called otherwise, and nothing is said over it."""
    lesson = open_lesson(SPECS / f"{name}.yaml")
    silent = tuple(segment._replace(say=()) for segment in lesson.spec.segments)
    spec = replace(lesson.spec, words=MARKERS, segments=silent)
    return replace(lesson, spec=spec, timeline=build_timeline(spec))


def without_names(lesson: Lesson, text: str) -> str:
    """A text without what the spec gives: names, marks, a card's texts."""
    found = set(lesson.timeline.words.names)
    for segment in lesson.spec.segments:
        found |= {given for given in (segment.title, segment.line, *(segment.entries or ())) if given}
    for name in sorted(found, key=len, reverse=True):
        text = text.replace(name, "")
    return text


def drawn_texts(lesson: Lesson, look: Look) -> set[str]:
    """What stands in all its segments at some of their steps and at their ends."""
    found: set[str] = set()
    for planned in lesson.segments():
        schedule = planned.schedule
        segment = build_segment(schedule, look)
        steps = [step.seconds for step in schedule.steps]
        times = [*steps[:: max(1, len(steps) // 8)], *steps[-2:], schedule.seconds * 2 / 3]
        times += [seconds + 2 for seconds in steps[-2:]]
        for seconds in (*times, schedule.seconds - FRAME):
            seconds = min(seconds, schedule.seconds - FRAME)
            found |= {box.text for box in text_boxes(segment.picture(Moment(seconds, FRAME)))}
    return found


OTHER_SHOWS = SHORT.replace(
    "[figure, spread, play]", "[crossings, fit, handover, wheel, compare, {show: parts, table: true}]"
)


@cache
def all_shows() -> Lesson:
    """What the examples leave out."""
    lesson = make_lesson(OTHER_SHOWS)
    spec = replace(lesson.spec, words=MARKERS)
    return replace(lesson, spec=spec, timeline=build_timeline(spec))


def test_the_lessons_here_have_every_show() -> None:
    lessons = [*map(marked, EXAMPLES), all_shows()]
    assert {segment.show for lesson in lessons for segment in lesson.spec.segments} == set(SHOWS)


@pytest.mark.parametrize("size", [WIDE, TALL])
@pytest.mark.parametrize("name", [*EXAMPLES, ""])
def test_no_picture_says_a_fixed_word_that_has_another_one(name: str, size: tuple[int, int]) -> None:
    lesson = marked(name) if name else all_shows()
    texts = drawn_texts(lesson, read_look().on(canvas_for(*size)))
    bare = {text: without_names(lesson, text) for text in texts}
    assert [text for text, rest in bare.items() if FIXED.search(rest)] == []
    assert sum("qz" in rest.lower() for rest in bare.values()) > 20


def test_without_own_words_they_would_be_found() -> None:
    """The search finds what the test above says is not there."""
    texts = drawn_texts(make_lesson(OTHER_SHOWS), read_look())
    found = {match[0].lower() for text in texts for match in FIXED.finditer(text)}
    assert found >= {"bar", "beat", "repetition", "figure", "meter", "chord", "downbeat", "sixteenths"}


def said(text: str, *own: tuple[str, str], names: str = "") -> str:
    words = Vocabulary(tuple((word, (shown,)) for word, shown in own), frozenset(filter(None, [names])))
    return words.say(text)


@pytest.mark.parametrize(
    ("text", "own", "shown"),
    [
        ("Bar 9, 2 bars, a bar of 11", ("bar", "measure"), "Measure 9, 2 measures, a measure of 11"),
        ("On a downbeat again.", ("downbeat", "one"), "On a one again."),
        ("A beat, the beats", ("beat", "ictus"), "An ictus, the ictuses"),
        (
            "an eighth, two eighths, the eighth group",
            ("eighth", "quaver"),
            "a quaver, two quavers, the eighth group",
        ),
        ("the half repetition; a half at 60", ("half", "minim"), "the half repetition; a minim at 60"),
        (
            "a dotted quarter; 96 quarters a minute",
            ("quarter", "crotchet"),
            "a dotted crotchet; 96 crotchets a minute",
        ),
        ("on the downbeat, on 2", ("beat", "step"), "on the downbeat, on 2"),
        ("chord turns inside a repetition", ("repetition", "orbit"), "chord turns inside an orbit"),
        ("not played; played", ("not played", "left out"), "left out; played"),
    ],
)
def test_a_word_is_said_with_its_plural_its_capital_and_its_article(
    text: str, own: tuple[str, str], shown: str
) -> None:
    assert said(text, own) == shown


def test_words_may_change_places() -> None:
    assert (
        said("the figure over the meter", ("figure", "meter"), ("meter", "figure"))
        == "the meter over the figure"
    )


def test_a_name_in_the_spec_stays_as_it_is() -> None:
    assert (
        said("Tail piece: the tail of a piece", ("tail", "coda"), names="Tail piece")
        == "Tail piece: the coda of a piece"
    )
    own = "words: {figure: cycle, part: player}\n"
    lesson = make_lesson(SHORT.replace("oboe:", "odd part:").replace("title: Weir", "title: A figure") + own)
    assert lesson.timeline.words.say("A figure, 2 figures: odd part and 3 parts") == (
        "A figure, 2 cycles: odd part and 3 players"
    )


def test_a_plural_of_its_own() -> None:
    words = make_lesson(SHORT + "words: {beat: [foot, feet]}\n").timeline.words
    assert words.say("1 beat, 4 beats") == "1 foot, 4 feet"


def test_stretches_stay_as_many_and_an_article_follows_the_next_one() -> None:
    words = Vocabulary((("repetition", ("orbit",)),))
    assert words.say_all(["Where does a ", "repetition", " start?"]) == ("Where does an ", "orbit", " start?")
    assert Vocabulary((("cut off", ("lost",)),)).say_all(["3 cut", " off", "."]) == ("3 lost", "", ".")


def test_a_longer_wording_stands_as_long_as_it_takes_to_read() -> None:
    """Four words more at two and a half a second."""
    own = "words: {place: [spot, spots to which one comes]}\n"
    usual, longer = (make_lesson(SHORT + text).schedule_show("wheel") for text in ("", own))
    assert longer.seconds - usual.seconds == Fraction(4) / Fraction(5, 2)


@pytest.mark.parametrize("size", [WIDE, TALL])
def test_the_longest_words_stand_well(size: tuple[int, int]) -> None:
    """No text meets another or leaves the picture."""
    lesson = marked("slow-water")
    longest = tuple(
        (word, (f"{word} in a long winded wording"[:OWN_WORD_CHARACTERS],)) for word in FIXED_WORDS
    )
    timeline = replace(lesson.timeline, own_words=longest)
    look = read_look().on(canvas_for(*size))
    for planned in replace(lesson, timeline=timeline).segments():
        assert segment_faults(build_segment(planned.schedule, look), 3) == []


def test_words_that_are_said_stay_as_they_are() -> None:
    text = SHORT.replace("[figure, spread, play]", "[{show: spread, say: [The bar and the figure]}]")
    lesson = make_lesson(text + "words: {bar: measure, figure: cycle}\n")
    segment = build_segment(lesson.segments()[0].schedule, read_look())
    drawn = {box.text for box in text_boxes(segment.picture(Moment(Fraction(1), FRAME)))}
    assert "The bar and the figure" in drawn


def test_every_noun_has_its_plural() -> None:
    irregular = {"harmony": "harmonies", "half": "halves"}
    assert all(NOUNS[word] == irregular.get(word, plural_of(word)) for word in NOUNS)


@pytest.mark.parametrize(
    ("own", "message"),
    [
        (
            "words: {figur: cycle}",
            """weir.yaml:20:9: words.figur: a map of words has no such key.
    words: {figur: cycle}
            ^
  Write figure? There are: figure, meter, repetition, tail, bar, beat, downbeat, pulse, group, accent,
  hit, chord, harmony, rhythm, section, part, piece, side, list, line and 33 more.""",
        ),
        (
            "words: cycle",
            """weir.yaml:20:8: words: got a text (cycle); a map of words belongs here.
    words: cycle
           ^
  Write the pictures' word and your own: {figure: cycle, bar: measure}.""",
        ),
        (
            "words: {bar: [a, b, c]}",
            """weir.yaml:20:14: words.bar: got 3 entries; a word, or one and several of it, has 1 to 2 entries.
    words: {bar: [a, b, c]}
                 ^""",
        ),
    ],
)
def test_a_wrong_word_is_told_with_the_right_ones(own: str, message: str) -> None:
    with pytest.raises(SpecError) as caught:
        make_lesson(SHORT + own + "\n")
    assert str(caught.value) == message
