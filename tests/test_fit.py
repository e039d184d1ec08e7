"""fit: the sum adds up, what fills the rest, where the accent lands, and that all texts keep apart."""

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import assume, given, settings

from renderer.core.errors import SpecError
from renderer.schedule.fit import FitSchedule, choose_section, schedule_fit
from renderer.schedule.fit_sum import add_up, section_parts
from renderer.schedule.pace import AFTER_ANSWER, reading_seconds
from renderer.schedule.phrases import text_of
from renderer.spec.model import SegmentSpec, Spec
from renderer.timeline.build import build_timeline
from renderer.video.rasterizer import Painter
from scenes.catalogue import build_segment
from scenes.draw.look import canvas_for, read_look
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
figures: {weir: [5, 3, 3], sluice: [3, 3, 2], gate: [4, 4, 1]}
form:
  - {section: Even, bars: 11, plays: weir}
  - {section: Tail, bars: 8, plays: [{figure: weir, times: 11}, {tail: [4, 3]}]}
  - {section: Cut, bars: 8, plays: weir}
  - {section: Mixed, bars: 8, plays: [{figure: sluice, times: 3.5}, {tail: [4, 4]}, weir, {rest: 4}, sluice]}
  - {section: Close, bars: 5, plays: gate}
  - {section: Runs, bars: 8, plays: weir}
  - {section: After, bars: 4, plays: sluice, starts: after}
  - {section: Short, bars: 8, plays: [{figure: weir, times: 11}, {first: 5, of: weir}]}
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
    return [(term.kind, term.times, term.ticks // schedule.pulse) for term in schedule.sum.terms]


def test_without_a_choice_the_first_section_with_something_left_over_is_shown() -> None:
    assert schedule_of().section.name == "Tail"


def test_eleven_bars_hold_sixteen_elevens() -> None:
    """11 x 16 = 16 x 11: nothing is left over, as lcm(11, 16) = 176 says."""
    schedule = schedule_of("Even")
    assert sum_of(schedule) == [("whole", 16, 11)]
    assert [step.name for step in schedule.steps] == ["bars", "repetitions", "close-up", "landing"]
    assert schedule.landing is not None
    assert schedule.landing.sounds


def test_a_tail_is_what_is_left_over() -> None:
    """128 = 11 x 11 + 7."""
    schedule = schedule_of("Tail")
    assert sum_of(schedule) == [("whole", 11, 11), ("tail", 1, 7)]
    assert schedule.sum.over == 0


@pytest.mark.parametrize(
    ("section", "times", "length", "over"), [("Close", 9, 9, 1), ("Cut", 12, 11, 4), ("Runs", 12, 11, 4)]
)
def test_a_last_one_that_is_a_little_too_long_counts_as_a_whole(
    section: str, times: int, length: int, over: int
) -> None:
    """As a teacher adds it up: 9 x 9 = 81 = 80 + 1, whether the one is cut off or played over the line."""
    schedule = schedule_of(section)
    room = (schedule.section.end - schedule.section.at) // schedule.pulse
    assert sum_of(schedule) == [("whole", times, length)]
    assert schedule.sum.over == over * schedule.pulse
    assert times * length == room + over
    shown = said(section)
    assert f"{times} × {length} = {times * length} = {room} + {over}" in shown


def test_terms_that_are_alike_are_taken_together() -> None:
    """12 x 8 + 4 + 8 + 11 + 4 + 8 = 131, three more than 128: the last eight is cut after five."""
    schedule = schedule_of("Mixed")
    assert sum_of(schedule) == [
        ("whole", 13, 8),
        ("first", 1, 4),
        ("tail", 1, 8),
        ("whole", 1, 11),
        ("rest", 1, 4),
    ]
    assert schedule.sum.over == 3 * schedule.pulse


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
            added = add_up(parts)
            total = sum(term.times * term.ticks for term in added.terms)
            assert total == section.end - section.at + added.over
        assert choose_section(timeline, voice, None) in timeline.sections
        steps = schedule_fit(timeline, SegmentSpec("fit", voice=voice), None).steps
        assert [step.seconds for step in steps] == sorted(step.seconds for step in steps)


def test_nothing_sounds_where_time_is_not_real() -> None:
    schedule = schedule_of("Tail")
    assert schedule.clicks == ()
    assert list(schedule.arrivals) == sorted(schedule.arrivals)


@pytest.mark.parametrize(
    "section", ["Even", "Tail", "Cut", "Mixed", "Close", "Runs", "After", "Short", "Silent"]
)
def test_question_and_answer_stand_for_their_words(section: str) -> None:
    schedule = schedule_of(section)
    assert schedule.landed >= reading_seconds(text_of(schedule.question))
    answer = reading_seconds(text_of(schedule.answer))
    assert schedule.seconds - schedule.landed == answer + AFTER_ANSWER
    times = [step.seconds for step in schedule.steps]
    assert max(after - before for before, after in pairwise(times)) <= 6


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
    assert opened.count("7") >= 3  # in the sum, in the gap and under it
    assert "tail" not in opened
    filled = texts(segment, schedule.filled + Fraction(1, 2))
    assert {"tail", "4", "3"} <= set(filled)


def test_the_accent_lands_on_the_next_downbeat() -> None:
    segment, schedule = build("Tail"), schedule_of("Tail")
    x, y = segment.end.x(schedule.section.end), segment.end.feet - 4
    ink, post = (0xFA, 0xF5, 0xE9), (0x5F, 0x9B, 0xD0)
    assert colour_at(segment, schedule.landed - FRAME * 2, x, y) == post
    assert colour_at(segment, schedule.seconds - FRAME, x, y) == ink


def said(section: str) -> str:
    segment = build(section)
    shown = texts(segment, segment.schedule.seconds - FRAME)
    return " ".join(" ".join(shown).split())


@pytest.mark.parametrize(
    ("section", "question", "answer"),
    [
        ("Even", "How often does weir fit into Even?", "Sixteen elevens fit, and nothing is left."),
        ("Tail", "How often does weir fit into Tail?", "Eleven elevens fit. 4 + 3 fill what is left."),
        (
            "Cut",
            "How often does weir fit into Cut?",
            "Twelve elevens are 132: 4 too many, cut off by the line.",
        ),
        (
            "Mixed",
            "What fills Mixed?",
            "With 4 silent, all that is begun comes to 131: 3 too many, cut off by the line.",
        ),
        (
            "Close",
            "How often does gate fit into Close?",
            "Nine nines are 81: one too many, and the line cuts it off.",
        ),
        ("Runs", "How often does weir fit into Runs?", "Twelve elevens are 132: 4 run over the line."),
        (
            "After",
            "How often does sluice fit into After?",
            "With 4 carried in, seven eights fit. The eighth is cut after 4.",
        ),
        (
            "Short",
            "How often does weir fit into Short?",
            "Eleven elevens fit. 5 more are played, and 2 stay silent.",
        ),
        ("Silent", "What fills Silent?", "Nothing is played here."),
    ],
)
def test_the_question_and_what_the_end_does(section: str, question: str, answer: str) -> None:
    schedule = schedule_of(section)
    assert (text_of(schedule.question), text_of(schedule.answer)) == (question, answer)


@pytest.mark.parametrize(
    ("section", "note"),
    [
        ("Even", "first accent of weir"),
        ("Cut", "first accent of sluice"),
        ("Close", "first accent of weir"),
        ("After", "first accent of weir"),
    ],
)
def test_it_is_told_whose_accent_lands(section: str, note: str) -> None:
    """The next figure's own first accent, never the old one's."""
    assert note in texts(build(section), schedule_of(section).seconds - FRAME)
    landing = schedule_of(section).landing
    assert landing is not None
    lesson = make_lesson(PIECE)
    owner = next(r for r in lesson.timeline.repetitions if r.number == landing.repetition_number)
    assert owner.at == schedule_of(section).section.end


def test_an_accent_that_is_cut_off_is_called_so() -> None:
    text = PIECE.replace(
        "  - {section: Runs, bars: 8, plays: weir}", "  - {section: Runs, bars: 8, plays: [{rest: 2}, weir]}"
    )
    schedule = schedule_of("Close", text)
    assert schedule.landing is not None
    assert not schedule.landing.sounds
    assert "third accent of gate: not played" in texts(build("Close", text), schedule.seconds - FRAME)


def test_what_runs_over_the_line_is_drawn_over_it_and_what_is_cut_is_not() -> None:
    for section, played in (("Runs", True), ("Cut", False)):
        segment = build(section)
        row, schedule = segment.end, segment.schedule
        x = row.x(schedule.section.end + schedule.pulse)
        colour = colour_at(segment, schedule.seconds - FRAME, x, row.hull_bottom - 6)
        lit = {tuple(int(c[i : i + 2], 16) for i in (1, 3, 5)) for c in (DARK.sail_one, DARK.sail_two)}
        assert (colour in lit) == played


@pytest.mark.parametrize("size", [(1920, 1080), (1080, 1080), (1080, 1920), (2520, 1080)])
@pytest.mark.parametrize("section", ["Tail", "Runs", "Mixed"])
def test_the_frame_and_what_is_enlarged_span_the_same_pulses(section: str, size: tuple[int, int]) -> None:
    segment = build_segment(schedule_of(section), DARK.on(canvas_for(*size)))
    assert isinstance(segment, FitSegment)
    left, _, right, _ = segment.layout.frame
    whole, end = segment.whole, segment.end
    assert (whole.x(end.start), whole.x(end.end)) == pytest.approx((left, right))
    assert end.x(end.end) == pytest.approx(segment.canvas.music_right)
    schedule = segment.schedule
    assert end.start < schedule.parts[schedule.closing].at
    assert end.end >= schedule.section.end + schedule.sum.over


def test_what_comes_next_is_seen_where_it_starts() -> None:
    segment = build("Tail")
    row, schedule = segment.end, segment.schedule
    x = row.x(schedule.section.end + 2 * schedule.pulse)
    soft = tuple(int(DARK.sail_soft[i : i + 2], 16) for i in (1, 3, 5))
    assert colour_at(segment, schedule.seconds - FRAME, x, row.hull_top + 10) == soft


def test_no_bar_is_named_that_is_not_there() -> None:
    schedule = schedule_of("Silent")
    shown = texts(build("Silent"), schedule.seconds - FRAME)
    last = schedule.timeline.bars[-1].number
    assert f"bar {last}" in shown
    assert f"bar {last + 1}" not in shown
    assert str(last + 1) not in shown


@pytest.mark.parametrize("size", [(1920, 1080), (1080, 1920), (1080, 1080), (1440, 1080), (2520, 1080)])
@pytest.mark.parametrize("name", EXTREMES)
def test_texts_keep_apart_at_the_extremes(name: str, size: tuple[int, int]) -> None:
    lesson = make_lesson(EXTREMES[name])
    for section in dict.fromkeys(section.name for section in lesson.timeline.sections):
        schedule = schedule_of(section, EXTREMES[name] + "segments: [fit]\n")
        assert segment_faults(build_segment(schedule, DARK.on(canvas_for(*size)))) == []
