"""The pictures of the starter lesson: what one show says of a place, the others say too, and all of it is named."""

from fractions import Fraction
from functools import cache
from pathlib import Path

import pytest
from click.testing import CliRunner

from renderer.command import main
from renderer.core.installed import ASSETS
from renderer.lesson.lesson import Lesson
from renderer.schedule.phrases import text_of
from renderer.schedule.spread import SpreadSchedule
from renderer.timeline.model import Timeline
from renderer.video.stills import parse_still, picture_at
from scenes.draw.look import canvas_for
from scenes.draw.segment import Picture
from tests.boxes import TextBox, text_boxes
from tests.lessons import DARK, make_lesson

SHOWS = "[form, {show: fit, section: Answer}, handover, wheel, spread, play]"
WIDE, TALL = (1920, 1080), (1080, 1920)


@cache
def starter() -> Lesson:
    text = (ASSETS / "starter.yaml").read_text(encoding="utf-8")
    return make_lesson(text.replace("[figure, spread, play]", SHOWS))


def picture(still: str, size: tuple[int, int] = WIDE) -> Picture:
    return picture_at(parse_still(starter(), still), DARK.on(canvas_for(*size)))


def boxes(still: str, size: tuple[int, int] = WIDE) -> list[TextBox]:
    return [box for box in text_boxes(picture(still, size)) if box.text.strip()]


def said(still: str, size: tuple[int, int] = WIDE) -> str:
    return " ".join(" ".join(shape.text for shape in picture(still, size) if shape.text).split())


def finding(show: str) -> str:
    return starter().schedule_show(show).finding()


def timeline() -> Timeline:
    return starter().timeline


def test_a_cut_repetition_is_counted_and_told_alike_in_all_pictures() -> None:
    """The answer's 128 sixteenths are 4 + 11 x 11 + 3; with the theme's 128 they are 256 = 24 x 11 - 8."""
    assert (4 + 11 * 11 + 3, 24 * 11 - 8) == (8 * 16, 16 * 16)
    cut = next(each for each in timeline().repetitions if each.statement.cut)
    assert cut.counted == 24
    assert finding("fit") == "With 4 carried in, eleven elevens fit. The 24th is cut after 3."
    shown = said("fit@landing")
    assert "3 of 11 played" in shown
    assert "23rd" in shown
    assert "11th" not in shown
    assert finding("handover") == "The line cuts 8 off heron. The next heron starts on the downbeat."
    shown = said("handover@end")
    assert "8 cut off" in shown
    assert "24th" in shown


def test_the_row_of_offsets_ends_on_the_downbeat() -> None:
    """0, 11, 22 - 16 = 6 ... : the sixteenth step, 176 = 11 x 16, is 0 again."""
    offsets = [str(11 * number % 16) for number in range(17)]
    row = [box.text.strip() for box in boxes("wheel@answer") if box.size == 56 and box.text.strip().isdigit()]
    assert row == offsets
    assert offsets[-1] == "0"


@pytest.mark.parametrize("size", [WIDE, (1080, 1080), TALL])
def test_every_figure_is_named_in_the_form(size: tuple[int, int]) -> None:
    shown = said("form@answer", size)
    assert all(figure.name in shown for figure in timeline().figures)


def test_the_last_bars_number_stands_where_that_bar_begins() -> None:
    number = next(box for box in boxes("form@answer") if box.text == "20")
    first = next(box for box in boxes("form@answer") if box.text == "1")
    closing = next(box for box in boxes("form@answer") if box.text == "17")
    bar = (closing.left - first.left) / 16
    assert number.left - first.left == pytest.approx(19 * bar, abs=6)


def test_no_dimmed_number_is_read_as_part_of_a_label() -> None:
    shown = said("spread@end")
    assert "bar 12" in shown
    assert "13" not in shown.split()
    assert {"9", "17"} <= set(shown.split())


def test_a_hurry_takes_a_second_and_a_half_for_eight_bars() -> None:
    """Twelve bars are left after eight: two rows of eight, 3 seconds."""
    schedule = starter().schedule_show("spread")
    assert isinstance(schedule, SpreadSchedule)
    assert schedule.course.ends - schedule.course.real_end == 3
    shown = parse_still(starter(), "spread@repetitions").seconds
    assert schedule.course.ends - shown == Fraction(1, 20)
    assert "20" in said("spread@repetitions").split()
    assert text_of(schedule.lights[-1].phrases) == "Back on a downbeat at bar 12."


def test_a_sheet_has_its_own_size(tmp_path: Path) -> None:
    spec = tmp_path / "weir.yaml"
    spec.write_text((ASSETS / "starter.yaml").read_text(encoding="utf-8"), encoding="utf-8")
    result = CliRunner().invoke(main, ["still", str(spec), "--sheet", "--size", "1080x1920"])
    assert result.exit_code == 2
    assert "Use --sheet or --size, not both: a sheet has its own size." in result.output


@pytest.mark.parametrize("still", ["play@15.1", "spread@repetitions"])
def test_a_tall_picture_says_what_its_marks_mean(still: str) -> None:
    canvas = canvas_for(*TALL)
    words = ["chord turns inside a repetition", "accent on a downbeat", "starts on a downbeat again"]
    told = {box.text: box for box in boxes(still, TALL) if box.text in words}
    assert list(told) == words
    assert all(box.bottom <= canvas.bottom and box.right <= canvas.right for box in told.values())


def test_a_sections_name_stands_clear_in_a_tall_picture() -> None:
    found = {box.text: box for box in boxes("play@9.1", TALL)}
    assert found["Answer"].top - found["drums"].bottom >= 20
    assert found["Dm"].top - found["Answer"].bottom >= 20
