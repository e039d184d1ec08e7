"""handover: what it says of the line, where the new list starts, what is heard and lit, and that all of it has room."""

from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest

from renderer.core.errors import SpecError
from renderer.lesson.lesson import check_choices
from renderer.mix.notes import segment_notes
from renderer.schedule.handover import HandoverSchedule
from renderer.schedule.handover_words import start_words
from renderer.schedule.pace import AFTER_ANSWER, MOST_LEAD, reading_seconds
from renderer.schedule.phrases import Phrase, text_of
from renderer.video.rasterizer import Painter
from scenes.catalogue import build_segment
from scenes.draw.look import SLIDE, canvas_for, read_look
from scenes.draw.segment import Moment
from scenes.draw.shapes import red_green_blue
from scenes.handover.ground import PLATE_FOOT
from scenes.handover.handover import HandoverSegment
from scenes.handover.vessels import SHARED
from tests.boxes import FRAME, segment_faults, text_boxes
from tests.lessons import make_lesson

SIZES = ((1920, 1080), (1080, 1920), (1080, 1080), (1080, 1350), (1440, 1080), (2520, 1080))

HEAD = """
title: Otter Weir
tempo: 100
meter: 4/4
pulse: 1/16
click: {every: beat, count_in: 1}
figures: {otter: [5, 3, 3], wren: [3, 3, 2], gate: [4, 4, 1], reed: {groups: [3, 3, 2], accents: [4, 7]}}
"""
CASES = {
    "over": "[{section: Bank, bars: 3, plays: otter}, {section: Mill, bars: 2, starts: after, plays: wren}]",
    "shared": "[{section: Bank, bars: 5, plays: gate}, {section: Mill, bars: 2, plays: wren}]",
    "ghost": "[{section: Bank, bars: 5, plays: gate}, {section: Mill, bars: 2, plays: reed}]",
    "cut": "[{section: Bank, bars: 3, plays: otter}, {section: Mill, bars: 2, plays: wren}]",
    "cut later": "[{section: Bank, bars: 3, plays: otter}, {section: Mill, bars: 2, starts: 1.2, plays: wren}]",
    "cut before": "[{section: Bank, bars: 2, plays: otter}, {section: Mill, bars: 2, starts: 0.4, plays: wren}]",
    "short": "[{section: Bank, bars: 3, plays: [{figure: otter, times: 4}]}, {section: Mill, bars: 2, plays: wren}]",
    "even": "[{section: Bank, bars: 3, plays: wren}, {section: Mill, bars: 2, plays: otter}]",
    "tail": "[{section: Bank, bars: 3, plays: [{figure: otter, times: 4}, {tail: [4]}]}, "
    "{section: Mill, bars: 1, plays: otter}]",
    "same": "[{section: Bank, bars: 3, plays: otter}, {section: Mill, bars: 2, starts: after, plays: otter}]",
    "rest": "[{section: Bank, bars: 3, plays: wren}, {section: Mill, bars: 2, plays: [{rest: 3}, wren]}]",
    "silence": "[{section: Bank, bars: 1, plays: wren}, {section: Gap, bars: 9}, "
    "{section: Mill, bars: 2, plays: wren}]",
    "waits on": "[{section: Bank, bars: 1, plays: {figure: otter, pulse: 1/2}}, "
    "{section: Gap, bars: 1, starts: after, plays: wren}, {section: Mill, bars: 6, plays: on}]",
}


def schedule_of(form: str, options: str = "", head: str = HEAD) -> HandoverSchedule:
    lesson = make_lesson(f"{head}form: {form}\nsegments: [{{show: handover{options}}}]\n")
    schedule = lesson.segments()[0].schedule
    assert isinstance(schedule, HandoverSchedule)
    return schedule


def build(
    form: str, size: tuple[int, int] = (1920, 1080), theme: str = "dark", head: str = HEAD
) -> HandoverSegment:
    segment = build_segment(schedule_of(form, head=head), read_look(theme).on(canvas_for(*size)))
    assert isinstance(segment, HandoverSegment)
    return segment


def last(segment: HandoverSegment) -> Moment:
    return Moment(segment.schedule.seconds - FRAME, FRAME)


def texts(segment: HandoverSegment, moment: Moment) -> str:
    return "".join(box.text for box in text_boxes(segment.picture(moment)))


# What is said


@pytest.mark.parametrize(
    ("case", "question", "answer"),
    [
        ("over", "Where does wren start?", "Here otter runs 7 over. Then wren starts on the “a” of 2."),
        ("shared", "Where does wren start?", "One too many: it becomes the downbeat."),
        ("ghost", "Where does reed start?", "One too many: the line cuts it off."),
        ("cut", "Where does wren start?", "The line cuts 7 off otter. Then wren starts on the downbeat."),
        ("cut later", "Where does wren start?", "Here otter runs 4 over, then it is cut. Then wren starts on 2."),
        ("cut before", "Where does wren start?", "Here otter is cut 4 before the line. Then wren starts on 4."),
        ("short", "Where does wren start?", "Here otter stops 4 before the line. Then wren starts on the downbeat."),
        ("even", "Where does otter start?", "Here wren ends on the line. Then otter starts on the downbeat."),
        ("tail", "Where does otter start?", "The tail ends on the line. Then otter starts on the downbeat."),
        ("same", "Where does the next otter start?",
         "Here otter runs 7 over. The next otter starts on the “a” of 2."),
        ("rest", "Where does the next wren start?",
         "Here wren ends on the line. The next wren starts on the “a” of 1."),
        ("silence", "Where does the next wren start?",
         "Here wren stops 144 before the line. The next wren starts on the downbeat."),
        ("waits on", "Where does wren start?", "Here otter runs 9 over. Then wren starts on 3."),
    ],
)  # fmt: skip
def test_what_happens_at_the_line_is_asked_and_said(case: str, question: str, answer: str) -> None:
    schedule = schedule_of(CASES[case])
    assert text_of(schedule.question) == question
    assert text_of(schedule.answer) == answer


@pytest.mark.parametrize(
    ("case", "shares"),
    [
        ("over", ["4 before the line", "7 over it"]),
        ("shared", ["8 before the line", "pulse 81 is the new first: one hit"]),
        ("ghost", ["8 before the line", "pulse 81 is not played"]),
        ("cut", ["4 before the line", "7 cut off"]),
        ("short", ["4 silent"]),
        ("even", []),
    ],
)
def test_what_lies_beside_the_line_is_arithmetic(case: str, shares: list[str]) -> None:
    """Three bars of 16 are 48 = 4 x 11 + 4, five are 80 = 8 x 9 + 8."""
    assert [f"{share.number} {share.words}" for share in schedule_of(CASES[case]).shares] == shares


def test_the_sum_is_the_row_s_own() -> None:
    for case, expected in (("over", (5, 11, 48, 7)), ("shared", (9, 9, 80, 1)), ("short", (4, 11, 48, -4))):
        added = schedule_of(CASES[case]).added
        assert added is not None
        assert (added.times, added.figure, added.room, added.over) == expected
        assert added.times * added.figure == added.room + added.over
    assert schedule_of(CASES["tail"]).added is None
    assert schedule_of(CASES["cut later"]).added is None


def test_the_sum_stands_under_the_line_in_a_teacher_s_words() -> None:
    shown = texts(build(CASES["over"]), last(build(CASES["over"])))
    assert "5×11=55=48+7in three bars of 16" in shown
    assert "4 before the line7 over it" in shown


@pytest.mark.parametrize(
    ("meter", "pulse", "places"),
    [
        # as it is counted: 1 e & a, 1 & a in triplets and in dotted beats, 1 & in eighths
        ("4/4", "1/16", ["the downbeat", "the “e” of 1", "the “and” of 1", "the “a” of 1", "2"]),
        ("4/4", "1/12", ["the downbeat", "the “and” of 1", "the “a” of 1", "2"]),
        ("6/8 in 2", "1/8", ["the downbeat", "the “and” of 1", "the “a” of 1", "2", "the “and” of 2"]),
        ("4/4", "1/8", ["the downbeat", "the “and” of 1", "2"]),
        ("4/4", "1/32", ["the downbeat", "1 thirty-second after 1", "2 thirty-seconds after 1"]),
        (
            "7/8 in 2+2+3",
            "1/8",
            ["the downbeat", "the “and” of 1", "2", "the “and” of 2", "3", "the “and” of 3"],
        ),
    ],
)
def test_places_in_the_bar_are_called_as_they_are_counted(meter: str, pulse: str, places: list[str]) -> None:
    head = HEAD.replace("meter: 4/4", f"meter: {meter}").replace("pulse: 1/16", f"pulse: {pulse}")
    timeline = make_lesson(f"{head}form: [{{section: A, bars: 2, plays: otter}}]\n").timeline
    assert timeline.pulse is not None
    for number, place in enumerate(places):
        words = start_words(timeline, number * timeline.pulse, timeline.pulse)
        text = "".join(word.text if isinstance(word, Phrase) else word for word in words)
        assert text.removeprefix("on ") == place


def test_a_section_chooses_the_handover_into_it() -> None:
    form = (
        "[{section: Bank, bars: 3, plays: otter}, {section: Mill, bars: 2, plays: wren}, "
        "{section: Sea, bars: 2, plays: gate}]"
    )
    assert text_of(schedule_of(form, ", section: Sea").question) == "Where does gate start?"
    assert text_of(schedule_of(form).question) == "Where does wren start?"
    lesson = make_lesson(f"{HEAD}form: {form}\nsegments: [{{show: handover, section: Bank}}]\n")
    with pytest.raises(SpecError) as caught:
        check_choices(lesson.spec, lesson.timeline)
    (problem,) = caught.value.problems
    assert (problem.text, problem.mend) == ("nothing hands over to Bank.", "Write Mill or Sea.")


def test_a_piece_without_a_handover_says_so() -> None:
    segment = build("[{section: Bank, bars: 3, plays: otter}, {section: Mill, bars: 2, plays: on}]")
    assert "No list of figures hands over to another." in texts(segment, last(segment))
    assert segment_faults(segment) == []


# When


@pytest.mark.parametrize("case", CASES)
def test_it_asks_first_answers_last_and_keeps_its_times(case: str) -> None:
    schedule = schedule_of(CASES[case])
    start, end = schedule.span.seconds, schedule.ends
    assert start >= reading_seconds(text_of(schedule.question))
    assert schedule.clicks[0].seconds >= start - MOST_LEAD
    assert schedule.seconds - schedule.answered == reading_seconds(text_of(schedule.answer)) + AFTER_ANSWER
    steps = [step.seconds for step in schedule.steps]
    assert steps == sorted(steps)
    told = [end, *schedule.share_times, *([schedule.sum_time] if schedule.added else []), schedule.answered]
    assert all(after - before <= Fraction(6, 5) for before, after in pairwise(told))


@pytest.mark.parametrize("case", ["over", "shared", "cut later", "silence"])
def test_clicks_and_notes_stand_where_the_timeline_says(case: str) -> None:
    """At 100 a sixteenth lasts 0.15 s: what is heard is the spec's tempo, no click follows the music."""
    schedule = schedule_of(CASES[case])
    timeline = schedule.timeline
    beats = [c.seconds for c in schedule.clicks if c.seconds >= schedule.span.seconds]
    assert all(after - before == Fraction(60, 100) for before, after in pairwise(beats))
    assert max(beats) < schedule.ends
    (notes,) = segment_notes(schedule).values()
    hits = [hit.at for hit in timeline.hits if schedule.start <= hit.at < schedule.stop]
    assert [note.seconds for note in notes] == [schedule.seconds_at(at) for at in hits]
    assert schedule_of(CASES[case], ", speed: 50 %").ends > schedule.ends
    groups = schedule_of(CASES[case], ", click: {every: group, count_in: 0}")
    assert {click.kind for click in groups.clicks} == {"group"}


# What is drawn


def lit(segment: HandoverSegment, moment: Moment) -> "tuple[int, int]":
    """The first and last column of a frame in which a sail is lit."""
    frame = Painter(960, 540, segment.look.ground).paint(segment.picture(moment))[..., :3].astype(int)
    colours = [
        tuple(int(code[i : i + 2], 16) for i in (1, 3, 5))
        for code in (segment.look.sail_one, segment.look.sail_two)
    ]
    row = frame[int(segment.row.base / 2) - 12]
    columns = np.flatnonzero([any(abs(np.array(c) - pixel).max() < 12 for c in colours) for pixel in row])
    return (int(columns[0]), int(columns[-1])) if len(columns) else (0, 0)


def test_what_is_lit_has_sounded_up_to_the_playhead() -> None:
    segment = build(CASES["over"])
    schedule = segment.schedule
    assert lit(segment, Moment(schedule.span.seconds - FRAME, FRAME)) == (0, 0)
    for pulses in (3, 8, 13):
        seconds = schedule.seconds_at(schedule.start + pulses * schedule.pulse)
        assert seconds is not None
        moment = Moment(seconds + Fraction(1, 30), FRAME)
        x = segment.row.x(schedule.position(moment.end))
        first, end = lit(segment, moment)
        assert abs(first * 2 - segment.row.x(schedule.start)) < 8
        assert x - 14 <= end * 2 <= x + 1


def shapes(segment: HandoverSegment, colours: "tuple[str, ...]", inside: "tuple[float, float]") -> int:
    """How many shapes of these colours lie between two pixels across."""
    found = 0
    fills = {red_green_blue(colour) for colour in colours}
    for shape in segment.picture(last(segment)):
        if len(shape.points) and shape.text is None and shape.fill[:3] in fills:
            left, _, right, _ = shape.extent
            x = [edge * 1080 / 8 + 960 for edge in (left, right)]
            found += inside[0] <= x[0] and x[1] <= inside[1]
    return found


def test_one_too_many_is_one_stroke_where_the_next_figure_has_an_accent_and_dashed_where_not() -> None:
    """Which of the two follows from the timeline: the shared disc has both colours left and right of the line."""
    for case, halves in (("shared", 1), ("ghost", 0)):
        segment = build(CASES[case])
        x, radius = segment.row.x(80 * segment.timeline.grid // 16), segment.row.style.disc + SHARED
        assert shapes(segment, (segment.look.sail_one,), (x - radius - 1, x + 1)) == halves
        assert shapes(segment, (segment.look.sail_two,), (x - 1, x + radius + 1)) == halves


def test_on_a_slide_names_keep_off_the_plate_and_the_field_s_edge() -> None:
    segment = build_segment(schedule_of(CASES["ghost"]), read_look("light").on(SLIDE))
    assert isinstance(segment, HandoverSegment)
    boxes = {box.text: box for box in text_boxes(segment.picture(last(segment)))}
    plate = segment.row.line + PLATE_FOOT
    assert boxes["bar 6"].top >= plate + 8
    assert min(boxes["Bank"].top, boxes["Mill"].top) >= segment.row.top + 8


@pytest.mark.parametrize("case", CASES)
def test_texts_have_room_on_a_slide(case: str) -> None:
    segment = build(CASES[case])
    assert segment_faults(HandoverSegment(segment.schedule, segment.look.on(SLIDE)), 0) == []


@pytest.mark.parametrize("size", SIZES, ids=lambda size: "x".join(map(str, size)))
@pytest.mark.parametrize("case", CASES)
def test_texts_have_room(case: str, size: tuple[int, int]) -> None:
    assert segment_faults(build(CASES[case], size)) == []


@pytest.mark.parametrize("case", CASES)
def test_the_line_and_the_new_start_are_seen(case: str) -> None:
    """In every shape; a line that lies far before the new start is not."""
    for size in SIZES:
        segment = build(CASES[case], size)
        meeting = segment.schedule.meeting
        assert meeting is not None
        assert segment.row.holds(meeting.handover.at)
        assert segment.row.holds(meeting.handover.line) or case == "waits on"


def test_the_old_one_is_named_by_its_place_in_its_row_or_in_the_piece() -> None:
    form = (
        "[{section: Bank, bars: 1, plays: wren}, {section: Pond, bars: 3, plays: otter}, "
        "{section: Mill, bars: 2, starts: after, plays: wren}]"
    )
    for option, place in (("", "5th"), (", numbers: piece", "7th")):
        schedule = schedule_of(form, f", section: Mill{option}")
        segment = build_segment(schedule, read_look("dark").on(canvas_for(1920, 1080)))
        assert isinstance(segment, HandoverSegment)
        assert place in texts(segment, last(segment))


@pytest.mark.parametrize("theme", ["dark", "light"])
def test_the_name_of_a_tail_stands_on_the_sky_in_the_figure_s_colour(theme: str) -> None:
    """A tail is an outline: what stands on lit sails would not be read there."""
    segment = build(CASES["tail"], theme=theme)
    (name,) = [shape for shape in segment.picture(last(segment)) if shape.text == "tail"]
    assert name.fill[:3] == red_green_blue(segment.look.figure_text)
