"""Slides for a lecture hall: a slide a step, its picture as vectors, its sentence as a title in real text, what the
picture says as its alternative text, the words said as notes for the speaker.

`play` is its film, if that has been rendered, under its title, with a first picture.
"""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import datetime
from fractions import Fraction
from io import BytesIO
from pathlib import Path
from xml.sax.saxutils import quoteattr
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

import av
from pptx import Presentation
from pptx.dml.color import RGBColor
from pptx.opc.constants import RELATIONSHIP_TYPE
from pptx.oxml import parse_xml
from pptx.presentation import Presentation as Slides
from pptx.slide import Slide
from pptx.util import Emu, Pt

from renderer.core.files import file_state
from renderer.core.open_files import read_bytes
from renderer.export.characters import held, is_text
from renderer.export.facts import StepFacts, step_facts
from renderer.export.kinds import Made, NothingThereError
from renderer.export.vector import PIXEL, paint, shape_xml
from renderer.lesson.lesson import Lesson
from renderer.schedule.say import SaidSchedule
from renderer.video.reel import Reel, lay_reels
from renderer.video.stills import draw_image, step_seconds
from scenes.catalogue import build_segment
from scenes.draw.look import SEMIBOLD, SLIDE, WIDE, Look, read_look
from scenes.draw.segment import Moment, Picture, Segment
from scenes.draw.shapes import MIDDLE, TURNED, FilledShape, Words, words_width
from scenes.frame.headed import HeadedSegment, Sentence

WIDTH, HEIGHT = 1920 * PIXEL, 1080 * PIXEL
TITLE_ONLY = 5
"""The layout with a title and nothing else, of those that the library brings."""
TITLE_LEFT, TITLE_TOP, TITLE_WIDTH, TITLE_HEIGHT = 96, 24, 1728, 150
"""Pixels of 1920 x 1080: over the music, whatever stands in the head of a film."""
TITLE_SIZES = (40, 32, 28, 24)
"""Points; the largest at which the title stands on its lines, with room for a wider face."""
LEAST = TITLE_SIZES[-1]
"""No text on a slide is smaller."""
POINT = 2.0
"""Pixels to a point."""
WIDER = 1.35
"""How much wider than ours the face may be that a program shows."""
LARGER = WIDE.height / SLIDE.height
"""How much larger all is drawn than in a film."""
FILM_TOP = 190
WHITE = "#FFFFFF"
FRAME = Fraction(1, 60)
PLAYED = "play"
NO_STEPS = "No slides: the spec asks for no segments."
EPOCH = datetime(2000, 1, 1)
ZIP_EPOCH = (1980, 1, 1, 0, 0, 0)
"""What files are dated with, so that the same lesson gives the same bytes."""


def make_slides(lesson: Lesson, frames_per_second: Fraction, folder: Path = Path()) -> list[Made]:
    """All slides in one file; the film of `play` is looked for in `folder`. Raises NothingThereError."""
    reels = lay_reels(lesson.segments(), frames_per_second)
    if not reels:
        raise NothingThereError(NO_STEPS)
    look = slide_look(lesson)
    slides = _empty(lesson.timeline.title)
    remarks = []
    for reel in reels:
        facts = step_facts(reel)
        segment, moments = _segment(reel, look)
        if reel.planned.show == PLAYED:
            film = _film(reel, folder)
            if isinstance(film, bytes):
                _add_film(slides, reel, _segment(reel, look.on(WIDE))[0], film, facts)
                continue
            remarks.append(film)
            facts, moments = facts[-1:], moments[-1:]
        for each, moment in zip(facts, moments, strict=True):
            _add_step(slides, reel, segment, moment, each)
    return [Made("slides.pptx", _saved(slides), "\n".join(remarks))]


def slide_look(lesson: Lesson) -> Look:
    """The light theme, with what the spec changes in it, on white, in sizes for a lecture hall."""
    theme = lesson.spec.theme
    changes = dict(theme.changes) if theme.name == "light" else {}
    return read_look("light", {**changes, "ground": WHITE}).on(SLIDE)


def _segment(reel: Reel, look: Look) -> tuple[Segment, list[Moment]]:
    """What draws a film without the words said over it, and the moments at which its steps have unfolded."""
    schedule = reel.planned.schedule
    inner = schedule.inner if isinstance(schedule, SaidSchedule) else schedule
    moments = []
    for index in range(len(schedule.steps)):
        seconds = step_seconds(schedule, index)
        if isinstance(schedule, SaidSchedule):
            seconds = schedule.inner_seconds(seconds)
        moments.append(Moment((seconds / FRAME).__floor__() * FRAME, FRAME))
    return build_segment(replace(inner, captions=()), look), moments


def _empty(title: str) -> Slides:
    """A presentation without slides, 16:9, dated once and for all."""
    slides: Slides = Presentation()
    for layout in (slides.slide_master, *slides.slide_layouts):
        for shape in layout.placeholders:
            shape.left, shape.width = (
                Emu(side * WIDTH // slides.slide_width) for side in (shape.left, shape.width)
            )
            shape.top, shape.height = (
                Emu(side * HEIGHT // slides.slide_height) for side in (shape.top, shape.height)
            )
    slides.slide_width, slides.slide_height = Emu(WIDTH), Emu(HEIGHT)
    package = slides.part.package
    for number, relation in list(package._rels.items()):
        if relation.reltype == RELATIONSHIP_TYPE.THUMBNAIL:
            package.drop_rel(number)
    about = slides.core_properties
    about.title, about.author, about.last_modified_by = _clean(title), "", ""
    about.created = about.modified = EPOCH
    about.revision = 1
    return slides


def _add_step(slides: Slides, reel: Reel, segment: Segment, moment: Moment, facts: StepFacts) -> None:
    slide = slides.slides.add_slide(slides.slide_layouts[TITLE_ONLY])
    picture, sentence = _shown(segment, moment)
    if sentence.words:
        _write_title(slide, sentence.words)
    else:
        picture = _write_texts(slide, picture)
    _add_picture(slide, picture, f"{reel.planned.show}, {facts.step.name}", _told(reel, facts))
    if facts.said:
        slide.notes_slide.notes_text_frame.text = _clean(facts.said)


def _shown(segment: Segment, moment: Moment) -> tuple[Picture, Sentence]:
    """A picture without its head, and what its head says."""
    if isinstance(segment, HeadedSegment):
        return segment.music(moment), segment.said(moment)
    return segment.picture(moment), Sentence("", ())


def _told(reel: Reel, facts: StepFacts) -> str:
    """What a picture shows, in words."""
    told = "; ".join(fact.removeprefix("on the screen: ") for fact in facts.facts)
    return _clean(f"{reel.planned.show}, {facts.step.name}{': ' if told else ''}{told}")


def _write_title(slide: Slide, words: Sequence[Words]) -> None:
    """The sentence as the slide's title, each stretch in its colour."""
    title = slide.shapes.title
    if title is None:
        raise ValueError("the layout has no title")
    title.left, title.top, title.width, title.height = (
        Emu(side * PIXEL) for side in (TITLE_LEFT, TITLE_TOP, TITLE_WIDTH, TITLE_HEIGHT)
    )
    frame = title.text_frame
    frame.word_wrap = True
    frame.margin_left = frame.margin_right = Emu(0)
    paragraph = frame.paragraphs[0]
    paragraph.alignment = 1  # left
    size = _title_size(words)
    for stretch in words:
        run = paragraph.add_run()
        run.text = held(stretch.text, is_text)
        run.font.size, run.font.bold = Pt(size), True
        run.font.color.rgb = RGBColor(*bytes.fromhex(stretch.colour.removeprefix("#")))


def _title_size(words: Sequence[Words]) -> int:
    for size in TITLE_SIZES:
        lines = int(TITLE_HEIGHT / (1.2 * size * POINT))
        if WIDER * words_width(words, size * POINT) <= TITLE_WIDTH * lines * (1.0 if lines == 1 else 0.92):
            return size
    return TITLE_SIZES[-1]


def _write_texts(slide: Slide, picture: Picture) -> Picture:
    """The texts of a picture that has no sentence as real text at their places, the largest as the title; what is
    left."""
    texts = [shape for shape in picture if shape.text and len(shape.points) and shape.fill_opacity > 0.9]
    if not texts:
        return picture
    largest = max(shape.size_px for shape in texts)
    titles, most = [shape for shape in texts if shape.size_px == largest], largest * LARGER
    _write_title(slide, [Words(" ".join(str(shape.text) for shape in titles), "#14191D", SEMIBOLD)])
    title = slide.shapes.title
    left, top, right, low = _box(titles)
    if title is not None:
        place = (left, top - 0.4 * most, 1824 - left, low - top + 0.8 * most)
        title.left, title.top, title.width, title.height = (Emu(round(side) * PIXEL) for side in place)
        for run in title.text_frame.paragraphs[0].runs:
            run.font.size = Pt(round(most / POINT / WIDER))
    for shape in texts:
        if shape not in titles:
            left, _, right, low = _box([shape])
            size = shape.size_px * LARGER
            height = size * 1.5
            room = min(1824.0, 1.4 * right - 0.4 * left + 40) - left
            place = (left, low - height * 0.85, room, height)
            box = slide.shapes.add_textbox(*(Emu(round(side) * PIXEL) for side in place))
            box.text_frame.word_wrap, box.text_frame.margin_left = True, Emu(0)
            run = box.text_frame.paragraphs[0].add_run()
            run.text = held(str(shape.text), is_text)
            run.font.size = Pt(max(LEAST, round(size / POINT / WIDER)))
            run.font.color.rgb = RGBColor(*_channels(shape))
    return [shape for shape in picture if shape not in texts]


def _channels(shape: FilledShape) -> list[int]:
    return [round(channel * 255) for channel in shape.fill[:3]]


def _box(shapes: Iterable[FilledShape]) -> tuple[float, float, float, float]:
    """Left, top, right and lower end of shapes, in pixels of the slide."""
    points = [(shape.points[:, :2] / TURNED + MIDDLE) * LARGER for shape in shapes]
    left, top = (min(float(each[:, axis].min()) for each in points) for axis in (0, 1))
    right, low = (max(float(each[:, axis].max()) for each in points) for axis in (0, 1))
    return left, top, right, low


def _add_picture(slide: Slide, picture: Picture, name: str, told: str) -> None:
    """The picture as one group of shapes, under all else on the slide."""
    first = max(shape.shape_id for shape in slide.shapes) + 1
    number = first
    shapes = []
    for painted in paint(picture):
        number += 1
        shapes.append(shape_xml(painted, number, f"shape {number - first}"))
    space = 'xmlns:p="http://schemas.openxmlformats.org/presentationml/2006/main"'
    drawing = 'xmlns:a="http://schemas.openxmlformats.org/drawingml/2006/main"'
    whole = f'<a:off x="0" y="0"/><a:ext cx="{WIDTH}" cy="{HEIGHT}"/>'
    drawn = tuple(round(side * PIXEL) for side in (SLIDE.width, SLIDE.height))
    child = f'<a:chOff x="0" y="0"/><a:chExt cx="{drawn[0]}" cy="{drawn[1]}"/>'
    about = f'<p:cNvPr id="{first}" name={quoteattr(_clean(name))} descr={quoteattr(told)}/>'
    group = (
        f"<p:grpSp {space} {drawing}><p:nvGrpSpPr>{about}<p:cNvGrpSpPr/><p:nvPr/></p:nvGrpSpPr>"
        f"<p:grpSpPr><a:xfrm>{whole}{child}</a:xfrm></p:grpSpPr>{''.join(shapes)}</p:grpSp>"
    )
    if shapes:
        slide.shapes._spTree.insert(2, parse_xml(group))


def _film(reel: Reel, folder: Path) -> bytes | str:
    """The film that was rendered last, or why it is not in its slide."""
    path = folder / f"{reel.planned.name}.mp4"
    if file_state(path) is None:
        return f"{path.name} is not rendered: its slide is a picture. Render it, also with --draft, and export again."
    film = read_bytes(path)
    try:
        with av.open(BytesIO(film)) as container:
            stream = container.streams.video[0]
            rate, count = Fraction(stream.average_rate or 0), stream.frames
    except (av.FFmpegError, IndexError):
        rate, count = Fraction(0), 0
    seconds = reel.planned.schedule.seconds
    if not rate or abs(count / rate - seconds) > 1 / rate:
        return (
            f"{path.name} is not this lesson's any more: its slide is a picture. Render it and export again."
        )
    return film


def _add_film(slides: Slides, reel: Reel, segment: Segment, film: bytes, facts: Sequence[StepFacts]) -> None:
    slide = slides.slides.add_slide(slides.slide_layouts[TITLE_ONLY])
    moment = Moment(Fraction(0), FRAME)
    _, sentence = _shown(segment, moment)
    _write_title(slide, sentence.words)
    poster = BytesIO()
    draw_image(segment.picture(moment), 1920, 1080, WHITE).save(poster, format="PNG")
    poster.seek(0)
    height = 1080 - FILM_TOP
    width = height * 16 // 9
    place = ((1920 - width) // 2, FILM_TOP, width, height)
    left, top, across, down = (Emu(side * PIXEL) for side in place)
    movie = slide.shapes.add_movie(BytesIO(film), left, top, across, down, poster, "video/mp4")
    movie.name = reel.planned.show
    movie._element.nvPicPr.cNvPr.set("descr", _told(reel, facts[-1]))
    said = " ".join(each.said for each in facts if each.said)
    if said:
        slide.notes_slide.notes_text_frame.text = _clean(said)


def _clean(text: str) -> str:
    return held(" ".join(text.split()), is_text)


def _saved(slides: Slides) -> bytes:
    """The file, with all that is in it dated the same."""
    first, last = BytesIO(), BytesIO()
    slides.save(first)
    with ZipFile(first) as written, ZipFile(last, "w", ZIP_DEFLATED) as kept:
        for name in written.namelist():
            entry = ZipInfo(name, ZIP_EPOCH)
            entry.compress_type = ZIP_DEFLATED
            kept.writestr(entry, written.read(name))
    return last.getvalue()
