"""The figure's staff: in its place, as large as can be read, in time, and where it has no room told beforehand."""

from fractions import Fraction
from itertools import accumulate

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from renderer.core import limits
from renderer.core.errors import SpecError
from renderer.lesson.lesson import check_choices
from renderer.schedule import staffs
from renderer.schedule.figure import FigureSchedule
from scenes.draw.look import WIDE, read_look
from scenes.draw.segment import Moment
from scenes.draw.shapes import PIXEL, FilledShape
from scenes.figure.engraving import engrave
from scenes.figure.figure import FigureSegment
from scenes.figure.staff import LEAST_SPACE, MOST_SPACE, Staff, pack, pointer_place
from tests.boxes import FRAME, overlaps, segment_faults, text_boxes
from tests.lessons import DARK, make_lesson

SPECS = {
    "5 3 3": ("1/16", "[5, 3, 3]"),
    "seven groups": ("1/8", "[3, 2, 2, 3, 2, 4, 3]"),
    "triplets": ("1/12", "[2, 3, 5, 4]"),
    "triplet hits": ("1/24", "{hits: 'Xxx xxx x.xx ..xx'}"),
    "hits": ("1/16", "{hits: 'X..x. xx. x... .x.X'}"),
    "ten groups": ("1/8", "[7, 5, 7, 5, 9, 4, 7, 5, 6, 5]"),
    "40 groups": ("1/16", f"[{', '.join(['5'] * 40)}]"),
    "120 hits": ("1/16", f"{{hits: '{' '.join(['Xxxxx'] * 24)}'}}"),
    "one long group": ("1/16", "[200]"),
    "one pulse": ("1/4", "[1]"),
    "fine pulses": ("1/512", "[2, 1]"),
    "fifths": ("1/20", "{hits: 'Xx.xx x.x ..x'}"),
    "silence": ("1/12", "{groups: [3, 2, 4], accents: [1]}"),
    "long notes": ("1/2", f"[{', '.join(['7'] * 20)}]"),
}


def spec_text(pulse: str, figure: str, option: str = "true") -> str:
    return f"""
title: Weir
tempo: 112
meter: 4/4
pulse: {pulse}
figures: {{weir: {figure}}}
form: [{{section: A, bars: 8, plays: weir}}]
click: {{every: beat, count_in: 1}}
segments: [{{show: figure, staff: {option}}}]
"""


def open_segment(name: str, theme: str = "dark") -> FigureSegment:
    lesson = make_lesson(spec_text(*SPECS[name]))
    check_choices(lesson.spec, lesson.timeline)
    schedule = lesson.schedule_show("figure")
    assert isinstance(schedule, FigureSchedule)
    return FigureSegment(schedule, read_look(theme))


@pytest.fixture(params=SPECS)
def segment(request: pytest.FixtureRequest) -> FigureSegment:
    return open_segment(request.param)


def staff_of(segment: FigureSegment) -> Staff:
    assert segment.layout.staff is not None
    return segment.layout.staff


def box_of(drawn: FilledShape) -> tuple[float, float, float, float]:
    x = drawn.points[:, 0] / PIXEL + WIDE.width / 2
    y = WIDE.height / 2 - drawn.points[:, 1] / PIXEL
    return x.min(), y.min(), x.max(), y.max()


def last_moment(segment: FigureSegment) -> Moment:
    return Moment(segment.schedule.seconds - FRAME, FRAME)


def test_heads_are_as_large_as_can_be_read(segment: FigureSegment) -> None:
    assert LEAST_SPACE <= staff_of(segment).space <= MOST_SPACE


def test_texts_keep_apart_with_a_staff(segment: FigureSegment) -> None:
    assert segment_faults(segment) == []


def staff_shapes(segment: FigureSegment, moment: Moment) -> list[FilledShape]:
    return segment._staff(moment)


def test_the_staff_meets_nothing_else(segment: FigureSegment) -> None:
    """At the end and in the middle of its pass: no text, no post, no hull lies in the box of any system."""
    schedule = segment.schedule
    assert schedule.staff_start is not None
    halfway = schedule.staff_start + schedule.pulse * segment.figure.pulses / 2
    for moment in (last_moment(segment), Moment(halfway, FRAME)):
        own = staff_shapes(segment, moment)
        mine = {id(shape) for shape in own}
        boxes = [box_of(shape) for shape in own]
        for drawn in segment.picture(moment):
            if id(drawn) in mine or not len(drawn.points) or _same(drawn, own):
                continue
            left, top, right, bottom = box_of(drawn)
            for box in boxes:
                apart = left >= box[2] or right <= box[0] or top >= box[3] or bottom <= box[1]
                assert apart, (drawn.text, box_of(drawn), box)


def _same(drawn: FilledShape, shapes: list[FilledShape]) -> bool:
    return any(np.array_equal(drawn.points, shape.points) for shape in shapes)


def test_the_staff_stays_in_its_room(segment: FigureSegment) -> None:
    staff = staff_of(segment)
    for shape in staff_shapes(segment, last_moment(segment)):
        left, top, right, bottom = box_of(shape)
        assert left >= WIDE.left - 0.5
        assert right <= WIDE.right + 0.5
        assert top >= segment.row.feet
        assert bottom <= WIDE.bottom
        assert top >= staff.box.top - 1
        assert bottom <= staff.box.bottom + 1


def test_groups_stand_in_order_and_apart(segment: FigureSegment) -> None:
    staff = staff_of(segment)
    order = [index for system in staff.systems for index, _ in system.places]
    assert order == list(range(len(segment.figure.groups)))
    for system in staff.systems:
        ends = [
            x + max(c[:, :, 0].max() for c in staff.engraving.groups[index].notes) * staff.space
            for index, x in system.places
        ]
        starts = [x for _, x in system.places[1:]]
        assert all(end < start for end, start in zip(ends, starts, strict=False))
        assert ends[-1] <= system.right + 1


def test_every_hit_has_its_head_under_the_pointer_when_it_sounds(segment: FigureSegment) -> None:
    """The head's place is read from the outlines, the pointer's from its own function."""
    staff, figure = staff_of(segment), segment.figure
    found = {}
    for system in staff.systems:
        for index, x in system.places:
            for pulse, head in staff.engraving.groups[index].heads:
                found[pulse] = x + head * staff.space
    assert sorted(found) == [hit - 1 for hit in figure.hits]
    for pulse, x in found.items():
        assert pointer_place(staff, pulse)[0] == pytest.approx(x, abs=0.05)


def test_the_pointer_never_runs_backwards_on_a_system(segment: FigureSegment) -> None:
    staff = staff_of(segment)
    places = [pointer_place(staff, n * segment.figure.pulses / 400) for n in range(400)]
    lines = sorted({y for _, y in places})
    assert len(lines) == len(staff.systems)
    for line in lines:
        across = [x for x, y in places if y == line]
        assert across == sorted(across)


def test_accents_stand_over_the_hits_that_have_them() -> None:
    segment = open_segment("hits")
    staff, figure = staff_of(segment), segment.figure
    starts = [0, *accumulate(figure.groups)]
    for start, end, group in zip(starts, starts[1:], staff.engraving.groups, strict=False):
        accented = [accent - 1 for accent in figure.accents if start <= accent - 1 < end]
        assert len(group.accents) == len(accented)
        heads = dict(group.heads)
        for pulse, outline in zip(accented, group.accents, strict=True):
            middle = (outline[:, :, 0].min() + outline[:, :, 0].max()) / 2
            assert abs(middle - heads[pulse]) < 1
            assert outline[:, :, 1].max() < -2.5, "at the stem's end, clear of the head"


def test_a_groups_notes_come_with_its_term() -> None:
    segment = open_segment("seven groups")
    schedule = segment.schedule
    for index, start in enumerate(schedule.term_starts[:-1]):
        before = staff_shapes(segment, Moment(start - FRAME, FRAME))
        after = staff_shapes(segment, Moment(start, FRAME))
        assert len(after) == len(before) + 2 + (2 if index == 0 else 0)


def test_what_is_drawn_has_the_looks_colours_in_pixels() -> None:
    from renderer.video.rasterizer import Painter

    for theme in ("dark", "light"):
        segment = open_segment("5 3 3", theme)
        look, staff = read_look(theme), staff_of(segment)
        frame = Painter(1920, 1080, look.ground).paint(segment.picture(last_moment(segment)))
        for index, x in staff.systems[0].places:
            _, head = staff.engraving.groups[index].heads[0]
            row, column = round(staff.systems[0].line), round(x + head * staff.space)
            wanted = tuple(int(look.sail_one[i : i + 2], 16) for i in (1, 3, 5))
            assert tuple(frame[row, column][:3]) == pytest.approx(wanted, abs=1)


def test_without_the_option_nothing_changes() -> None:
    lesson = make_lesson(spec_text(*SPECS["5 3 3"], option="false"))
    schedule = lesson.schedule_show("figure")
    assert isinstance(schedule, FigureSchedule)
    assert schedule.staff_start is None
    assert [step.name for step in schedule.steps] == ["count-in", "count", "accents", "sum", "next"]
    assert staff_shapes(FigureSegment(schedule, DARK), Moment(schedule.seconds, FRAME)) == []


def test_the_staffs_pass_begins_on_a_downbeat_and_has_its_clicks() -> None:
    """It comes once the groups are added up, after a count-in of its own, and before the answer."""
    schedule = make_lesson(spec_text(*SPECS["hits"])).schedule_show("figure")
    plain = make_lesson(spec_text(*SPECS["hits"], option="false")).schedule_show("figure")
    assert isinstance(schedule, FigureSchedule)
    assert isinstance(plain, FigureSchedule)
    assert schedule.staff_start is not None
    lead, one_pass = schedule.count_start, schedule.against.shown * schedule.pulse
    assert schedule.staff_start in [click.seconds for click in schedule.clicks if click.kind == "downbeat"]
    assert schedule.staff_start == plain.answer_start + lead
    assert schedule.clicks[: len(plain.clicks)] == plain.clicks
    own = [click.seconds for click in schedule.clicks[len(plain.clicks) :]]
    assert own[0] == schedule.staff_start - lead
    assert own[-1] < schedule.staff_start + one_pass < schedule.answer_start
    assert schedule.seconds - schedule.answer_start == plain.seconds - plain.answer_start
    assert [step.name for step in schedule.steps][-2:] == ["staff", "next"]


def faults_of(figure: str, option: str = "true") -> str:
    with pytest.raises(SpecError) as caught:
        check(spec_text("1/16", figure, option))
    return str(caught.value)


def check(text: str) -> None:
    lesson = make_lesson(text)
    check_choices(lesson.spec, lesson.timeline)


def test_a_figure_of_too_many_notes_is_told_before_it_is_drawn() -> None:
    told = faults_of(f"{{hits: '{' '.join(['xxxxx'] * 25)}'}}")
    assert "weir takes 125 notes and rests; a staff has room for 120." in told
    assert "a group of weir takes 41 notes and rests; one has room for 40." in faults_of(
        f"{{hits: '{'x' * 41}'}}"
    )


def test_without_the_engraver_the_spec_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(staffs, "find_spec", lambda name: None)
    lesson = make_lesson(spec_text(*SPECS["5 3 3"]))
    with pytest.raises(SpecError) as caught:
        check_choices(lesson.spec, lesson.timeline)
    (problem,) = caught.value.problems
    assert problem.path == ("segments", 0, "staff")
    assert "verovio" in problem.text
    assert "pip install 'barcross[staff]'" in str(problem.mend)


def test_another_word_than_true_or_false_is_told() -> None:
    assert "true or false belongs here" in faults_of("[5, 3, 3]", "ture")
    for word in ("true", "yes", "on", "false", "no", "off"):
        lesson = make_lesson(spec_text(*SPECS["5 3 3"], option=word))
        assert lesson.spec.segments[0].staff == (word in ("true", "yes", "on"))


@settings(max_examples=25, deadline=None)
@given(st.data())
def test_every_figure_that_is_let_through_has_room(data: st.DataObject) -> None:
    pulse = data.draw(st.sampled_from(["1/4", "1/8", "1/12", "1/16", "1/20", "1/24", "1/32"]))
    groups = data.draw(st.lists(st.text("xX.", min_size=1, max_size=24), min_size=1, max_size=40))
    hits, room = [], limits.FIGURE_PULSES
    for group in groups:
        if len(group) <= room:
            hits.append(group)
            room -= len(group)
    if not any(mark in group for group in hits for mark in "xX"):
        hits[0] = "x" * len(hits[0])
    lesson = make_lesson(spec_text(pulse, f"{{hits: '{' '.join(hits)}'}}"))
    try:
        check_choices(lesson.spec, lesson.timeline)
    except SpecError:
        return
    schedule = lesson.schedule_show("figure")
    assert isinstance(schedule, FigureSchedule)
    segment = FigureSegment(schedule, DARK)
    assert staff_of(segment).space >= LEAST_SPACE
    assert overlaps(text_boxes(segment.picture(last_moment(segment)))) == []


def test_systems_are_shared_out_evenly() -> None:
    lesson = make_lesson(spec_text(*SPECS["40 groups"]))
    engraving = engrave(lesson.timeline.figures[0], 0.0, 0.3)
    rows = pack(engraving, 3, 130)
    assert rows is not None
    assert [index for row in rows for index in row] == list(range(40))
    assert max(map(len, rows)) - min(map(len, rows)) <= 2
    assert pack(engraving, 1, 100) is None


def test_no_time_is_counted_in_floats() -> None:
    schedule = open_segment("triplets").schedule
    assert all(isinstance(step.seconds, Fraction) for step in schedule.steps)
