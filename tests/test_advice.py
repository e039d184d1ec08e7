"""What is told of a spec in words."""

import re
import time
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, assume, given, settings

from renderer.core.errors import SpecError
from renderer.reading.load import parse_spec
from renderer.report.section_advice import describe
from renderer.schedule.crossings import choose_crossings
from renderer.spec.model import SegmentSpec, Spec
from renderer.timeline.build import build_timeline, plan_timeline
from renderer.timeline.plan import plan_spec
from tests.pieces import HEAD, spec_of, timeline_of
from tests.strategies import specs
from tests.test_tables import KILN


def told(form: str, head: str = HEAD) -> list[str]:
    return told_of(spec_of(form, head))


def told_of(spec: Spec) -> list[str]:
    plan = plan_spec(spec)
    return describe(plan, plan_timeline(plan))


def test_each_section_s_sum_is_told_in_a_line() -> None:
    sums = [line for line in told("", KILN) if not line.startswith(" ")]
    assert sums == [
        "Opening (1), bars 1-12: 192 = 17 x 11 + 5 running on",
        "Theme, bars 13-24: 192 = 6 carried over + 16 x 11 + 10 running on",
        "Middle, bars 25-32: 128 = 1 waited + 3.5 x 8 + tail 8 + 11 + first 5 + rest 4 + 8 x 8 + 7 cut",
        "Opening (2), bars 33-45: 208 = 18 x 11 + 10 cut",
        "up to 9.3 and from 13.1 to 41.3 nobody keeps the meter",
    ]


@pytest.mark.parametrize(
    ("sides", "expected"),
    [
        ("drum: {1: meter, 9: figure}, bass: {1: figure}", ["from bar 9 on nobody keeps the meter"]),
        ("drum: {1: meter, 5: figure, 9: meter}, bass: figure", ["in bars 5 to 8 nobody keeps the meter"]),
        ("drum: {1: meter, 5: figure, 6: meter, 12: figure}, bass: figure",
         ["in bar 5 and from bar 12 on nobody keeps the meter"]),
        ("drum: {1: figure, 2.3: meter}, bass: figure", ["up to 2.3 nobody keeps the meter"]),
        ("drum: {1: meter, 3.2: figure, 4: meter}, bass: figure", ["from 3.2 to 4.1 nobody keeps the meter"]),
        ("drum: figure, bass: figure", ["nobody keeps the meter"]),
        ("drum: meter, bass: {1: meter, 7: figure}", ["in bars 1 to 6 nobody keeps the figure"]),
        ("drum: {1: meter, 5: tacet}, bass: {1: figure, 5: tacet}", []),
        ("drum: meter, bass: figure", []),
    ],
)  # fmt: skip
def test_where_nobody_keeps_a_clock_is_told(sides: str, expected: list[str]) -> None:
    form = f"parts: {{{sides}}}\nform:\n  - {{section: A, bars: 12, plays: kiln}}\n"
    assert [line for line in told(form) if "nobody" in line] == expected


def test_without_parts_nobody_is_missed() -> None:
    assert not [line for line in told("form:\n  - {section: A, bars: 12, plays: kiln}\n") if "nobody" in line]


def test_a_change_on_a_section_s_first_bar_is_told_there_as_crossings_shows_it() -> None:
    """2 x 11 + 11 = 33: the third repetition runs over bar 3's downbeat, on which B and its harmony begin."""
    form = """\
form:
  - {section: A, bars: 2, harmony: {1: Em}, plays: kiln}
  - {section: B, bars: 2, harmony: {1: G}, plays: on}
"""
    lines = told(form)
    second = next(index for index, line in enumerate(lines) if line.startswith("B,"))
    assert "  harmony changes inside a repetition: Em to G at 3.1" in lines[second:]
    assert not [line for line in lines[:second] if "harmony changes" in line]
    timeline = timeline_of(form)
    for name, found in (("A", 0), ("B", 1)):
        assert len(choose_crossings(timeline, SegmentSpec("crossings", sections=(name,)))) == found


def test_a_long_repetition_that_starts_in_no_later_section_crosses_in_it() -> None:
    head = HEAD.replace("kiln: [5, 3, 3]", "kiln: [30, 30]")
    form = """\
form:
  - {section: A, bars: 1, harmony: {1: Em}, plays: kiln}
  - {section: B, bars: 1, harmony: {1.3: G}, plays: on}
"""
    lines = told(form, head)
    assert lines[lines.index("B, bar 2: 16 = 16 carried over") + 1] == (
        "  harmony changes inside a repetition: Em to G at 2.3"
    )


def test_a_figure_whose_name_begins_with_last_is_not_the_last_last_one() -> None:
    head = HEAD.replace("kiln", "last pattern")
    lines = told("form:\n  - {section: A, bars: 8, plays: last pattern}\n", head)
    assert "  7 left over: the last one of last pattern is 4 too long" in lines


def test_a_figure_that_does_not_fit_is_told_with_ways_to_land() -> None:
    lines = told("form:\n  - {section: A, bars: 8, plays: kiln}\n")
    assert lines == [
        "A, bars 1-8: 128 = 11 x 11 + 7 cut",
        "  accents on downbeats: bars 1, 2 and 7",
        "  last accent: 8.4.3",
        "  7 left over: the last kiln is 4 too long",
        "  to land: 11 x 11 + tail 7: a tail of 4+3",
        "    plays: [{figure: kiln, times: 11}, {tail: [4, 3]}]",
        "  to land: 8 x 11 + 5 x 8: kiln without a 3, 5 times (5+3)",
        "    plays: [{figure: kiln, times: 8}, {figure: kiln without a 3, times: 5}]",
        "    figures: {kiln without a 3: {groups: [5, 3], from: kiln}}",
        "  to land: 10 x 11 + 3 x 6: kiln without a 5, 3 times (3+3)",
        "    plays: [{figure: kiln, times: 10}, {figure: kiln without a 5, times: 3}]",
        "    figures: {kiln without a 5: {groups: [3, 3], from: kiln}}",
        "the figure does not run into a downbeat again within the piece",
    ]


def test_a_figure_a_pulse_too_long_has_its_last_accent_on_the_next_downbeat() -> None:
    head = HEAD.replace("kiln: [5, 3, 3]", "kiln: [8, 8, 1]")
    lines = told(
        "form:\n  - {section: A, bars: 1, plays: kiln}\n  - {section: B, bars: 1, plays: brief}\n", head
    )
    assert lines[:5] == [
        "A, bar 1: 16 = kiln cut to 16",
        "  accents on downbeats: bar 1",
        "  last accent: 1.3",
        "  accent 3 would come on bar 2's downbeat, where its repetition ends; "
        "to hear it, let the next section say starts: after",
        "  there is room for 16: kiln is 1 too long",
    ]


def test_what_a_section_taken_over_has_no_room_for_is_told() -> None:
    form = """\
form:
  - section: A
    bars: 4
    plays: kiln
    harmony: {1: Em, 3.3: G, -1: D}
    starts: 3.1
    tempo: {4: 90}
    parts: {kit: {3.2: tacet}}
    fermata: {4.4: 2}
  - {again: A, bars: 2}
  - {again: A, bars: 3}
"""
    lines = told(form, HEAD + "parts: {kit: meter}\n")
    assert [line for line in lines if "dropped" in line] == [
        "  dropped, after the last of its 2 bars: tempo 4, harmony 3.3, fermata 4.4, kit 3.2 and starts 3",
        "  dropped, after the last of its 3 bars: tempo 4 and fermata 4.4",
    ]


def test_a_start_that_is_dropped_is_the_downbeat() -> None:
    """`starts: 3` of a section of four bars, taken over into two: the list takes over at the first."""
    head = HEAD.replace("kiln: [5, 3, 3]", "kiln: [16]")
    form = "form:\n  - {{section: A, bars: 4, plays: kiln, starts: {0}}}\n  - {{again: A, bars: 2}}\n"
    starts = [
        [row.at for row in build_timeline(spec_of(form.format(at), head)).repetitions] for at in (3, -2)
    ]
    assert starts == [[32, 48, 64, 80], [32, 48, 64, 80]]
    voices = form.replace("plays: kiln", "voices: {{low: kiln, high: kiln}}").format("{low: 3, high: after}")
    rows = build_timeline(spec_of(voices, head)).repetitions
    assert [row.at for row in rows if row.voice == "low"] == [32, 48, 64, 80]


def test_a_harmony_that_may_lack_a_comma_is_asked_about() -> None:
    form = (
        "form:\n  - {section: A, bars: 5, plays: kiln, harmony: [Dm F, C, E pedal, F#m7 IV/V, Bridge two]}\n"
    )
    assert [line for line in told(form) if line.startswith("harmony")] == [
        "harmony Dm F: is this one, or is a comma missing? A list is [Dm, F]",
        "harmony F#m7 IV/V: is this one, or is a comma missing? A list is [F#m7, IV/V]",
    ]


def test_what_is_odd_but_allowed_is_asked_about() -> None:
    form = "form:\n  - {section: A, bars: 3, plays: kiln, harmony: [Em, G, Am, C]}\n  - {again: A, bars: 2}\n"
    head = (
        HEAD.replace("meter: 4/4", "meter: {1: 7/8 in 2, 2: 6/8 in 2, 3: 5/8 in 1}")
        + "parts: {kit: {2: main}}\n"
    )
    lines = told(form, head)
    assert "harmony 1 in A: only 3 of its 4 come" in lines
    assert "kit keeps no side before 2.1" in lines
    assert [line for line in lines if "is that meant" in line] == [
        "7/8 in 2: its beats are 7/16 of a whole note each; is that meant? "
        "Beats of unlike length are written as in 7/8 in 2+2+3"
    ]


def test_what_comes_to_nothing_is_told() -> None:
    head = HEAD.replace("brief: [3, 3, 2]", "brief: x..x.") + "harmony: {1: Em, 3: G}\n"
    form = "form: [{section: A, bars: 4, plays: kiln, harmony: {3: Am}, tempo: {1: 132, 2: {to: 132}}}]\n"
    lines = told(form, head)
    assert [line for line in lines if "at the top:" in line] == [
        "tempo 1 at the top: A has its own there, which holds",
        "harmony 3 at the top: A has its own there, which holds",
    ]
    assert "tempo at 2.1 moves to 132, which holds already" in lines
    assert "brief has no accents, so it lands nowhere; X in its hits is one" in lines


def test_an_accent_that_the_piece_s_end_cuts_off_is_told() -> None:
    lines = told("form:\n  - {section: A, bars: 1, plays: kiln}\n", HEAD.replace("[5, 3, 3]", "[8, 8, 1]"))
    assert "  accent 3 would come on bar 2's downbeat, where the piece ends" in lines


def test_a_list_that_is_too_long_and_one_that_is_too_short() -> None:
    lines = told("""\
        form:
          - {section: A, bars: 1, plays: [brief, {tail: [6, 6]}, {rest: 4}]}
          - {section: B, bars: 2, plays: [{figure: brief, times: 3.5}]}
          - {section: C, bars: 1}
        """)
    sums = [line for line in lines if "=" in line or "too long" in line or "nothing" in line]
    assert sums == [
        "A, bar 1: 16 = 8 + 8 cut",
        "  there is room for 8: the tail is 4 too long",
        "  the list is 8 too long: it is cut before its end",
        "B, bars 2-3: 32 = 3.5 x 8 + 4 silent",
        "C, bar 4: nothing is played",
    ]


def test_harmony_that_changes_nothing_is_told() -> None:
    lines = told("""\
        form:
          - {section: A, bars: 4, harmony: {1: Bb, 2: B♭, 3: [Bb, G]}, plays: brief}
        """)
    assert lines[-1] == "harmony 2 in A: B♭ holds already"


def test_harmony_that_changes_nothing_in_a_later_pass_alone_is_not_told() -> None:
    """Before the second Round A7 sounds already, and before the first D does."""
    form = """\
        harmony: D
        form:
          - {section: Lead, bars: 1, plays: brief}
          - {section: Round, bars: 2, harmony: {0.3: A7, 1: Dm, 2: A7}, plays: brief}
          - {again: Round}
        """
    timeline = build_timeline(spec_of(form))
    assert [(row.name, row.at) for row in timeline.harmony if row.name == "A7"] == [
        ("A7", 8),
        ("A7", 32),
        ("A7", 64),
    ]
    assert not [line for line in told(form) if "holds already" in line]


def test_a_tempo_that_changes_nothing_is_told() -> None:
    form = "form: [{section: A, bars: 8, plays: brief, tempo: {3: 100, 4: {to: 80}, 6: 80, 7: 80}}]\n"
    lines = told(form, HEAD.replace("tempo: 132", "tempo: {1: 100, 2: 100}"))
    assert [line for line in lines if "holds already" in line] == [
        "tempo 2 in the piece: 100 holds already",
        "tempo 3 in A: 100 holds already",
        "tempo 7 in A: 80 holds already",
    ]


def test_groups_that_all_halve_are_told_in_the_longer_pulse() -> None:
    head = HEAD.replace("kiln: [5, 3, 3]", "kiln: [10, 6, 6]\n  odd: {hits: X.x. xx.. x.}")
    lines = told("form:\n  - {section: A, bars: 11, plays: [{figure: kiln, times: 8}]}\n", head)
    assert lines[-1] == "kiln: 10+6+6 is 5+3+3 in eighths"


def test_a_loud_lesson_is_told_with_what_to_do_about_it() -> None:
    form = "form:\n  - {section: A, bars: 11, plays: kiln}\n"
    assert told(f"{form}sound: {{loudness: -9.5}}\n")[-1] == (
        "loudness -9.5 LUFS is louder than most of what is heard on the web (-14): turn the volume down before you "
        "play it, above all on headphones"
    )
    assert told(f"{form}sound: {{loudness: web}}\n") == told(form)


def test_positions_at_the_top_are_told() -> None:
    lines = told("harmony: {1: Em, 3: G}\nform:\n  - {section: A, bars: 4, plays: brief}\n")
    assert lines[-1] == (
        "harmony at the top (bar 3) stays in its place when a section's bars are corrected; "
        "what stands in the section moves with it"
    )


def test_a_bar_of_several_positions_at_the_top_is_named_once() -> None:
    lines = told("fermata: {3.2: 1, 2: 1, 3.4: 1, 3: 2}\nform:\n  - {section: A, bars: 4, plays: brief}\n")
    assert [line for line in lines if "at the top" in line] == [
        "fermata at the top (bars 2 and 3) stays in its place when a section's bars are corrected; "
        "what stands in the section moves with it"
    ]


def test_a_section_in_which_what_runs_goes_on_is_told_how_it_ends() -> None:
    """15 bars of 16 pulses from bar 1 on: 240 = 21 x 11 + 9."""
    lines = told("""\
        form:
          - {section: A, bars: 5, plays: kiln}
          - {section: B, bars: 10, plays: on}
          - {section: C, bars: 1, plays: brief}
        """)
    start = next(index for index, line in enumerate(lines) if line.startswith("B,"))
    assert lines[start] == "B, bars 6-15: 160 = 8 carried over + 13 x 11 + 9 cut"
    end = lines.index("  9 left over: the last kiln is 2 too long")
    assert lines[end + 1 : end + 3] == [
        "  to land, in A: 21 x 11 + tail 9: a tail of 3+3+3",
        "    plays: [{figure: kiln, times: 21}, {tail: [3, 3, 3]}]",
    ]


def test_a_list_that_runs_on_and_is_cut_is_told_where_it_ends() -> None:
    lines = told("""\
        form:
          - {section: A, bars: 1, plays: {figure: brief, times: 7}}
          - {section: B, bars: 2, plays: on}
        """)
    assert [line for line in lines if "too long" in line or "=" in line] == [
        "A, bar 1: 16 = 2 x 8",
        "B, bars 2-3: 32 = 4 x 8",
        "  the list is 8 too long: it is cut before its end",
    ]


def test_a_check_takes_little_longer_than_the_timeline() -> None:
    """210 bars in pulses of 1/505 would take thousands of ways to land if each were played through."""
    spec = parse_spec(
        "tempo: 100\nmeter: 4/4\npulse: 1/505\nfigures: {kiln: [5, 3, 3]}\n"
        "form: [{section: A, bars: 210, plays: kiln}]\n",
        "x",
    )
    begun = time.process_time()
    build_timeline(spec)
    built = time.process_time()
    assert any("to land" in line for line in told_of(spec))
    assert time.process_time() - built <= 3 * (built - begun) + 0.5


def test_a_recording_far_from_the_tempo_is_told() -> None:
    lines = told("sync: {1: 0, 3: 10}\nform:\n  - {section: A, bars: 4, plays: brief}\n")
    assert lines[-2] == (
        "between sync points 1 and 2 the recording lasts 2.75 times as long as the tempo says: is one of them wrong?"
    )


def test_a_second_pass_that_begins_before_its_line_is_added_in_its_place() -> None:
    head = HEAD.replace("kiln: [5, 3, 3]", "kiln: [1, 1, 1]")
    form = (
        "form:\n  - {section: S0, bars: 1}\n  - {section: S1, bars: 2, repeat: 2, starts: 0.1, plays: kiln}\n"
    )
    assert "S1 (1), bars 2-3: 32 = 2 carried over + 4 x 3 + 2 cut + 5 x 3 + 1 running on" in told(form, head)


def test_voices_with_unlike_pulses_each_count_in_their_own() -> None:
    head = HEAD.replace("kiln: [5, 3, 3]", "kiln: {groups: [2, 1], pulse: 1/12}")
    lines = told("form:\n  - {section: A, bars: 1, voices: {high: kiln, low: brief}}\n", head)
    assert [line for line in lines if "=" in line] == [
        "A, bar 1, high: 12 (pulses of 1/12) = 4 x 3",
        "A, bar 1, low: 16 = 2 x 8",
    ]


@settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
@given(specs())
def test_every_sum_comes_out(spec: Spec) -> None:
    try:
        lines = told_of(spec)
    except SpecError:
        assume(False)
        return
    for line in lines:
        if " = " in line and not line.startswith(" "):
            total, terms = line.split(": ", 1)[1].split(" = ")
            number = r"\d+(?:\.\d+|/\d+)?"
            products = [re.findall(number, term) for term in terms.split(" + ")]
            added = sum(Fraction(row[0]) * Fraction(row[1] if len(row) > 1 else 1) for row in products)
            assert added == Fraction(re.findall(number, total)[0]), line
