"""What is drawn otherwise on a slide, so that it is read from the last row of a lecture hall."""

from collections.abc import Collection

import pytest
from wcag_contrast_ratio import rgb as reference_contrast

from renderer.lesson.lesson import open_lesson
from renderer.spec.themes import theme_names
from renderer.spec.words import Vocabulary
from scenes.catalogue import build_segment
from scenes.draw.fading import box_of
from scenes.draw.look import SEMIBOLD, SLIDE, WIDE, read_look
from scenes.draw.segment import Moment
from scenes.draw.shapes import Words, red_green_blue
from scenes.frame.foot import MARKS, draw_legend, draw_veil
from scenes.frame.head import draw_head
from scenes.spread.bars import draw_bars
from scenes.spread.spread import SpreadSegment
from tests.boxes import FRAME, text_boxes
from tests.lessons import EXAMPLE

SLIDE_LOOK = read_look("light").on(SLIDE)


def spread() -> SpreadSegment:
    segment = build_segment(open_lesson(EXAMPLE).schedule_show("spread"), SLIDE_LOOK)
    assert isinstance(segment, SpreadSegment)
    return segment


def told(marks: Collection[str], words: Vocabulary | None = None) -> list[str]:
    look = SLIDE_LOOK.saying(words) if words else SLIDE_LOOK
    return [shape.text for shape in draw_legend(look, marks) if shape.text]


def test_the_answer_has_the_number_of_each_repetition_and_every_section_s_name() -> None:
    """16 x 11 and 32 x 11 sixteenths are whole bars of sixteen, and so are 16 x 7: 17 and 33 are back, then 17."""
    segment = spread()
    moment = Moment(segment.schedule.seconds - FRAME, FRAME)
    texts = [box.text for box in text_boxes(segment.picture(moment))]
    assert sorted(text for text in texts if text in ("17", "33")) == ["17", "17", "17", "33"]  # bar 17 too
    assert {"Jetty", "Midstream", "Far Bank"} <= set(texts)


def test_a_bar_s_label_and_its_plate_stay_over_the_row_below() -> None:
    segment = spread()
    rows = segment.rows
    below = [rows.top + place * rows.pitch for place in range(1, rows.page + 1)]
    for lit in segment.shown[-1].lit:
        index = next(n for n, (start, end) in enumerate(rows.breaks) if start <= lit.spot.at < end)
        labels = [n for n, shape in enumerate(lit.shapes) if shape.text and shape.text.startswith("bar")]
        assert len(labels) == 1
        plate, label = lit.shapes[labels[0] - 1], lit.shapes[labels[0]]
        assert max(box_of(plate)[3], box_of(label)[3]) <= below[index] + 0.5


def test_names_that_run_over_posts_hide_them_and_the_numbers_there() -> None:
    segment = spread()
    row = segment.rows.row(1, 1, segment.look, 1)
    drawn = draw_bars(segment.timeline, segment.rows, row, False, 1)
    assert [shape.text for shape in drawn if shape.text][:4] == ["13", "16", "17", "18"]
    plate, name = drawn[-2:]
    assert name.text == "Midstream"
    left, _, right, _ = box_of(plate)
    assert left < row.x(segment.timeline.bars[13].at) < row.x(segment.timeline.bars[14].at) < right


def test_the_legend_tells_of_the_ring_first_and_of_the_others_as_they_have_room() -> None:
    three = {"crossing", "landing", "realignment"}
    assert told(three) == ["chord turns", "accent on a downbeat", "starts on a downbeat again"]
    assert "starts on a downbeat again" in told(MARKS)
    assert told({"crossing", "landing"}) == ["chord turns inside a repetition", "accent on a downbeat"]
    own = Vocabulary((("chord turns inside a repetition", ("the harmony moves on within it",)),))
    assert "chord turns" not in told(three, own)
    for marks in (three, set(MARKS)):
        assert max(box.right for box in text_boxes(draw_legend(SLIDE_LOOK, marks))) <= SLIDE.right


@pytest.mark.parametrize("theme", theme_names())
def test_what_steps_back_is_still_read(theme: str) -> None:
    """Large text stands out by 3 : 1: WCAG 2.2, success criterion 1.4.3."""
    look = read_look(theme)
    veil = draw_veil(look.on(SLIDE)).fill_opacity
    ground = red_green_blue(look.ground)
    for colour in (look.ink, look.harmony, look.meter_text):
        left = [a * (1 - veil) + b * veil for a, b in zip(red_green_blue(colour), ground, strict=True)]
        assert reference_contrast(tuple(left), tuple(ground)) >= 3
    assert veil < draw_veil(look.on(WIDE)).fill_opacity


def test_two_sentences_stand_on_a_line_each() -> None:
    words = [
        Words("The chord turns in group 2, after 1 pulse. ", "#000000", SEMIBOLD),
        Words("The rhythm runs on.", "#0000FF", SEMIBOLD),
    ]
    lines = [shape.text for shape in draw_head(SLIDE_LOOK, "", words) if shape.text]
    assert lines == ["The chord turns in group 2, after 1 pulse.", "The rhythm runs on."]
