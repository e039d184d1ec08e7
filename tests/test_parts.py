"""parts: who is on which side where, from the schedule and its sentences down to the shapes."""

from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest

from renderer.core.errors import SpecError
from renderer.reading.load import parse_spec
from renderer.schedule.course import HURRY_SECONDS, REAL_BARS
from renderer.schedule.pace import reading_seconds
from renderer.schedule.parts import MOST_TOLD, PartsSchedule, schedule_parts
from renderer.schedule.phrases import text_of
from renderer.spec.model import ClickSpec, SegmentSpec
from renderer.timeline.sides import clocks, find_changes, find_nobody, part_names
from renderer.video.rasterizer import Painter
from scenes.draw.look import WIDE, canvas_for, read_look
from scenes.draw.segment import Moment
from scenes.draw.shapes import PIXEL, FilledShape
from scenes.parts.parts import PartsSegment
from scenes.parts.rows import row_contours
from tests.boxes import FRAME, segment_faults, text_boxes
from tests.pieces import HEAD, spec_of, timeline_of

CLICK = ClickSpec(every=("beat",), count_in=1)
CLICKED = HEAD + "click: {every: beat, count_in: 1}\n"
SIZES = ((1920, 1080), (1080, 1920), (1080, 1080), (1440, 1080), (2520, 1080))

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


def segment_of(text: str, theme: str = "dark", size: tuple[int, int] = (1920, 1080)) -> PartsSegment:
    timeline = timeline_of(text, CLICKED)
    schedule = schedule_parts(timeline, SegmentSpec("parts"), CLICK)
    return PartsSegment(schedule, read_look(theme).on(canvas_for(*size)))


def picture(segment: PartsSegment, seconds: Fraction) -> list[FilledShape]:
    return segment.picture(Moment(seconds, FRAME))


def end_of(schedule: PartsSchedule) -> Fraction:
    return schedule.seconds - FRAME


def said(segment: PartsSegment, seconds: Fraction) -> str:
    return "".join(word.text for word in segment.sentence(Moment(seconds, FRAME)).words)


def discs(segment: PartsSegment, drawn: list[FilledShape]) -> list[tuple[str, float]]:
    """The round ink shapes on a row's line: of which part, and where, in pixels."""
    ink = tuple(int(segment.look.ink[i : i + 2], 16) / 255 for i in (1, 3, 5))
    found = []
    for shape in drawn:
        if shape.text or not len(shape.points) or not np.allclose(shape.fill[:3], ink, atol=1e-6):
            continue
        x = shape.points[:, 0] / PIXEL + WIDE.width / 2
        y = WIDE.height / 2 - shape.points[:, 1] / PIXEL
        for row in segment.layout.rows:
            if abs(np.ptp(x) - np.ptp(y)) < 0.01 and abs((y.min() + y.max()) / 2 - row.line) < 0.01:
                found.append((row.part, float(x.min() + x.max()) / 2))
    return found


# Who keeps what


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
    assert [change.crosses for change in find_changes(timeline, ["oboe"])] == [False, False]


def test_rows_stand_in_the_order_of_the_piece_on_every_page() -> None:
    for text in SPECS:
        segment = segment_of(text)
        assert [row.part for row in segment.layout.rows] == list(part_names(segment.timeline))
        assert all(a.line < b.line for a, b in pairwise(segment.layout.rows))


@pytest.mark.parametrize(
    ("parts", "told"),
    [
        ("a: figure, b: {1: meter, 3: figure}", [("meter", 2, 4)]),
        ("a: figure, b: {1: figure, 2: meter, 3: figure}", [("meter", 0, 1), ("meter", 2, 4)]),
        ("a: meter, b: {1: figure, 3: tacet}", [("figure", 2, 4)]),
        ("a: meter, b: figure", []),
        ("a: tacet, b: tacet", []),
        ("a: {1: tacet, 4: figure}, b: tacet", [("meter", 3, 4)]),
    ],
)
def test_where_nobody_keeps_a_clock(parts: str, told: list[tuple[str, int, int]]) -> None:
    timeline = timeline_of(f"parts: {{{parts}}}\nform:\n  - {{section: A, bars: 4, plays: kiln}}\n")
    bar = timeline.bars[0].end
    found = find_nobody(timeline, part_names(timeline), [(0, timeline.end)])
    assert [(each.clock, each.start // bar, each.end // bar) for each in found] == told


# What is asked, said and answered


@pytest.mark.parametrize(
    ("parts", "answer"),
    [
        ("a: figure, b: {1: meter, 3: figure}", "From bar 3 on nobody keeps the meter."),
        ("a: figure, b: {1: figure, 2: meter, 4: figure, 4.2: meter}", "In bar 1 nobody keeps the meter."),
        ("a: figure, b: {1: meter, 2: figure, 4: meter}", "In bars 2 to 3 nobody keeps the meter."),
        ("a: figure, b: {1: meter, 2.3: figure, 4: meter}", "From bar 2.3 to 4 nobody keeps the meter."),
        ("a: meter, b: {1: figure, 2.3: meter}", "From bar 2.3 on nobody keeps the figure."),
        ("a: figure, b: figure", "Nobody keeps the meter."),
        ("a: tacet, b: tacet", "Nobody plays."),
        ("a: figure, b: meter", "All through: a with the figure, b with the meter."),
        ("a: figure, b: meter, c: {1: figure, 3: meter}",
         "All through: a with the figure, b with the meter; 1 change of side."),
        ("a: {1: figure, 3: meter}, b: {1: meter, 3: figure}", "2 changes of side."),
    ],
)  # fmt: skip
def test_the_answer_says_where_nobody_keeps_a_clock_or_who_always_does(parts: str, answer: str) -> None:
    timeline = timeline_of(f"parts: {{{parts}}}\nform:\n  - {{section: A, bars: 4, plays: kiln}}\n")
    assert text_of(schedule_parts(timeline, SegmentSpec("parts"), None).answer) == answer


def test_of_some_parts_nothing_is_said_of_all() -> None:
    timeline = timeline_of("parts: {a: figure, b: meter}\nform:\n  - {section: A, bars: 4, plays: kiln}\n")
    schedule = schedule_parts(timeline, SegmentSpec("parts", parts=("a",)), None)
    assert text_of(schedule.answer) == "All through: a with the figure."


def test_a_question_first_then_each_change_in_words_then_the_answer() -> None:
    segment = segment_of(FERRY)
    assert said(segment, Fraction(0)) == "Who keeps the figure, and who the meter?"
    assert [said(segment, each.seconds) for each in segment.schedule.told] == [
        "Bar 9: kit to the meter.",
        "Bar 13: kit and organ to the figure.",
        "Bar 17.3: bass to the meter.",
    ]
    assert said(segment, end_of(segment.schedule)) == "From bar 13 to 17.3 nobody keeps the meter."


# Time


def test_a_change_is_said_as_the_music_comes_there_and_the_music_waits_until_it_is_read() -> None:
    timeline = timeline_of(FERRY, CLICKED)
    schedule = schedule_parts(timeline, SegmentSpec("parts"), CLICK)
    course = schedule.course
    assert course.real_end - course.begins == REAL_BARS * Fraction(4 * 60, 132)
    for told in schedule.told:
        later = [hurry for hurry in course.hurries if hurry.start == told.at]
        assert later
        assert later[0].seconds == told.seconds + reading_seconds(text_of(told.phrases))
    assert sum(hurry.until - hurry.seconds for hurry in course.hurries) <= HURRY_SECONDS
    assert all(click.seconds < course.real_end for click in schedule.clicks)
    assert [step.name for step in schedule.steps] == [
        "bars", "Jetty", "bar 9", "bar 13", "Bank", "bar 17.3", "answer",
    ]  # fmt: skip


def test_several_changes_are_told_briefly_so_that_the_music_does_not_wait_long() -> None:
    """Five changes wait to be read after the first eight bars; the place of each stands in the small line."""
    segment = segment_of("""
parts: {marimba: figure, kit: figure}
form:
  - {section: A, bars: 32, plays: kiln, parts: {kit: {9: meter, 13: figure, 17: meter, 21: figure, 25: meter}}}
""")
    told = segment.schedule.told
    assert [said(segment, each.seconds) for each in told] == [
        "kit to the meter.",
        "kit to the figure.",
    ] * 2 + ["kit to the meter."]
    assert segment.sentence(Moment(told[1].seconds, FRAME)).small.endswith(", bar 13")
    assert sum(reading_seconds(text_of(each.phrases)) for each in told) <= 12


def test_many_changes_are_not_told_one_by_one() -> None:
    segment = segment_of(STAGGERED)
    places = {change.at for change in segment.schedule.changes}
    assert len(places) > MOST_TOLD
    assert segment.schedule.told == ()
    assert segment.course.ends - segment.course.real_end <= HURRY_SECONDS
    assert [step.name for step in segment.schedule.steps if step.name.startswith("bar ")][:2] == [
        "bar 2",
        "bar 5",
    ]


def test_changes_at_tempo_are_said_one_after_another() -> None:
    segment = segment_of(LONG_NAMES)
    first, second, *_ = segment.schedule.told
    assert second.seconds >= first.seconds + reading_seconds(text_of(first.phrases))


def test_without_a_click_it_is_silent() -> None:
    schedule = schedule_parts(timeline_of(FERRY), SegmentSpec("parts"), None)
    assert not schedule.clicks


def test_only_the_sections_and_parts_that_are_asked_for() -> None:
    timeline = timeline_of(FERRY)
    options = SegmentSpec("parts", sections=("Bank",), parts=("organ", "bass"))
    schedule = schedule_parts(timeline, options, None)
    assert schedule.course.stretches == ((timeline.sections[1].at, timeline.end),)
    assert schedule.parts == ("bass", "organ")
    assert [(change.part, change.at) for change in schedule.changes] == [
        ("bass", 16 * 16 + 8)
    ]  # bar 17, beat 3: sixteen bars of sixteen, and eight


# Pictures


def test_one_disc_on_the_line_of_each_part_that_changes_exactly_there() -> None:
    segment = segment_of(FERRY)
    shown = discs(segment, picture(segment, segment.schedule.answered - FRAME))
    (span,) = segment.layout.spans
    bar = segment.timeline.bars[0].end
    expected = [("kit", 8 * bar), ("kit", 12 * bar), ("organ", 12 * bar), ("bass", 16 * bar + bar // 2)]
    assert [part for part, _ in sorted(shown)] == [part for part, _ in sorted(expected)]
    assert [x for _, x in sorted(shown)] == pytest.approx(
        [segment.layout.x(span, at) for _, at in sorted(expected)]
    )


def test_a_change_is_not_there_before_it_is_said() -> None:
    segment = segment_of(FERRY)
    told = segment.schedule.told[0]
    assert not discs(segment, picture(segment, told.seconds - FRAME))
    assert len(discs(segment, picture(segment, told.seconds + Fraction(1, 2)))) == 1


def test_a_small_sail_for_each_repetition_that_begins_on_the_figures_side() -> None:
    text = "parts: {a: {1: figure, 9: meter}}\nform:\n  - {section: A, bars: 11, plays: kiln}\n"
    segment = segment_of(text)
    (row,), (span,) = segment.layout.rows, segment.layout.spans
    contours = dict(row_contours(segment.layout, span, row))[segment.look.sail_one]
    starts = sorted(contour[:, :, 0].min() for contour in contours[1:])
    expected = [segment.layout.x(span, r.at) for r in segment.timeline.repetitions if r.at < 8 * 16]
    assert starts == pytest.approx(expected)


def test_time_begins_after_the_gutter() -> None:
    for text in SPECS:
        segment = segment_of(text)
        boxes = text_boxes(picture(segment, Fraction(0)))
        rows = [box for box in boxes if segment.layout.top < box.bottom < segment.layout.bottom]
        assert max(box.right for box in rows) < segment.layout.left


def test_lit_ends_at_the_playhead() -> None:
    segment = segment_of(FERRY)
    (span,), row = segment.layout.spans, segment.layout.rows[0]
    seconds = segment.course.begins + Fraction(11, 2) * Fraction(4 * 60, 132)
    pixels = Painter(1920, 1080, segment.look.ground).paint(picture(segment, seconds))
    colour = np.array([int(segment.look.sail_one[i : i + 2], 16) for i in (1, 3, 5)])
    line = pixels[round(row.line - 6 * row.scale), :, :3].astype(int)
    lit = np.flatnonzero(np.abs(line - colour).max(axis=1) <= 3)
    x = segment.layout.x(span, 5.5 * 16) - segment.look.width_playhead / 2
    assert x - 2 < lit.max() < x + 1


def test_at_the_end_all_but_the_bars_of_the_answer_steps_back() -> None:
    segment = segment_of(FERRY)
    (span,), row = segment.layout.spans, segment.layout.rows[0]
    drawn = picture(segment, end_of(segment.schedule))
    pixels = Painter(1920, 1080, segment.look.ground).paint(drawn)
    colour, ground = (
        np.array([int(c[i : i + 2], 16) for i in (1, 3, 5)])
        for c in (segment.look.sail_one, segment.look.ground)
    )
    y = round(row.line - 6 * row.scale)
    lit, dim = (pixels[y, round(segment.layout.x(span, bar * 16)), :3] for bar in (14.1, 3.1))
    assert np.abs(lit.astype(int) - colour).max() <= 2
    assert np.abs(dim - (ground * 0.65 + colour * 0.35)).max() <= 2
    words = [box for box in text_boxes(drawn) if box.text == "nobody keeps the meter"]
    assert max(box.size for box in words) == 56
    assert [word.text for word in segment.sentence(Moment(end_of(segment.schedule), FRAME)).words][1:] == [
        "nobody keeps the meter", ".",
    ]  # fmt: skip


@pytest.mark.parametrize("size", SIZES, ids=lambda size: "x".join(map(str, size)))
@pytest.mark.parametrize("text", SPECS, ids=IDS)
def test_texts_stand_well_at_any_time(text: str, size: tuple[int, int]) -> None:
    assert segment_faults(segment_of(text, size=size)) == []


def test_texts_stand_well_in_light() -> None:
    assert segment_faults(segment_of(FERRY, "light")) == []


def test_a_tall_picture_is_filled() -> None:
    segment = segment_of(FERRY, size=(1080, 1920))
    canvas = segment.canvas
    assert segment.layout.bottom - segment.layout.top >= 0.75 * (canvas.stage_bottom - canvas.stage_top)


def test_the_first_frame_names_the_parts_and_the_sections() -> None:
    segment = segment_of(FERRY)
    texts = {shape.text for shape in picture(segment, Fraction(0))}
    assert {"Jetty", "Bank", "12 bars", "1", "9", "13", "17.3", "kit", "bass", "organ", "marimba"} <= texts
    assert {"figure", "meter", "changes sides"} <= texts
    assert "silent" not in texts


def test_changes_too_close_for_one_page_are_shared_out() -> None:
    segment = segment_of(LONG_NAMES)
    spans = segment.layout.spans
    assert 1 < len(spans) <= 5
    assert spans[0][0] == segment.timeline.start
    assert spans[-1][1] == segment.timeline.end
    assert all(before[1] == after[0] for before, after in pairwise(spans))


def test_a_shape_that_stays_is_the_same_object() -> None:
    segment = segment_of(FERRY)
    end = end_of(segment.schedule)
    first, second = picture(segment, end - FRAME), picture(segment, end)
    assert all(a is b for a, b in zip(first, second, strict=True))


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
