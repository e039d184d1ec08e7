"""Positions, lanes, passes, meters and pick-ups."""

from fractions import Fraction

import pytest

from renderer.core.errors import SpecError
from renderer.timeline.build import build_timeline
from tests.messages import in_one_voice
from tests.pieces import HEAD, spec_of, timeline_of

Row = tuple[object, ...]


def harmony(form: str, head: str = HEAD) -> list[Row]:
    timeline = timeline_of(form, head)
    return [(row.name, timeline.whole(row.at)) for row in timeline.harmony]


def texts(form: str, head: str = HEAD) -> list[str]:
    """What is wrong, each with its mend."""
    spec = spec_of(form, head)
    with pytest.raises(SpecError) as caught:
        build_timeline(spec)
    return [
        f"{problem.text} {problem.mend or ''}".rstrip()
        for problem in in_one_voice(caught.value, form).problems
    ]


def test_positions_count_from_either_end_and_into_the_beat() -> None:
    rows = harmony("""\
        form:
          - {section: A, bars: 8, harmony: {1: Em, 2.3: G, 3.1.4: F, -1.4: Dm}}
        """)
    assert rows == [("Em", 0), ("G", Fraction(3, 2)), ("F", 2 + Fraction(3, 16)), ("Dm", 7 + Fraction(3, 4))]


def test_bar_0_reaches_back_over_the_section_line() -> None:
    rows = harmony("""\
        form:
          - {section: A, bars: 2, harmony: Em}
          - {section: B, bars: 2, harmony: {0.4: D7, 1: G}}
        """)
    assert rows == [("Em", 0), ("D7", Fraction(7, 4)), ("G", 2)]


def test_a_list_gives_a_value_a_bar_round_and_round_over_section_lines_up_to_the_next_entry() -> None:
    rows = harmony("""\
        form:
          - {section: A, bars: 3, harmony: [Em, G]}
          - {section: B, bars: 3, harmony: {3.2: F}}
        """)
    assert rows == [
        ("Em", 0),
        ("G", 1),
        ("Em", 2),
        ("G", 3),
        ("Em", 4),
        ("G", 5),
        ("F", 5 + Fraction(1, 4)),
    ]


def test_a_list_that_begins_inside_a_bar_turns_at_the_bar_lines() -> None:
    rows = harmony("""\
        form:
          - {section: A, bars: 3, harmony: {1: Em, 1.3: [G, F]}}
        """)
    assert rows == [("Em", 0), ("G", Fraction(1, 2)), ("F", 1), ("G", 2)]


def test_where_top_and_section_speak_at_one_place_the_section_holds() -> None:
    rows = harmony("""\
        harmony: {1: Em, 3: G, 4: F}
        form:
          - {section: A, bars: 2}
          - {section: B, bars: 2, harmony: Dm}
        """)
    assert rows == [("Em", 0), ("Dm", 2), ("F", 3)]


def test_each_pass_begins_with_what_its_first_pass_began_with() -> None:
    timeline = timeline_of("""\
        form:
          - {section: A, bars: 2, repeat: 2, tempo: {2: {to: 66}}, meter: {1: 4/4, 2: 3/4}}
          - {section: B, bars: 1}
          - {again: A, bars: 1, repeat: 1}
        """)
    assert [bar.meter.text for bar in timeline.bars] == ["4/4", "3/4", "4/4", "3/4", "3/4", "4/4"]
    rows: list[Row] = [(row.quarters, row.to, timeline.whole(row.at)) for row in timeline.tempo]
    half = Fraction(7, 4)
    assert rows == [
        (132, None, 0),
        (132, 66, 1),
        (132, None, half),
        (132, 66, 1 + half),
        (66, None, 2 * half),
        (132, None, 2 * half + Fraction(3, 4)),
    ]


def test_a_list_of_a_section_begins_afresh_in_each_pass() -> None:
    rows = harmony("""\
        form:
          - {section: A, bars: 3, repeat: 2, harmony: [Em, G]}
        """)
    assert [name for name, _ in rows] == ["Em", "G", "Em", "G", "Em"]


def test_a_ramp_of_the_top_runs_on_through_passes() -> None:
    timeline = timeline_of(
        """\
        form:
          - {section: A, bars: 4, repeat: 2}
        """,
        HEAD.replace("tempo: 132", "tempo: {1: 60, 3: {to: 120}}"),
    )
    rows: list[Row] = [(row.quarters, row.to, row.at // 16, row.end // 16) for row in timeline.tempo]
    assert rows == [(60, None, 0, 2), (60, 120, 2, 8)]


def test_a_step_of_the_top_inside_the_first_pass_is_not_carried_into_the_second() -> None:
    timeline = timeline_of(
        "form:\n  - {section: A, bars: 4, repeat: 2}\n",
        HEAD.replace("tempo: 132", "tempo: {1: 60, 3: 120}"),
    )
    rows: list[Row] = [(row.quarters, row.at // 16) for row in timeline.tempo]
    assert rows == [(60, 0), (120, 2), (60, 4)]


def test_again_replaces_keys_and_lets_entries_beyond_its_bars_fall_away() -> None:
    timeline = timeline_of("""\
        form:
          - {section: A, bars: 4, harmony: {1: Em, 1.2: F, 3: D, -1: G}, fermata: {4.4: 2, 2: 1}}
          - {again: A, section: Coda, bars: 2}
        """)
    rows: list[Row] = [(row.name, timeline.whole(row.at)) for row in timeline.harmony]
    assert rows == [
        ("Em", 0),
        ("F", Fraction(1, 4)),
        ("D", 2),
        ("G", 3),
        ("Em", 4),
        ("F", 4 + Fraction(1, 4)),
        ("G", 5),
    ]
    assert [
        (row.name, row.pass_number, row.first_bar_number, row.bar_count) for row in timeline.sections
    ] == [
        ("A", 1, 1, 4),
        ("Coda", 1, 5, 2),
    ]


def test_again_goes_back_to_the_section_as_it_was_written() -> None:
    timeline = timeline_of("""\
        form:
          - {section: A, bars: 4, plays: kiln}
          - {again: A, bars: 2}
          - {again: A}
        """)
    assert [(row.pass_number, row.bar_count) for row in timeline.sections] == [(1, 4), (2, 2), (3, 4)]


def test_endings_are_sections() -> None:
    timeline = timeline_of("""\
        form:
          - {section: Round, bars: 2, harmony: Em, plays: kiln}
          - {section: First ending, bars: 1, harmony: G, plays: on}
          - {again: Round}
          - {section: Second ending, bars: 1, harmony: F, plays: on}
        """)
    assert [bar.section_index for bar in timeline.bars] == [0, 0, 1, 2, 2, 3]
    assert [row.name for row in timeline.harmony] == ["Em", "G", "Em", "F"]


def test_a_pick_up_is_bar_0_below_tick_0_and_its_beats_are_numbered_from_the_end() -> None:
    timeline = timeline_of("""\
        pickup: 3/8
        harmony: {0.4: Em}
        form:
          - {section: A, bars: 1, starts: 0.3.3, plays: [{tail: [6]}, kiln]}
        """)
    assert (timeline.start, timeline.bars[0].number, timeline.bars[0].section_index) == (-6, 0, 0)
    assert [(beat.bar_number, beat.number) for beat in timeline.beats] == [
        (0, 4),
        *((1, n) for n in (1, 2, 3, 4)),
    ]
    assert [(row.bar_number, row.offset, row.at) for row in timeline.repetitions] == [
        (0, 10, -6),
        (1, 0, 0),
        (1, 11, 11),
    ]
    assert timeline.harmony[0].at == -4
    assert timeline.seconds(-4) == Fraction(-60, 132)


def test_felt_beats_rule_positions() -> None:
    head = HEAD.replace("meter: 4/4", "meter: {1: 7/8 in 2+2+3, 2: 6/8 in 2, 3: 4/4 in 2}")
    timeline = timeline_of(
        """\
        form:
          - {section: A, bars: 3, harmony: {1.3: Em, 1.3.2: G, 2.2: F, 3.2: Dm}}
        """,
        head,
    )
    eighths = [timeline.whole(row.at) * 8 for row in timeline.harmony]
    assert eighths == [4, Fraction(9, 2), 7 + 3, 13 + 4]


def test_sides_follow_each_other_part_by_part() -> None:
    timeline = timeline_of("""\
        parts: {drum: main, bass: tacet}
        form:
          - {section: A, bars: 2, plays: kiln, parts: {drum: {2.3: meter}}}
          - {section: B, bars: 2, plays: on, parts: {bass: figure, drum: meter}}
        """)
    rows = [(row.part, row.side, timeline.whole(row.at), timeline.whole(row.end)) for row in timeline.sides]
    assert rows == [
        ("drum", "main", 0, Fraction(3, 2)),
        ("drum", "meter", Fraction(3, 2), 4),
        ("bass", "tacet", 0, 2),
        ("bass", "main", 2, 4),
    ]


@pytest.mark.parametrize(
    ("form", "wrong"),
    [
        (
            "{section: A, bars: 4, harmony: {1: Em, 5: G}}",
            "there is no 5: A has 4 bars. Write a bar from 1 to 4, or -1 for the last one.",
        ),
        (
            "{section: A, bars: 4, harmony: {-5: Em}}",
            "there is no -5: A has 4 bars. Write a bar from 1 to 4, or -1 for the last one.",
        ),
        (
            "{section: A, bars: 4, harmony: {2.5: Em}}",
            "there is no 2.5: bar 2 has 4 beats (4/4). Write a beat from 1 to 4.",
        ),
        (
            "{section: A, bars: 4, harmony: {2.4.5: Em}}",
            "there is no 2.4.5: that beat has 4 pulses of 1/16. Write one of them, or the next beat.",
        ),
        (
            "{section: A, bars: 4, harmony: {0.4: Em}}",
            "there is no 0.4: nothing comes before bar 1. Write a bar from 1, or give the piece a pickup.",
        ),
        (
            "pickup: 1/4\nform: [{section: A, bars: 4, harmony: {0.3: Em}}]",
            "there is no 0.3: the pick-up, counted from its end, begins later. Its first beat is 0.4.",
        ),
        (
            "pickup: 3/16\nform: [{section: A, bars: 4, harmony: {0.4: Em}}]",
            "there is no 0.4: the pick-up, counted from its end, begins later. It begins at 0.4.2.",
        ),
        (
            "pickup: 1/12\nform: [{section: A, bars: 4, harmony: {0.4: Em}}]",
            "there is no 0.4: the pick-up, counted from its end, begins later. "
            "It begins between two pulses; give the piece a longer pickup.",
        ),
        (
            "{section: A, bars: 4, harmony: {4: Em, -1: G}}",
            "4 and -1 are the same place where A has 4 bars. Remove one of them.",
        ),
        (
            "pickup: 5/4\nform: [{section: A, bars: 4}]",
            "the pick-up of 5/4 is longer than a bar of 4/4. "
            "Make it shorter, or make it a section of its own.",
        ),
        (
            "{section: A, bars: 4, plays: [{figure: brief, times: 3.1}, kiln]}",
            "3.1 x 8 is 24.8, which is not whole pulses. "
            "Write {figure: brief, times: 3}, "
            "then {first: 1 group, of: brief} (3 pulses) or {first: 1, of: brief}.",
        ),
        (
            "{section: A, bars: 4, plays: [kiln, {first: 12, of: kiln}]}",
            "kiln has 11 pulses, fewer than 12. Write a number from 1 to 11.",
        ),
        (
            "{section: A, bars: 4, plays: [kiln, {rest: 2}]}, {section: B, bars: 1, plays: on}",
            "plays: on, but nothing runs at the start of B. Write a figure in place of on.",
        ),
        (
            "sync: {1: 3, 2: 2.5}\nform: [{section: A, bars: 4}]",
            "2 comes later in the piece, but not in the recording. Write more than 3 seconds.",
        ),
        (
            "sync: {1: 3}\nform: [{section: A, bars: 4, sync: 4}]",
            "1 has its place in the recording already. Remove one of them.",
        ),
        (
            "{section: A, bars: 1, starts: 1.3, plays: kiln}, "
            "{section: B, bars: 1, starts: 0.2, plays: kiln}",
            "B would start before A has. Let it start later.",
        ),
    ],
)
def test_what_can_t_be_is_told_with_its_mend(form: str, wrong: str) -> None:
    assert texts(form if "form:" in form else f"form: [{form}]") == [wrong]
