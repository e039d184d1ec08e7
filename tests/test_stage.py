"""Any frame drawn alone equals the frame in the film, and both equal what Manim's own scene draws."""

import random
from fractions import Fraction
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pytest
from manim import tempconfig

from renderer.core.time_grid import seconds_to_frame_index
from renderer.lesson.lesson import Lesson
from renderer.schedule.model import Schedule
from renderer.video.pixels import Pixels
from renderer.video.rasterizer import Painter
from scenes.catalogue import build_segment
from scenes.draw.segment import Moment
from scenes.stage import STAGES, Stage
from tests.drawn_frames import draw_frames
from tests.lessons import DARK, SHORT, make_lesson

RATE = Fraction(5)
WIDTH, HEIGHT = 320, 180


class Film(NamedTuple):
    """A segment and all its frames, each of shape (HEIGHT, WIDTH, 4)."""

    stage: type[Stage]
    lesson: Lesson
    schedule: Schedule
    frames: list[Pixels]


def frames_of_stage(stage: type[Stage], lesson: Lesson, monkeypatch: pytest.MonkeyPatch) -> list[Any]:
    """All frames that Manim draws for a scene, by its own renderer."""
    frames: list[Any] = []
    monkeypatch.setattr(stage, "open_lesson", lambda self: lesson)
    settings = {
        "dry_run": True,
        "frame_rate": float(RATE),
        "pixel_width": WIDTH,
        "pixel_height": HEIGHT,
        "verbosity": "ERROR",
        "progress_bar": "none",
    }
    with tempconfig(settings):
        scene = stage()
        monkeypatch.setattr(
            scene.renderer, "add_frame", lambda frame, num_frames=1: frames.append(frame.copy())
        )
        scene.render()
    return frames


@pytest.fixture(scope="module", params=STAGES.values(), ids=lambda stage: stage.show)
def film(request: pytest.FixtureRequest) -> Film:
    """All frames of a segment, drawn one after another."""
    lesson, stage = make_lesson(), request.param
    schedule = lesson.schedule_show(stage.show)
    count = seconds_to_frame_index(schedule.seconds, RATE)
    drawn = draw_frames(build_segment(schedule, DARK), WIDTH, HEIGHT, RATE, range(count))
    return Film(stage, lesson, schedule, [frame.copy() for frame in drawn])


@pytest.mark.slow
def test_manims_own_scene_draws_the_same_frames(film: Film, monkeypatch: pytest.MonkeyPatch) -> None:
    shown = frames_of_stage(film.stage, film.lesson, monkeypatch)
    assert len(shown) == len(film.frames)
    for index, frame in enumerate(film.frames):
        np.testing.assert_array_equal(frame, shown[index], err_msg=f"frame {index}")


def test_a_frame_drawn_alone_equals_the_frame_in_the_film(film: Film) -> None:
    for index in random.Random(7).sample(range(len(film.frames)), 12):
        alone = build_segment(film.schedule, DARK)
        picture = alone.picture(Moment(index / RATE, 1 / RATE))
        np.testing.assert_array_equal(Painter(WIDTH, HEIGHT, DARK.ground).paint(picture), film.frames[index])


def test_the_order_in_which_frames_are_asked_for_does_not_matter(film: Film) -> None:
    segment, painter = build_segment(film.schedule, DARK), Painter(WIDTH, HEIGHT, DARK.ground)
    for index in random.Random(11).sample(range(len(film.frames)), 24):
        drawn = painter.paint(segment.picture(Moment(index / RATE, 1 / RATE)))
        np.testing.assert_array_equal(drawn, film.frames[index])


@pytest.mark.parametrize("stage_type", STAGES.values(), ids=lambda stage: stage.show)
def test_a_scene_reads_the_spec_that_the_environment_names(
    stage_type: type[Stage], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    spec = tmp_path / "weir.yaml"
    spec.write_text(SHORT, encoding="utf-8")
    monkeypatch.setenv("BARCROSS_SPEC", str(spec))
    with tempconfig({"dry_run": True, "verbosity": "ERROR"}):
        assert stage_type().open_lesson().timeline.title == "Weir"
