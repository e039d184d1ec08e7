"""form: rows, harmony and runs where they belong, from the schedule down to the pixels."""

from fractions import Fraction

import numpy as np
import pytest

from renderer.core.errors import SpecError
from renderer.schedule.form import CLOSE_ROWS, NAMED_ROWS, FormSchedule, schedule_form
from renderer.schedule.pace import LETTERS, count_letters
from renderer.spec.model import ClickSpec, SegmentSpec
from renderer.video.rasterizer import Painter
from scenes.draw.look import SEMIBOLD, WIDE, read_look
from scenes.draw.segment import Moment
from scenes.draw.text import musical, text_width
from scenes.form.form import FormSegment
from scenes.row.runs import find_runs, run_word
from tests.boxes import FRAME, segment_faults
from tests.extremes import EXTREMES
from tests.lessons import EXAMPLE, make_lesson
from tests.pieces import HEAD, spec_of, timeline_of

CLICK = ClickSpec(count_in=1)
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
MANY = "form:\n" + "".join(f"  - {{section: Part {n}, bars: 9, plays: kiln}}\n" for n in range(33))


def segment_of(form: str, theme: str = "dark", head: str = HEAD) -> FormSegment:
    timeline = timeline_of(form, head)
    return FormSegment(schedule_form(timeline, SegmentSpec("form"), CLICK), read_look(theme))


def last(schedule: FormSchedule) -> Fraction:
    return schedule.seconds - FRAME


def texts(segment: FormSegment, seconds: Fraction) -> list[str]:
    return [shape.text for shape in segment.picture(Moment(seconds, FRAME)) if shape.text]


# Rows and time


def test_a_step_a_section_each_ending_on_a_beat() -> None:
    schedule = schedule_form(timeline_of(PIECE), SegmentSpec("form"), CLICK)
    assert [step.name for step in schedule.steps] == ["title", "Opening", "Theme", "Middle", "summary"]
    assert {step.seconds for step in schedule.steps} <= {click.seconds for click in schedule.clicks}
    assert schedule.named
    assert len(schedule.pages) == 1


def test_many_sections_stand_five_to_a_page_with_their_names_in_their_rows() -> None:
    segment = segment_of(MANY)
    assert not segment.schedule.named
    assert [len(page.rows) for page in segment.schedule.pages] == [CLOSE_ROWS] * 6 + [3]
    assert {"Part 30", "Part 31", "Part 32"} <= set(texts(segment, last(segment.schedule)))


@pytest.mark.parametrize("name", EXTREMES)
def test_every_bar_is_in_one_row(name: str) -> None:
    lesson = make_lesson(EXTREMES[name])
    schedule = schedule_form(lesson.timeline, SegmentSpec("form"), None)
    rows = [row for page in schedule.pages for row in page.rows]
    for bar in lesson.timeline.bars:
        assert sum(row.start <= bar.at < row.end for row in rows) == 1
    assert all(len(page.rows) <= (NAMED_ROWS if schedule.named else CLOSE_ROWS) for page in schedule.pages)
    assert sum(row.begins for row in rows) == len(lesson.timeline.sections)


def test_the_estimate_of_a_names_width_is_near_the_fonts() -> None:
    pixels = (WIDE.music_right - WIDE.music_left) / LETTERS
    for name in ("Em", "Am", "F#m7b5", "Gmaj9#11", "low voices", "Midstream", "W" * 20):
        measured = text_width(musical(name), 34, SEMIBOLD)
        assert 0.9 <= count_letters(name) * pixels / measured <= 1.15, name


def test_a_harmony_on_every_bar_has_its_name_in_every_bar() -> None:
    timeline = make_lesson(EXTREMES["300 bars"]).timeline
    segment = FormSegment(schedule_form(timeline, SegmentSpec("form"), None), read_look("dark"))
    for page in segment.schedule.pages:
        shown = texts(segment, page.rows[-1].seconds + segment.schedule.step)
        bars = sum(
            timeline.bar_at(row.end - 1).number - timeline.bar_at(row.start).number + 1 for row in page.rows
        )
        assert sum(shown.count(name) for name in ("Em", "G", "Am")) == bars


def test_a_position_is_shown_when_its_row_is_complete() -> None:
    timeline = timeline_of(PIECE)
    schedule = schedule_form(timeline, SegmentSpec("form"), CLICK)
    bar = timeline.bars[0].end
    assert schedule.seconds_at(13 * bar) == schedule.pages[0].rows[1].seconds + schedule.step


# Runs


def test_runs_tell_what_is_played() -> None:
    timeline = timeline_of(PIECE)
    words = []
    for section in timeline.sections:
        runs = find_runs(timeline, "main", section.at, section.end)
        words.append([run_word(run)[0] for run in runs])
    assert words == [
        ["kiln"],
        ["kiln runs on"],
        ["kiln runs on", "brief × 3", "first 5 of kiln", "tail 4 + 4", "brief"],
    ]


def test_a_small_sail_a_repetition() -> None:
    segment = segment_of(PIECE)
    (row, *_) = segment.schedule.pages[0].rows
    placed = segment.row(row, 0)
    starts = [r.at for r in segment.timeline.repetitions if row.start <= r.at < row.end]
    drawn = segment.picture(Moment(last(segment.schedule), FRAME))
    pixels = Painter(1920, 1080, segment.look.ground).paint(drawn)
    y = round(placed.base) - 3
    sail = tuple(int(segment.look.sail_one[i : i + 2], 16) for i in (1, 3, 5))
    for at in starts:
        x = round(placed.x(at))
        assert np.abs(pixels[y, x + 4, :3].astype(int) - sail).max() < 4, at
        assert np.abs(pixels[y, x - 1, :3].astype(int) - sail).max() > 20, at


def test_the_harmony_turns_at_its_place() -> None:
    segment = segment_of(PIECE)
    row = segment.row(segment.schedule.pages[0].rows[1], 1)
    pixels = Painter(1920, 1080, segment.look.ground).paint(
        segment.picture(Moment(last(segment.schedule), FRAME))
    )
    change = next(field for field in segment.timeline.harmony if field.name == "F")
    x, y = round(row.x(change.at)), round(row.top) + 60
    before, after = (tuple(int(v) for v in pixels[y - 55, x + step, :3]) for step in (-6, 6))
    one, two = (
        tuple(int(c[i : i + 2], 16) for i in (1, 3, 5)) for c in (segment.look.sky_one, segment.look.sky_two)
    )
    assert max(abs(a - b) for a, b in zip(before, one, strict=True)) < 3
    assert max(abs(a - b) for a, b in zip(after, two, strict=True)) < 3


# Pictures


@pytest.mark.parametrize("theme", ["dark", "light"])
@pytest.mark.parametrize("name", EXTREMES)
def test_texts_stand_well_at_the_extremes(name: str, theme: str) -> None:
    timeline = make_lesson(EXTREMES[name]).timeline
    segment = FormSegment(schedule_form(timeline, SegmentSpec("form"), CLICK), read_look(theme))
    assert segment_faults(segment) == []


def test_texts_stand_well_in_the_example_and_with_many_sections() -> None:
    timeline = make_lesson(EXAMPLE.read_text(encoding="utf-8")).timeline
    example = FormSegment(schedule_form(timeline, SegmentSpec("form"), CLICK), read_look("dark"))
    assert segment_faults(example) == []
    assert segment_faults(segment_of(PIECE)) == []
    assert segment_faults(segment_of(MANY)) == []


def test_the_first_frame_shows_the_sections() -> None:
    shown = texts(segment_of(PIECE), Fraction(0))
    assert {"A test", "Opening", "Theme", "Middle", "12 bars", "8 bars"} <= set(shown)
    assert "Em" not in shown


def test_a_row_is_complete_on_its_beat() -> None:
    segment = segment_of(PIECE)
    row = segment.schedule.pages[0].rows[0]
    done = row.seconds + segment.schedule.step
    assert "kiln" not in texts(segment, row.seconds + segment.schedule.step / 2)
    on_it, later = (segment.picture(Moment(at, FRAME)) for at in (done, done + FRAME))
    kept = {id(shape) for shape in later}
    stays = [shape for shape in on_it if shape.text in ("kiln", "Em", "G", "9")]
    assert stays
    assert all(id(shape) in kept for shape in stays)


def test_the_last_sentence_tells_what_runs_on() -> None:
    segment = segment_of(PIECE)
    assert " runs on from Opening into Theme." in "".join(texts(segment, last(segment.schedule)))


def test_sections_are_chosen_and_other_options_refused() -> None:
    (text,) = spec_of(PIECE + "segments: {show: form, sections: [Theme]}\n").segments
    timeline = timeline_of(PIECE)
    schedule = schedule_form(timeline, text, None)
    assert [row.section.name for page in schedule.pages for row in page.rows] == ["Theme"]
    with pytest.raises(SpecError, match="form takes no figure"):
        spec_of(PIECE + "segments: {show: form, figure: kiln}\n")
