"""The stage: a segment as a Manim scene. The only place that calls `play`.

Manim's clock rounds every play's length up to whole frames, so a scene of many plays drifts. This one has a
single play: it is handed half a frame less than the frames it is to draw, and each frame asks the segment for
its picture by its index. So `manim scenes/stage.py Play` draws the same frames as the tool does.

The spec is named by the environment variable BARCROSS_SPEC, another theme than its own by BARCROSS_THEME.
"""

import os
from collections.abc import Iterable, Mapping
from fractions import Fraction
from pathlib import Path
from typing import Any
from weakref import WeakKeyDictionary

import numpy as np
from manim import Animation, ManimColor, Scene, VGroup, VMobject, config, linear

from renderer.core.time_grid import frame_index_to_seconds, seconds_to_frame_index
from renderer.lesson.lesson import Lesson, open_lesson
from renderer.schedule.shows import SHOWS
from scenes.catalogue import build_segment
from scenes.draw.look import canvas_for, look_of, read_look
from scenes.draw.segment import Moment, Segment
from scenes.draw.shapes import FilledShape, view_of

DEFAULT_SPEC = "specs/lantern-ferry.yaml"


class Mobjects:
    """Shapes as Manim's mobjects: of the same shape the same one each time."""

    def __init__(self) -> None:
        self._made: WeakKeyDictionary[FilledShape, VMobject] = WeakKeyDictionary()

    def of(self, picture: Iterable[FilledShape]) -> list[VMobject]:
        """A picture's mobjects, in the order in which they are painted."""
        return [self._mobject(shape) for shape in picture]

    def _mobject(self, shape: FilledShape) -> VMobject:
        mobject = self._made.get(shape)
        if mobject is None:
            mobject = self._made[shape] = _mobject(shape)
        return mobject


def _mobject(shape: FilledShape) -> VMobject:
    mobject = VMobject(fill_color=ManimColor(shape.fill[:3]), fill_opacity=shape.fill_opacity, stroke_width=0)
    mobject.points = shape.points
    return mobject


class SegmentAnimation(Animation):
    """Shows a segment's picture for each frame; its place in time is the frame's index, never a sum."""

    def __init__(self, segment: Segment, frame_count: int, frames_per_second: Fraction) -> None:
        self.segment = segment
        self.frames_per_second = frames_per_second
        self.mobjects = Mobjects()
        run_time = float((frame_count - Fraction(1, 2)) / frames_per_second)
        super().__init__(VGroup(), run_time=run_time, rate_func=linear)

    def begin(self) -> None:
        """Leave the group empty: what is in it now, Manim would list as moving by itself and draw twice."""

    def finish(self) -> None:
        """Leave the last frame as it is."""

    def interpolate_mobject(self, alpha: float) -> None:
        frame_index = round(alpha * self.run_time * float(self.frames_per_second))
        seconds = frame_index_to_seconds(frame_index, self.frames_per_second)
        moment = Moment(seconds, 1 / self.frames_per_second)
        picture: list[Any] = [*self.mobjects.of(self.segment.picture(moment))]
        self.mobject.submobjects = picture


class Stage(Scene):
    """A scene of one segment: the first one of its show in the spec, or one with no options."""

    show: str

    def construct(self) -> None:
        lesson = self.open_lesson()
        theme = os.environ.get("BARCROSS_THEME")
        look = read_look(theme) if theme else look_of(lesson.spec.theme)
        size = config.pixel_width, config.pixel_height
        look = look.on(canvas_for(*size))
        view = view_of(look.canvas, *size)
        camera: Any = self.camera
        camera.background_color = ManimColor(look.ground)
        camera.frame_width, camera.frame_height = view.width, view.height
        camera.frame_center = np.array([view.x, view.y, 0.0])
        segment = build_segment(lesson.schedule_show(self.show), look)
        frames_per_second = Fraction(config.frame_rate).limit_denominator(1001)
        frame_count = seconds_to_frame_index(segment.schedule.seconds, frames_per_second)
        config.disable_caching = True
        self.play(SegmentAnimation(segment, frame_count, frames_per_second))

    def open_lesson(self) -> Lesson:
        """The lesson that the environment names."""
        return open_lesson(Path(os.environ.get("BARCROSS_SPEC", DEFAULT_SPEC)))


STAGES: Mapping[str, type[Stage]] = {
    name: type(name.capitalize(), (Stage,), {"__module__": __name__, "show": name}) for name in SHOWS
}
"""A scene a show, under which Manim finds it: `Play` for `play`."""
globals().update({stage.__name__: stage for stage in STAGES.values()})
