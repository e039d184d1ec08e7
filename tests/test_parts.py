"""parts: who is on which side where, from the schedule down to the shapes."""

from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest

from renderer.core.errors import SpecError
from renderer.reading.load import parse_spec
from renderer.schedule.part_rows import MOST_ALONE, clocks, find_changes, group_parts, lay_rows, part_names
from renderer.schedule.parts import MOST_ROWS, PartsSchedule, schedule_parts
from renderer.spec.model import ClickSpec, SegmentSpec
from scenes.draw.look import WIDE, read_look
from scenes.draw.segment import Moment
from scenes.draw.shapes import PIXEL, FilledShape
from scenes.parts.parts import PartsSegment
from tests.boxes import FRAME, segment_faults
from tests.pieces import HEAD, spec_of, timeline_of

CLICK = ClickSpec(count_in=1)

FERRY = """
parts: {marimba: figure, bass: figure, kit: figure, organ: meter}
form:
  - {section: Jetty, bars: 12, plays: kiln, parts: {kit: {9: meter}}}
  - {section: Bank, bars: 8, plays: on, parts: {kit: figure, bass: {5.3: meter}, organ: figure}}
"""
MANY = ", ".join(f"player {number}" for number in range(1, 13))
STAGGERED = f"""
parts: {{{", ".join(f"{name}: figure" for name in MANY.split(", "))}}}
form:
  - section: One after another and all of them at end
    bars: 36
    plays: kiln
    parts: {{{", ".join(f"{name}: {{{3 * n + 2}: meter}}" for n, name in enumerate(MANY.split(", ")))}}}
  - section: B
    bars: 1
  - section: And back
    bars: 26
    plays: kiln
    parts: {{{", ".join(f"{name}: {{{2 * n + 2}: figure}}" for n, name in enumerate(MANY.split(", ")))}}}
"""
LONG_NAME = "a part whose name is of forty letters so"
LONG_NAMES = f"""
parts: {{{LONG_NAME}: figure, x: meter, silent: tacet}}
form:
  - {{section: {"W" * 40}, bars: 1, plays: kiln}}
  - {{section: A, bars: 2, plays: on, parts: {{{LONG_NAME}: {{1.2: meter, 1.3: figure}}, silent: figure}}}}
  - {{section: {LONG_NAME}, bars: 297, plays: on, meter: {{1: [4/4, 7/8, 3/4]}}, parts: {{x: {{150: figure}}}}}}
"""
SHORTEST = "parts: {a: figure}\nform:\n  - {section: A, bars: 1, plays: {rest: 3}}\n"
PICKUP = """
pickup: 1/4
parts: {a: figure, b: meter}
form:
  - {section: A, bars: 3, plays: brief, parts: {b: {2.2: figure}}}
"""
SPECS = [FERRY, STAGGERED, LONG_NAMES, SHORTEST, PICKUP]
IDS = ["ferry", "staggered", "long-names", "shortest", "pick-up"]


def segment_of(text: str, theme: str = "dark") -> PartsSegment:
    timeline = timeline_of(text)
    return PartsSegment(schedule_parts(timeline, SegmentSpec("parts"), CLICK), read_look(theme))


def picture(segment: PartsSegment, seconds: Fraction) -> list[FilledShape]:
    return segment.picture(Moment(seconds, FRAME))


def end_of(schedule: PartsSchedule) -> Fraction:
    return schedule.seconds - FRAME


def discs(segment: PartsSegment, drawn: list[FilledShape]) -> list[float]:
    """Where discs stand on the line, in pixels: round ink shapes whose middle is the line."""
    page = segment.schedule.pages[-1]
    found = []
    for shape in drawn:
        if (
            shape.text
            or not len(shape.points)
            or not np.allclose(shape.fill_rgbas[0][:3], ink(segment), atol=1e-6)
        ):
            continue
        x = shape.points[:, 0] / PIXEL + WIDE.width / 2
        y = WIDE.height / 2 - shape.points[:, 1] / PIXEL
        if (
            abs(np.ptp(x) - np.ptp(y)) < 0.01
            and abs((y.min() + y.max()) / 2 - segment.layout.line(page)) < 0.01
        ):
            found.append(float(x.min() + x.max()) / 2)
    return found


def ink(segment: PartsSegment) -> tuple[float, ...]:
    return tuple(int(segment.look.ink[i : i + 2], 16) / 255 for i in (1, 3, 5))


# Rows


def test_who_leaves_soonest_stands_nearest_the_line() -> None:
    timeline = timeline_of(FERRY)
    groups = group_parts(timeline, part_names(timeline))
    rows = lay_rows(timeline, groups, timeline.start, timeline.end, False)
    first = {
        stretch.parts[0]: stretch.row for stretch in rows if stretch.clock == "figure" and stretch.at == 0
    }
    assert first == {"kit": 0, "bass": 1, "marimba": 2}


def test_who_comes_back_takes_the_row_of_before() -> None:
    timeline = timeline_of(FERRY)
    groups = group_parts(timeline, part_names(timeline))
    rows = lay_rows(timeline, groups, timeline.start, timeline.end, False)
    kit = [stretch.row for stretch in rows if stretch.parts == ("kit",) and stretch.clock == "figure"]
    assert kit == [0, 0]


@pytest.mark.parametrize("text", SPECS, ids=IDS)
def test_two_stretches_never_share_a_row_at_one_time(text: str) -> None:
    timeline = timeline_of(text)
    for page in schedule_parts(timeline, SegmentSpec("parts"), None).pages:
        for one in page.stretches:
            for other in page.stretches:
                apart = other.end <= one.at or one.end <= other.at
                assert one is other or one.clock != other.clock or one.row != other.row or apart


def test_a_voice_is_the_figures_side() -> None:
    voices = """
    parts: {oboe: upper, drum: meter}
    form:
      - section: A
        bars: 4
        voices: {upper: kiln, lower: brief}
        parts: {oboe: {2: lower, 3: tacet, 4: upper}}
    """
    timeline = timeline_of(voices)
    bar = timeline.bars[0].end
    assert clocks(timeline, "oboe") == (
        (0, 2 * bar, "figure"),
        (2 * bar, 3 * bar, "tacet"),
        (3 * bar, 4 * bar, "figure"),
    )
    assert [change.crosses for change in find_changes(timeline, [("oboe",)])] == [False, False]


def test_parts_that_change_alike_share_a_row_only_where_there_are_many() -> None:
    few = timeline_of("parts: {a: figure, b: figure}\nform:\n  - {section: A, bars: 2, plays: kiln}\n")
    assert group_parts(few, part_names(few)) == (("a",), ("b",))
    names = [f"p{number}" for number in range(MOST_ALONE + 1)]
    sides = ", ".join(f"{name}: {'figure' if name < 'p5' else 'meter'}" for name in names)
    many = timeline_of(f"parts: {{{sides}}}\nform:\n  - {{section: A, bars: 2, plays: kiln}}\n")
    assert group_parts(many, part_names(many)) == (tuple(names[:5]), tuple(names[5:]))


# Time


def test_every_change_stands_on_a_beat_and_each_has_its_step() -> None:
    timeline = timeline_of(FERRY)
    schedule = schedule_parts(timeline, SegmentSpec("parts"), CLICK)
    beats = {click.seconds for click in schedule.clicks}
    stops = [stop for page in schedule.pages for stop in page.stops if stop.changes]
    assert [timeline.beat_at(stop.at)[:2] for stop in stops] == [(9, 1), (13, 1), (17, 3)]
    assert {stop.seconds for stop in stops} <= beats
    assert [step.name for step in schedule.steps] == [
        "posts", "Jetty", "bar 9", "bar 13", "Bank", "bar 17", "summary",
    ]  # fmt: skip


def test_without_a_click_it_is_silent_and_begins_after_a_bar() -> None:
    timeline = timeline_of(FERRY)
    schedule = schedule_parts(timeline, SegmentSpec("parts"), None)
    assert not schedule.clicks
    assert schedule.pages[0].seconds == Fraction(4 * 60, 132)


@pytest.mark.parametrize("text", SPECS, ids=IDS)
def test_pages_hold_every_part_at_every_place_once(text: str) -> None:
    timeline = timeline_of(text)
    pages = schedule_parts(timeline, SegmentSpec("parts"), None).pages
    for name in part_names(timeline):
        own = [page for page in pages if name in page.parts]
        assert own[0].start == timeline.start
        assert own[-1].end == timeline.end
        assert all(before.end == after.start for before, after in pairwise(own))
    for page in pages:
        rows = {(stretch.clock, stretch.row) for stretch in page.stretches}
        assert len(rows) <= MOST_ROWS


def test_only_the_sections_and_parts_that_are_asked_for() -> None:
    timeline = timeline_of(FERRY)
    schedule = schedule_parts(
        timeline, SegmentSpec("parts", sections=("Bank",), parts=("organ", "bass")), None
    )
    (page,) = schedule.pages
    assert (page.start, page.end) == (timeline.sections[1].at, timeline.end)
    assert page.parts == ("bass", "organ")
    assert [len(stop.changes) for stop in page.stops] == [1, 0]


# Pictures


def test_one_stroke_and_one_disc_however_many_change_at_one_place() -> None:
    segment = segment_of(FERRY)
    drawn = picture(segment, end_of(segment.schedule))
    page = segment.schedule.pages[0]
    bar = segment.timeline.bars[0].end
    assert sorted(discs(segment, drawn)) == pytest.approx(
        [
            segment.layout.x(page, 8 * bar),
            segment.layout.x(page, 12 * bar),
            segment.layout.x(page, 16 * bar + bar // 2),
        ]
    )
    assert [shape.text for shape in drawn if shape.text == "2"] == ["2"]


def test_a_change_is_not_there_before_its_beat_and_all_there_on_it() -> None:
    segment = segment_of(FERRY)
    stop = segment.schedule.pages[0].stops[0]
    early = picture(segment, stop.seconds - Fraction(1))
    assert not discs(segment, early)
    on_it = picture(segment, stop.seconds)
    assert len(discs(segment, on_it)) == 1
    assert [shape.text for shape in early if shape.text in ("bar", "9")] == ["9", "bar"]
    assert [shape.text for shape in on_it].count("9") == 2


def test_a_small_sail_for_each_repetition() -> None:
    text = "parts: {a: figure}\nform:\n  - {section: A, bars: 11, plays: kiln}\n"
    segment = segment_of(text)
    page = segment.schedule.pages[0]
    (stretch,) = page.stretches
    sails = segment.layout.sails(page, stretch, (0.0, 0.0))
    assert len(sails) == 16
    starts = [contour[:, :, 0].min() for contour in sails]
    assert starts == pytest.approx([segment.layout.x(page, r.at) for r in segment.timeline.repetitions])


@pytest.mark.parametrize("theme", ["dark", "light"])
@pytest.mark.parametrize("text", SPECS, ids=IDS)
def test_texts_stand_well_at_any_time(text: str, theme: str) -> None:
    assert segment_faults(segment_of(text, theme)) == []


def test_the_first_frame_names_the_piece_and_its_sections() -> None:
    segment = segment_of(FERRY)
    texts = {shape.text for shape in picture(segment, Fraction(0))}
    assert {"A test", "Jetty", "Bank", "1", "9", "13", "17.3"} <= texts
    assert not {"kit", "bass", "organ"} & texts


def test_a_shape_that_stays_is_the_same_object() -> None:
    segment = segment_of(FERRY)
    end = end_of(segment.schedule)
    first, second = picture(segment, end - FRAME), picture(segment, end)
    assert all(a is b for a, b in zip(first, second, strict=True))


def test_sentences_tell_what_changes_and_what_does_not() -> None:
    segment = segment_of(FERRY)
    stops = segment.schedule.pages[0].stops
    told = ["".join(shape.text or "" for shape in picture(segment, stop.seconds)) for stop in stops]
    assert "Bar 9: kit from the figure to the meter." in told[0]
    assert "Bar 13: kit and organ from the meter to the figure." in told[1]
    assert "Bar 17.3: bass from the figure to the meter." in told[2]
    last = "".join(shape.text or "" for shape in picture(segment, end_of(segment.schedule)))
    assert "All through: marimba with the figure; 4 changes of side." in last


# Options


@pytest.mark.parametrize(
    ("segments", "message"),
    [
        ("[{show: parts, parts: [kitt]}]", "segments[0].parts[0]: there is no part kitt."),
        ("[{show: parts, figure: kiln}]", "segments[0].figure: parts takes no figure."),
    ],
)
def test_what_is_not_there_is_told(segments: str, message: str) -> None:
    with pytest.raises(SpecError) as told:
        parse_spec(f"{HEAD}{FERRY}segments: {segments}\n", "test.yaml")
    assert message in str(told.value)


def test_a_piece_without_parts_has_none_to_show() -> None:
    with pytest.raises(SpecError, match="there are no parts to show"):
        spec_of("form:\n  - {section: A, bars: 1}\nsegments: [parts]\n")


def test_options_are_read() -> None:
    (text,) = spec_of(FERRY + "segments: {show: parts, sections: Bank, parts: [kit, organ]}\n").segments
    assert (text.show, text.sections, text.parts) == ("parts", ("Bank",), ("kit", "organ"))
