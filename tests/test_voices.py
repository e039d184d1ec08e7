"""What plays lists, `starts` and `on` make of a voice."""

from fractions import Fraction

from tests.pieces import HEAD, statements, timeline_of


def test_a_figure_runs_to_the_end_and_its_last_repetition_is_cut() -> None:
    timeline = timeline_of("""\
        form:
          - {section: A, bars: 2, plays: kiln}
        """)
    assert statements(timeline) == ["kiln 0 11 whole", "kiln 11 11 whole", "kiln 22 10 cut"]
    last = timeline.repetitions[-1].statement
    assert (last.cut, last.length, last.groups[-1].length, last.groups[-1].written) == (True, 11, 2, 3)


def test_a_list_is_played_in_order_and_its_last_figure_goes_on() -> None:
    timeline = timeline_of("""\
        form:
          - section: A
            bars: 8
            plays: [{figure: brief, times: 3.5}, {tail: [4, 4]}, kiln, {first: 5, of: kiln}, {rest: 4}, brief]
        """)
    assert statements(timeline) == [
        *("brief 0 8 whole", "brief 8 8 whole", "brief 16 8 whole", "brief 24 4 first"),
        *("tail 28 8 tail", "kiln 36 11 whole", "kiln 47 5 first"),
        *(f"brief {at} 8 whole" for at in range(56, 128, 8)),
    ]


def test_a_list_that_ends_early_leaves_silence() -> None:
    timeline = timeline_of("""\
        form:
          - {section: A, bars: 4, plays: [{figure: kiln, times: 2}]}
        """)
    assert statements(timeline) == ["kiln 0 11 whole", "kiln 11 11 whole"]


def test_on_goes_on_over_the_section_line_without_a_restart() -> None:
    timeline = timeline_of("""\
        form:
          - {section: A, bars: 1, plays: kiln}
          - {section: B, bars: 1, plays: on}
        """)
    assert statements(timeline) == ["kiln 0 11 whole", "kiln 11 11 whole", "kiln 22 10 cut"]
    assert [row.section_index for row in timeline.repetitions] == [0, 0, 1]


def test_after_waits_for_the_running_repetition_and_drops_what_the_list_still_held() -> None:
    timeline = timeline_of("""\
        form:
          - {section: A, bars: 1, plays: [{figure: kiln, times: 3}, brief]}
          - {section: B, bars: 1, starts: after, plays: brief}
        """)
    assert statements(timeline) == [
        "kiln 0 11 whole",
        "kiln 11 11 whole",
        "brief 22 8 whole",
        "brief 30 2 cut",
    ]


def test_after_a_rest_waits_for_the_rest() -> None:
    timeline = timeline_of("""\
        form:
          - {section: A, bars: 1, plays: [kiln, {rest: 8}, kiln]}
          - {section: B, bars: 1, starts: after, plays: brief}
        """)
    assert statements(timeline) == ["kiln 0 11 whole", "brief 19 8 whole", "brief 27 5 cut"]


def test_after_starts_at_once_on_the_downbeat_that_the_running_one_ends_on() -> None:
    timeline = timeline_of("""\
        form:
          - {section: A, bars: 1, plays: brief}
          - {section: B, bars: 1, starts: after, plays: kiln}
        """)
    assert statements(timeline)[2:] == ["kiln 16 11 whole", "kiln 27 5 cut"]


def test_after_starts_at_once_where_nothing_runs() -> None:
    timeline = timeline_of("""\
        form:
          - {section: A, bars: 1, plays: [{figure: brief, times: 1}]}
          - {section: B, bars: 1, starts: after, plays: brief}
        """)
    assert statements(timeline) == ["brief 0 8 whole", "brief 16 8 whole", "brief 24 8 whole"]


LONG = HEAD.replace("brief: [3, 3, 2]", "long: [20, 20]\n  brief: [3, 3, 2]")


def test_a_list_that_still_waits_at_the_section_line_waits_on_under_on() -> None:
    timeline = timeline_of(
        """\
        form:
          - {section: A, bars: 1, plays: long}
          - {section: B, bars: 1, starts: after, plays: brief}
          - {section: C, bars: 1, plays: on}
        """,
        LONG,
    )
    assert statements(timeline) == ["long 0 40 whole", "brief 40 8 whole"]


def test_a_list_that_still_waits_at_the_section_line_is_dropped_without_on() -> None:
    timeline = timeline_of(
        """\
        form:
          - {section: A, bars: 1, plays: long}
          - {section: B, bars: 1, starts: after, plays: brief}
          - {section: C, bars: 1, starts: after, plays: kiln}
        """,
        LONG,
    )
    assert statements(timeline) == ["long 0 40 whole", "kiln 40 8 cut"]


def test_a_wait_that_ends_on_the_section_line_came_to_nothing() -> None:
    timeline = timeline_of(
        """\
        form:
          - {section: A, bars: 1, plays: [long, kiln]}
          - {section: B, bars: 1, starts: after, plays: brief}
          - {section: C, bars: 1, starts: 1.3, plays: brief}
        """,
        LONG.replace("[20, 20]", "[16, 16]"),
    )
    assert statements(timeline) == ["long 0 32 whole", "kiln 32 8 cut", "brief 40 8 whole"]


def test_a_position_lets_what_runs_go_on_to_there_and_cuts_it() -> None:
    timeline = timeline_of("""\
        form:
          - {section: A, bars: 1, plays: kiln}
          - {section: B, bars: 1, starts: 1.2, plays: brief}
        """)
    assert statements(timeline) == ["kiln 0 11 whole", "kiln 11 9 cut", "brief 20 8 whole", "brief 28 4 cut"]


def test_a_position_in_bar_0_reaches_back_over_the_section_line() -> None:
    timeline = timeline_of("""\
        form:
          - {section: A, bars: 1, plays: kiln}
          - {section: B, bars: 1, starts: 0.4, plays: brief}
        """)
    briefs = ["brief 12 8 whole", "brief 20 8 whole", "brief 28 4 cut"]
    assert statements(timeline) == ["kiln 0 11 whole", "kiln 11 1 cut", *briefs]
    assert [row.section_index for row in timeline.repetitions] == [0, 0, 0, 1, 1]


def test_a_voice_that_a_section_does_not_name_is_cut_at_its_first() -> None:
    timeline = timeline_of("""\
        form:
          - {section: A, bars: 1, voices: {high: kiln, low: brief}}
          - {section: B, bars: 1, voices: {low: on}}
        """)
    assert timeline.voices == ("high", "low")
    assert statements(timeline, "high") == ["kiln 0 11 whole", "kiln 11 5 cut"]
    assert statements(timeline, "low") == [f"brief {at} 8 whole" for at in (0, 8, 16, 24)]


def test_each_voice_may_start_in_its_own_way() -> None:
    timeline = timeline_of("""\
        form:
          - {section: A, bars: 1, voices: {high: kiln, low: kiln}}
          - {section: B, bars: 1, voices: {high: brief, low: brief}, starts: {low: after}}
        """)
    assert statements(timeline, "high")[1:3] == ["kiln 11 5 cut", "brief 16 8 whole"]
    assert statements(timeline, "low")[1:3] == ["kiln 11 11 whole", "brief 22 8 whole"]


def test_a_tail_counts_in_the_pulse_of_what_it_follows_and_a_rest_first_in_the_piece_s() -> None:
    head = HEAD.replace("kiln: [5, 3, 3]", "kiln: {groups: [5, 3, 3], pulse: 1/12}")
    timeline = timeline_of(
        """\
        form:
          - {section: A, bars: 4, plays: [{rest: 4}, kiln, {tail: [2, 1]}, {tail: [2], pulse: 1/8}]}
        """,
        head,
    )
    whole = [
        (timeline.whole(row.at), timeline.whole(row.statement.sounding_length))
        for row in timeline.repetitions
    ]
    start = Fraction(1, 4)
    assert whole == [
        (start, Fraction(11, 12)),
        (start + Fraction(11, 12), Fraction(3, 12)),
        (start + Fraction(14, 12), Fraction(2, 8)),
    ]


def test_repeat_starts_the_list_again_each_time_and_again_with_on_runs_through() -> None:
    twice = timeline_of("""\
        form:
          - {section: A, bars: 1, repeat: 2, plays: kiln}
        """)
    assert statements(twice) == ["kiln 0 11 whole", "kiln 11 5 cut", "kiln 16 11 whole", "kiln 27 5 cut"]
    through = timeline_of("""\
        form:
          - {section: A, bars: 1, plays: kiln}
          - {again: A, plays: on}
        """)
    assert statements(through) == ["kiln 0 11 whole", "kiln 11 11 whole", "kiln 22 10 cut"]


def test_hits_and_accents_of_a_figure_are_its_own() -> None:
    head = HEAD + "  bell: {hits: X..x. xx. x...}\n  gong: {groups: [4, 4, 3], accents: [1, 9]}\n"
    timeline = timeline_of(
        """\
        form:
          - {section: A, bars: 2, plays: [bell, {figure: gong, times: 1}]}
        """,
        head,
    )
    assert [(hit.at, hit.accented) for hit in timeline.hits] == [
        *((0, True), (3, False), (5, False), (6, False), (8, False)),
        *((12, True), (16, False), (20, True)),
    ]


def test_a_first_of_all_pulses_is_a_whole_repetition() -> None:
    timeline = timeline_of("""\
        form:
          - {section: A, bars: 1, plays: [{first: 11, of: kiln}]}
        """)
    assert statements(timeline) == ["kiln 0 11 whole"]
