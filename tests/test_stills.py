"""Stills: the same pixels as the film's frame, whatever they are asked for as."""

import re
from fractions import Fraction
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from click.testing import CliRunner
from PIL import Image

from renderer.command import main
from renderer.core.errors import BarcrossError
from renderer.core.files import whole_file
from renderer.lesson.lesson import Lesson
from renderer.video.stills import FRAME, draw_image, draw_sheet, parse_still, picture_at, write_svg
from scenes.catalogue import build_segment
from scenes.draw.look import canvas_for
from tests.drawn_frames import draw_frames
from tests.lessons import DARK, SHORT, make_lesson

QUARTER = Fraction(60, 137)


@pytest.fixture(scope="module")
def lesson() -> Lesson:
    return make_lesson()


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("play@2s", Fraction(2)),
        ("3@0:02.5", Fraction(5, 2)),
        ("play@2.3", 4 * QUARTER + 6 * QUARTER),
        ("play@2.3.2", 4 * QUARTER + 6 * QUARTER + QUARTER / 4),
        ("play@Upper", 4 * QUARTER + 12 * QUARTER - 1),
        ("play@-1.2", 24 * QUARTER - 3 * QUARTER),
        ("play@end", 24 * QUARTER - FRAME),
        ("play", 24 * QUARTER - FRAME),
    ],
)
def test_a_time_is_seconds_a_position_a_step_or_the_end(lesson: Lesson, text: str, seconds: Fraction) -> None:
    assert parse_still(lesson, text).seconds == seconds


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("wheel@1s", "The segments are 1 figure, 2 spread, 3 play"),
        ("play@99s", "Give a time from 0s to"),
        ("play@9.1", "there is no bar 9. The last bar is 5."),
        ("play@2.5", "bar 2 has beats 1 to 4."),
        ("play@2.1.5", "beat 1 has no pulse 5"),
        ("play@noon", "Write seconds (12.5s), a position (9.3), end, or a step: count-in, Upper, Lower"),
        ("figure@2.1", "Use seconds (12.5s) or a step"),
    ],
)
def test_what_is_no_time_in_the_segment_is_reported(lesson: Lesson, text: str, told: str) -> None:
    with pytest.raises(BarcrossError) as caught:
        parse_still(lesson, text)
    assert told in str(caught.value)


@pytest.mark.parametrize("text", ["figure@accents", "spread@2.1", "play@3.2"])
def test_a_still_equals_the_films_frame(lesson: Lesson, text: str) -> None:
    still = parse_still(lesson, text)
    image = draw_image(picture_at(still, DARK), 480, 270, DARK.ground)
    segment = build_segment(still.planned.schedule, DARK)
    index = int(still.seconds / FRAME + Fraction(1, 2))
    frame = next(draw_frames(segment, 480, 270, 1 / FRAME, range(index, index + 1)))
    np.testing.assert_array_equal(np.asarray(image), frame[:, :, :3])


def test_a_transparent_still_laid_on_the_ground_is_the_still(lesson: Lesson) -> None:
    """Within two levels: colours multiplied by their opacity and divided again are rounded twice."""
    picture = picture_at(parse_still(lesson, "spread@end"), DARK)
    clear = draw_image(picture, 480, 270, DARK.ground, transparent=True)
    assert clear.mode == "RGBA"
    assert clear.getpixel((2, 2)) == (0, 0, 0, 0)
    ground = Image.new("RGBA", clear.size, DARK.ground)
    laid = np.asarray(Image.alpha_composite(ground, clear).convert("RGB")).astype(int)
    solid = np.asarray(draw_image(picture, 480, 270, DARK.ground)).astype(int)
    assert np.abs(laid - solid).max() <= 2


def test_svg_holds_every_shape_as_an_outline(lesson: Lesson, tmp_path: Path) -> None:
    picture = picture_at(parse_still(lesson, "play@2.3"), DARK)
    path = tmp_path / "still.svg"
    with whole_file(path) as file:
        write_svg(file, picture, DARK.ground)
    text = path.read_text(encoding="utf-8")
    assert text.count("<path") == sum(1 for drawn in picture if len(drawn.points))
    assert "<text" not in text
    numbers = [float(number) for number in re.findall(r"[MC ](-?\d+(?:\.\d+)?)", text)]
    assert min(numbers) > -200
    assert max(numbers) < 2200


@pytest.mark.parametrize("ground", [DARK.ground, None])
def test_svg_has_the_size_that_its_picture_is_drawn_in(tmp_path: Path, ground: str | None) -> None:
    """Without width and height an SVG is as large as whatever shows it likes (SVG 1.1, 7.2)."""
    path = tmp_path / "still.svg"
    with whole_file(path) as file:
        write_svg(file, [], ground, canvas_for(1080, 1920))
    root = ElementTree.fromstring(path.read_text(encoding="utf-8"))
    assert (root.get("width"), root.get("height")) == ("1080", "1920")
    assert root.get("viewBox") == "0 0 1080 1920"


def test_the_sheet_shows_every_step_of_every_segment(lesson: Lesson) -> None:
    sheet = draw_sheet(lesson, DARK)
    steps = sum(len(planned.schedule.steps) for planned in lesson.segments())
    assert sheet.size == (3 * 640, -(-steps // 3) * 400)


def test_the_command_writes_what_it_names(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("weir.yaml").write_text(SHORT, encoding="utf-8")
    result = CliRunner().invoke(
        main, ["still", "weir.yaml", "play@2.3", "1", "--size", "1280x720", "--theme", "light"]
    )
    assert result.exit_code == 0, result.output
    written = ["out/weir/03-play@2.3-light-1280x720.png", "out/weir/01-figure@end-light-1280x720.png"]
    assert result.stdout.split() == written
    with Image.open(written[0]) as image:
        assert image.size == (1280, 720)
        assert image.convert("RGB").getpixel((2, 2)) == (0xF6, 0xF2, 0xE9)
    for options, name in (
        ([], "03-play@2.3.png"),
        (["--transparent", "--size", "640x360"], "03-play@2.3-640x360-transparent.png"),
        (["--svg", "--theme", "dark"], "03-play@2.3-dark.svg"),
        (["--slide", "--theme", "light"], "03-play@2.3-light-slide.png"),
    ):
        result = CliRunner().invoke(main, ["still", "weir.yaml", "play@2.3", *options])
        assert result.stdout.split() == [f"out/weir/{name}"]
    for options, said in (
        (["--slide", "--sheet"], "Use --slide or --sheet, not both: --sheet has sizes of its own."),
        (
            ["--slide", "--thumbnail"],
            "Use --slide or --thumbnail, not both: --thumbnail has sizes of its own.",
        ),
        (["--slide", "--size", "1080x1920"], "Use a --size of 16:9 with --slide, for example 3840x2160."),
    ):
        result = CliRunner().invoke(main, ["still", "weir.yaml", "play@2.3", *options])
        assert result.exit_code == 2
        assert said in result.stderr
    assert CliRunner().invoke(main, ["still", "weir.yaml", "play@77"]).exit_code == 1


def test_of_two_segments_of_a_show_the_first_that_is_long_enough_is_meant() -> None:
    lesson = make_lesson(SHORT.replace("figure, spread, play]", "{show: play, sections: Upper}, play]"))
    short, whole = (planned.schedule.seconds for planned in lesson.segments())
    assert short < whole
    late = f"play@{float(short + whole) / 2:.2f}s"
    assert parse_still(lesson, late).planned.number == 2
    assert parse_still(lesson, "play@0.5s").planned.number == 1
    with pytest.raises(BarcrossError, match="2 play ends at"):
        parse_still(lesson, "play@999s")


def test_still_alone_lists_what_can_be_asked_for(tmp_path: Path) -> None:
    spec = tmp_path / "weir.yaml"
    spec.write_text(SHORT, encoding="utf-8")
    result = CliRunner().invoke(main, ["still", str(spec)])
    assert result.exit_code == 0
    head, *lines = result.output.splitlines()
    assert head == (
        "Write SEGMENT@TIME, such as figure@count-in. TIME is seconds (12.5s), a position (9.3), or one of these:"
    )
    lesson = make_lesson()
    assert [line.partition(",")[0] for line in lines] == ["1 figure", "2 spread", "3 play"]
    for line, planned in zip(lines, lesson.segments(), strict=True):
        asked = line.partition(": ")[2].split(", ")
        assert asked == [*(step.name for step in planned.schedule.steps), "end"]
        for name in asked:
            assert parse_still(lesson, f"{planned.number}@{name}").planned.number == planned.number
    assert list(tmp_path.iterdir()) == [spec]
