"""Stills of a segment at any moment: PNG, PNG on transparent ground, SVG, and a sheet of a whole lesson.

A still shows the film's frame at that time: the same picture by the same painter, which can leave the ground out.
"""

from collections.abc import Sequence
from contextlib import suppress
from fractions import Fraction
from typing import NamedTuple
from xml.sax.saxutils import quoteattr

import numpy as np
from PIL import Image

from renderer.core.errors import BarcrossError
from renderer.core.open_files import OutputFile
from renderer.lesson.lesson import NO_SEGMENTS, Lesson, Planned
from renderer.reading.scalars.parse import parse_position, parse_recording_seconds
from renderer.schedule.model import Schedule
from renderer.spec.model import Position
from renderer.timeline.model import Timeline
from renderer.video.rasterizer import Painter
from scenes.catalogue import build_segment
from scenes.draw.look import WIDE, Canvas, Look
from scenes.draw.segment import Moment, Picture
from scenes.draw.shapes import PIXEL, FilledShape
from scenes.thumbnail.thumbnail import choose_words, draw_thumbnail

FRAME = Fraction(1, 60)
"""A still stands for a frame of the final film."""
SHEET_COLUMNS, SHEET_WIDTH = 3, 640


class Still(NamedTuple):
    """A segment at a moment."""

    planned: Planned
    seconds: Fraction
    name: str
    """What its file is called, without the ending."""


def parse_still(lesson: Lesson, text: str) -> Still:
    """Read `SEGMENT@TIME`: a segment's number or show; TIME is seconds (`12.5s`, `1:02.5`), a position in the piece
    (`9.3`), a step's name, or `end`. Raises BarcrossError."""
    wanted, at, time = text.partition("@")
    candidates = lesson.named_segments(wanted)
    planned, seconds = _first_that_shows(lesson, candidates, time if at else "end", text)
    safe = "".join(mark if mark.isalnum() or mark in ".-" else "-" for mark in time or "end")
    return Still(planned, min(seconds, planned.schedule.seconds - FRAME), f"{planned.name}@{safe}")


def _first_that_shows(
    lesson: Lesson, candidates: Sequence[Planned], time: str, text: str
) -> tuple[Planned, Fraction]:
    """The first of several segments of one show that has such a time."""
    for planned in candidates[:-1]:
        with suppress(BarcrossError):
            return planned, _seconds(lesson, planned, time, text)
    return candidates[-1], _seconds(lesson, candidates[-1], time, text)


def step_seconds(schedule: Schedule, index: int) -> Fraction:
    """When a step has unfolded: just before anything of the next is on its way, but not before its own middle."""
    ends = [*(step.seconds for step in schedule.steps[1:]), schedule.seconds]
    start, end = schedule.steps[index].seconds, ends[index]
    if end == schedule.seconds:
        return end - FRAME
    return max((start + end) / 2, end - schedule.sets_out)


def _seconds(lesson: Lesson, planned: Planned, time: str, text: str) -> Fraction:
    schedule = planned.schedule
    if time == "end":
        return schedule.seconds
    seconds = _named_seconds(lesson, planned, time, text)
    if not 0 <= seconds <= schedule.seconds:
        last = float(schedule.seconds)
        raise BarcrossError(
            f"{text}: {planned.number} {planned.show} ends at {last:.2f}s. Give a time from 0s to {last:.2f}s."
        )
    return seconds


def _named_seconds(lesson: Lesson, planned: Planned, time: str, text: str) -> Fraction:
    schedule = planned.schedule
    for index, step in enumerate(schedule.steps):
        if step.name == time:
            return step_seconds(schedule, index)
    try:
        if time.endswith("s") or ":" in time:
            return parse_recording_seconds(time.removesuffix("s"))
        position = parse_position(time)
    except ValueError:
        steps = ", ".join(step.name for step in schedule.steps)
        raise BarcrossError(
            f"{text}: {time!r} is not a time. Write seconds (12.5s), a position (9.3), end, or a step: {steps}."
        ) from None
    return _position_seconds(schedule, position, text)


def _position_seconds(schedule: Schedule, position: Position, text: str) -> Fraction:
    seconds = schedule.seconds_at(_tick(schedule.timeline, position, text))
    if seconds is None:
        raise BarcrossError(
            f"{text}: this segment does not show bar {position.bar}. Use seconds (12.5s) or a step."
        )
    return seconds


def _tick(timeline: Timeline, position: Position, text: str) -> int:
    last = timeline.bars[-1].number
    number = position.bar if position.bar >= 0 else last + 1 + position.bar
    bar = next((bar for bar in timeline.bars if bar.number == number), None)
    if bar is None:
        raise BarcrossError(f"{text}: there is no bar {position.bar}. The last bar is {last}.")
    beat = next((beat for beat in timeline.beats_in(bar) if beat.number == position.beat), None)
    if beat is None:
        raise BarcrossError(f"{text}: bar {bar.number} has beats 1 to {len(bar.meter.beats)}.")
    if position.pulse and not timeline.pulse:
        raise BarcrossError(f"{text}: the spec has no pulse. Add, for example, pulse: 1/16.")
    into = (position.pulse - 1) * (timeline.pulse or 0) if position.pulse else 0
    if beat.at + into >= beat.end:
        raise BarcrossError(f"{text}: beat {beat.number} has no pulse {position.pulse}.")
    return beat.at + into


def picture_at(still: Still, look: Look) -> Picture:
    """The shapes of a still in the order in which they are painted."""
    segment = build_segment(still.planned.schedule, look)
    index = still.seconds / FRAME
    nearest = (index + Fraction(1, 2)).__floor__()
    return segment.picture(Moment(nearest * FRAME, FRAME))


def thumbnail_of(lesson: Lesson, look: Look) -> Picture:
    """The lesson's thumbnail: its first figure over the whole frame, its sum, and some words."""
    timeline = lesson.timeline
    figure = next(iter(timeline.figures), None)
    bar = next(bar for bar in timeline.bars if bar.number == 1)
    return draw_thumbnail(look, figure, bar, choose_words(timeline.title, lesson.spec.thumbnail))


def draw_image(
    picture: Picture,
    width: int,
    height: int,
    ground: str,
    transparent: bool = False,
    canvas: Canvas = WIDE,
) -> Image.Image:
    """A picture as an image of that size; where its shape is not the canvas's, ground shows beside it."""
    pixels = Painter(width, height, None if transparent else ground, canvas).paint(picture)
    if not transparent:
        return Image.fromarray(pixels[:, :, :3])
    return Image.fromarray(_straight(pixels))


def _straight(pixels: np.ndarray) -> np.ndarray:
    """Cairo's colours are multiplied by their opacity; PNG's are not."""
    alpha = pixels[:, :, 3:].astype(np.float64)
    colours = np.divide(
        pixels[:, :, :3] * 255.0, alpha, out=np.zeros((*pixels.shape[:2], 3)), where=alpha > 0
    )
    return np.concatenate([np.rint(np.minimum(colours, 255)), alpha], axis=2).astype(np.uint8)


def write_png(file: OutputFile, image: Image.Image) -> None:
    """Write an image. Raises FileError."""
    image.save(file, format="PNG")


def write_svg(file: OutputFile, picture: Picture, ground: str | None, canvas: Canvas = WIDE) -> None:
    """Write a picture as SVG, every shape and letter as an outline; `ground` None leaves it transparent."""
    size = f'width="{canvas.width:g}" height="{canvas.height:g}"'
    box = f'viewBox="0 0 {canvas.width:g} {canvas.height:g}"'
    lines = [f'<svg xmlns="http://www.w3.org/2000/svg" {size} {box}>']
    if ground:
        lines.append(f"<rect {size} fill={quoteattr(ground)}/>")
    lines += [_svg_shape(drawn) for drawn in picture if len(drawn.points)]
    file.write("\n".join([*lines, "</svg>\n"]).encode())


def _svg_shape(drawn: FilledShape) -> str:
    """One shape as a path."""
    red, green, blue, alpha = drawn.fill
    colour = "".join(f"{round(channel * 255):02X}" for channel in (red, green, blue))
    opacity = "" if alpha >= 1 else f' fill-opacity="{alpha:.3g}"'
    return f'<path d="{_svg_path(drawn)}" fill="#{colour}"{opacity}/>'


def _svg_path(drawn: FilledShape) -> str:
    parts: list[str] = []
    last: tuple[float, float] | None = None
    for curve in drawn.points.reshape(-1, 4, 3):
        points = [_svg_point(point) for point in curve]
        if last is None or max(abs(a - b) for a, b in zip(points[0], last, strict=True)) > 0.01:
            parts.append(f"{'Z' if parts else ''}M{points[0][0]:g} {points[0][1]:g}")
        parts.append("C" + " ".join(f"{x:g} {y:g}" for x, y in points[1:]))
        last = points[3]
    return "".join(parts) + "Z"


def _svg_point(point: np.ndarray) -> tuple[float, float]:
    return round(float(point[0]) / PIXEL + WIDE.width / 2, 3), round(
        WIDE.height / 2 - float(point[1]) / PIXEL, 3
    )


def draw_sheet(lesson: Lesson, look: Look) -> Image.Image:
    """All segments on one sheet: each with each of its steps unfolded, and their names."""
    from scenes.draw.shapes import draw_text

    cells: list[tuple[str, Image.Image]] = []
    width, height = SHEET_WIDTH, int(SHEET_WIDTH * WIDE.height / WIDE.width)
    for planned in lesson.segments():
        for index, step in enumerate(planned.schedule.steps):
            still = Still(planned, step_seconds(planned.schedule, index), "")
            image = draw_image(picture_at(still, look), width, height, look.ground)
            cells.append((f"{planned.number} {planned.show}: {step.name}", image))
    if not cells:
        raise BarcrossError(NO_SEGMENTS)
    rows, strip = -(-len(cells) // SHEET_COLUMNS), 40
    sheet = Image.new("RGB", (SHEET_COLUMNS * width, rows * (height + strip)), look.ground)
    for number, (name, image) in enumerate(cells):
        left, top = number % SHEET_COLUMNS * width, number // SHEET_COLUMNS * (height + strip)
        sheet.paste(image, (left, top + strip))
        label = [draw_text(name, 30, 85, 75, look.ink)]
        sheet.paste(draw_image(label, width, height, look.ground).crop((0, 0, width, strip)), (left, top))
    return sheet
