"""wheel: which offsets the figure visits, when it is home, what is filled and what an outline, and what is said."""

from fractions import Fraction
from math import gcd

import numpy as np
import pytest

from renderer.schedule.phrases import text_of
from renderer.schedule.wheel import MOST_SHOWN, WheelSchedule
from renderer.video.rasterizer import Painter
from scenes.catalogue import build_segment
from scenes.draw.look import read_look
from scenes.draw.segment import Moment
from scenes.wheel.wheel import WheelSegment
from tests.boxes import FRAME
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
    assert schedule.way.repetitions * pulses == schedule.way.bars * bar == least
    assert schedule.offsets[0] == schedule.offsets[-1] == 0
    assert len(set(schedule.offsets[:-1])) == schedule.way.repetitions


def test_the_offsets_are_those_of_the_repetitions_that_are_played() -> None:
    lesson, schedule = make_lesson(PIECE), schedule_of()
    played = [Fraction(r.offset, r.statement.pulse) for r in lesson.timeline.repetitions[:17]]
    assert list(schedule.offsets) == played
    home = lesson.timeline.realignments[0]
    assert (home.bar_number, home.repetition_number) == (
        schedule.bar.number + schedule.way.bars,
        schedule.run[0].number + schedule.way.repetitions,
    )


def test_a_section_or_a_figure_chooses_the_walk() -> None:
    for options in ("figure: sluice", "sections: Lower"):
        schedule = schedule_of(with_options(options))
        assert (schedule.figure.name, schedule.bar.number) == ("sluice", 13)
        assert (schedule.way.repetitions, schedule.way.bars) == (16, 7)
        assert schedule.way.reached == 10  # 4 bars of 16 hold nine sevens and begin the tenth


def test_eight_bars_at_tempo_then_a_hurry_in_silence() -> None:
    schedule = schedule_of()
    assert schedule.arrivals[1] - schedule.arrivals[0] == Fraction(11, 8)
    assert schedule.walk.real_end - schedule.walk.begins == 16  # eight bars of two seconds
    assert max(click.seconds for click in schedule.clicks) < schedule.walk.real_end
    assert 0 < schedule.home - schedule.walk.real_end <= 6
    slow = schedule_of(PIECE.replace("tempo: 120", "tempo: 30"))
    assert slow.walk.real_end - slow.walk.begins == 24  # three bars of eight seconds


def test_a_place_of_the_piece_is_found_in_the_walk() -> None:
    lesson, schedule = make_lesson(PIECE), schedule_of()
    for number, repetition in enumerate(lesson.timeline.repetitions[:17]):
        assert schedule.seconds_at(repetition.at) == schedule.arrivals[number]
        assert schedule.walk.position(schedule.arrivals[number]) == pytest.approx(number * 11)
    assert schedule.seconds_at(lesson.timeline.end) is None


def colours(pixels: np.ndarray, x: float, y: float) -> str:
    return "#" + "".join(f"{value:02X}" for value in pixels[round(y), round(x), :3])


def test_each_start_is_marked_at_its_angle_when_it_comes() -> None:
    """Offsets 0, 12 and 8 of 16: a sail at the top, at the left and at the bottom."""
    segment = build()
    schedule = segment.schedule
    for number, turns in ((0, 0.0), (4, 0.75), (8, 0.5)):
        x, y = segment.layout.point(turns + 0.01, 250)
        after = pixels_of(segment, schedule.arrivals[number] + Fraction(1, 2))
        assert colours(after, x, y) in (DARK.sail_one, DARK.sail_two)
        if number:
            before = pixels_of(segment, schedule.arrivals[number] - Fraction(1, 4))
            assert colours(before, x, y) == DARK.sky_one


def test_the_offsets_come_with_the_walk_and_it_ends_on_the_downbeat() -> None:
    segment = build()
    schedule = segment.schedule
    offsets = [str(offset) for offset in schedule.offsets[:-1]]
    for number in (1, 7, 16):
        shown = texts(segment, schedule.arrivals[number - 1])
        start = shown.index("0")
        found = [text for text in shown[start:] if text.isdigit() and text in offsets]
        assert found[:number] == offsets[:number]
    last = texts(segment, schedule.seconds - FRAME)
    assert "On the downbeat of bar 12 again." in last
    assert "so each start is 5 sixteenths earlier in its bar:" in last  # 11 - 16
    said = "".join(word.text for word in segment.sentence(Moment(schedule.seconds - FRAME, FRAME)).words)
    assert said == "Each start comes 5 earlier, on the downbeat again after eleven bars."


def test_what_the_piece_cuts_is_an_outline_and_no_bar_is_named_that_is_not_there() -> None:
    """Four bars of 16 hold nine sevens and one pulse: 64 = 9 x 7 + 1; the way home takes 16 of them, seven bars."""
    segment = build(with_options("figure: sluice"))
    schedule = segment.schedule
    assert (schedule.way.reached, schedule.sounding, schedule.way.comes_home) == (10, Fraction(64), False)
    last = texts(segment, schedule.seconds - FRAME)
    assert "On the downbeat 7 bars later, if it ran on." in last
    assert {"played", "not played"} <= set(last)
    assert not any("bar 20" in text for text in last)
    said = "".join(word.text for word in segment.sentence(Moment(schedule.seconds - FRAME, FRAME)).words)
    assert said == "Four bars reach 10 of 16 places."
    pixels, way = pixels_of(segment, schedule.seconds - FRAME), segment.way
    for number, filled in ((4, True), (12, False)):
        turns = (number * 7 + 3) / 16
        x, y = segment.layout.point(turns, way.radius(turns) + way.thick / 2)
        assert (colours(pixels, x, y) in (DARK.sail_one, DARK.sail_two)) == filled
        edge = [segment.layout.point(turns, way.radius(turns) + step / 4) for step in range(13)]
        assert {colours(pixels, *place) for place in edge} & {DARK.sail_one, DARK.sail_two}


def test_a_bar_of_another_length_ends_what_is_played_so() -> None:
    """Twelve elevens begin in eight bars of 16; what comes in the bars of 12 lies elsewhere."""
    schedule = schedule_of(PIECE.replace("bars: 12,", "bars: 12, meter: {1: 4/4, 9: 3/4},"))
    assert (schedule.sounding, schedule.way.reached) == (Fraction(128), 12)


def test_what_fills_the_bar_says_so() -> None:
    said = {}
    for groups in ("[4]", "[16]", "[16, 16]", "[5]"):
        schedule = schedule_of(PIECE.replace("[5, 3, 3]", groups))
        said[groups] = text_of(schedule.answer)
    assert said == {
        "[4]": "Four repetitions fill 1 bar: every bar is alike.",
        "[16]": "weir fills 1 bar: each start is on the downbeat.",
        "[16, 16]": "weir fills 2 bars: each start is on the downbeat.",
        "[5]": "On the downbeat again after five bars.",
    }


def test_what_takes_too_many_repetitions_is_walked_a_part_of_the_way() -> None:
    schedule = schedule_of(EXTREMES["fine pulses"])
    assert schedule.way.repetitions == 512
    assert len(schedule.arrivals) == MOST_SHOWN + 1
    assert not schedule.complete
