"""spread: what is asked, what is shown at tempo and in a hurry, and that the answer speaks of what is seen."""

import re
from fractions import Fraction
from itertools import pairwise
from math import lcm

import numpy as np
import pytest

from renderer.schedule.course import HURRY_SECONDS, REAL_BARS, REAL_SECONDS
from renderer.schedule.pace import AFTER_ANSWER, MOST_LEAD, reading_seconds
from renderer.schedule.phrases import text_of
from renderer.schedule.spread import APART, MOST_LIT, SpreadSchedule
from renderer.video.rasterizer import Painter
from scenes.catalogue import build_segment
from scenes.draw.look import BOLD, Canvas, canvas_for, read_look
from scenes.draw.segment import Moment
from scenes.frame.head import COUNTER_SIZE
from scenes.spread.spread import SpreadSegment
from tests.boxes import FRAME, text_boxes
from tests.extremes import EXTREMES
from tests.lessons import DARK, EXAMPLE, make_lesson

SIZES = ((1920, 1080), (1080, 1920), (1080, 1080), (1440, 1080), (2520, 1080))

PIECE = """
title: Weir
tempo: 60
meter: 4/4
pulse: 1/16
figures: {weir: [5, 3, 3], plank: [4, 4, 4, 4], eddy: {groups: [3, 2], pulse: 1/8}}
form:
  - {section: Upper, bars: 12, harmony: {1: Dm, 5: Bb, 9.3: C}, plays: weir}
  - {section: Lower, bars: 12, plays: on}
click: {every: beat, count_in: 1}
segments: [spread]
"""


def schedule_of(text: str = PIECE) -> SpreadSchedule:
    schedule = make_lesson(text).schedule_show("spread")
    assert isinstance(schedule, SpreadSchedule)
    return schedule


def build(text: str = PIECE, size: tuple[int, int] = (1920, 1080), theme: str = "dark") -> SpreadSegment:
    segment = build_segment(schedule_of(text), read_look(theme).on(canvas_for(*size)))
    assert isinstance(segment, SpreadSegment)
    return segment


def last(segment: SpreadSegment) -> Moment:
    return Moment(segment.schedule.seconds - FRAME, FRAME)


def head(segment: SpreadSegment, moment: Moment) -> str:
    return "".join(word.text for word in segment.sentence(moment).words)


def large(segment: SpreadSegment, moment: Moment) -> list[str]:
    """The texts below the head that stand out: larger than names and numbers ever are while the music runs."""
    canvas, most = segment.canvas, segment.rows.style.name
    boxes = text_boxes(segment.picture(moment))
    return [box.text.strip() for box in boxes if box.size > max(47, most) and box.top > canvas.lines[-1] + 20]


# What is asked and answered


def test_the_question_stands_there_from_the_first_frame_and_the_answer_at_the_end() -> None:
    segment = build()
    assert head(segment, Moment(Fraction(0), FRAME)) == "When does weir start on a downbeat again?"
    assert head(segment, last(segment)) == "Back on a downbeat at bars 12 and 23."


def test_the_bars_that_are_named_are_arithmetic() -> None:
    """An eleven over sixteen is back after lcm(11, 16) pulses, which are eleven bars: at 12, 23, 34 ..."""
    cycle = lcm(11, 16) // 16
    homes = [spot.at // 16 + 1 for spot in schedule_of().lights[-1].spots]
    assert homes == [1 + cycle, 1 + 2 * cycle]
    assert schedule_of().timeline.grid == 16


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize(
    "name", ["300 bars", "199 against 16", "one long group", "tails and cuts", "no harmony"]
)
def test_a_sentence_speaks_of_what_is_seen(name: str, size: tuple[int, int]) -> None:
    """Each bar that the answer names stands on the page, large, and no other one does."""
    segment = build(EXTREMES[name], size)
    answer, seen = head(segment, last(segment)), large(segment, last(segment))
    named = re.search(r"bars? ([\d, and]+)\.$", answer)
    labelled = [number for word, number in pairwise(seen) if word == "bar"]
    bars = re.findall(r"\d+", named[1]) if named else []
    assert labelled == bars
    first = segment.shown[-1].first
    page = segment.rows.breaks[first : first + segment.rows.page]
    for bar in bars:
        at = segment.timeline.bars[int(bar) - 1].at
        assert any(start <= at < end for start, end in page)


def test_what_goes_on_beyond_the_page_is_only_said_to_be_the_first() -> None:
    long, whole = build(EXTREMES["300 bars"]), build()
    assert head(long, last(long)).startswith("First back on a downbeat at bars 12, 23")
    assert "First" not in head(whole, last(whole))


@pytest.mark.parametrize(
    ("change", "question", "answer"),
    [
        (("harmony: {1: Dm, 5: Bb, 9.3: C}, plays: weir", "plays: plank"), "Where does each plank start?",
         "16 fits bars of 16 sixteenths: every start is on the downbeat."),
        (("bars: 12, harmony: {1: Dm, 5: Bb, 9.3: C}", "bars: 6, harmony: Dm"),
         "When does weir start on a downbeat again?",
         "Back on a downbeat at bar 12."),
        (("- {section: Lower, bars: 12, plays: on}", "- {section: Lower, bars: 1}"),
         "When does weir start on a downbeat again?", "Back on a downbeat at bar 12."),
        (("bars: 12, harmony: {1: Dm, 5: Bb, 9.3: C}, plays: weir}\n  - {section: Lower, bars: 12",
          "bars: 3, harmony: Dm, plays: weir}\n  - {section: Lower, bars: 5"),
         "Where does each weir start?",
         "11 is 5 short of a bar of 16 sixteenths: each start slips back by 5."),
        (("plays: weir}\n  - {section: Lower, bars: 12, plays: on}",
          "plays: [weir, {figure: plank, times: 2}, eddy]}"),
         "Where does the chord turn inside a repetition?",
         "The chord turns inside a repetition in bars 5 and 9, and the rhythm runs on."),
        (("plays: weir}\n  - {section: Lower, bars: 12, plays: on}", "plays: {rest: 3}}"),
         "What is played in these bars?", "Nothing: here is silence."),
    ],
)  # fmt: skip
def test_what_there_is_to_see_is_asked_and_said(change: tuple[str, str], question: str, answer: str) -> None:
    schedule = schedule_of(PIECE.replace(*change))
    assert text_of(schedule.question) == question
    assert text_of(schedule.lights[-1].phrases) == answer


def test_a_slip_is_told_only_where_every_start_has_it() -> None:
    """A list that begins again breaks the row of starts: 11 and 11, then the downbeat."""
    text = (
        PIECE.replace("bars: 12, harmony", "bars: 3, harmony")
        .replace("5: Bb, 9.3: C", "3: Bb")
        .replace("plays: on", "plays: weir")
        .replace("bars: 12, plays", "bars: 2, plays")
    )
    schedule = schedule_of(text)
    slips = {(b.offset - a.offset) % 16 for a, b in pairwise(schedule.repetitions)}
    assert len(slips) > 1
    assert "slips" not in text_of(schedule.lights[-1].phrases)


def test_without_landings_nothing_is_said_of_them() -> None:
    segment = build(PIECE.replace("[spread]", "[{show: spread, without: landings}]"))
    assert "downbeat" not in head(segment, Moment(Fraction(0), FRAME))
    assert "downbeat" not in head(segment, last(segment))
    assert "bar" not in large(segment, last(segment))


# Time


@pytest.mark.parametrize("name", EXTREMES)
def test_time_is_real_for_some_bars_then_it_hurries_and_nothing_clicks(name: str) -> None:
    lesson = make_lesson(EXTREMES[name] + "click: {every: beat, count_in: 2}\n")
    schedule = lesson.schedule_show("spread")
    assert isinstance(schedule, SpreadSchedule)
    course, timeline = schedule.course, lesson.timeline
    bars = [bar for bar in timeline.bars if bar.number > 0]
    shown = [bar for bar in bars if bar.at < course.spans[-1].end]
    assert len(shown) == min(REAL_BARS, len(bars)) or course.real_end - course.begins <= REAL_SECONDS
    assert len(shown) <= REAL_BARS
    assert course.begins <= MOST_LEAD + timeline.seconds(0) - timeline.seconds(timeline.start)
    assert course.ends - course.real_end <= HURRY_SECONDS
    beats = [
        course.begins + timeline.seconds(beat.at) - timeline.seconds(timeline.start)
        for beat in timeline.beats
        if beat.at < course.spans[-1].end
    ]
    assert [click.seconds for click in schedule.clicks if click.seconds >= course.begins] == beats
    assert all(click.seconds < course.real_end for click in schedule.clicks)


@pytest.mark.parametrize("name", EXTREMES)
def test_the_answer_stands_as_long_as_it_is_read(name: str) -> None:
    schedule = make_lesson(EXTREMES[name]).schedule_show("spread")
    assert isinstance(schedule, SpreadSchedule)
    stands = schedule.seconds - schedule.lights[-1].seconds
    words = reading_seconds(text_of(schedule.lights[-1].phrases))
    assert words + AFTER_ANSWER <= stands <= words + AFTER_ANSWER + 4
    assert APART * MOST_LIT < 4


def test_a_place_comes_when_the_music_does_at_tempo_and_evenly_after_it() -> None:
    """At 60 a bar of four quarters lasts 4 seconds: six bars are 24, eight would be too long. One bar is counted in, of
    which two beats last no longer than 2.5 seconds. The other 18 bars are three rows of eight: 4.5 seconds."""
    schedule = schedule_of()
    assert [schedule.seconds_at(16 * bar) for bar in (0, 1, 5)] == [2, 6, 22]
    assert schedule.course.real_end == 26
    assert schedule.seconds_at(16 * 6) == 26
    assert schedule.seconds_at(16 * 15) == 26 + Fraction(9, 4)
    assert schedule.course.ends == Fraction(61, 2)
    assert [step.name for step in schedule.steps] == ["bars", "repetitions", "answer"]
    assert [step.seconds for step in schedule.steps] == [0, 2, Fraction(61, 2)]


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("name", ["300 bars", "199 against 16", "fine pulses"])
def test_pages_stand_a_second_at_least(name: str, size: tuple[int, int]) -> None:
    """So that even 300 bars in 6 seconds on a tall picture are no flicker: at most one large change a second."""
    segment = build(EXTREMES[name], size)
    times = [seconds for _, seconds in segment.pages]
    assert all(b - a >= 1 for a, b in pairwise(times))
    assert segment.pages[-1][0] + segment.rows.page >= len(segment.rows.breaks)


def test_the_counter_counts_only_while_time_is_real_and_then_fades() -> None:
    segment = build()
    course = segment.schedule.course

    def strength(seconds: Fraction) -> set[float]:
        picture = segment.picture(Moment(seconds, FRAME))
        return {shape.fill_opacity for shape in picture if shape.text and shape.size_px == COUNTER_SIZE}

    def counted(seconds: Fraction) -> list[tuple[str, str]]:
        return [(count.word, count.number) for count in segment.counts(Moment(seconds, FRAME))]

    assert counted(Fraction(0)) == [("beat", "3")]
    assert counted(Fraction(1)) == [("beat", "4")]
    assert counted(Fraction(2)) == [("repetition", "1"), ("bar", "1")]
    assert counted(2 + Fraction(11, 4) - FRAME) == [("repetition", "1"), ("bar", "1")]
    assert counted(2 + Fraction(11, 4)) == [("repetition", "2"), ("bar", "1")]
    assert strength(course.real_end - FRAME) == {1.0}
    assert strength(course.real_end + Fraction(1, 4)) == {0.5}
    assert strength(course.real_end + Fraction(1, 2)) == strength(course.ends) == set()


# Pictures


def test_lit_ends_at_the_playhead_to_the_pixel() -> None:
    segment = build()
    painter = Painter(1920, 1080, DARK.ground)
    lit = [np.array([int(c[i : i + 2], 16) for i in (1, 3, 5)]) for c in (DARK.sail_one, DARK.sail_two)]
    row = segment.rows.row(0, 0, segment.look, segment.laid.longest_group)
    for seconds in (Fraction(17, 4), Fraction(8), Fraction(41, 3), Fraction(21)):
        pixels = painter.paint(segment.picture(Moment(seconds, FRAME)))
        line = pixels[int(row.hull_top + 3), :, :3].astype(int)
        found = np.flatnonzero(np.any([np.abs(line - colour).max(axis=1) <= 3 for colour in lit], axis=0))
        # At 60 a sixteenth is a quarter of a second, and a tick of this piece.
        x = row.x(float(seconds - 2) * 4)
        edge = DARK.width_playhead / 2 + DARK.edge
        assert x - edge - 6 < found.max() < x - edge + 1


def test_all_else_steps_back_and_only_what_stands_out_has_numbers() -> None:
    segment = build()
    shown = text_boxes(segment.picture(last(segment)))
    assert large(segment, last(segment)) == ["bar", "12", "17", "bar", "23", "33"]
    row = segment.rows.row(0, 0, segment.look, segment.laid.longest_group)
    in_hulls = [box.text for box in shown if row.hull_top < (box.top + box.bottom) / 2 < row.hull_bottom]
    assert in_hulls == []
    pixels = Painter(1920, 1080, DARK.ground).paint(segment.picture(last(segment)))
    ground, sail = ([int(c[i : i + 2], 16) for i in (1, 3, 5)] for c in (DARK.ground, DARK.sail_one))
    dim = pixels[int(row.hull_top + 8), int(row.x(2)), :3]
    lit = pixels[int(row.hull_top + 8), int(row.x(16 * 11 + 4)), :3]
    assert np.abs(lit.astype(int) - sail).max() <= 2
    assert np.abs(dim - (np.array(ground) * 0.65 + np.array(sail) * 0.35)).max() <= 2


def test_where_starts_slip_each_shows_by_how_much() -> None:
    segment = build(EXTREMES["no harmony"])
    offsets = [f"+{number * 11 % 16}" for number in range(1, 6)]
    assert [text for text in large(segment, last(segment)) if text.startswith("+")] == offsets


@pytest.mark.parametrize("size", SIZES)
def test_small_pulses_are_one_hull_and_not_nothing(size: tuple[int, int]) -> None:
    segment = build(EXTREMES["fine pulses"], size)
    end = segment.picture(Moment(segment.course.ends - FRAME, FRAME))
    row = segment.rows.row(0, 0, segment.look, segment.laid.longest_group)
    middle = (row.hull_top + row.hull_bottom) / 2
    boxes = [shape.extent for shape in end if len(shape.points) and shape.text is None]
    pixel = 8 / 1080
    covered = [
        (high - low) / pixel
        for left, low, right, high in boxes
        if right - left > 400 * pixel and low < (540 - middle) * pixel < high
    ]
    assert any(height >= row.style.hull - 1 for height in covered)


def test_a_repetition_that_runs_in_is_lit_as_it_sounds_and_is_none_of_those_that_start_here() -> None:
    text = PIECE.replace("[spread]", "[{show: spread, sections: Lower}]")
    segment = build(text)
    assert [r.number for r in segment.laid.repetitions[:2]] == [18, 19]
    assert segment.schedule.repetitions[0].number == 19
    row = segment.rows.row(0, 0, segment.look, segment.laid.longest_group)
    shown = text_boxes(segment.picture(Moment(Fraction(14), FRAME)))
    in_hulls = [box.text for box in shown if row.hull_top < (box.top + box.bottom) / 2 < row.hull_bottom]
    assert in_hulls[0] == "19"


def test_names_of_long_sections_and_chords_end_in_an_ellipsis() -> None:
    for size in SIZES:
        segment = build(EXTREMES["long names"], size)
        texts = [box.text for box in text_boxes(segment.picture(Moment(Fraction(3), FRAME)))]
        assert any("…" in text for text in texts)


def test_a_canvas_is_filled() -> None:
    """Of every canvas the rows with their posts take three quarters of what the head leaves."""
    for size in SIZES:
        canvas: Canvas = canvas_for(*size)
        segment = build(EXAMPLE.read_text(encoding="utf-8"), size)
        rows = segment.rows
        lowest = rows.row(rows.page - 1, rows.page - 1, segment.look, 1)
        feet = canvas.height if canvas.tall else lowest.feet
        assert feet - rows.top >= 0.75 * (canvas.stage_bottom - canvas.stage_top)


def test_words_that_speak_of_a_side_are_bold_in_its_colour() -> None:
    segment = build()
    words = {word.text: word for word in segment.sentence(last(segment)).words}
    assert words["bars 12 and 23"].colour == DARK.meter_text
    assert words["bars 12 and 23"].weight == BOLD
