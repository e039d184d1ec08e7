"""Names that lead somewhere, and what is told of those that do not."""

import pytest

from renderer.core.errors import SpecError
from renderer.reading.load import parse_spec
from tests.messages import in_one_voice

HEAD = """\
tempo: 112
meter: 4/4
pulse: 1/16
figures: {kiln: [5, 3, 3], brief: {groups: [3, 3, 2], from: kiln}}
parts: {kit: meter}
form:
  - section: Opening
    bars: 8
    plays: kiln
  - section: Theme
    bars: 8
    voices: {high: kiln, low: brief}
"""


def heads(text: str) -> list[tuple[str, str]]:
    """What stands at each fault's place, to the line's end, and what is told."""
    with pytest.raises(SpecError) as caught:
        parse_spec(text, "x")
    lines = text.splitlines()
    found = []
    for head in (
        line for line in str(in_one_voice(caught.value, text)).splitlines() if line.startswith("x:")
    ):
        _, line, column, told = head.split(":", 3)
        found.append((lines[int(line) - 1][int(column) - 1 :], told.strip()))
    return found


def test_the_head_alone_is_a_spec() -> None:
    assert len(parse_spec(HEAD, "x").form) == 2


# What is put in the place of what, and each fault: the rest of its line, and what is told.
FAULTS = [
    ("plays: kiln", "plays: klin", [("klin", "form[0].plays: there is no figure klin.")]),
    (
        "plays: kiln",
        "plays: [kiln, {first: 3, of: klin}]",
        [("klin}]", "form[0].plays[1].of: there is no figure klin.")],
    ),
    ("low: brief", "low: [brieff]", [("brieff]}", "form[1].voices.low[0]: there is no figure brieff.")]),
    ("from: kiln", "from: kilm", [("kilm}}", "figures.brief.from: there is no figure kilm.")]),
    (
        "from: kiln",
        "from: brief",
        [("brief}}", "figures.brief.from: brief is a variant of itself (brief from brief).")],
    ),
    (
        "{kiln: [5, 3, 3],",
        "{kiln: {groups: [5], from: brief},",
        [
            (
                "brief}, brief: {groups: [3, 3, 2], from: kiln}}",
                "figures.kiln.from: kiln is a variant of itself (kiln from brief from kiln).",
            ),
            ("kiln}}", "figures.brief.from: brief is a variant of itself (brief from kiln from brief)."),
        ],
    ),
    (
        "{kiln:",
        "{on: [3], kiln:",
        [("on: [3], ", "figures.on: a figure can't be called on; plays: on has its own")],
    ),
    ("tempo: 112\n", "", [("meter: 4/4", "tempo is not given from bar 1 on.")]),
    ("tempo: 112\n", "tempo: {2: 112}\n", [("{2: 112}", "tempo: none is given for bar 1.")]),
    ("meter: 4/4\n", "meter: {-1: 4/4}\n", [("{-1: 4/4}", "meter: none is given for bar 1.")]),
    (
        "pulse: 1/16\n",
        "",
        [
            (
                "[5, 3, 3], brief: {groups: [3, 3, 2], from: kiln}}",
                "figures.kiln: no pulse is given for kiln.",
            ),
            ("{groups: [3, 3, 2], from: kiln}}", "figures.brief: no pulse is given for brief."),
        ],
    ),
    ("kit: meter", "kit: metre", [("metre}", "parts.kit: metre is not a side.")]),
    ("kit: meter", "kit: figure", [("figure}", "parts.kit: figure is one of several voices here.")]),
    (
        "plays: kiln",
        "plays: kiln\n    parts: {kti: {3: meter}}",
        [("kti: {3: meter}}", "form[0].parts.kti: there is no part kti at the top.")],
    ),
    (
        "plays: kiln",
        "plays: kiln\n    parts: {kit: [meter, mter]}",
        [("mter]}", "form[0].parts.kit[1]: mter is not a side.")],
    ),
    (
        "high: kiln",
        "meter: kiln",
        [("meter: kiln, low: brief}", "form[1].voices.meter: a voice can't be called meter;")],
    ),
    (
        "low: brief}",
        "low: brief}\n    starts: {main: after}",
        [("main: after}", "form[1].starts.main: Theme has no voice main.")],
    ),
    (
        "section: Theme",
        "section: Opening",
        [("Opening", "form[1].section: there is a section Opening already.")],
    ),
    (
        "section: Theme\n    bars: 8",
        "again: Opning",
        [("Opning", "form[1].again: there is no section Opning before this.")],
    ),
]


@pytest.mark.parametrize(
    ("old", "new", "expected"), FAULTS, ids=[new.strip() or old for old, new, _ in FAULTS]
)
def test_a_name_that_leads_nowhere_is_told(old: str, new: str, expected: list[tuple[str, str]]) -> None:
    assert old in HEAD
    found = heads(HEAD.replace(old, new, 1))
    assert len(found) == len(expected)
    for (rest, told), (wanted_rest, wanted) in zip(found, expected, strict=True):
        assert rest.startswith(wanted_rest)
        assert told.startswith(wanted)


MORE = [
    (
        "  - again: Theme\n    repeat: 2\n    sync: 3\n",
        "sync: 3",
        "form[2].sync: sync can't be used with repeat",
    ),
    (
        "  - again: Coda\n  - section: Coda\n    bars: 3\n",
        "Coda",
        "form[2].again: Coda comes later; again looks back.",
    ),
    (
        "  - again: Theme\n    repeat: 20\n    bars: 9999\n",
        "20",
        "form[2].repeat: the piece comes to 199,996 bars here",
    ),
    ("  - again: Theme\n    bars: 99999\n", "99999", "form[2].bars: the piece comes to 100,015 bars here"),
    ("segments: [{show: figure, figure: klin}]\n", "klin", "segments[0].figure: there is no figure klin."),
    (
        "segments: [{show: play, sections: [Them]}]\n",
        "Them]",
        "segments[0].sections[0]: there is no section Them.",
    ),
]


@pytest.mark.parametrize(("text", "rest", "told"), MORE)
def test_what_comes_later_in_the_file_is_checked_too(text: str, rest: str, told: str) -> None:
    ((found_rest, found),) = heads(HEAD + text)
    assert found_rest.startswith(rest)
    assert found.startswith(told)


def test_sync_beside_an_inherited_repeat_is_told_and_repeat_1_mends_it() -> None:
    head = HEAD.replace("    plays: kiln\n", "    plays: kiln\n    repeat: 2\n")
    ((_, told),) = heads(head + "  - again: Opening\n    sync: 3\n")
    assert told.startswith("form[2].sync: sync can't be used with repeat")
    assert parse_spec(head + "  - again: Opening\n    repeat: 1\n    sync: 3\n", "x").form[2].sync


def test_again_may_name_a_renamed_pass_and_inherits_its_voices() -> None:
    text = HEAD + "  - again: Theme\n    section: Return\n  - again: Return\n    starts: {low: after}\n"
    assert [section.again for section in parse_spec(text, "x").form] == [None, None, "Theme", "Return"]


def test_whatever_counts_pulses_needs_the_top_level_pulse() -> None:
    text = (
        "tempo: 1\nmeter: 4/4\nfigures: {a: {groups: [3], pulse: 1/8}}\nform:\n  - section: A\n    bars: 4\n"
        "    plays: a\n    harmony: {1: Em, 1.2.2: G}\nclick: pulse\n"
    )
    assert [told for _, told in heads(text)] == [
        "form[0].harmony.1.2.2: a position with a pulse, but no pulse at the top.",
        "click: a click on every pulse, but no pulse at the top.",
    ]
    assert parse_spec(text.replace("1.2.2", "1.2").replace("click: pulse", "click: beat"), "x").pulse is None


def test_a_faulty_value_is_not_told_again_as_missing() -> None:
    text = (
        HEAD.replace("tempo: 112", "tempo: {1: fast}")
        .replace("[5, 3, 3]", "[0]")
        .replace("pulse: 1/16", "pulse: x")
    )
    assert [told.split(":")[0] for _, told in heads(text)] == ["tempo.1", "pulse", "figures.kiln[0]"]


def test_a_key_near_a_missing_one_is_told_once() -> None:
    assert [told for _, told in heads(HEAD.replace("meter: 4/4", "metre: 4/4"))] == [
        "metre: a spec has no such key."
    ]


def test_tempo_and_meter_may_come_with_the_first_section() -> None:
    text = "form: [{section: A, bars: 4, tempo: 90, meter: {1: 3/4}}]\n"
    assert parse_spec(text, "x").tempo == ()


def test_no_more_voices_than_the_limit() -> None:
    voices = ", ".join(f"v{number}: kiln" for number in range(11))
    ((_, told),) = heads(HEAD + f"  - section: Many\n    bars: 4\n    voices: {{{voices}}}\n")
    assert told == "form: got 14 voices; a piece has at most 12."


def test_an_option_that_is_faulty_does_not_hide_the_fault_of_another() -> None:
    text = (
        "tempo: 60\nmeter: 4/4\npulse: 1/16\nfigures: {kiln: [5, 3, 3]}\n"
        "form: [{section: A, bars: 2, plays: kiln}]\n"
        "segments: [{show: wheel, figure: klin, speed: 10, staff: true}]\n"
    )
    with pytest.raises(SpecError) as caught:
        parse_spec(text, "piece.yaml")
    told = str(caught.value)
    assert "segments[0].figure" in told
    assert "segments[0].speed" in told
    assert "wheel takes no staff" in told
