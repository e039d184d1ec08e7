"""The playhead glides: its place follows the time to a tenth of a pixel, at any tempo and frame rate."""

from fractions import Fraction

import numpy as np
import pytest

from scenes.catalogue import build_segment
from scenes.draw.look import WIDE
from scenes.draw.segment import Moment
from scenes.draw.shapes import PIXEL
from scenes.play.play import PlaySegment
from tests.lessons import DARK, SHORT, make_lesson

UPRIGHT = 16
"""Points of a rectangle: four edges, four points each."""


def playhead_places(segment: PlaySegment, moment: Moment) -> list[float]:
    """The middles of the upright strokes, with their disc or alone, as wide as the playhead and as high as a row's
    sky, in pixels."""
    found = []
    heights = {round(row.line - row.top, 3) for _, row, _ in segment.rows_at(moment)}
    for drawn in segment.picture(moment):
        stroke = drawn.points[:UPRIGHT]
        if len(stroke):
            x = stroke[:, 0] / PIXEL + WIDE.width / 2
            height = np.ptp(stroke[:, 1]) / PIXEL
            if abs(np.ptp(x) - DARK.width_playhead) < 1e-6 and round(float(height), 3) in heights:
                found.append(float(x.mean()))
    return found


@pytest.mark.parametrize("tempo", [41, 137, 391])
@pytest.mark.parametrize("rate", [Fraction(60), Fraction(30000, 1001)])
def test_the_playhead_is_where_the_time_is(tempo: int, rate: Fraction) -> None:
    """At a constant tempo its place is arithmetic: so many whole notes at 240 / tempo seconds each."""
    lesson = make_lesson(SHORT.replace("tempo: 137", f"tempo: {tempo}"))
    segment = build_segment(lesson.schedule_show("play"), DARK)
    assert isinstance(segment, PlaySegment)
    whole, lead = Fraction(240, tempo), Fraction(240, tempo)
    for index in range(int(lead * rate) + 1, int(segment.schedule.seconds * rate) - 1, 7):
        bars = (index / rate - lead) / whole
        start = 0 if bars < 3 else 3
        moment = Moment(index / rate, 1 / rate)
        if abs(bars - 3) * whole * rate <= 1:
            continue  # the frame in which it changes rows
        expected = WIDE.music_left + float(bars - start) * (WIDE.music_right - WIDE.music_left) / 3
        assert min(abs(x - expected) for x in playhead_places(segment, moment)) < 0.1


def test_a_section_that_is_shorter_than_a_row_may_be_changes_no_other_row() -> None:
    text = SHORT.replace("tempo: 137", "tempo: 144").replace("bars: 3", "bars: 16")
    short = text.replace("  - section: Lower\n    bars: 2\n", "  - section: Lower\n    bars: 1\n")
    short = short.replace("click:", "  - {section: Last, bars: 8}\nclick:")
    lesson = make_lesson(short)
    segment = build_segment(lesson.schedule_show("play"), DARK)
    assert isinstance(segment, PlaySegment)
    bar = segment.timeline.bars[0].end
    assert segment.breaks[0] == (0, 4 * bar)
