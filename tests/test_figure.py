"""figure: what is said of it is true of the piece, lit is what is counted, hits and accents stand where they sound."""

from fractions import Fraction

import numpy as np
import pytest
from numpy.typing import NDArray

from renderer.schedule.figure import FigureSchedule, figure_answer, stand_against
from renderer.schedule.pace import AFTER_ANSWER, MOST_LEAD, reading_seconds
from renderer.schedule.phrases import text_of
from renderer.video.rasterizer import Painter
from scenes.catalogue import build_segment
from scenes.draw.look import canvas_for, read_look
from scenes.draw.segment import Moment
from scenes.figure.figure import FigureSegment
from tests.boxes import FRAME
from tests.extremes import EXTREMES
from tests.lessons import DARK, make_lesson

PIECE = """
title: Weir
tempo: 60
meter: 4/4
pulse: 1/16
figures: {weir: [5, 3, 3]}
form:
  - {section: Upper, bars: 12, plays: weir}
click: {every: beat, count_in: 1}
segments: [figure]
"""
HITS = PIECE.replace("[5, 3, 3]", "{hits: X.x.X X.. X.x}")
INK, SAIL, SOFT, DARK_ON_SAIL = DARK.ink, DARK.sail_one, DARK.sail_soft, DARK.on_sail


def schedule_of(text: str = PIECE) -> FigureSchedule:
    schedule = make_lesson(text).schedule_show("figure")
    assert isinstance(schedule, FigureSchedule)
    return schedule


def build(text: str = PIECE, size: tuple[int, int] = (1920, 1080)) -> FigureSegment:
    segment = build_segment(schedule_of(text), read_look().on(canvas_for(*size)))
    assert isinstance(segment, FigureSegment)
    return segment


def texts(segment: FigureSegment, seconds: Fraction) -> list[str]:
    picture = segment.picture(Moment(seconds, FRAME))
    return [shape.text for shape in picture if shape.text and shape.fill_opacity > 0.1]


def said(segment: FigureSegment, seconds: Fraction) -> str:
    """All words of a picture, in the order in which they are painted."""
    return " ".join(" ".join(texts(segment, seconds)).split())


def pixels_at(segment: FigureSegment, seconds: Fraction) -> NDArray[np.uint8]:
    return Painter(1920, 1080, DARK.ground).paint(segment.picture(Moment(seconds, FRAME))).copy()


def colour(pixels: NDArray[np.uint8], x: float, y: float) -> str:
    red, green, blue = (int(value) for value in pixels[round(y), round(x), :3])
    return f"#{red:02X}{green:02X}{blue:02X}"


def last(segment: FigureSegment) -> Fraction:
    return segment.schedule.seconds - FRAME


# What is said


@pytest.mark.parametrize(
    ("pulses", "bar", "answer"),
    [
        (11, 16, "Eleven against sixteen: the next one starts 5 early."),
        (17, 16, "Seventeen against sixteen: the next one starts 1 late."),
        (60, 16, "60 against 16: the next one starts 4 early."),
        (5, 12, "Five against twelve: the third one starts 2 early."),
        (8, 16, "Eight against sixteen: two of them fill a bar."),
        (16, 16, "Sixteen against sixteen: the next one starts on a downbeat."),
        (32, 16, "32 against 16: the next one starts on a downbeat."),
    ],
)
def test_the_answer_in_full(pulses: int, bar: int, answer: str) -> None:
    assert text_of(figure_answer(stand_against(pulses, Fraction(bar)), True)) == answer


@pytest.mark.parametrize("pulses", range(1, 49))
def test_early_and_late_are_what_the_timeline_says(pulses: int) -> None:
    """The piece itself is asked: where the statement starts that no longer fits, counted from its nearest downbeat."""
    lesson = make_lesson(PIECE.replace("[5, 3, 3]", f"[{pulses}]"))
    against = schedule_of(PIECE.replace("[5, 3, 3]", f"[{pulses}]")).against
    crossing = lesson.timeline.repetitions[against.fitting]
    offset = Fraction(crossing.offset, crossing.statement.pulse)
    if against.late:
        assert offset == against.late
        assert crossing.bar_number == against.bars
    else:
        assert -offset % 16 == against.early


def test_the_question_comes_first_and_the_answer_last() -> None:
    segment = build()
    opening, end = said(segment, Fraction(0)), said(segment, last(segment))
    assert "How long is weir , and where does the next one start?" in opening
    assert "weir, a figure in sixteenths" in opening
    assert "Eleven against sixteen: the next one starts 5 early." in end
    assert "5 + 3 + 3 = 11" in end
    assert "16 − 11 = 5" in end


def test_where_none_follows_another_the_next_one_is_only_thought_of() -> None:
    segment = build(PIECE.replace("plays: weir", "plays: {figure: weir, times: 1}"))
    assert "the next one would start 5 early." in said(segment, last(segment))
    assert "next, if it went on" in texts(segment, last(segment))
    row = segment.row
    inside = colour(pixels_at(segment, last(segment)), row.x(12 * segment.unit), row.hull_top + 40)
    assert inside not in (SAIL, SOFT)


def test_like_groups_are_taken_together_where_the_sum_would_not_fit() -> None:
    segment = build(PIECE.replace("[5, 3, 3]", f"[{', '.join(['5'] * 39)}, 4]"))
    assert "39 × 5 + 4 = 199 199 − 192 = 7" in said(segment, last(segment))


# The tempo that is heard


@pytest.mark.parametrize(
    ("change", "note"),
    [
        (("tempo: 60", "tempo: 112"), "Counted at 75 quarters a minute ; the piece runs at 112."),
        (
            ("[figure]", "[{show: figure, speed: 75 %}]"),
            "Counted at 45 quarters a minute ; the piece runs at 60.",
        ),
        (("tempo: 60", "tempo: 75"), None),
    ],
)
def test_another_tempo_than_the_pieces_is_shown(change: tuple[str, str], note: str | None) -> None:
    """A sixteenth lasts 0.2 s at 75 quarters a minute: 60 / 75 / 4; it is counted no faster than that."""
    segment = build(PIECE.replace(*change))
    schedule = segment.schedule
    counting = said(segment, schedule.accent_start)
    assert (note in counting) if note else ("Counted" not in counting)
    assert "Counted" not in said(segment, last(segment))
    first, second = (click.seconds for click in schedule.clicks[:2])
    assert second - first == 60 / schedule.quarters


def test_nothing_is_counted_in_the_head() -> None:
    segment = build()
    for number in range(40):
        shown = texts(segment, segment.schedule.seconds * number / 40)
        assert not {"repetition", "bar", "beat"} & set(shown)


# When


def test_it_clicks_while_it_is_counted_and_not_while_it_is_added_up() -> None:
    schedule = schedule_of()
    end = schedule.accent_start + schedule.against.shown * schedule.pulse
    assert schedule.count_start <= MOST_LEAD
    assert [click.seconds for click in schedule.clicks] == [Fraction(number) for number in range(10)]
    assert max(click.seconds for click in schedule.clicks) < end == schedule.term_starts[0]


@pytest.mark.parametrize("name", [name for name in EXTREMES if name != "nothing at all"])
def test_what_is_said_stands_for_its_words_and_nothing_stands_longer(name: str) -> None:
    schedule = schedule_of(EXTREMES[name] + "click: {every: beat, count_in: 2}\nsegments: [figure]\n")
    answer = reading_seconds(text_of(figure_answer(schedule.against, schedule.is_followed)))
    assert schedule.seconds - schedule.answer_start == answer + AFTER_ANSWER
    assert schedule.count_start <= MOST_LEAD
    assert schedule.answer_start - schedule.term_starts[0] <= 7
    waits = [b - a for a, b in zip(schedule.term_starts, schedule.term_starts[1:], strict=False)]
    assert max(waits) <= 1


# What is drawn


def test_lit_ends_at_the_count_to_the_pixel() -> None:
    segment = build()
    schedule, row = segment.schedule, segment.row
    for number in range(1, 11):
        seconds = schedule.count_start + number * schedule.pulse + Fraction(1, 17)
        x = row.x(float((seconds - schedule.count_start) / schedule.pulse))
        pixels = pixels_at(segment, seconds)
        edge = DARK.width_playhead / 2 + DARK.edge
        assert colour(pixels, x - edge - 2, row.hull_top + 20) == SAIL
        assert colour(pixels, x + edge + 2, row.hull_top + 20) == SOFT


def test_a_hit_inside_a_group_is_a_dot_on_its_notch_once_it_has_sounded() -> None:
    segment = build(HITS)
    schedule, row = segment.schedule, segment.row
    for pulse in (2, 10):
        x, y = row.x(pulse * segment.unit), row.hull_top + 6
        sounds = schedule.count_start + pulse * schedule.pulse
        assert colour(pixels_at(segment, sounds - FRAME * 3), x + 7, y) == SOFT
        assert colour(pixels_at(segment, last(segment)), x + 7, y) == DARK_ON_SAIL
    silent = row.x(3 * segment.unit)
    assert colour(pixels_at(segment, last(segment)), silent + 7, row.hull_top + 6) == SAIL


def test_an_accent_inside_a_group_has_its_disc_above_its_pulse() -> None:
    """Pulse 5 of the first group is accented, the last of five: where the sail has fallen to less than its mast."""
    segment = build(HITS)
    schedule, row = segment.schedule, segment.row
    x = row.x(4 * segment.unit)
    sounds = schedule.accent_start + 4 * schedule.pulse
    before, after = (pixels_at(segment, seconds) for seconds in (sounds - FRAME * 3, sounds + Fraction(1, 2)))

    def inked(pixels: NDArray[np.uint8]) -> list[int]:
        column = range(int(row.top), int(row.base))
        return [y for y in column if colour(pixels, x, y) == INK]

    assert inked(before) == []
    disc = inked(after)
    assert len(disc) == pytest.approx(2 * row.style.disc, abs=3)
    assert row.mast(5 * segment.unit) + 30 < min(disc) < max(disc) < row.base


def test_counts_on_which_something_is_hit_are_bold() -> None:
    segment = build(HITS)
    picture = segment.picture(Moment(last(segment), FRAME))
    size = segment.hull_counts.size()
    counts = [shape for shape in picture if shape.text in list("12345") and shape.size_px == size]
    faint = [shape.text for shape in counts if shape.fill_opacity < 1]
    assert faint == ["2", "4", "2", "3", "2"]


@pytest.mark.parametrize("size", [(1920, 1080), (1080, 1080), (1080, 1920)])
def test_all_of_the_bar_is_drawn_with_the_beginning_of_the_next_statement(size: tuple[int, int]) -> None:
    segment = build(size=size)
    row, canvas = segment.row, segment.canvas
    assert row.x(16 * segment.unit) == pytest.approx(canvas.music_right, abs=1)
    assert "next" in texts(segment, last(segment))
