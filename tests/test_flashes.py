"""No picture flashes more than WCAG 2.2 allows, however fast the music is."""

from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from renderer.video.render import Quality, render_lesson
from renderer.video.workers import in_this_process
from tests.films import decode_frames
from tests.flashes import LIMIT_SHARE, flashing_share
from tests.lessons import make_lesson

RATE = Fraction(30)

FAST = """
title: Hornet
tempo: 400
meter: 2/4
pulse: 1/16
figures: {hornet: [2, 3], gnat: [1, 1, 1]}
parts: {reed: {1: figure, 2: meter, 3: figure, 4: meter, 5: figure}, drum: meter}
form:
  - section: Swarm
    bars: 8
    harmony: {1: C, 1.2: D, 2: E, 2.2: F, 3: G, 3.2: A, 4: [B, C]}
    plays: hornet
  - section: Gnats
    bars: 8
    harmony: [C, D]
    plays: gnat
click: {every: pulse, count_in: 1}
segments: [figure, spread, crossings, fit, wheel, handover, play]
"""


def blinking(hertz: float, seconds: float, share: float, low: int, high: int) -> Iterator[NDArray[np.uint8]]:
    """A field that goes up and down so often a second over a share of the picture."""
    for index in range(int(seconds * RATE)):
        frame = np.full((90, 160, 3), low, np.uint8)
        if (index * hertz / float(RATE)) % 1 >= 0.5:
            frame[: int(90 * share)] = high
        yield frame


@pytest.mark.parametrize(
    ("hertz", "share", "low", "high", "flashes"),
    [(5, 0.5, 0, 255, True), (2.5, 0.5, 0, 255, False), (5, 0.5, 100, 110, False), (5, 0.05, 0, 255, False)],
    ids=["fast and large", "slow", "faint", "small"],
)
def test_the_measure_finds_flashes_and_only_those(
    hertz: float, share: float, low: int, high: int, flashes: bool
) -> None:
    assert (flashing_share(blinking(hertz, 3, share, low, high), RATE) > LIMIT_SHARE) == flashes


def test_the_measure_finds_red_flashes() -> None:
    """#D55E00 has a red share of 0.856, so it counts as saturated red by W3C's definition."""
    red, dark = np.array([0xD5, 0x5E, 0], np.uint8), np.array([0x60, 0x60, 0x60], np.uint8)
    frames = [np.broadcast_to(red if index // 3 % 2 else dark, (9, 16, 3)) for index in range(60)]
    assert flashing_share(frames, RATE) == 1


@pytest.mark.slow
@pytest.mark.parametrize("theme", ["dark", "light"])
def test_films_of_a_fast_piece_stay_within_the_limit(tmp_path: Path, theme: str) -> None:
    lesson = make_lesson(FAST + f"theme: {theme}\n")
    quality = Quality(320, 180, RATE)
    for row in render_lesson(lesson, tmp_path, lesson.segments(), quality, workers=in_this_process):
        if row.frames:
            share = flashing_share((frame for _, frame in decode_frames(row.path)), RATE)
            assert share <= 0.9 * LIMIT_SHARE, f"{row.path.name}: {share:.4f}"
