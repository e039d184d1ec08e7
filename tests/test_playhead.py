"""The playhead glides: its place follows the time to a tenth of a pixel, at any tempo and frame rate."""

from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest

from renderer.video.rasterizer import Painter
from scenes.catalogue import build_segment
from scenes.draw.look import WIDE, Look
from scenes.draw.segment import Moment
from scenes.draw.shapes import PIXEL
from scenes.play.play import FADES, PlaySegment
from tests.lessons import DARK, SHORT, make_lesson

TWO_VOICES = (
    SHORT.replace("plays: weir", "voices: {high: weir, low: eddy}")
    .replace("plays: on", "voices: {high: on, low: on}")
    .replace("{oboe: figure, drum: meter}", "{oboe: high, drum: meter}")
    .replace("{3: figure}", "{3: low}")
)
LONG_PIECE = SHORT.replace("bars: 3", "bars: 16").replace("click:", "  - {section: Last, bars: 8}\nclick:")
UPRIGHT = 16
"""Points of a rectangle: four edges, four points each."""
FRAME = Fraction(1, 60)
MOVING = 16
"""More new shapes than these in a frame are a row that fades: the playhead, a lit vessel and a mark are fewer."""


def play_of(text: str, look: Look = DARK) -> PlaySegment:
    lesson = make_lesson(text)
    segment = build_segment(lesson.schedule_show("play"), look)
    assert isinstance(segment, PlaySegment)
    return segment


def playhead_place(segment: PlaySegment, moment: Moment) -> float:
    """The middle of the one opaque stroke as wide as the playhead, from the chords' lane to the posts' feet."""
    row = segment.row(segment.current(moment))
    height = row.feet - row.top - segment.stage.measures.lane
    found = []
    for drawn in segment.picture(moment):
        stroke = drawn.points[:UPRIGHT]
        if len(drawn.points) == UPRIGHT and drawn.fill_opacity == 1:
            x = stroke[:, 0] / PIXEL + WIDE.width / 2
            tall = np.ptp(stroke[:, 1]) / PIXEL
            if abs(np.ptp(x) - DARK.width_playhead) < 1e-6 and abs(tall - height) < 1e-3:
                found.append(float(x.mean()))
    assert len(found) == 1
    return found[0]


@pytest.mark.parametrize("tempo", [41, 137, 391])
@pytest.mark.parametrize("rate", [Fraction(60), Fraction(30000, 1001)])
def test_the_playhead_is_where_the_time_is(tempo: int, rate: Fraction) -> None:
    """At a constant tempo its place is arithmetic: so many whole notes at 240 / tempo seconds each."""
    segment = play_of(SHORT.replace("tempo: 137", f"tempo: {tempo}"))
    whole, lead = Fraction(240, tempo), Fraction(240, tempo)
    bar = segment.timeline.grid
    longest = max(row.end - row.start for row in segment.rows)
    for index in range(int(lead * rate) + 1, int(segment.schedule.seconds * rate) - 1, 7):
        ticks = (index / rate - lead) / whole * bar
        row = next(row for row in segment.rows if row.start <= ticks < row.end)
        if (ticks - row.start) / bar * whole * rate < 1 or (row.end - ticks) / bar * whole * rate < 1:
            continue  # the frame in which it changes rows
        expected = WIDE.music_left + float((ticks - row.start) / longest) * WIDE.music_width
        assert abs(playhead_place(segment, Moment(index / rate, 1 / rate)) - expected) < 0.1


@pytest.mark.parametrize("text", [SHORT, TWO_VOICES], ids=["one voice", "two voices"])
def test_lit_ends_at_the_playhead_to_the_pixel(text: str) -> None:
    """In every voice the lit colours reach up to the playhead's edge, and there are none beyond it."""
    segment = play_of(text)
    painter = Painter(1920, 1080, DARK.ground)
    lit = [
        np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) for colour in (DARK.sail_one, DARK.sail_two)
    ]
    spans = segment.schedule.spans
    looked = 0
    for number in range(1, 24):
        seconds = spans[0].seconds + (segment.schedule.seconds - spans[0].seconds) * number / 24
        moment = Moment(seconds, FRAME)
        index = segment.current(moment)
        row, x = segment.row(index), playhead_place(segment, moment)
        pixels = painter.paint(segment.picture(moment))
        for voice_index, voice in enumerate(segment.voices):
            position = segment.position(moment, segment.rows[index])
            if not any(r.at < position - r.statement.pulse and position < r.end for r in voice.repetitions):
                continue
            own = segment.stage.voice_row(row, voice_index)
            line = pixels[int(own.hull_top + 3), :, :3].astype(int)
            found = np.flatnonzero(np.any([np.abs(line - c).max(axis=1) <= 3 for c in lit], axis=0))
            edge = DARK.width_playhead / 2 + DARK.edge
            assert found.max() < x - edge + 1
            assert found.max() > x - edge - 3
            looked += 1
    assert looked > 8


def test_rows_never_move_or_change_size() -> None:
    """Whatever is in a row stands where it stood while the row is seen: only the playhead and what is lit change."""
    segment = play_of(LONG_PIECE)
    tops = {(segment.row(index).top, segment.row(index).style) for index in range(len(segment.rows))}
    assert len(tops) == 2
    assert len({style for _, style in tops}) == 1


@pytest.mark.parametrize("tempo", [30, 112, 280])
def test_a_row_is_replaced_while_the_other_one_plays(tempo: int) -> None:
    """Fades take 0.3 s a row of at least 2 s: never more than 15 % of the time."""
    segment = play_of(LONG_PIECE.replace("tempo: 137", f"tempo: {tempo}"))
    lengths = [after - before for before, after in pairwise(segment.starts)]
    assert min(lengths) >= 2
    assert FADES / min(lengths) <= Fraction(15, 100)
    if tempo < 200:
        assert max(lengths) <= 10 or all(row.end - row.start == segment.timeline.grid for row in segment.rows)
    frames = [segment.picture(Moment(segment.starts[1] + Fraction(n, 60), FRAME)) for n in range(120)]
    busy = sum(len({*map(id, after)} - {*map(id, before)}) > MOVING for before, after in pairwise(frames))
    assert busy <= FADES * 60 + 2


def test_rows_run_on_over_section_lines_and_a_short_section_wastes_no_row() -> None:
    text = (
        LONG_PIECE.replace("bars: 16", "bars: 15").replace("bars: 2", "bars: 1").replace("bars: 8", "bars: 9")
    )
    segment = play_of(text)
    bars = [(row.end - row.start) // segment.timeline.grid for row in segment.rows]
    assert bars == [4, 4, 4, 4, 4, 3, 2]  # a last bar alone would be gone in under two seconds
