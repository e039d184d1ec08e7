"""Every segment of every example looks as it did when its picture was last looked at."""

from functools import cache
from pathlib import Path

import pytest
from PIL import Image

from renderer.lesson.lesson import Lesson, open_lesson
from tests.golden import FAR_SHARE, FOLDER, MEAN_TOLERANCE, Golden, differences, draw_golden, goldens


@cache
def lesson(spec: Path) -> Lesson:
    return open_lesson(spec)


@pytest.mark.parametrize("golden", list(goldens()), ids=lambda golden: golden.path.stem)
def test_a_segment_looks_as_it_did(golden: Golden) -> None:
    with Image.open(golden.path) as kept:
        mean, far = differences(draw_golden(lesson(golden.spec), golden), kept)
    assert mean <= MEAN_TOLERANCE, f"mean difference {mean:.2f}; python -m tests.golden draws it anew"
    assert far <= FAR_SHARE, f"{far:.2%} of the pixels differ"


def test_every_snapshot_belongs_to_a_segment() -> None:
    assert set(FOLDER.glob("*.png")) == {golden.path for golden in goldens()}


def test_a_changed_picture_would_be_noticed() -> None:
    """Two moments of one segment differ by far more than the tolerances."""
    some = [golden for golden in goldens() if golden.show == "figure"][:2]
    first, second = (draw_golden(lesson(golden.spec), golden) for golden in some)
    mean, far = differences(first, second)
    assert mean > 3 * MEAN_TOLERANCE
    assert far > 3 * FAR_SHARE
