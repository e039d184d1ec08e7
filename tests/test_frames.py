"""What the painter draws equals what Manim's own camera draws, to the last pixel, whatever came before."""

import random
from collections.abc import Iterator
from fractions import Fraction
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from manim import Camera, ManimColor

from renderer.core.time_grid import seconds_to_frame_index
from renderer.lesson.lesson import Lesson, open_lesson
from renderer.video import planes
from renderer.video.pixels import PixelBox, Pixels
from renderer.video.planes import Planes
from renderer.video.rasterizer import Painter
from scenes.catalogue import build_segment
from scenes.draw.look import look_of
from scenes.draw.paths import disc, polygon, rectangle
from scenes.draw.segment import Moment, Picture, Segment
from scenes.draw.shapes import FilledShape, draw, draw_text
from scenes.stage import Mobjects
from tests.lessons import DARK, EXAMPLE

RATE = Fraction(60)
SIZES = [(1920, 1080), (854, 480), (270, 480)]
SEGMENTS = [
    (spec, planned.number, planned.show)
    for spec in sorted(EXAMPLE.parent.glob("*.yaml"))
    for planned in open_lesson(spec).segments()
]
"""Every segment of every example: ten shows, two themes, words that are said."""


class Original:
    """Manim's camera: every picture drawn as a whole, from nothing."""

    def __init__(self, width: int, height: int, ground: str = DARK.ground) -> None:
        frame_height = max(8.0, 8.0 * 16 / 9 * height / width)
        self.camera = Camera(
            pixel_width=width,
            pixel_height=height,
            frame_height=frame_height,
            frame_width=frame_height * width / height,
            background_color=ManimColor(ground),
        )
        self.mobjects = Mobjects()

    def paint(self, picture: Picture) -> Pixels:
        self.camera.reset()
        self.camera.capture_mobjects(self.mobjects.of(picture))
        return np.asarray(self.camera.pixel_array, np.uint8)


@cache
def lesson_of(spec: Path) -> Lesson:
    return open_lesson(spec)


@cache
def segment_of(spec: Path, number: int) -> Segment:
    lesson = lesson_of(spec)
    return build_segment(lesson.segments()[number - 1].schedule, look_of(lesson.spec.theme))


def wander(chance: random.Random, count: int, steps: int) -> Iterator[int]:
    """Frame indices: runs of neighbours, jumps back and ahead, and the first and last frame. Every size sees others."""
    index = 0
    yield from (0, count - 1)
    for _ in range(steps):
        index = chance.randrange(count) if chance.random() < 0.4 else min(count - 1, index + 1)
        yield index


@pytest.mark.slow
@pytest.mark.parametrize("size", SIZES, ids=str)
@pytest.mark.parametrize(("spec", "number", "show"), SEGMENTS)
def test_a_segments_frames_are_as_manims_camera_draws_them(
    spec: Path, number: int, show: str, size: tuple[int, int]
) -> None:
    segment, ground = segment_of(spec, number), look_of(lesson_of(spec).spec.theme).ground
    painter, original = Painter(*size, ground), Original(*size, ground)
    count = seconds_to_frame_index(segment.schedule.seconds, RATE)
    for index in wander(random.Random(f"{spec.stem} {show} {size}"), count, 14):
        picture = segment.picture(Moment(index / RATE, 1 / RATE))
        drawn, expected = painter.paint(picture), original.paint(picture)
        assert np.array_equal(drawn, expected), f"frame {index}"


def random_shape(chance: random.Random) -> FilledShape:
    """Text, curves, nearly level edges and veils, in part beyond the frame's sides."""
    x, y = chance.uniform(-200, 2000), chance.uniform(-100, 1150)
    width, height = chance.uniform(2, 900), chance.uniform(2, 500)
    colour = chance.choice(["#f0c040", "#1c2a33", "#ffffff", "#3fa7d6"])
    opacity = chance.choice([1.0, 1.0, chance.random()])
    match chance.randrange(4):
        case 0:
            text = chance.choice(["Harbour", "7/8 & F♯m"])
            return draw_text(text, x, y, width / 8 + 8, colour, opacity=opacity)
        case 1:
            return draw(colour, disc(x, y, height), disc(x, y, height / 2, reverse=True), opacity=opacity)
        case 2:
            slope = chance.uniform(-3, 3)
            corners = [(x, y), (x + width, y + slope), (x + width, y + height), (x, y + height - slope)]
            return draw(colour, polygon(corners), opacity=opacity)
    return draw(colour, rectangle(x, y, x + width, y + height), opacity=opacity)


@pytest.mark.parametrize(("seed", "size"), list(enumerate([(640, 360), (426, 240)] * 2)), ids=str)
def test_shapes_that_come_go_and_change_places_leave_no_trace(seed: int, size: tuple[int, int]) -> None:
    chance = random.Random(seed)
    painter, original = Painter(*size, DARK.ground), Original(*size)
    pool = [random_shape(chance) for _ in range(40)]
    shown = chance.sample(pool, 20)
    for step in range(60):
        for _ in range(chance.randrange(4)):
            shown.pop(chance.randrange(len(shown)))
        waiting = [shape for shape in pool if shape not in shown]
        for shape in chance.sample(waiting, min(len(waiting), chance.randrange(4))):
            shown.insert(chance.randrange(len(shown) + 1), shape)
        shown.append(random_shape(chance))
        if chance.random() < 0.1:
            chance.shuffle(shown)
        assert np.array_equal(painter.paint(shown), original.paint(shown)), f"step {step}"


def test_a_camera_that_moves_changes_every_shape() -> None:
    chance = random.Random(5)
    painter, original = Painter(426, 240, DARK.ground), Original(426, 240)
    shapes = [random_shape(chance) for _ in range(60)]
    for step in range(12):
        moved: Picture = [shape.placed(1 + (shape.points - 1) * (1 + step / 20)) for shape in shapes]
        assert np.array_equal(painter.paint(moved), original.paint(moved)), f"step {step}"


def test_shapes_without_an_outline_or_with_broken_points_paint_nothing() -> None:
    broken = draw("#ffffff", rectangle(10, 10, float("nan"), 500))
    empty = draw("#ffffff")
    painter, original = Painter(320, 180, DARK.ground), Original(320, 180)
    for picture in ([], [broken], [broken, draw("#ff0000", disc(900, 500, 90)), empty], [empty]):
        assert np.array_equal(painter.paint(picture), original.paint(picture))


def test_nothing_is_drawn_for_the_same_picture() -> None:
    painter = Painter(320, 180, DARK.ground)
    shapes: Picture = [draw("#ffffff", disc(900, 500, 90)), draw("#ff0000", disc(300, 500, 90))]
    assert painter.repaint(shapes)
    assert painter.repaint(list(shapes)) == []


class TestPlanes:
    """ITU-R BT.709-6, 3.2 to 3.5, 8 bits: luma 16 to 235, chroma 16 to 240 about 128."""

    def pixels(self, width: int, height: int) -> Pixels:
        chance = np.random.default_rng(3)
        blocks = chance.integers(0, 256, (height // 8 + 1, width // 8 + 1, 4), np.uint8)
        pixels = blocks.repeat(8, axis=0).repeat(8, axis=1)[:height, :width].copy()
        pixels[: height // 3] = chance.integers(0, 256, (height // 3, width, 4), np.uint8)
        return pixels

    def samples(self, planes: Planes) -> list[Pixels]:
        return [
            np.frombuffer(memoryview(plane), np.uint8).reshape(-1, plane.line_size)[
                : plane.height, : plane.width
            ]
            for plane in planes.frame.planes
        ]

    def test_samples_are_those_of_the_standard(self) -> None:
        pixels = self.pixels(320, 180)
        planes = Planes(320, 180)
        planes.update(pixels, [PixelBox(0, 0, 320, 180)])
        red, green, blue = (pixels[..., channel] / 255 for channel in range(3))
        luma = 0.2126 * red + 0.7152 * green + 0.0722 * blue
        expected = [16 + 219 * luma] + [
            128 + 224 * (colour - luma).reshape(90, 2, 160, 2).mean(axis=(1, 3)) / divisor
            for colour, divisor in ((blue, 1.8556), (red, 1.5748))
        ]
        # 0.5 for the nearest level, and 0.01 for the converter's own coefficients.
        for samples, exact in zip(self.samples(planes), expected, strict=True):
            assert np.abs(samples - exact).max() < 0.51

    def test_once_it_pays_the_compiled_kernel_takes_over_with_the_same_samples(
        self, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        boxes = [PixelBox(0, 0, 1920, 1080)]
        pixels, drawn = self.pixels(1920, 1080), Planes(1920, 1080)
        drawn.update(pixels, boxes)
        first = [samples.copy() for samples in self.samples(drawn)]
        assert drawn.convert is planes.convert
        monkeypatch.setattr(planes, "PAYS", 0)
        drawn.update(np.zeros_like(pixels), boxes)
        assert drawn.convert is not planes.convert
        drawn.update(pixels, boxes)
        for before, after in zip(first, self.samples(drawn), strict=True):
            assert np.array_equal(before, after)

    @pytest.mark.parametrize("size", [(1920, 1080), (854, 480), (66, 64)], ids=str)
    def test_a_part_converts_to_the_same_samples_as_the_whole(self, size: tuple[int, int]) -> None:
        chance = random.Random(4)
        width, height = size
        pixels = self.pixels(width, height)
        whole, parts = Planes(width, height), Planes(width, height)
        whole.update(pixels, [PixelBox(0, 0, width, height)])
        blank = np.zeros_like(pixels)
        for _ in range(40):
            left, right = sorted(chance.sample(range(0, width + 1, 2), 2))
            top, bottom = sorted(chance.sample(range(0, height + 1, 2), 2))
            parts.update(blank, [PixelBox(0, 0, width, height)])
            parts.update(pixels, [PixelBox(left, top, right, bottom)])
            for share, part, full in zip((1, 2, 2), self.samples(parts), self.samples(whole), strict=True):
                place = np.s_[top // share : bottom // share, left // share : right // share]
                assert np.array_equal(part[place], full[place])
