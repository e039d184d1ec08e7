"""fit: the sum adds up, what fills the rest, where the accent lands, and that all texts keep apart."""

from fractions import Fraction

import pytest
from hypothesis import assume, given, settings

from renderer.core.errors import SpecError
from renderer.schedule.fit import FitSchedule, add_up, choose_section, schedule_fit, section_parts
from renderer.spec.model import SegmentSpec, Spec
from renderer.timeline.build import build_timeline
from renderer.video.rasterizer import Painter
from scenes.catalogue import build_segment
from scenes.draw.look import read_look
from scenes.draw.segment import Moment
from scenes.fit.fit import FitSegment
from tests.boxes import FRAME, segment_faults
from tests.extremes import EXTREMES
from tests.lessons import DARK, make_lesson
from tests.strategies import specs

PIECE = """
title: Weir
tempo: 60
meter: 4/4
pulse: 1/16
figures: {weir: [5, 3, 3], sluice: [3, 3, 2]}
form:
  - {section: Even, bars: 11, plays: weir}
  - {section: Tail, bars: 8, plays: [{figure: weir, times: 11}, {tail: [4, 3]}]}
  - {section: Cut, bars: 8, plays: weir}
  - {section: Mixed, bars: 8, plays: [{figure: sluice, times: 3.5}, {tail: [4, 4]}, weir, {rest: 4}, sluice]}
  - {section: Silent, bars: 2}
click: {every: beat, count_in: 1}
segments: [fit]
"""


def schedule_of(section: str | None = None, text: str = PIECE) -> FitSchedule:
    chosen = "fit" if section is None else f"{{show: fit, section: {section}}}"
    schedule = make_lesson(text.replace("[fit]", f"[{chosen}]")).schedule_show("fit")
    assert isinstance(schedule, FitSchedule)
    return schedule


def build(section: str | None = None, text: str = PIECE, theme: str = "dark") -> FitSegment:
    segment = build_segment(schedule_of(section, text), read_look(theme))
    assert isinstance(segment, FitSegment)
    return segment


def texts(segment: FitSegment, seconds: Fraction) -> list[str]:
    return [shape.text for shape in segment.picture(Moment(seconds, FRAME)) if shape.text]


def colour_at(segment: FitSegment, seconds: Fraction, x: float, y: float) -> tuple[int, ...]:
    pixels = Painter(1920, 1080, DARK.ground).paint(segment.picture(Moment(seconds, FRAME)))
    return tuple(int(value) for value in pixels[int(y), int(x), :3])


def sum_of(schedule: FitSchedule) -> list[tuple[str, int, int]]:
    return [(term.kind, term.times, term.ticks // schedule.pulse) for term in schedule.terms]


def test_without_a_choice_the_first_section_with_something_left_over_is_shown() -> None:
    assert schedule_of().section.name == "Tail"


def test_eleven_bars_hold_sixteen_elevens() -> None:
    """11 x 16 = 16 x 11: nothing is left over, as lcm(11, 16) = 176 says."""
    schedule = schedule_of("Even")
    assert sum_of(schedule) == [("whole", 16, 11)]
    assert [step.name for step in schedule.steps] == ["count-in", "repetitions", "close-up", "landing"]
    assert schedule.landing is not None
    assert schedule.landing.sounds


def test_a_tail_and_a_cut_repetition_are_what_is_left_over() -> None:
    """128 = 11 x 11 + 7."""
    assert sum_of(schedule_of("Tail")) == [("whole", 11, 11), ("tail", 1, 7)]
    assert sum_of(schedule_of("Cut")) == [("whole", 11, 11), ("cut", 1, 7)]


def test_terms_that_are_alike_are_taken_together() -> None:
    """128 = 12 x 8 + 4 + 8 + 11 + 4 + 5."""
    assert sum_of(schedule_of("Mixed")) == [
        ("whole", 12, 8),
        ("first", 1, 4),
        ("tail", 1, 8),
        ("whole", 1, 11),
        ("rest", 1, 4),
        ("cut", 1, 5),
    ]


@given(specs())
@settings(max_examples=60, deadline=None)
def test_the_sum_is_the_sections_length(spec: Spec) -> None:
    try:
        timeline = build_timeline(spec)
    except SpecError:
        assume(False)
    for voice in timeline.voices:
        for section in timeline.sections:
            parts = section_parts(timeline, section, voice)
            assert [part.at for part in parts] == [section.at, *(part.end for part in parts[:-1])]
            assert parts[-1].end == section.end
            assert sum(term.times * term.ticks for term in add_up(parts)) == section.end - section.at
        assert choose_section(timeline, voice, None) in timeline.sections
        steps = schedule_fit(timeline, SegmentSpec("fit", voice=voice), None).steps
        assert [step.seconds for step in steps] == sorted(step.seconds for step in steps)


def test_repetitions_come_on_the_beats() -> None:
    schedule = schedule_of("Tail")
    beats = {click.seconds for click in schedule.clicks}
    assert set(schedule.arrivals) <= beats
    assert {schedule.enlarged, schedule.left_over, schedule.filled, schedule.landed} <= beats


def test_a_place_of_the_section_is_found_by_what_stands_there() -> None:
    schedule = schedule_of("Tail")
    assert schedule.seconds_at(schedule.section.at + 10) == schedule.arrivals[0]
    assert schedule.seconds_at(schedule.section.end - 1) == schedule.filled
    assert schedule.seconds_at(schedule.section.end) is None


def test_the_count_runs_with_the_repetitions() -> None:
    segment = build("Tail")
    for number in range(1, 12):
        shown = texts(segment, segment.schedule.arrivals[number - 1])
        assert shown[shown.index("=") + 1] == str(number)


def test_what_is_left_over_stands_open_until_it_is_filled() -> None:
    segment, schedule = build("Tail"), schedule_of("Tail")
    opened = texts(segment, schedule.left_over + Fraction(1, 2))
    assert opened.count("7") == 2  # in the sum, and in the gap
    filled = texts(segment, schedule.filled)
    assert "tail  4 + 3" in filled
    assert filled.count("7") == 1
    assert not any("tail" in text for text in opened)


def test_the_accent_lands_on_the_next_downbeat() -> None:
    segment, schedule = build("Tail"), schedule_of("Tail")
    x, y = segment.end.x(schedule.section.end), segment.end.feet - 4
    ink, post = (0xFA, 0xF5, 0xE9), (0x5F, 0x9B, 0xD0)
    assert colour_at(segment, schedule.landed - FRAME * 2, x, y) == post
    assert colour_at(segment, schedule.seconds - FRAME, x, y) == ink


def sentence(section: str) -> str:
    segment = build(section)
    shown = texts(segment, segment.schedule.seconds - FRAME)
    return " ".join(" ".join(shown).split())


def test_the_sentence_says_what_the_end_does() -> None:
    assert "A tail of 4 + 3 fills the gap: the accent lands on bar 20." in sentence("Tail")
    assert "Repetition 40 is cut after 7 of 11 : the accent lands on bar 28." in sentence("Cut")
    assert "Nothing is left over : the accent lands on bar 12." in sentence("Even")
    assert "32 pulses are left over, and nothing sounds there." in sentence("Silent")


@pytest.mark.parametrize("theme", ["dark", "light"])
@pytest.mark.parametrize("name", EXTREMES)
def test_texts_keep_apart_at_the_extremes(name: str, theme: str) -> None:
    lesson = make_lesson(EXTREMES[name])
    for section in dict.fromkeys(section.name for section in lesson.timeline.sections):
        assert segment_faults(build(section, EXTREMES[name] + "segments: [fit]\n", theme)) == []
