"""Slides, read back by python-pptx, and their vectors filled by cairo as the format says, against the film's pixels."""

from fractions import Fraction
from functools import cache
from io import BytesIO
from pathlib import Path
from typing import Any
from zipfile import ZipFile

import cairo
import numpy as np
import pytest
from numpy.typing import NDArray
from pptx import Presentation
from pptx.enum.shapes import MSO_SHAPE_TYPE

from renderer.core.files import whole_file
from renderer.export.facts import step_facts
from renderer.export.kinds import NothingThereError
from renderer.export.slides import FRAME, NO_STEPS, make_slides, slide_look
from renderer.export.vector import nest, uncrossed
from renderer.lesson.lesson import Lesson, open_lesson
from renderer.video.mp4 import write_film
from renderer.video.reel import Reel, lay_reels
from renderer.video.stills import draw_image, step_seconds
from scenes.catalogue import build_segment
from scenes.draw.look import SLIDE
from scenes.draw.paths import disc, rectangle
from scenes.draw.segment import Moment
from scenes.draw.text import letter
from scenes.frame.headed import HeadedSegment
from tests.boxes import text_boxes
from tests.lessons import EXAMPLE, make_lesson
from tests.test_export_captions import SAID

FPS = Fraction(60)
SPACES = {
    "a": "http://schemas.openxmlformats.org/drawingml/2006/main",
    "p": "http://schemas.openxmlformats.org/presentationml/2006/main",
}
MEAN, FAR = 0.6, 0.004
"""How much of 255 a pixel may differ on the average, and which share of pixels by more than 40: points are rounded to a
tenth of a pixel, and where a letter's outlines overlap, their soft edges are laid over each other."""


@cache
def lesson() -> Lesson:
    return make_lesson(SAID)


@cache
def content() -> bytes:
    (made,) = make_slides(lesson(), FPS, folder=Path("nowhere"))
    assert made.remark == (
        "03-play.mp4 is not rendered: its slide is a picture. Render it, also with --draft, and export again."
    )
    return made.content


def slides(data: bytes) -> list[Any]:
    return list(Presentation(BytesIO(data)).slides)


def shown_steps() -> list[tuple[Reel, int]]:
    """The film and step of each slide: every step, and of `play` the last."""
    return [
        (reel, index)
        for reel in lay_reels(lesson().segments(), FPS)
        for index in range(len(reel.planned.schedule.steps))
        if reel.planned.show != "play" or index == len(reel.planned.schedule.steps) - 1
    ]


def test_there_is_a_wide_slide_for_each_step() -> None:
    read = Presentation(BytesIO(content()))
    assert (read.slide_width, read.slide_height) == (12_192_000, 6_858_000), "16:9, 13 1/3 inches wide"
    assert len(read.slides) == len(shown_steps())


def test_each_has_a_title_an_alternative_text_and_what_is_said() -> None:
    for slide, (reel, index) in zip(slides(content()), shown_steps(), strict=True):
        facts = step_facts(reel)[index]
        title = slide.shapes.title.text_frame.text
        assert title
        group = next(shape for shape in slide.shapes if shape.shape_type == MSO_SHAPE_TYPE.GROUP)
        told = group._element.nvGrpSpPr.cNvPr.get("descr")
        assert told.startswith(f"{reel.planned.show}, {facts.step.name}")
        notes = slide.notes_slide.notes_text_frame.text if slide.has_notes_slide else ""
        assert notes == " ".join(facts.said.split())
    assert any(slide.has_notes_slide for slide in slides(content()))


def test_no_two_shapes_of_a_slide_share_an_id() -> None:
    for slide in slides(content()):
        numbers = [element.get("id") for element in slide._element.iterfind(".//p:cNvPr", SPACES)]
        assert len(numbers) == len(set(numbers))


def test_the_same_bytes_each_time_and_no_date_of_the_day() -> None:
    (again,) = make_slides(make_lesson(SAID), FPS, folder=Path("nowhere"))
    assert again.content == content()
    with ZipFile(BytesIO(content())) as file:
        assert {entry.date_time for entry in file.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        assert b"2000-01-01T00:00:00Z" in file.read("docProps/core.xml")


@cache
def example_content() -> bytes:
    (made,) = make_slides(open_lesson(EXAMPLE), FPS, folder=Path("nowhere"))
    return made.content


def filled(slide: Any) -> NDArray[np.float64]:
    """A slide's custom geometry at 960 x 540: each path by itself, even and odd, as ISO/IEC 29500-1, 20.1.9.15, and the
    programs that show it fill paths."""
    surface = cairo.ImageSurface(cairo.FORMAT_RGB24, 960, 540)
    context = cairo.Context(surface)
    context.set_fill_rule(cairo.FILL_RULE_EVEN_ODD)
    context.set_source_rgb(1, 1, 1)
    context.paint()
    group = slide._element.find(".//p:grpSp/p:grpSpPr/a:xfrm", SPACES)
    shown, drawn = (int(group.find(f"a:{name}", SPACES).get("cx")) for name in ("ext", "chExt"))
    for shape in slide._element.iterfind(".//p:grpSp/p:sp", SPACES):
        place = shape.find("p:spPr/a:xfrm/a:off", SPACES)
        colour = shape.find("p:spPr/a:solidFill/a:srgbClr", SPACES)
        alpha = colour.find("a:alpha", SPACES)
        red, green, blue = (part / 255 for part in bytes.fromhex(colour.get("val")))
        context.set_source_rgba(red, green, blue, 1.0 if alpha is None else int(alpha.get("val")) / 100_000)
        for path in shape.iterfind(".//a:path", SPACES):
            context.save()
            context.scale(960 / 12_192_000 * shown / drawn, 540 / 6_858_000 * shown / drawn)
            context.translate(int(place.get("x")), int(place.get("y")))
            context.scale(635, 635)
            for command in path:
                points = [
                    int(point.get(axis)) for point in command.iterfind("a:pt", SPACES) for axis in ("x", "y")
                ]
                name = command.tag.rpartition("}")[2]
                if name == "close":
                    context.close_path()
                else:
                    method = {"moveTo": "move_to", "lnTo": "line_to", "cubicBezTo": "curve_to"}[name]
                    getattr(context, method)(*points)
            context.restore()
            context.fill()
    surface.flush()
    pixels = np.frombuffer(surface.get_data(), np.uint8).reshape(540, 960, 4)
    return pixels[:, :, 2::-1].astype(float)


@pytest.mark.parametrize("index", range(len(open_lesson(EXAMPLE).segments())))
def test_its_vectors_show_what_a_still_for_a_slide_shows(index: int) -> None:
    """But for the head, which is the slide's own text."""
    example = open_lesson(EXAMPLE)
    reel = lay_reels(example.segments(), FPS)[index]
    counts = [
        1 if each.planned.show == "play" else len(each.planned.schedule.steps)
        for each in lay_reels(example.segments(), FPS)
    ]
    number = sum(counts[: index + 1]) - 1
    slide = slides(example_content())[number]
    look = slide_look(example)
    segment = build_segment(reel.planned.schedule, look)
    assert isinstance(segment, HeadedSegment)
    seconds = step_seconds(reel.planned.schedule, len(reel.planned.schedule.steps) - 1)
    moment = Moment((seconds / FRAME).__floor__() * FRAME, FRAME)
    still = draw_image(segment.music(moment), 960, 540, "#FFFFFF", canvas=SLIDE)
    film = np.asarray(still, dtype=float)
    apart = np.abs(filled(slide) - film)
    assert apart.mean() < MEAN
    assert (apart.max(axis=2) > 40).mean() < FAR


def test_no_letter_is_smaller_than_24_points() -> None:
    """What books on slides ask for as a rule (from memory), and capitals of 2.9 per cent of the picture's height: read
    from nearly six times that height away by the 200 times of ANSI/AVIXA V202.01, Display Image Size (from memory)."""
    example = open_lesson(EXAMPLE)
    look = slide_look(example)
    for reel in lay_reels(example.segments(), FPS):
        segment = build_segment(reel.planned.schedule, look)
        last = step_seconds(reel.planned.schedule, len(reel.planned.schedule.steps) - 1)
        boxes = text_boxes(segment.picture(Moment(last, FRAME)))
        assert all(box.size * 540 / segment.canvas.height >= 24 for box in boxes), reel.planned.show
    for slide in [*slides(content()), *slides(example_content())]:
        for run in slide._element.iterfind(".//a:rPr", SPACES):
            assert int(run.get("sz", 2400)) >= 2400, run.getnext().text


def test_an_outline_that_crosses_itself_is_parted_into_loops() -> None:
    """The face draws a 4 in one stroke over itself: a stem, a diagonal with a bar, and the room between them. A ring
    stays a disc with its hole."""
    (outline,) = letter("4", 100, 700).contours
    loops = uncrossed(outline)
    assert len(loops) == 3
    assert sorted(map(len, nest(loops))) == [1, 2]
    assert [len(group) for group in nest([disc(0, 0, 10), disc(0, 0, 5, reverse=True)])] == [2]
    assert len(nest([rectangle(0, 0, 4, 4), rectangle(2, 2, 8, 8)])) == 2


def write_play(folder: Path, seconds: Fraction) -> bytes:
    """A film of `play` of that length, black."""
    count = round(seconds * 10)
    frames = (np.zeros((36, 64, 4), np.uint8) for _ in range(count))
    with whole_file(folder / "03-play.mp4") as file:
        write_film(file, frames, 64, 36, Fraction(10), count)
    return (folder / "03-play.mp4").read_bytes()


def test_a_film_that_was_rendered_is_in_its_slide(tmp_path: Path) -> None:
    seconds = lesson().segments()[2].schedule.seconds
    film = write_play(tmp_path, seconds)
    (made,) = make_slides(lesson(), FPS, folder=tmp_path)
    assert made.remark == ""
    last = slides(made.content)[-1]
    movie = next(shape for shape in last.shapes if shape.shape_type == MSO_SHAPE_TYPE.MEDIA)
    assert movie.poster_frame.content_type == "image/png"
    assert movie._element.nvPicPr.cNvPr.get("descr").startswith("play, ")
    with ZipFile(BytesIO(made.content)) as file:
        names = [name for name in file.namelist() if name.endswith(".mp4")]
        assert [file.read(name) for name in names] == [film]
    assert last.notes_slide.notes_text_frame.text == "And on it goes."


def test_a_film_of_another_length_is_left_out_and_told(tmp_path: Path) -> None:
    write_play(tmp_path, lesson().segments()[2].schedule.seconds + 2)
    (made,) = make_slides(lesson(), FPS, folder=tmp_path)
    assert made.remark == (
        "03-play.mp4 is not this lesson's any more: its slide is a picture. Render it and export again."
    )
    assert made.content == content()


def test_a_lesson_without_segments_has_no_slides() -> None:
    with pytest.raises(NothingThereError) as caught:
        make_slides(make_lesson(SAID[: SAID.index("segments:")]), FPS)
    assert str(caught.value) == NO_STEPS
