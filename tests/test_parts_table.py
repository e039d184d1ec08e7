"""`parts` as a table: what each part keeps in each section, and how many keep the meter, as the timeline says."""

import pytest

from renderer.core.errors import SpecError
from renderer.reading.load import parse_spec
from renderer.schedule.parts import PartsSchedule
from scenes.catalogue import build_segment
from scenes.draw.look import canvas_for
from scenes.draw.segment import Moment
from tests.boxes import FRAME, segment_faults
from tests.extremes import EXTREMES
from tests.lessons import DARK, SHORT, make_lesson
from tests.test_layout import SIZES

PIECE = """
title: Kiln Song
tempo: 112
meter: 4/4
pulse: 1/16
figures: {kiln: [5, 3, 3]}
parts:
  marimba: figure
  kit: {1: figure, 9: meter, 25: figure}
  bass: {1: figure, 13: meter, 25: figure}
  shaker: {1: meter, 17.3: figure}
  low voices: {1: meter, 25: tacet}
  flute: {1: meter, 29: figure}
form:
  - {section: Opening, bars: 12, plays: kiln}
  - {section: Theme, bars: 12, plays: on}
  - {section: Middle, bars: 8, plays: on}
segments: [{show: parts, table: true}]
"""


def schedule_of(text: str = PIECE) -> PartsSchedule:
    schedule = make_lesson(text).segments()[0].schedule
    assert isinstance(schedule, PartsSchedule)
    return schedule


def texts(text: str, size: tuple[int, int] = (1920, 1080)) -> list[str]:
    schedule = schedule_of(text)
    picture = build_segment(schedule, DARK.on(canvas_for(*size))).picture(
        Moment(schedule.seconds - FRAME, FRAME)
    )
    return [shape.text for shape in picture if shape.text]


def test_a_cell_says_what_a_part_keeps_and_where_it_changes() -> None:
    opening, theme, middle = schedule_of().table
    kept = [[cell.clocks for cell in column.cells] for column in (opening, theme, middle)]
    figure, meter = ("figure",), ("meter",)
    assert kept[0] == [figure, ("figure", "meter"), figure, meter, meter, meter]
    assert kept[1] == [figure, meter, meter, ("meter", "figure"), meter, meter]
    assert kept[2] == [figure, figure, figure, figure, ("tacet",), ("meter", "figure")]
    assert opening.cells[1].places == ("9",)
    assert theme.cells[3].places == ("17.3",)
    assert [column.meter for column in (opening, theme, middle)] == [
        *("three, then four", "five, then four", "one, then nobody"),
    ]


def test_it_stands_still_and_silent() -> None:
    schedule = schedule_of()
    assert schedule.clicks == ()
    assert [step.name for step in schedule.steps] == ["table", "answer"]
    assert schedule.seconds_at(0) is None


def test_the_picture_has_all_of_it() -> None:
    shown = texts(PIECE)
    for text in (
        "Opening",
        "Middle",
        "low voices",
        "bar 9",
        "bar 17.3",
        "silent",
        "one, then nobody",
        "the meter",
    ):
        assert text in shown
    assert shown.count("figure") == 7
    assert shown.count("meter") == 7


def test_some_parts_and_some_sections() -> None:
    text = PIECE.replace("table: true", "table: true, parts: [kit, flute], sections: Theme")
    (column,) = schedule_of(text).table
    assert column.section.name == "Theme"
    assert len(column.cells) == 2
    assert column.meter == "two"


@pytest.mark.parametrize("size", SIZES, ids=lambda size: "x".join(map(str, size)))
@pytest.mark.parametrize("name", ["several voices", "twelve voices and parts", "piece"])
def test_texts_keep_apart(name: str, size: tuple[int, int]) -> None:
    text = PIECE if name == "piece" else EXTREMES[name] + "segments: [{show: parts, table: true}]\n"
    segment = build_segment(schedule_of(text), DARK.on(canvas_for(*size)))
    assert segment_faults(segment) == []


def test_many_sections_take_turns() -> None:
    sections = "".join(f"  - {{section: Part {n}, bars: 2, plays: kiln}}\n" for n in range(20))
    text = PIECE.partition("form:\n")[0].replace("17.3", "17") + "form:\n" + sections
    text += "segments: [{show: parts, table: true}]\n"
    schedule = schedule_of(text)
    assert len(schedule.table) == 20
    segment = build_segment(schedule, DARK)
    seen: set[str] = set()
    for column in schedule.table:
        picture = segment.picture(Moment(column.seconds + FRAME * 30, FRAME))
        seen |= {shape.text for shape in picture if shape.text}
    assert {f"Part {n}" for n in range(20)} <= seen
    assert segment_faults(segment) == []


def test_no_other_show_has_a_table() -> None:
    with pytest.raises(SpecError, match=r"form takes no table"):
        parse_spec(SHORT.replace("[figure, spread, play]", "[{show: form, table: true}]"), "x")
