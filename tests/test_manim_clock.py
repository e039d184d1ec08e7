"""Manim's clock as it is, found by running it: if an upgrade changes this table, the stage has to be looked at."""

from fractions import Fraction
from typing import Any

import pytest
from manim import Dot, Scene, Wait, tempconfig
from manim.animation.animation import Animation


def count_frames(pixels_per_side: int, run: Any) -> int:
    """How many frames Manim draws for what `run` plays on a scene at 60 frames a second, nothing written."""
    settings = {
        "dry_run": True,
        "disable_caching": True,
        "frame_rate": 60,
        "pixel_width": pixels_per_side,
        "pixel_height": pixels_per_side,
        "verbosity": "ERROR",
        "progress_bar": "none",
    }
    with tempconfig(settings):
        frames: list[int] = []

        class Counted(Scene):
            def construct(self) -> None:
                renderer: Any = self.renderer
                add = renderer.add_frame

                def add_counted(frame: Any, num_frames: int = 1) -> None:
                    frames.append(num_frames)
                    add(frame, num_frames)

                renderer.add_frame = add_counted
                run(self)

        Counted().render()
    return sum(frames)


class Still(Animation):
    """A play that changes nothing."""

    def interpolate_mobject(self, alpha: float) -> None:
        pass


@pytest.mark.parametrize(
    ("run_time", "frames"),
    [
        (Fraction(1), 60),
        (Fraction(23, 60), 24),
        (Fraction(1, 3), 20),
        (Fraction(45, 120), 23),
    ],
)
def test_a_play_draws_as_many_frames_as_arange_has_steps(run_time: Fraction, frames: int) -> None:
    assert count_frames(64, lambda scene: scene.play(Still(Dot(), run_time=float(run_time)))) == frames


@pytest.mark.parametrize(("run_time", "frames"), [(Fraction(123, 60), 122), (Fraction(1), 60)])
def test_a_frozen_wait_cuts_its_frames_off(run_time: Fraction, frames: int) -> None:
    assert count_frames(64, lambda scene: scene.play(Wait(float(run_time), frozen_frame=True))) == frames


def test_twenty_plays_of_23_frames_end_a_third_of_a_second_late() -> None:
    def run(scene: Scene) -> None:
        for _ in range(20):
            scene.play(Still(Dot(), run_time=23 / 60))

    assert count_frames(64, run) == 20 * 23 + 20


@pytest.mark.parametrize("count", [1, 2, 23, 60, 123, 1000])
def test_half_a_frame_less_gives_a_play_of_exactly_that_many_frames(count: int) -> None:
    run_time = float((count - Fraction(1, 2)) / 60)
    assert count_frames(16, lambda scene: scene.play(Still(Dot(), run_time=run_time))) == count
