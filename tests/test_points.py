"""What a picture points at: found in the music, a step each, lit while all else steps back."""

from fractions import Fraction
from itertools import pairwise

import pytest

from renderer.core.errors import SpecError, ValueProblem, path_text
from renderer.lesson.lesson import Lesson, check_choices
from renderer.reading.load import parse_spec
from renderer.reading.scalars.parse import parse_point
from renderer.schedule.form import FormSchedule
from renderer.schedule.phrases import text_of
from renderer.schedule.play import PlaySchedule
from renderer.schedule.spread import SpreadSchedule
from scenes.catalogue import build_segment
from scenes.draw.look import canvas_for
from scenes.draw.segment import Moment, Segment
from scenes.draw.shapes import across
from scenes.frame.foot import STEPPED_BACK
from tests.boxes import FRAME, segment_faults
from tests.lessons import DARK, SHORT, make_lesson
from tests.test_layout import SIZES

LONG = SHORT.replace("bars: 3\n", "bars: 12\n").replace("bars: 2\n", "bars: 12\n")
"""Repetitions of eleven sixteenths: the 17th comes home to bar 12; the harmony turns in the third and in the 18th."""


def pointing(show: str, points: str, more: str = "", text: str = LONG) -> Lesson:
    segment = f"{{show: {show}, point: {points}{more}}}"
    return make_lesson(text.replace("segments: [figure, spread, play]", f"segments: [{segment}]"))


def drawn(lesson: Lesson, size: tuple[int, int] = (1920, 1080)) -> Segment:
    return build_segment(lesson.segments()[0].schedule, DARK.on(canvas_for(*size)))


@pytest.mark.parametrize(
    ("text", "repetition", "by_number", "position"),
    [
        ("12", 12, False, None),
        ("#40", 40, True, None),
        ("bar 9", None, False, (9, 1, None)),
        ("bar 9.2", None, False, (9, 2, None)),
        ("13.3", None, False, (13, 3, None)),
        ("13.3.2", None, False, (13, 3, 2)),
        ("bar -1", None, False, (-1, 1, None)),
    ],
)
def test_a_point_is_a_repetition_or_a_place(
    text: str, repetition: int | None, by_number: bool, position: tuple[int, int, int | None] | None
) -> None:
    assert parse_point(text)[:3] == (repetition, by_number, position)


@pytest.mark.parametrize("text", ["0", "#", "twelve", "bar", "bar x", "9,3", "#0"])
def test_what_is_no_point_is_told(text: str) -> None:
    with pytest.raises(ValueProblem, match="a point is a repetition or a place"):
        parse_point(text)


POINTS = '[2, "#17", bar 9, 13.3, 3]'
NAMES = ["repetition 2", "repetition #17", "bar 9", "bar 13.3", "repetition 3"]
SENTENCES = [
    "Repetition 2 starts 11 sixteenths after the downbeat of bar 1.",
    "Repetition 17 starts on the downbeat of bar 12 again.",
    # 8 bars are 128 sixteenths: eleven repetitions of eleven and 7.
    "The downbeat of bar 9 is 7 sixteenths into repetition 12.",
    # 12 bars and 8 are 200 sixteenths: eighteen repetitions and 2.
    "Beat 3 of bar 13 is 2 sixteenths into repetition 19.",
    # The harmony turns on beat 3 of bar 2, after 24 sixteenths: two repetitions and 2.
    "Repetition 3: Dm turns to Bb after 2 of 11.",
]


def test_a_spread_turns_to_each_in_turn_before_its_answer() -> None:
    schedule = pointing("spread", POINTS).segments()[0].schedule
    assert isinstance(schedule, SpreadSchedule)
    assert [step.name for step in schedule.steps] == ["bars", "repetitions", *NAMES, "answer"]
    assert [text_of(light.phrases) for light in schedule.lights[:-1]] == SENTENCES
    seconds = [step.seconds for step in schedule.steps]
    assert seconds == sorted(seconds)


def test_a_form_does_so_too() -> None:
    schedule = pointing("form", POINTS).segments()[0].schedule
    assert isinstance(schedule, FormSchedule)
    assert [step.name for step in schedule.steps] == ["bars", "Upper", "Lower", *NAMES, "answer"]
    assert [text_of(point.phrases) for _, point in schedule.points] == SENTENCES


def test_a_play_turns_to_each_while_it_sounds() -> None:
    lesson = pointing("play", '[3, "#17", bar 9]')
    schedule = lesson.segments()[0].schedule
    assert isinstance(schedule, PlaySchedule)
    assert [step.name for step in schedule.steps] == [
        *("count-in", "Upper", "repetition 3", "bar 9", "repetition #17", "Lower"),
    ]
    times = {step.name: step.seconds for step in schedule.steps}
    for name, number in (("repetition 3", 3), ("bar 9", 12), ("repetition #17", 17)):
        begins = 11 * (number - 1) * lesson.timeline.grid // 16
        assert times[name] == schedule.seconds_at(begins)


@pytest.mark.parametrize("show", ["spread", "form", "play"])
def test_all_else_steps_back(show: str) -> None:
    segment = drawn(pointing(show, "[2]"))
    step = next(step for step in segment.schedule.steps if step.name == "repetition 2")
    picture = segment.picture(Moment(step.seconds + Fraction(1, 2), FRAME))
    veils = [n for n, shape in enumerate(picture) if abs(shape.fill_opacity - (1 - STEPPED_BACK)) < 1e-9]
    assert len(veils) == 1
    over = picture[veils[0] + 1 :]
    assert any(shape.text == "2" for shape in over)
    before = segment.picture(Moment(step.seconds - Fraction(1, 2), FRAME))
    assert not [shape for shape in before if abs(shape.fill_opacity - (1 - STEPPED_BACK)) < 1e-9]


def test_words_may_be_said_over_a_point() -> None:
    text = LONG.replace(
        "segments: [figure, spread, play]",
        "segments: [{show: spread, point: [3], say: {repetition 3: Look where the third one starts.}}]",
    )
    captions = make_lesson(text).segments()[0].schedule.captions
    assert [caption.text for caption in captions] == ["Look where the third one starts."]


def test_numbers_are_counted_or_those_of_the_piece() -> None:
    anew = LONG.replace("    plays: on\n", "    plays: weir\n")
    found = pointing("spread", "[2]", ", sections: Lower", anew).segments()[0].schedule
    assert isinstance(found, SpreadSchedule)
    assert text_of(found.lights[0].phrases).startswith("Repetition 2 starts")
    # 12 bars are 192 sixteenths, 17 repetitions and a cut one: the second section's second is the piece's 20th.
    piece = (
        pointing("spread", '["#20", 20]', ", sections: Lower, numbers: piece", anew).segments()[0].schedule
    )
    assert isinstance(piece, SpreadSchedule)
    assert {light.spots[0].repetition.number for light in piece.lights[:-1]} == {20}
    assert found.lights[0].spots[0].repetition.number == 20


@pytest.mark.parametrize(
    ("points", "more", "told"),
    [
        ("[99]", "", "segments[0].point[0]: there is no repetition 99 in what is shown. They are 1 to 35."),
        (
            '["#3"]',
            ", sections: Lower",
            "segments[0].point[0]: there is no repetition 3 in what is shown. They are #19 to #35.",
        ),
        (
            "[bar 30]",
            "",
            "segments[0].point[0]: there is no 30. "
            "The piece has 24 bars; a place is written as bar 9, or 9.3 for its third beat.",
        ),
        (
            "[2, bar 3]",
            ", sections: Lower",
            "segments[0].point[1]: 3 is not shown. Point at what the segment shows.",
        ),
    ],
)
def test_what_is_not_shown_is_told(points: str, more: str, told: str) -> None:
    if points.startswith("[2"):
        points = points.replace("2", "20")
    lesson = pointing("spread", points, more)
    with pytest.raises(SpecError) as caught:
        check_choices(lesson.spec, lesson.timeline)
    (problem,) = caught.value.problems
    assert f"{path_text(problem.path)}: {problem.text} {problem.mend}" == told


def test_a_number_with_a_sign_needs_quotes_and_is_told_so() -> None:
    with pytest.raises(SpecError, match=r"Put quotes around the text that holds #40"):
        parse_spec(LONG.replace("[figure, spread, play]", "[{show: spread, point: [2, #40]}]"), "x")


@pytest.mark.parametrize("size", SIZES, ids=lambda size: "x".join(map(str, size)))
@pytest.mark.parametrize("show", ["spread", "form", "play"])
def test_texts_keep_apart_while_it_points(show: str, size: tuple[int, int]) -> None:
    assert segment_faults(drawn(pointing(show, POINTS), size)) == []


def test_a_repetition_over_a_row_s_end_is_numbered_once() -> None:
    for show in ("spread", "play"):
        segment = drawn(
            make_lesson(LONG.replace("[figure, spread, play]", f"[{{show: {show}, sections: Upper}}]"))
        )
        seen: set[str] = set()
        for step in range(60):
            seconds = segment.schedule.seconds * step / 60
            if show == "spread" and segment.schedule.steps[-1].seconds <= seconds:
                break
            texts = [shape.text for shape in segment.picture(Moment(seconds, FRAME)) if shape.text]
            seen |= {text for text in texts if text.isdecimal()}
        assert {str(number) for number in range(1, 18)} <= seen


def test_a_play_that_points_again_and_again_does_not_flash() -> None:
    """The veil comes and goes at most once a second: WCAG 2.2 (2.3.1) lets pictures flash three times in one."""
    fast = LONG.replace("tempo: 137", "tempo: 600")
    segment = drawn(pointing("play", "[2, 3, 4, 6, 10]", ", bars: 1-8", text=fast))
    rate = 30
    shares = []
    for frame in range(int(segment.schedule.seconds * rate)):
        picture = segment.picture(Moment(Fraction(frame, rate), Fraction(1, rate)))
        veils = [shape for shape in picture if len(shape.points) and across(shape) == (0.0, 1920.0)]
        shares.append(max((shape.fill_opacity for shape in veils), default=0.0))
    rises = [n for n in range(1, len(shares)) if shares[n] > 0 and shares[n - 1] == 0]
    assert rises
    assert all(later - earlier >= rate for earlier, later in pairwise(rises))
