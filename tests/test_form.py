"""form: the piece on one strip to scale, from the schedule and its sentences down to the pixels."""

import re
from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest

from renderer.core.errors import SpecError
from renderer.schedule.course import HURRY_SECONDS, REAL_BARS
from renderer.schedule.form import FormSchedule, schedule_form
from renderer.schedule.form_sentences import piece_line
from renderer.schedule.phrases import text_of
from renderer.spec.model import ClickSpec, SegmentSpec
from renderer.video.rasterizer import Painter
from scenes.draw.look import canvas_for, read_look
from scenes.draw.segment import Moment
from scenes.form.form import FormSegment
from scenes.row.runs import find_runs, run_word
from tests.boxes import FRAME, segment_faults, text_boxes
from tests.extremes import EXTREMES
from tests.lessons import EXAMPLE, make_lesson
from tests.pieces import HEAD, spec_of, timeline_of

CLICK = ClickSpec(every=("beat",), count_in=1)
SIZES = ((1920, 1080), (1080, 1920), (1080, 1080), (1440, 1080), (2520, 1080))
PIECE = """
form:
  - {section: Opening, bars: 12, harmony: {1: Em, 9: G}, plays: kiln}
  - {section: Theme, bars: 12, harmony: {1: Dm, 9.3: F}, plays: on}
  - section: Middle
    bars: 8
    harmony: {1: C, 5: E7}
    starts: after
    plays: [{figure: brief, times: 3}, {first: 5, of: kiln}, {tail: [4, 4]}, {rest: 4}, brief]
"""


def segment_of(
    form: str, theme: str = "dark", head: str = HEAD, size: tuple[int, int] = (1920, 1080)
) -> FormSegment:
    timeline = timeline_of(form, head)
    look = read_look(theme).on(canvas_for(*size))
    return FormSegment(schedule_form(timeline, SegmentSpec("form"), CLICK), look)


def last(schedule: FormSchedule) -> Fraction:
    return schedule.seconds - FRAME


def texts(segment: FormSegment, seconds: Fraction) -> list[str]:
    return [shape.text for shape in segment.picture(Moment(seconds, FRAME)) if shape.text]


def sentences(form: str, head: str = HEAD, sections: tuple[str, ...] | None = None) -> tuple[str, str]:
    schedule = schedule_form(timeline_of(form, head), SegmentSpec("form", sections=sections), None)
    return text_of(schedule.question), text_of(schedule.answer)


# What is asked and answered


@pytest.mark.parametrize(
    ("form", "answer"),
    [
        (PIECE, "Twelve, twelve and eight bars; kiln runs on into Theme and Middle."),
        ("form:\n  - {section: A, bars: 4, plays: kiln}\n", "One section of four bars, kiln."),
        ("form:\n  - {section: A, bars: 4}\n", "One section of four bars; nothing is played."),
        ("form:\n  - {section: A, bars: 4, plays: kiln}\n  - {section: B, bars: 4, plays: brief}\n",
         "Two sections of four bars of kiln and brief."),
        ("form:\n  - {section: A, bars: 4, repeat: 3, plays: brief}\n  - {section: B, bars: 2, plays: brief}\n",
         "Four, four, four and two bars; A three times."),
        ("form:\n" + "".join(f"  - {{section: S{n}, bars: {n}, plays: brief}}\n" for n in range(1, 7)),
         "Six sections, 21 bars of brief."),
        ("form:\n  - {section: A, bars: 3, repeat: 2, plays: kiln}\n  - {again: A, repeat: 1, plays: on}\n",
         "Three sections of three bars; kiln runs on into A 3."),
    ],
)  # fmt: skip
def test_the_answer_counts_bars_and_says_what_runs_on_or_comes_again(form: str, answer: str) -> None:
    """A second pass of a section is one of the sections, and is told as such."""
    assert sentences(form)[1] == answer


def test_the_question_is_about_the_bars_that_are_shown() -> None:
    assert sentences(PIECE)[0] == "What are these 32 bars made of?"
    assert sentences(PIECE, sections=("Theme", "Middle"))[0] == "What are bars 13 to 32 made of?"
    assert sentences(PIECE, sections=("Opening", "Middle"))[0] == "What are these sections made of?"
    assert sentences("form:\n  - {section: A, bars: 1}\n")[0] == "What is this bar made of?"


def test_the_small_line_names_piece_meter_and_tempo() -> None:
    assert piece_line(timeline_of(PIECE)) == "A test, 32 bars of 4/4, a quarter at 132"
    compound = HEAD.replace("tempo: 132", "tempo: 3/8 = 46").replace("meter: 4/4", "meter: 12/8 in 4")
    assert piece_line(timeline_of(PIECE, compound)) == "A test, 32 bars of 12/8 in 4, a dotted quarter at 46"


def test_question_first_answer_last() -> None:
    segment = segment_of(PIECE)
    first = "".join(word.text for word in segment.sentence(Moment(Fraction(0), FRAME)).words)
    end = "".join(word.text for word in segment.sentence(Moment(last(segment.schedule), FRAME)).words)
    assert (first, end) == sentences(PIECE)


# Time


def test_a_step_a_section_eight_bars_at_tempo_the_rest_in_silence() -> None:
    clicked = timeline_of(PIECE, HEAD + "click: {every: beat, count_in: 1}\n")
    schedule = schedule_form(clicked, SegmentSpec("form"), CLICK)
    assert [step.name for step in schedule.steps] == ["bars", "Opening", "Theme", "Middle", "answer"]
    bar = Fraction(4 * 60, 132)
    assert schedule.course.real_end - schedule.course.begins == REAL_BARS * bar
    assert schedule.course.ends - schedule.course.real_end <= HURRY_SECONDS
    clicks = [click.seconds for click in schedule.clicks if click.seconds >= schedule.course.begins]
    assert clicks == [schedule.course.begins + beat * bar / 4 for beat in range(4 * REAL_BARS)]


def test_a_position_is_shown_when_the_music_comes_there() -> None:
    timeline = timeline_of(PIECE)
    schedule = schedule_form(timeline, SegmentSpec("form"), CLICK)
    bar = timeline.bars[0].end
    assert schedule.seconds_at(3 * bar) == schedule.course.begins + 3 * Fraction(4 * 60, 132)
    assert schedule.seconds_at(12 * bar) == {step.name: step.seconds for step in schedule.steps}["Theme"]


def test_what_is_played_is_lit_up_to_where_the_music_is() -> None:
    segment = segment_of(PIECE)
    row, sail = segment.strips[0].row, segment.look.sail_one
    colour = np.array([int(sail[i : i + 2], 16) for i in (1, 3, 5)])
    for bars in (Fraction(5, 2), Fraction(6)):
        seconds = segment.course.begins + bars * Fraction(4 * 60, 132)
        pixels = Painter(1920, 1080, segment.look.ground).paint(segment.picture(Moment(seconds, FRAME)))
        line = pixels[round(row.hull_bottom) - 3, :, :3].astype(int)
        lit = np.flatnonzero(np.abs(line - colour).max(axis=1) <= 3)
        x = (
            row.x(float(bars) * segment.timeline.bars[0].end)
            - segment.look.width_playhead / 2
            - segment.look.edge
        )
        assert x - 2 < lit.max() < x + 1


# The strip


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("name", EXTREMES)
def test_every_bar_is_on_one_strip_and_all_strips_have_one_scale(name: str, size: tuple[int, int]) -> None:
    lesson = make_lesson(EXTREMES[name])
    schedule = schedule_form(lesson.timeline, SegmentSpec("form"), None)
    segment = FormSegment(schedule, read_look("dark").on(canvas_for(*size)))
    rows = [strip.row for strip in segment.strips]
    for bar in lesson.timeline.bars:
        assert sum(row.start <= bar.at < row.end for row in rows) == 1
    assert len({row.scale for row in rows}) == 1
    assert all(below.top - strip_above.feet >= 0 for strip_above, below in pairwise(rows))
    assert rows[-1].feet <= segment.canvas.bottom
    begun = [name.section for strip in segment.strips for name in strip.names if name.begins]
    assert begun == list(lesson.timeline.sections)


@pytest.mark.parametrize("name", ["300 bars", "one bar", "199 against 16", "tails and cuts"])
def test_a_wide_picture_is_one_strip(name: str) -> None:
    lesson = make_lesson(EXTREMES[name])
    segment = FormSegment(schedule_form(lesson.timeline, SegmentSpec("form"), None), read_look("dark"))
    assert len(segment.strips) == 1
    assert segment.strips[0].row.x(lesson.timeline.end) == pytest.approx(segment.canvas.music_right)


def test_a_tall_picture_is_filled_by_strips_on_posts() -> None:
    segment = segment_of(PIECE, size=(1080, 1920))
    rows = [strip.row for strip in segment.strips]
    assert [(row.start, row.end) for row in rows] == [(s.at, s.end) for s in segment.timeline.sections]
    stage = segment.canvas.stage_bottom - segment.canvas.stage_top
    assert rows[-1].feet - rows[0].top >= 0.75 * stage


def test_runs_tell_what_is_played_over_section_lines() -> None:
    timeline = timeline_of(PIECE)
    runs = find_runs(timeline, "main", 0, timeline.end)
    assert [run_word(run)[0] for run in runs] == [
        "kiln × 35", "brief × 3", "first 5 of kiln", "tail 4 + 4", "brief",
    ]  # fmt: skip
    shown = texts(segment := segment_of(PIECE), last(segment.schedule))
    assert {"kiln, 5 + 3 + 3", "brief"} <= set(shown)


def test_voices_are_named() -> None:
    lesson = make_lesson(EXTREMES["several voices"])
    for size in SIZES:
        schedule = schedule_form(lesson.timeline, SegmentSpec("form"), None)
        segment = FormSegment(schedule, read_look("dark").on(canvas_for(*size)))
        assert {"low", "high"} <= set(texts(segment, Fraction(0)))


def test_a_small_sail_a_repetition() -> None:
    segment = segment_of(PIECE)
    row = segment.strips[0].row
    starts = [r.at for r in segment.timeline.repetitions if r.at < 12 * segment.timeline.bars[0].end]
    drawn = segment.picture(Moment(last(segment.schedule), FRAME))
    pixels = Painter(1920, 1080, segment.look.ground).paint(drawn)
    y = round(row.base) - 3
    sail = tuple(int(segment.look.sail_one[i : i + 2], 16) for i in (1, 3, 5))
    for at in starts:
        x = round(row.x(at))
        assert np.abs(pixels[y, x + 4, :3].astype(int) - sail).max() < 4, at
        assert np.abs(pixels[y, x - 1, :3].astype(int) - sail).max() > 20, at


def test_the_harmony_turns_at_its_place() -> None:
    segment = segment_of(PIECE)
    row = segment.strips[0].row
    pixels = Painter(1920, 1080, segment.look.ground).paint(segment.picture(Moment(Fraction(0), FRAME)))
    change = next(field for field in segment.timeline.harmony if field.name == "F")
    x, y = round(row.x(change.at)), round(row.top) + 5
    before, after = (pixels[y, x + step, :3].astype(int) for step in (-6, 6))
    one, two = (
        [int(c[i : i + 2], 16) for i in (1, 3, 5)] for c in (segment.look.sky_one, segment.look.sky_two)
    )
    assert np.abs(before - one).max() < 3
    assert np.abs(after - two).max() < 3


def test_chords_without_room_of_their_own_are_told_together() -> None:
    """A chord a bar on 300 bars: the first ones, and that there are more; no name that is cut short."""
    lesson = make_lesson(EXTREMES["300 bars"])
    segment = FormSegment(schedule_form(lesson.timeline, SegmentSpec("form"), None), read_look("dark"))
    row = segment.strips[0].row
    boxes = text_boxes(segment.picture(Moment(Fraction(0), FRAME)))
    lane = [box.text for box in boxes if row.top < box.top and box.bottom < row.top + row.style.headroom + 4]
    assert lane == ["Em", "G", "Am", "…"]


def test_the_legend_says_of_how_many_bars_one_has_a_post() -> None:
    lesson = make_lesson(EXTREMES["300 bars"])
    segment = FormSegment(schedule_form(lesson.timeline, SegmentSpec("form"), None), read_look("dark"))
    (told,) = [text for text in texts(segment, Fraction(0)) if "post" in text]
    every = int(re.findall(r"\d+", told)[0])
    row, bar = segment.strips[0].row, lesson.timeline.bars[0].end
    assert every * bar * row.scale >= 24 > every * bar * row.scale / 2


# Pictures


@pytest.mark.parametrize("theme", ["dark", "light"])
def test_texts_stand_well_in_the_example_and_with_many_sections(theme: str) -> None:
    timeline = make_lesson(EXAMPLE.read_text(encoding="utf-8")).timeline
    example = FormSegment(schedule_form(timeline, SegmentSpec("form"), CLICK), read_look(theme))
    assert segment_faults(example) == []
    assert segment_faults(segment_of(PIECE, theme)) == []


def test_the_first_frame_shows_the_map_and_nothing_played() -> None:
    shown = texts(segment_of(PIECE), Fraction(0))
    assert {"Opening", "Theme", "Middle", "12 bars", "8 bars", "Em", "G", "1", "13", "25", "32"} <= set(shown)
    assert not any("kiln" in text for text in shown)


NINE = "form:\n" + "".join(
    f"  - {{section: {name}, bars: {bars}, plays: kiln}}\n"
    for name, bars in (
        ("Intro", 16), ("Verse", 32), ("Bridge", 8), ("Verse again", 32), ("Fall", 16),
        ("A break", 8), ("Verse at last", 32), ("Long rise", 32), ("Coda", 16),
    )
)  # fmt: skip


def test_names_too_wide_for_their_bars_stand_higher() -> None:
    (strip,) = segment_of(NINE).strips
    raised = [name.text for name in strip.names if name.raised]
    assert raised == ["Bridge", "A break"]
    assert all(name.whole for name in strip.names)
    levels = {strip.baseline(name) for name in strip.names if name.raised}
    assert max(levels) < min(strip.baseline(name) for name in strip.names if not name.raised)


def test_a_number_without_room_before_the_next_line_hangs_lower() -> None:
    segment = segment_of(
        "form:\n  - {section: A, bars: 150}\n  - {section: B, bars: 4}\n  - {section: C, bars: 96}\n"
    )
    boxes = {box.text: box for box in text_boxes(segment.picture(Moment(Fraction(0), FRAME)))}
    assert boxes["151"].top > boxes["155"].bottom


def test_sections_are_chosen_and_other_options_refused() -> None:
    (text,) = spec_of(PIECE + "segments: {show: form, sections: [Theme]}\n").segments
    schedule = schedule_form(timeline_of(PIECE), text, None)
    assert [section.name for section in schedule.sections] == ["Theme"]
    with pytest.raises(SpecError, match="form takes no figure"):
        spec_of(PIECE + "segments: {show: form, figure: kiln}\n")
