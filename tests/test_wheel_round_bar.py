"""wheel: which offsets the figure visits, when it is home, where the discs stand, and that all texts keep apart."""

from fractions import Fraction
from math import gcd

import numpy as np
import pytest

from renderer.schedule.wheel import MOST_SHOWN, WheelSchedule
from renderer.video.rasterizer import Painter
from scenes.catalogue import build_segment
from scenes.draw.look import read_look
from scenes.draw.segment import Moment
from scenes.wheel.wheel import CENTRE_X, CENTRE_Y, WheelSegment
from tests.boxes import FRAME, segment_faults
from tests.extremes import EXTREMES
from tests.lessons import DARK, make_lesson

PIECE = """
title: Weir
tempo: 120
meter: 4/4
pulse: 1/16
figures: {weir: [5, 3, 3], sluice: [4, 3]}
form:
  - {section: Upper, bars: 12, plays: weir}
  - {section: Lower, bars: 4, plays: sluice}
click: {every: beat, count_in: 1}
segments: [wheel]
"""


def with_options(options: str, text: str = PIECE) -> str:
    return text.replace("[wheel]", f"[{{show: wheel, {options}}}]")


def schedule_of(text: str = PIECE) -> WheelSchedule:
    schedule = make_lesson(text).schedule_show("wheel")
    assert isinstance(schedule, WheelSchedule)
    return schedule


def build(text: str = PIECE, theme: str = "dark") -> WheelSegment:
    segment = build_segment(schedule_of(text), read_look(theme))
    assert isinstance(segment, WheelSegment)
    return segment


def texts(segment: WheelSegment, seconds: Fraction) -> list[str]:
    return [shape.text for shape in segment.picture(Moment(seconds, FRAME)) if shape.text]


def pixels_of(segment: WheelSegment, seconds: Fraction) -> np.ndarray:
    return Painter(1920, 1080, DARK.ground).paint(segment.picture(Moment(seconds, FRAME))).copy()


@pytest.mark.parametrize(("pulses", "bar"), [(11, 16), (7, 16), (12, 16), (16, 16), (5, 12), (32, 16)])
def test_a_figure_is_home_when_whole_repetitions_fill_whole_bars(pulses: int, bar: int) -> None:
    """After lcm(n, m) pulses, lcm by Euclid's greatest common divisor."""
    meter = f"{bar // 4}/4"
    text = PIECE.replace("4/4", meter).replace("[5, 3, 3]", f"[{pulses}]")
    schedule = schedule_of(text)
    least = pulses * bar // gcd(pulses, bar)
    assert schedule.count * pulses == schedule.turns * bar == least
    assert schedule.offsets[0] == schedule.offsets[-1] == 0
    assert len(set(schedule.offsets[:-1])) == schedule.count


def test_the_offsets_are_those_of_the_repetitions_that_are_played() -> None:
    lesson, schedule = make_lesson(PIECE), schedule_of()
    played = [Fraction(r.offset, r.statement.pulse) for r in lesson.timeline.repetitions[:17]]
    assert list(schedule.offsets) == played
    home = lesson.timeline.realignments[0]
    assert (home.bar_number, home.repetition_number) == (
        schedule.bar.number + schedule.turns,
        schedule.first_number + schedule.count,
    )


def test_a_section_or_a_figure_chooses_the_walk() -> None:
    for options in ("figure: sluice", "sections: Lower"):
        schedule = schedule_of(with_options(options))
        assert (schedule.figure.name, schedule.bar.number) == ("sluice", 13)
        assert (schedule.count, schedule.turns) == (16, 7)
        assert schedule.played == 9  # 4 bars of 16 hold nine sevens


def test_it_walks_at_tempo_and_not_for_longer_than_half_a_minute() -> None:
    schedule = schedule_of()
    assert schedule.arrivals[1] - schedule.arrivals[0] == Fraction(11, 8)
    slow = schedule_of(PIECE.replace("tempo: 120", "tempo: 30"))
    assert slow.home - slow.arrivals[0] <= 30
    assert slow.clicks == ()  # time isn't real there


def test_a_place_of_the_piece_is_found_in_the_walk() -> None:
    lesson, schedule = make_lesson(PIECE), schedule_of()
    for number, repetition in enumerate(lesson.timeline.repetitions[:17]):
        assert schedule.seconds_at(repetition.at) == schedule.arrivals[number]
    assert schedule.seconds_at(lesson.timeline.end) is None


def test_each_start_is_marked_at_its_angle_when_it_comes() -> None:
    segment = build()
    schedule = segment.schedule
    for number in (0, 4, 8):  # offsets 0, 12 and 8: the top, the left, the bottom
        pulses = number * 11
        radius = segment._radius(pulses) + segment.thick / 2
        angle = 2 * np.pi * float(schedule.offsets[number]) / 16
        x, y = round(CENTRE_X + radius * np.sin(angle)), round(CENTRE_Y - radius * np.cos(angle))
        after = pixels_of(segment, schedule.arrivals[number] + Fraction(1, 2))
        before = pixels_of(segment, schedule.arrivals[number] - Fraction(1, 4)) if number else None
        assert tuple(after[y, x, :3]) == (0xFA, 0xF5, 0xE9)
        if before is not None:
            assert tuple(before[y, x, :3]) != (0xFA, 0xF5, 0xE9)


def test_the_list_grows_with_the_walk_and_ends_on_the_downbeat() -> None:
    segment = build()
    schedule = segment.schedule
    for number in (1, 7, 16):
        shown = texts(segment, schedule.arrivals[number - 1])
        assert sum(text.startswith("+") for text in shown) == number
    last = texts(segment, schedule.seconds - FRAME)
    assert "on the downbeat of bar 12" in last
    assert last[last.index("16 repetitions") :][:4] == ["16 repetitions", " take as long as ", "11 bars", "."]


def test_what_the_piece_cuts_is_an_outline_and_no_bar_is_named_that_is_not_there() -> None:
    """Four bars of 16 hold nine sevens and one pulse: 64 = 9 x 7 + 1; the way home takes 16 of them, seven bars."""
    segment = build(with_options("figure: sluice"))
    schedule = segment.schedule
    assert (schedule.played, schedule.sounding, schedule.comes_home) == (9, Fraction(64), False)
    last = texts(segment, schedule.seconds - FRAME)
    assert "home 7 bars later, if it ran on" in last
    assert not any("bar 20" in text for text in last)
    pixels = pixels_of(segment, schedule.seconds - FRAME)
    for number, filled in ((4, True), (12, False)):
        pulses = number * 7 + 3
        radius = segment._radius(pulses) + segment.thick / 2
        x, y = segment._point(pulses, radius)
        lit = [tuple(int(c[i : i + 2], 16) for i in (1, 3, 5)) for c in (DARK.sail_one, DARK.sail_two)]
        assert (tuple(pixels[round(y), round(x), :3]) in lit) == filled


def test_the_sum_comes_a_term_a_beat() -> None:
    schedule = schedule_of()
    assert max(click.seconds for click in schedule.clicks) <= schedule.home
    assert [b - a for a, b in zip(schedule.term_starts, schedule.term_starts[1:], strict=False)] == [
        schedule.beat
    ] * 3


def test_what_takes_too_many_repetitions_is_walked_a_part_of_the_way() -> None:
    schedule = schedule_of(EXTREMES["fine pulses"])
    assert schedule.count == 512
    assert len(schedule.arrivals) == MOST_SHOWN + 1
    assert not schedule.complete


@pytest.mark.parametrize("theme", ["dark", "light"])
@pytest.mark.parametrize("name", [name for name in EXTREMES if name != "nothing at all"])
def test_texts_keep_apart_at_the_extremes(name: str, theme: str) -> None:
    assert segment_faults(build(EXTREMES[name], theme)) == []
