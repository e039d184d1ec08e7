"""figure, spread and play on specs at the edges of the format: no two texts meet, none is small, none leaves the frame.

The other segments are looked at in the same way in tests of their own.
"""

import pytest

from scenes.catalogue import build_segment
from tests.boxes import segment_faults
from tests.extremes import EXTREMES
from tests.lessons import DARK, make_lesson


@pytest.mark.parametrize("show", ["figure", "spread", "play"])
@pytest.mark.parametrize("name", list(EXTREMES))
def test_texts_keep_apart(name: str, show: str) -> None:
    lesson = make_lesson(EXTREMES[name])
    if show == "figure" and not lesson.timeline.figures:
        pytest.skip("there is no figure to show")
    segment = build_segment(lesson.schedule_show(show), DARK)
    assert segment_faults(segment) == []
