"""Hints that tell what to write: written, each makes the spec right, and no other fault is told beside it."""

import pytest

from renderer.core.errors import SpecError
from renderer.lesson.lesson import Lesson, check_choices
from renderer.reading.load import parse
from renderer.timeline.build import build_timeline
from tests.messages import in_one_voice

HEAD = "tempo: 120\nmeter: 4/4\npulse: 1/16\nfigures: {otter: [5, 3, 3], wren: [3, 3, 2]}\nparts: {kit: figure}\n"
SECTION = "form: [{{section: Bank, bars: 4, {}}}]\n"
PLAYS = "form: [{{section: Bank, bars: 4, plays: [{}]}}]\n"
SEGMENT = "form: [{{section: Bank, bars: 4, plays: otter}}]\nsegments: [{}]\n"

# The spec, what is written in it by mistake, the hint (… stands for more names), what the hint makes of it.
HINTS = [
    (SECTION, "play: otter", "Write plays.", "plays: otter"),
    (SECTION, "chords: Em", "Write harmony.", "harmony: Em"),
    (SECTION, "notes: {2: strings enter}", "Write marks.", "marks: {2: strings enter}"),
    (SECTION, "times: 2", "Write repeat.", "repeat: 2"),
    (SECTION, "name: Shore", "Remove it: section gives the name.", ""),
    (
        SECTION,
        "Mill: {bars: 12}",
        "Write it as a section of its own: - section: Mill.",
        "plays: otter}, {section: Mill, bars: 12",
    ),
    (PLAYS, "otter 3", "Write {figure: otter, times: 3}.", "{figure: otter, times: 3}"),
    (PLAYS, "3 x otter", "Write {figure: otter, times: 3}.", "{figure: otter, times: 3}"),
    (PLAYS, "{figure: otter, repeat: 3}", "Write times.", "{figure: otter, times: 3}"),
    (PLAYS, "{figure: otter, tims: 3}", "Write times? There are: times, pulse.", "{figure: otter, times: 3}"),
    (PLAYS, "{figure: otter, times: 3 times}", "Write 3.", "{figure: otter, times: 3}"),
    (PLAYS, "{figure: wren, times: 3 1/2}", "Write 3.5.", "{figure: wren, times: 3.5}"),
    (PLAYS, "{figure: otter, first: 3}", "Write {first: 3, of: otter}.", "{first: 3, of: otter}"),
    (
        PLAYS,
        "{first: 2 groups, figure: otter}",
        "Write {first: 2 groups, of: otter}.",
        "{first: 2 groups, of: otter}",
    ),
    (PLAYS, "{first: 2 groups}", "Write {first: 2 groups, of: kiln}.", "{first: 2 groups, of: otter}"),
    (
        PLAYS,
        "{first: two, of: otter}",
        "Write 5 for five pulses, or 2 groups.",
        "{first: 2 groups, of: otter}",
    ),
    (PLAYS, "{first: 4 groups, of: otter}", "Write a number from 1 to 3.", "{first: 3 groups, of: otter}"),
    (PLAYS, "{first: 12, of: otter}", "Write a number from 1 to 11.", "{first: 11, of: otter}"),
    (PLAYS, "{rest: 1/4}", "Write {rest: 1, pulse: 1/4}.", "{rest: 1, pulse: 1/4}"),
    (PLAYS, "{rest: 2 quarters}", "Write {rest: 2, pulse: 1/4}.", "{rest: 2, pulse: 1/4}"),
    (
        PLAYS,
        "{rest: a bar}",
        "Count it in pulses, {rest: 4}, or give it a count of its own, {rest: 1, pulse: 1/4}.",
        "{rest: 4}, {rest: 1, pulse: 1/4}",
    ),
    (PLAYS, "{rest: 4, times: 2}", "Write {rest: 8}.", "{rest: 8}"),
    (PLAYS, "{tail: 4, times: 2}", "Remove times.", "{tail: 4}"),
    (PLAYS, "{tail: 4 4}", "Write [4, 4].", "{tail: [4, 4]}"),
    (PLAYS, "{tail: 4+4}", "Write [4, 4].", "{tail: [4, 4]}"),
    (PLAYS, "{figure: otter, tail: 4}", "Make two items of it.", "otter, {tail: 4}"),
    (
        PLAYS,
        "{figure: otter, times: 3.5}",
        "Write {figure: otter, times: 3}, then {first: 1 group, of: otter} (5 pulses), "
        "{first: 2 groups, of: otter} (8 pulses) or {first: 6, of: otter}.",
        "{figure: otter, times: 3}, {first: 2 groups, of: otter}",
    ),
    (
        PLAYS,
        "{figure: wren, times: 0.3}",
        "Write {first: 1 group, of: wren} (3 pulses) or {first: 2, of: wren}.",
        "{first: 1 group, of: wren}",
    ),
    (
        SEGMENT,
        "{show: play, parts: [kit]}",
        "It takes sections, bars, …",
        "play",
    ),
    (SEGMENT, "{show: play, section: Bank}", "Write sections: Bank.", "{show: play, sections: Bank}"),
    (SEGMENT, "{show: fit, sections: [Bank]}", "Write section: Bank.", "{show: fit, section: Bank}"),
    (SEGMENT, "{show: play, loop: 4}", "Write times.", "{show: play, times: 4}"),
    (SEGMENT, "{show: card, subtitle: Off beat}", "Write line.", "{show: card, line: Off beat}"),
    (SEGMENT, "{show: play, speed: 0.5}", "Write 50 %.", "{show: play, speed: 50 %}"),
    (
        SEGMENT,
        "{play: {speed: 50}}",
        "Write show: play, and its options beside it.",
        "{show: play, speed: 50}",
    ),
    (
        SEGMENT,
        "{show: play, spead: 50}",
        "Write speed? There are: sections, bars, …",
        "{show: play, speed: 50}",
    ),
]


def check(text: str) -> Lesson:
    """Read a spec to the end, with the steps of its segments."""
    loaded = parse(text, "x")
    with loaded.placing():
        timeline = build_timeline(loaded.spec)
        check_choices(loaded.spec, timeline)
        lesson = Lesson(loaded.spec, timeline)
        lesson.segments()
    return lesson


@pytest.mark.parametrize(("spec", "wrong", "hint", "right"), HINTS, ids=[wrong for _, wrong, _, _ in HINTS])
def test_what_a_hint_says_makes_the_spec_right(spec: str, wrong: str, hint: str, right: str) -> None:
    text = HEAD + spec.format(wrong)
    with pytest.raises(SpecError) as caught:
        check(text)
    (problem,) = in_one_voice(caught.value, text).problems
    beginning, more, _ = hint.partition("…")
    assert problem.mend == hint or (more and str(problem.mend).startswith(beginning))
    check(HEAD + spec.format(right))


@pytest.mark.parametrize("said", ["1 group", "2 groups", "3 groups"])
def test_the_first_groups_of_a_figure_are_its_pulses(said: str) -> None:
    count = int(said[0])
    (first,) = check(HEAD + PLAYS.format(f"{{first: {said}, of: otter}}")).timeline.repetitions
    assert [group.length for group in first.statement.groups] == [5, 3, 3][:count]
    assert first.statement.kind == ("whole" if count == 3 else "first")
