"""Marks: the teacher's own words at a place or over some bars, from the spec's text to the timeline."""

import json
from fractions import Fraction

import pytest

from renderer.core.errors import SpecError
from renderer.lesson.lesson import check_choices
from renderer.report.section_advice import describe
from renderer.report.table import timeline_listing
from renderer.report.timeline_json import timeline_json
from renderer.timeline.model import Timeline
from renderer.timeline.plan import plan_spec
from tests.messages import in_one_voice
from tests.pieces import HEAD, spec_of, timeline_of


def marks(timeline: Timeline) -> list[tuple[str, int, int]]:
    """The words of each mark with the bars that it stands over, the last one included."""
    return [(mark.text, mark.bar_number, mark.bar_number + mark.bar_count - 1) for mark in timeline.marks]


SECTION = "form:\n  - {{section: A, bars: 8, marks: {{{}}}}}\n  - {{section: B, bars: 4}}\n"


@pytest.mark.parametrize(
    ("written", "bars"),
    [
        ("9", (9, 9)),
        ("3-5", (3, 5)),
        ("3 to 5", (3, 5)),
        ("3–5", (3, 5)),
        ("-4 to -1", (9, 12)),
        ("-1", (12, 12)),
        ("2.3", (2, 2)),
        ("2.3.2", (2, 2)),
    ],
)
def test_at_the_top_marks_count_the_piece_s_bars(written: str, bars: tuple[int, int]) -> None:
    form = "form: [{section: A, bars: 8}, {section: B, bars: 4}]\n"
    assert marks(timeline_of(f"marks: {{{written}: brass alone}}\n{form}")) == [("brass alone", *bars)]


def test_in_a_section_they_count_its_own_bars() -> None:
    text = (
        "form:\n  - {section: A, bars: 8}\n  - {section: B, bars: 4, marks: {1: first, -2 to -1: last two}}\n"
    )
    assert marks(timeline_of(text)) == [("first", 9, 9), ("last two", 11, 12)]


def test_a_mark_ends_with_its_last_bar_and_inside_a_bar_with_that() -> None:
    timeline = timeline_of(SECTION.format("2-3: two bars, 5.3: half a bar"))
    assert [(timeline.whole(mark.at), timeline.whole(mark.to)) for mark in timeline.marks] == [
        (Fraction(1), Fraction(3)),
        (Fraction(9, 2), Fraction(5)),
    ]


def test_every_pass_has_them_and_again_replaces_them() -> None:
    form = """\
    form:
      - {section: A, bars: 4, repeat: 2, marks: {2: here}}
      - {again: A, repeat: 1, marks: {3: there}}
    """
    assert marks(timeline_of(form)) == [("here", 2, 2), ("here", 6, 6), ("there", 11, 11)]


def test_where_again_is_shorter_entries_beyond_fall_away_and_ranges_are_shortened() -> None:
    form = """\
    form:
      - {section: A, bars: 8, marks: {2-6: long, 3.3: inside, 6: gone, 5-8: gone too, -4 to -1: the end}}
      - {again: A, bars: 3}
    """
    piece = spec_of(form)
    timeline = timeline_of(form)
    second = [row for row in marks(timeline) if row[1] > 8]
    assert second == [("the end", 9, 11), ("long", 10, 11), ("inside", 11, 11)]
    told = [line.strip() for line in describe(plan_spec(piece), timeline)]
    assert "dropped, after the last of its 3 bars: marks 6 and marks 5-8" in told


def test_a_pick_up_may_be_marked() -> None:
    text = "pickup: 1/4\nform: [{section: A, bars: 4, marks: {0: upbeat, 0.4: too, 0-1: both}}]\n"
    assert marks(timeline_of(text)) == [("upbeat", 0, 0), ("too", 0, 0), ("both", 0, 1)]


def test_json_and_table_have_them() -> None:
    timeline = timeline_of(SECTION.format("3-4: brass alone, 5.3: enter"))
    found = json.loads(timeline_json(timeline))["marks"]
    assert found[0] == {
        "text": "brass alone",
        "at": "2",
        "to": "4",
        "bar": 3,
        "bars": 2,
        "seconds": pytest.approx(2 * 240 / 132),
    }
    assert "  bars 3-4: brass alone" in timeline_listing(timeline)
    assert "  5.3: enter" in timeline_listing(timeline)


@pytest.mark.parametrize(
    ("written", "told"),
    [
        (
            "{9: late}",
            "form[0].marks.9: there is no 9: A has 8 bars. Write a bar from 1 to 8, or -1 for the last one.",
        ),
        (
            "{7-9: late}",
            "form[0].marks.7-9: there is no 9: A has 8 bars. Write a bar from 1 to 8, or -1 for the last one.",
        ),
        (
            "{0: early}",
            "form[0].marks.0: there is no 0: nothing comes before bar 1. "
            "Write a bar from 1, or give the piece a pickup.",
        ),
        (
            "{6 to -4: x}",
            "form[0].marks.6 to -4: bar -4 comes before bar 6: A has 8 bars. Write the earlier bar first.",
        ),
        (
            "{5-3: x}",
            "form[0].marks.5-3: got 5-3; a range runs forwards. Write 3-5.",
        ),
        (
            "{end: x}",
            "form[0].marks.end: got end; a mark stands at a position or over bars. "
            "Write 9, 9.3, 17-20, or -4 to -1.",
        ),
        (f"{{2: {'w' * 41}}}", "form[0].marks.2: got 41 characters; there is room for 40. Shorten it."),
        (
            "brass",
            "form[0].marks: got a text (brass); a map of bars to words belongs here. "
            "Write where and what: {9: strings enter, 17-20: brass alone}.",
        ),
        (
            "{2.9: x}",
            "form[0].marks.2.9: there is no 2.9: bar 2 has 4 beats (4/4). Write a beat from 1 to 4.",
        ),
    ],
)
def test_what_is_no_mark_is_told(written: str, told: str) -> None:
    text = f"form: [{{section: A, bars: 8, marks: {written}}}]\n"
    with pytest.raises(SpecError) as caught:
        timeline_of(text)
    (problem,) = in_one_voice(caught.value, HEAD + text).problems
    path = ".".join(str(key) for key in problem.path).replace("form.0", "form[0]")
    assert f"{path}: {problem.text} {problem.mend}" == told


def test_words_that_no_font_has_are_told() -> None:
    spec = spec_of("form: [{section: A, bars: 2, marks: {1: \U0001f3ba}}]\n")
    with pytest.raises(SpecError, match=r"the fonts have no"):
        check_choices(spec, timeline_of("form: [{section: A, bars: 2}]\n"))
