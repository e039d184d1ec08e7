"""compare: what a variant keeps, lacks and gains, from the alignment down to the pixels."""

from fractions import Fraction
from itertools import product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from renderer.core.errors import SpecError
from renderer.lesson.lesson import Lesson
from renderer.schedule.compare import CompareSchedule, schedule_compare
from renderer.spec.model import ClickSpec, SegmentSpec
from renderer.timeline.model import Figure
from renderer.timeline.variant import compare_figures
from renderer.video.rasterizer import Painter
from scenes.compare.compare import CompareSegment
from scenes.draw.look import SLIDE, canvas_for, read_look
from scenes.draw.segment import Moment
from tests.boxes import FRAME, faults, segment_faults
from tests.lessons import make_lesson
from tests.pieces import spec_of

CLICK = ClickSpec(count_in=1)
SIXTEENTH = Fraction(1, 16)
HEAD = "title: A test\ntempo: 132\nmeter: 4/4\npulse: 1/16\n"
FORM = "form:\n  - {section: A, bars: 4, plays: kiln}\n"
MANY = ", ".join(["5"] * 40)
VARIANTS = {
    "shorter": "{groups: [3, 3, 3], from: kiln}",
    "longer": "{groups: [5, 3, 3, 2], from: kiln}",
    "wider": "{groups: [5, 4, 3], from: kiln}",
    "split": "{groups: [2, 3, 3, 3], from: kiln}",
    "joined": "{groups: [8, 3], from: kiln}",
    "both": "{groups: [4, 3, 4], from: kiln}",
    "one gone": "{groups: [3, 3], from: kiln}",
    "other pulse": "{groups: [5, 3, 3], pulse: 1/12, from: kiln}",
    "other accents": "{hits: X..x. X.. x.x, from: kiln}",
    "forty groups": f"{{groups: [{MANY}], from: kiln}}",
    "one pulse": "{groups: [2], from: kiln}",
    "two hundred": "{groups: [200], from: kiln}",
    "a name of forty letters, which is a lot": "{groups: [12, 3, 3], from: kiln}",
}


def lesson_of(variant: str, name: str = "brief", kiln: str = "[5, 3, 3]") -> Lesson:
    return make_lesson(f'{HEAD}figures: {{kiln: {kiln}, "{name}": {variant}}}\n{FORM}')


def segment_of(
    variant: str,
    name: str = "brief",
    theme: str = "dark",
    kiln: str = "[5, 3, 3]",
    size: tuple[int, int] = (1920, 1080),
) -> CompareSegment:
    timeline = lesson_of(variant, name, kiln).timeline
    look = read_look(theme).on(canvas_for(*size))
    return CompareSegment(schedule_compare(timeline, SegmentSpec("compare"), CLICK), look)


def figure_of(*groups: int) -> Figure:
    return Figure("f", SIXTEENTH, groups, (), ())


def kinds(ours: tuple[int, ...], theirs: tuple[int, ...]) -> list[tuple[str, int]]:
    found = compare_figures(figure_of(*ours), figure_of(*theirs))
    return [(piece.kind, piece.length) for piece in found.pieces]


def colour_at(segment: CompareSegment, seconds: Fraction, x: float, y: float) -> tuple[int, ...]:
    pixels = Painter(1920, 1080, segment.look.ground).paint(segment.picture(Moment(seconds, FRAME)))
    return tuple(int(value) for value in pixels[round(y), round(x), :3])


def rgb(colour: str) -> tuple[int, ...]:
    return tuple(int(colour[i : i + 2], 16) for i in (1, 3, 5))


def near(one: tuple[int, ...], other: tuple[int, ...]) -> bool:
    return max(abs(a - b) for a, b in zip(one, other, strict=True)) <= 3


# The alignment


@pytest.mark.parametrize(
    ("ours", "theirs", "pieces"),
    [
        ((5, 3, 3), (3, 3, 3), [("kept", 3), ("out", 2), ("kept", 3), ("kept", 3)]),
        ((5, 3, 3), (5, 3), [("kept", 5), ("kept", 3), ("out", 3)]),
        ((5, 3, 3), (3, 3), [("out", 5), ("kept", 3), ("kept", 3)]),
        ((5, 3, 3), (5, 4, 3), [("kept", 5), ("kept", 3), ("added", 1), ("kept", 3)]),
        ((5, 3, 3), (5, 3, 3, 2), [("kept", 5), ("kept", 3), ("kept", 3), ("added", 2)]),
        ((5, 3, 3), (2, 3, 3, 3), [("kept", 2), ("kept", 3), ("kept", 3), ("kept", 3)]),
        ((5, 3, 3), (8, 3), [("kept", 5), ("kept", 3), ("kept", 3)]),
        ((5, 3, 3), (5, 3, 3), [("kept", 5), ("kept", 3), ("kept", 3)]),
    ],
)
def test_what_is_kept_taken_out_and_added(
    ours: tuple[int, ...], theirs: tuple[int, ...], pieces: list[tuple[str, int]]
) -> None:
    assert kinds(ours, theirs) == pieces


groups = st.lists(st.integers(1, 7), min_size=1, max_size=9).map(tuple)


@given(groups, groups)
def test_the_pieces_fill_both_figures_without_a_gap(ours: tuple[int, ...], theirs: tuple[int, ...]) -> None:
    found = compare_figures(figure_of(*ours), figure_of(*theirs))
    at, to = 0, 0
    for piece in found.pieces:
        assert (piece.figure_at, piece.variant_at) == (at, to)
        at += piece.length if piece.kind != "added" else 0
        to += piece.length if piece.kind != "out" else 0
    assert (at, to) == (sum(ours), sum(theirs))


@given(groups, groups)
def test_no_other_way_changes_fewer_pulses_where_groups_are_only_shortened_or_lengthened(
    ours: tuple[int, ...], theirs: tuple[int, ...]
) -> None:
    """The way found changes no more than any pairing of the first groups in order (all of them tried)."""
    found = compare_figures(figure_of(*ours), figure_of(*theirs))
    changed = sum(piece.length for piece in found.pieces if piece.kind != "kept")
    fewest = min(
        sum(abs(a - b) for a, b in zip(ours[skip:], theirs[drop:], strict=False))
        + sum(ours[:skip])
        + sum(theirs[:drop])
        + sum(ours[skip + len(theirs) - drop :])
        + sum(theirs[drop + len(ours) - skip :])
        for skip, drop in product(range(len(ours) + 1), range(len(theirs) + 1))
        if not (skip and drop)
    )
    most_changes = len(ours) + len(theirs)
    assert changed <= fewest + most_changes / 4


@given(groups)
def test_a_figure_compared_with_itself_is_kept(ours: tuple[int, ...]) -> None:
    found = compare_figures(figure_of(*ours), figure_of(*ours))
    assert not found.changes
    assert not found.moves


# Time


def test_a_step_a_stage_and_none_without_need_in_silence() -> None:
    segment = segment_of(VARIANTS["shorter"])
    names = [step.name for step in segment.schedule.steps]
    assert names == ["figure", "copy", "taken out", "moved", "difference", "total"]
    assert not segment.schedule.clicks
    longer = segment_of(VARIANTS["longer"]).schedule
    assert [step.name for step in longer.steps] == ["figure", "copy", "added", "difference", "total"]


# Pictures


def test_what_is_taken_out_goes_dark_above_and_empty_below_and_what_follows_closes_up() -> None:
    segment = segment_of(VARIANTS["shorter"])
    schedule, upper, lower, look = segment.schedule, segment.upper, segment.lower, segment.look
    x, y = upper.x(4.5), upper.hull_bottom - 6
    assert near(colour_at(segment, Fraction(0), x, y), rgb(look.sail_one))
    assert near(colour_at(segment, schedule.taken, x, y), rgb(look.ground))
    below = lower.hull_bottom - 6
    assert near(colour_at(segment, schedule.copied, x, below), rgb(look.sail_two))
    assert near(colour_at(segment, schedule.taken, x, below), rgb(look.sky_one))
    assert near(colour_at(segment, schedule.moved, x, below), rgb(look.sail_two))
    end = lower.x(9.5)
    assert near(colour_at(segment, schedule.moved, end, below), rgb(look.sky_one))


def test_what_is_added_is_an_outline_where_the_figure_had_ended() -> None:
    segment = segment_of(VARIANTS["longer"])
    schedule, lower, look = segment.schedule, segment.lower, segment.look
    x, y = lower.x(11.9), lower.hull_bottom - 6
    assert near(colour_at(segment, schedule.copied, x, y), rgb(look.sky_one))
    assert near(colour_at(segment, schedule.added, x, y), rgb(look.ground))
    assert near(colour_at(segment, schedule.added, lower.x(11) + 3, lower.base - 30), rgb(look.sail_one))


def test_left_edges_and_scale_are_the_same() -> None:
    segment = segment_of(VARIANTS["wider"])
    assert segment.upper.scale == segment.lower.scale
    assert segment.upper.x(0) == segment.lower.x(0)
    other = segment_of(VARIANTS["other pulse"])
    assert other.lower.scale / other.upper.scale == pytest.approx(16 / 12)


def test_the_sum_and_the_totals_are_told() -> None:
    segment = segment_of(VARIANTS["shorter"])
    last = segment.schedule.seconds - FRAME
    shown = [shape.text for shape in segment.picture(Moment(last, FRAME)) if shape.text]
    assert {"kiln", "brief", "11", "9", "− 2", "11 − 2 = 9."} <= set(shown)
    assert "The first group gives up its last 2 pulses: " in shown
    before = segment.picture(Moment(segment.schedule.difference, FRAME))
    assert "9" not in [shape.text for shape in before]


@pytest.mark.parametrize("name", VARIANTS)
def test_texts_stand_well_on_a_slide(name: str) -> None:
    segment = CompareSegment(segment_of(VARIANTS[name], name).schedule, read_look("light").on(SLIDE))
    assert segment_faults(segment, 0) == []


@pytest.mark.parametrize("size", [(1920, 1080), (1080, 1920), (1080, 1080), (2520, 1080)], ids=str)
@pytest.mark.parametrize("name", VARIANTS)
def test_texts_stand_well(name: str, size: tuple[int, int]) -> None:
    assert segment_faults(segment_of(VARIANTS[name], name, size=size)) == []


def test_at_the_end_what_has_not_changed_steps_back() -> None:
    """To 35 % over the ground; what is taken out, the names and the totals stay."""
    segment = segment_of(VARIANTS["shorter"])
    look, last = segment.look, segment.schedule.seconds - FRAME
    kept = colour_at(segment, last, segment.upper.x(1.5), segment.upper.hull_bottom - 6)
    expected = tuple(
        round(0.35 * a + 0.65 * b) for a, b in zip(rgb(look.sail_one), rgb(look.ground), strict=True)
    )
    assert near(kept, expected)
    shown = [shape.fill_opacity for shape in segment.picture(Moment(last, FRAME)) if shape.text == "− 2"]
    assert shown[-1] == 1


@pytest.mark.parametrize("variant", ["[3, 3, 3]", "[5, 3, 3, 2]", "[200]", "[1, 1]"])
def test_texts_stand_well_from_two_hundred_pulses_and_in_every_frame_of_a_move(variant: str) -> None:
    segment = segment_of(f"{{groups: {variant}, from: kiln}}", kiln=f"[{MANY}]")
    assert segment_faults(segment) == []
    for moved in range(60):
        for arrival in (segment.schedule.copied, segment.schedule.moved):
            assert faults(segment.picture(Moment(arrival - moved * FRAME, FRAME))) == []


def test_shapes_that_stay_are_the_same_objects() -> None:
    segment = segment_of(VARIANTS["both"])
    last = segment.schedule.seconds
    first, second = (segment.picture(Moment(last - n * FRAME, FRAME)) for n in (2, 1))
    assert all(a is b for a, b in zip(first, second, strict=True))
    assert np.isfinite(np.concatenate([shape.points for shape in first])).all()


# Options


def test_the_first_variant_is_compared_unless_another_is_named() -> None:
    text = f"{HEAD}figures: {{kiln: [5, 3, 3], b: {VARIANTS['wider']}, c: {VARIANTS['longer']}}}\n{FORM}"
    first = make_lesson(text + "segments: compare\n").segments()[0].schedule
    named = make_lesson(text + "segments: {show: compare, figure: c}\n").segments()[0].schedule
    assert isinstance(first, CompareSchedule)
    assert isinstance(named, CompareSchedule)
    assert (first.variant.name, named.variant.name) == ("b", "c")


@pytest.mark.parametrize(
    ("figures", "segment", "message"),
    [
        ("{kiln: [5, 3, 3]}", "compare", "no figure comes from another, so there is nothing to compare."),
        (
            "{kiln: [5, 3, 3], b: {groups: [3], from: kiln}}",
            "{show: compare, figure: kiln}",
            "kiln does not come from another figure.",
        ),
        (
            "{kiln: [5, 3, 3], b: {groups: [3], from: kiln}}",
            "{show: compare, figure: kilm}",
            "there is no figure kilm.",
        ),
        (
            "{kiln: [5, 3, 3], b: {groups: [3], from: kiln}}",
            "{show: compare, sections: A}",
            "compare takes no sections.",
        ),
    ],
)
def test_what_cannot_be_compared_is_told(figures: str, segment: str, message: str) -> None:
    with pytest.raises(SpecError) as told:
        spec_of(f"{FORM}segments: {segment}\n", f"{HEAD}figures: {figures}\n")
    assert message in str(told.value)
