"""Crossings, landings and realignments, at their edges."""

from tests.pieces import HEAD, timeline_of


def test_a_change_on_a_repetition_s_first_pulse_or_end_is_no_crossing() -> None:
    timeline = timeline_of("""\
        form:
          - section: A
            bars: 2
            harmony: {1: Em, 1.3: G, 1.3.4: F, 2: Dm}
            plays: kiln
        """)
    rows = [
        (row.repetition_number, row.before, row.after, row.into, row.group_number, row.into_group)
        for row in timeline.crossings
    ]
    assert rows == [(1, "Em", "G", 8, 3, 0), (2, "F", "Dm", 5, 2, 0)]


def test_from_no_harmony_to_the_first_is_none_and_no_chord_is_a_value() -> None:
    timeline = timeline_of("""\
        form:
          - {section: A, bars: 3, harmony: {1.2: Em, 2: N.C., 3: Em}, plays: kiln}
        """)
    assert [(row.before, row.after) for row in timeline.crossings] == [("Em", "N.C."), ("N.C.", "Em")]


def test_the_same_harmony_again_is_no_change_in_either_spelling_of_its_signs() -> None:
    timeline = timeline_of("""\
        form:
          - {section: A, bars: 4, harmony: {1: Bb7, 2: B♭7, 3: F#m, 4: F♯m}, plays: kiln}
        """)
    assert [row.name for row in timeline.harmony] == ["Bb7", "F#m"]
    assert [(row.after, row.at) for row in timeline.crossings] == [("F#m", 32)]


def test_crossings_are_found_in_tails_and_under_silent_pulses_but_not_in_rests() -> None:
    timeline = timeline_of("""\
        form:
          - section: A
            bars: 3
            harmony: [Em, G, Dm]
            plays: [{rest: 18}, {first: 7, of: kiln}, {tail: [4, 6]}]
        """)
    assert [(row.repetition_number, row.at, row.group_number) for row in timeline.crossings] == [(2, 32, 2)]


def test_several_changes_in_one_repetition_are_each_a_crossing() -> None:
    timeline = timeline_of("""\
        form:
          - {section: A, bars: 1, harmony: {1: Em, 1.2: G, 1.3: Dm}, plays: [kiln]}
        """)
    rows = [(row.repetition_number, row.into, row.group_number, row.into_group) for row in timeline.crossings]
    assert rows == [(1, 4, 1, 4), (1, 8, 3, 0)]


def test_an_accent_that_would_have_come_where_its_repetition_was_ended_is_a_landing_not_played() -> None:
    head = HEAD.replace("kiln: [5, 3, 3]", "kiln: [8, 8, 1]")
    timeline = timeline_of(
        """\
        form:
          - {section: A, bars: 1, plays: kiln}
          - {section: B, bars: 1, plays: brief}
        """,
        head,
    )
    rows = [
        (row.repetition_number, row.accent_number, row.at, row.bar_number, row.sounds)
        for row in timeline.landings
    ]
    assert rows == [(1, 1, 0, 1, True), (1, 3, 16, 2, False), (2, 1, 16, 2, True)]
    assert [hit.at for hit in timeline.hits if hit.repetition_number == 1] == [0, 8]


def test_after_lets_that_accent_sound() -> None:
    head = HEAD.replace("kiln: [5, 3, 3]", "kiln: [8, 8, 1]")
    timeline = timeline_of(
        """\
        form:
          - {section: A, bars: 1, plays: kiln}
          - {section: B, bars: 1, starts: after, plays: brief}
        """,
        head,
    )
    rows = [
        (row.repetition_number, row.accent_number, row.bar_number, row.sounds) for row in timeline.landings
    ]
    assert rows == [(1, 1, 1, True), (1, 3, 2, True)]
    assert timeline.repetitions[1].offset == 1


def test_a_landing_after_the_last_bar_is_in_the_bar_that_would_follow() -> None:
    head = HEAD.replace("kiln: [5, 3, 3]", "kiln: [8, 8, 1]")
    timeline = timeline_of("form:\n  - {section: A, bars: 1, plays: kiln}\n", head)
    assert [(row.bar_number, row.sounds) for row in timeline.landings] == [(1, True), (2, False)]


def test_a_first_that_ends_before_an_accent_on_a_downbeat_lands_without_playing() -> None:
    head = HEAD.replace("kiln: [5, 3, 3]", "kiln: [8, 8, 1]")
    timeline = timeline_of("form:\n  - {section: A, bars: 2, plays: [{first: 16, of: kiln}]}\n", head)
    assert [(row.accent_number, row.bar_number, row.sounds) for row in timeline.landings] == [
        (1, 1, True),
        (3, 2, False),
    ]


def homes(form: str, head: str = HEAD) -> list[tuple[int, int, bool]]:
    """The first pulse, bar and fullness of each realignment."""
    return [(row.at, row.bar_number, row.full) for row in timeline_of(form, head).realignments]


def test_a_figure_of_one_bar_never_realigns_and_a_new_start_is_none() -> None:
    head = HEAD.replace("kiln: [5, 3, 3]", "kiln: [8, 8]")
    form = """\
        form:
          - {section: A, bars: 2, plays: kiln}
          - {section: B, bars: 2, plays: brief}
        """
    # brief starts off the downbeat in B, and on it again after two repetitions.
    assert homes(form, head) == [(48, 4, False)]


def test_another_figure_that_begins_on_a_downbeat_is_no_realignment() -> None:
    # 4 x 8 = 2 bars: brief comes home in bar 2, and the kiln begins in bar 3.
    form = "form: [{section: A, bars: 3, plays: [{figure: brief, times: 4}, kiln]}]\n"
    assert homes(form) == [(16, 2, False)]
    # 16 x 11 = 11 bars: brief begins in bar 12, where the kiln would have come home.
    assert homes("form: [{section: A, bars: 12, plays: [{figure: kiln, times: 16}, brief]}]\n") == []


def test_what_a_tail_a_rest_or_a_fraction_brings_to_the_bar_line_is_no_realignment() -> None:
    plays = "[kiln, kiln, {%s}, kiln]"
    for filler in ("tail: [5, 5]", "rest: 10", "first: 10, of: kiln"):
        assert homes(f"form: [{{section: A, bars: 3, plays: {plays % filler}}}]\n") == []
    # 3.5 x 8 + 4 = 2 bars
    assert homes(
        "form: [{section: A, bars: 3, plays: [{figure: brief, times: 3.5}, {tail: [4]}, brief]}]\n"
    ) == [(16, 2, False)]


def test_a_list_that_takes_over_comes_from_nowhere_though_it_is_the_same_figure() -> None:
    # An eleven fills eleven bars with sixteen repetitions, uncut: only `plays: on` runs on into bar 12.
    again = "form: [{section: A, bars: 11, plays: kiln}, {section: B, bars: 2, plays: kiln}]\n"
    assert homes(again) == []
    assert homes("form: [{section: A, bars: 11, repeat: 2, plays: kiln}]\n") == []
    assert homes(again.replace("2, plays: kiln", "2, plays: on")) == [(11 * 16, 12, True)]
    assert homes(again.replace("2, plays", "2, starts: after, plays")) == []


def test_the_one_that_comes_home_may_be_cut_but_not_written_short() -> None:
    # 16 x 11 = 11 bars; the 17th begins in bar 12 and has 4 pulses left of its section.
    head = HEAD.replace("meter: 4/4", "meter: {1: 4/4, 12: 1/4}")
    assert homes("form: [{section: A, bars: 12, plays: kiln}]", head) == [(11 * 16, 12, False)]
    short = "form: [{section: A, bars: 12, plays: [{figure: kiln, times: 16}, {first: 4, of: kiln}]}]\n"
    assert homes(short, head) == []


def test_the_run_must_have_been_on_a_downbeat_itself() -> None:
    # The list takes over at 20; 20 + 4 x 11 = 64 is its first downbeat, and 16 x 11 later it is on one again.
    form = """\
        form:
          - {section: A, bars: 1, plays: kiln}
          - {section: B, bars: 15, starts: 1.2, plays: kiln}
        """
    assert homes(form) == [(64 + 16 * 11, 16, False)]


def test_a_voice_that_has_not_yet_stood_on_a_downbeat_does_not_stand_on_one_again() -> None:
    timeline = timeline_of("""\
        pickup: 1/4
        form:
          - {section: A, bars: 1, starts: 0.4, plays: [{tail: [4]}, brief]}
        """)
    assert timeline.realignments == ()


def handovers(form: str) -> list[tuple[str | None, str | None, int, int, int, bool]]:
    """Each handover: from, to, first pulse, line, pulses over, cut."""
    rows = timeline_of(form).handovers
    return [(row.before, row.after, row.at, row.line, row.over, row.cut) for row in rows]


def test_a_list_that_is_cut_on_the_line_hands_over_there() -> None:
    form = "form: [{section: A, bars: 1, plays: kiln}, {section: B, bars: 1, plays: brief}]\n"
    assert handovers(form) == [("kiln", "brief", 16, 16, 0, True)]
    assert handovers(form.replace("plays: brief", "starts: after, plays: brief")) == [
        ("kiln", "brief", 22, 16, 6, False)
    ]
    assert handovers(form.replace("plays: brief", "starts: 1.2, plays: brief")) == [
        ("kiln", "brief", 20, 16, 4, True)
    ]
    assert handovers(form.replace("plays: brief", "starts: 0.4, plays: brief")) == [
        ("kiln", "brief", 12, 16, -4, True)
    ]


def test_what_goes_on_hands_over_nothing_and_a_repeat_does() -> None:
    form = "form: [{section: A, bars: 1, plays: brief}, {section: B, bars: 1, plays: on}]\n"
    assert handovers(form) == []
    assert handovers("form: [{section: A, bars: 1, repeat: 2, plays: brief}]\n") == [
        ("brief", "brief", 16, 16, 0, False)
    ]


def test_rests_and_tails_at_a_handover() -> None:
    """What sounds counts: a list of rests is passed over, a rest at a list's end stops before the line."""
    form = """\
        form:
          - {section: A, bars: 1, plays: [brief, {rest: 8}]}
          - {section: B, bars: 1, plays: {rest: 16}}
          - {section: C, bars: 1, plays: [{rest: 4}, {tail: [4]}]}
        """
    assert handovers(form) == [("brief", None, 36, 32, -24, False)]


def test_a_list_that_waits_on_has_its_own_section_s_line() -> None:
    form = """\
        form:
          - {section: A, bars: 1, plays: {figure: kiln, pulse: 1/4}}
          - {section: B, bars: 1, plays: brief, starts: after}
          - {section: C, bars: 2, plays: on}
        """
    assert handovers(form) == [("kiln", "brief", 44, 16, 28, False)]
