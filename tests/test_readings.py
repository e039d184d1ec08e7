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


def test_a_figure_of_one_bar_never_realigns_and_a_new_start_is_none() -> None:
    head = HEAD.replace("kiln: [5, 3, 3]", "kiln: [8, 8]")
    timeline = timeline_of(
        """\
        form:
          - {section: A, bars: 2, plays: kiln}
          - {section: B, bars: 2, plays: brief}
        """,
        head,
    )
    # brief starts off the downbeat in B, and on it again after two repetitions.
    rows = [(row.at, row.bar_number, row.full) for row in timeline.realignments]
    assert rows == [(48, 4, False)]


def test_a_cut_repetition_before_a_downbeat_is_no_realignment() -> None:
    timeline = timeline_of("""\
        form:
          - {section: A, bars: 1, plays: kiln}
          - {section: B, bars: 11, plays: kiln}
          - {section: C, bars: 1, plays: kiln}
        """)
    rows = [(row.at, row.full) for row in timeline.realignments]
    assert rows == [(12 * 16, True)]


def test_a_realignment_after_a_rest_counts_the_rest_as_the_item_before() -> None:
    timeline = timeline_of("""\
        form:
          - {section: A, bars: 3, plays: [kiln, kiln, {rest: 10}, kiln]}
        """)
    assert [(row.repetition_number, row.at) for row in timeline.realignments] == [(3, 32)]


def test_a_voice_that_has_not_yet_stood_on_a_downbeat_does_not_stand_on_one_again() -> None:
    timeline = timeline_of("""\
        pickup: 1/4
        form:
          - {section: A, bars: 1, starts: 0.4, plays: [{tail: [4]}, brief]}
        """)
    assert timeline.realignments == ()
