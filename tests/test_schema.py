"""The shape of a spec: what each key gives, what is told of each, and the same as JSON Schema."""

import json
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

import jsonschema
import pytest
import yaml

from renderer.core.errors import SpecError
from renderer.reading.load import parse_spec
from renderer.reading.schema.document import spec_schema
from renderer.reading.starter import starter_spec
from renderer.spec.model import Entry, Item, Plays, Position, SectionSpec, SegmentSpec, Spec, Tempo
from renderer.timeline.build import build_timeline
from tests.messages import in_one_voice
from tests.spec_texts import EVERYTHING

ROOT = Path(__file__).parent.parent
HEAD = "tempo: 112\nmeter: 4/4\npulse: 1/16\nfigures: {kiln: [5, 3, 3]}\nparts: {kit: figure}\n"
THEME = "form:\n  - section: Theme\n    bars: 12\n"


@pytest.fixture(scope="module")
def spec() -> Spec:
    return parse_spec(EVERYTHING, "kiln.yaml")


def section(text: str) -> SectionSpec:
    """The only section of a form, with `text` as its further keys."""
    return parse_spec(HEAD + THEME + f"    {text}\n", "x").form[0]


def test_figures_are_complete(spec: Spec) -> None:
    assert [(f.name, f.groups, f.hits, f.accents, f.pulse, f.origin) for f in spec.figures] == [
        ("kiln", (5, 3, 3), (1, 6, 9), (1, 6, 9), None, None),
        ("brief", (3, 3, 2), (1, 4, 7), (1, 4, 7), None, "kiln"),
        ("bell", (5, 3, 4), (1, 4, 6, 7, 9), (1,), Fraction(1, 8), None),
        ("gong", (4, 4, 3), (1, 5, 9), (1, 9), None, None),
        ("row", (5,), (1, 4), (), None, None),
    ]


def test_hits_may_stand_beside_groups_and_accents() -> None:
    figures = (
        "figures: {a: {groups: [5, 3], hits: x..x.x.., accents: [6, 1]}, b: {groups: [2], accents: []}}\n"
    )
    read = parse_spec("tempo: 1\nmeter: 4/4\npulse: 1/8\n" + figures + "form: [{section: A, bars: 1}]\n", "x")
    assert [(f.groups, f.hits, f.accents) for f in read.figures] == [
        ((5, 3), (1, 4, 6), (1, 6)),
        ((2,), (1,), ()),
    ]


def test_lanes_hold_values_by_position_and_lists_one_a_bar(spec: Spec) -> None:
    theme = spec.form[1]
    path = ("form", 1, "harmony")
    assert theme.harmony == (
        Entry(Position(1), ("Dm", "F"), (*path, "1")),
        Entry(Position(9), ("C",), (*path, "9")),
        Entry(Position(12, 4, 3), ("G",), (*path, "12.4.3")),
    )
    assert spec.harmony == (Entry(Position(1), ("N.C.",), ("harmony",)),)
    assert [(entry.position, entry.values) for entry in spec.parts["kit"]] == [
        (Position(1), ("bell", "meter")),
        (Position(9, 10), ("tacet",)),
    ]


def test_a_bare_list_is_a_lane_too() -> None:
    assert section("harmony: [Dm, F]").harmony == (Entry(Position(1), ("Dm", "F"), ("form", 0, "harmony")),)


def test_tempi_step_or_move(spec: Spec) -> None:
    assert [(e.position.bar, e.values) for e in spec.form[2].tempo or ()] == [
        (1, (Tempo(Fraction(114)),)),
        (7, (Tempo(Fraction(80), moves=True),)),
    ]
    bare = section("tempo: {to: 80}").tempo
    assert bare == (Entry(Position(1), (Tempo(Fraction(80), moves=True),), ("form", 0, "tempo")),)


def test_plays_is_a_list_of_items(spec: Spec) -> None:
    path = ("form", 2, "plays")
    assert spec.form[2].plays == {
        "main": Plays(
            (
                Item("figure", (*path, 0), figure="brief", times=Fraction(7, 2)),
                Item("tail", (*path, 1), groups=(4, 4)),
                Item("figure", (*path, 2), figure="kiln"),
                Item("first", (*path, 3), figure="kiln", count=5),
                Item("rest", (*path, 4), count=4, pulse=Fraction(1, 8)),
            ),
            path,
        )
    }


def test_plays_on_has_no_items(spec: Spec) -> None:
    assert spec.form[1].plays == {"main": Plays(None, ("form", 1, "plays"))}


def test_voices_stand_in_place_of_plays(spec: Spec) -> None:
    two = spec.form[3]
    assert two.plays is not None
    assert {voice: plays.items and len(plays.items) for voice, plays in two.plays.items()} == {
        "main": None,
        "bell": 2,
    }
    assert two.starts == {"main": "after", "bell": Position(1, 3)}


def test_keys_that_are_not_given_are_none() -> None:
    assert section("bars: 3".replace("bars: 3", "repeat: 3")) == SectionSpec(
        ("form", 0), "Theme", None, 12, 3, None, None, None, None, None, None, None, None
    )


@pytest.mark.parametrize("text", ["", "click: none\n", "click: off\n", "click: {every: none}\n"])
def test_there_may_be_no_click(text: str) -> None:
    assert parse_spec(HEAD + THEME + text, "x").click is None


@pytest.mark.parametrize(("text", "bars"), [("click: beat\n", 1), ("click: {count_in: 0}\n", 0)])
def test_a_click_has_a_bar_of_count_in_unless_told_otherwise(text: str, bars: int) -> None:
    click = parse_spec(HEAD + THEME + text, "x").click
    assert click is not None
    assert click.count_in == bars


def test_segments(spec: Spec) -> None:
    assert spec.segments == (
        SegmentSpec("figure", ("segments", 0)),
        SegmentSpec("figure", ("segments", 1), figure="bell"),
        SegmentSpec("spread", ("segments", 2), sections=("Opening", "Theme")),
        SegmentSpec("play", ("segments", 3)),
    )
    assert parse_spec(HEAD + THEME + "segments: play\n", "x").segments == (
        SegmentSpec("play", ("segments",)),
    )


def test_points_in_the_recording(spec: Spec) -> None:
    assert [(point.position, point.seconds) for point in spec.sync] == [
        (Position(1), Fraction("0.532")),
        (Position(13), Fraction("26.94")),
    ]
    again = spec.form[4]
    assert (again.name, again.again, again.bar_count) == ("Return", "Opening", 13)
    assert [(point.position, point.seconds) for point in again.sync or ()] == [
        (Position(1), Fraction("81.4"))
    ]


# A section's or the file's further keys, the word at which the fault is told, and what is told.
FAULTS = [
    ("    harmony: [1:Em, G]", "1:Em", "form[0].harmony[0]: got 1:Em, position and harmony in one."),
    ("    harmony: {1: Em, 1.1: G}", "1.1", "form[0].harmony.1.1: 1.1 is the same place as 1."),
    ("    harmony: {}", "{}", "form[0].harmony: got an empty map; a harmony belongs here."),
    ("    harmony: []", "[]", "form[0].harmony: got an empty list; it has one value a bar."),
    ("    harmony: {1: {2: E}}", "{2", "form[0].harmony.1: got a map; a harmony such as Em belongs here."),
    ("    meter: {2.2: 3/4}", "2.2", "form[0].meter.2.2: got 2.2; a meter changes on a bar line."),
    ("    tempo: {7: {too: 80}}", "too", "form[0].tempo.7.too: a change of tempo has no such key."),
    ("    tempo: fast", "fast", "form[0].tempo: got fast; a tempo is 1 to 1,000 quarter notes a minute."),
    ("    repeat: 0", "0", "form[0].repeat: got 0; repeat is 1 to 1,000 times."),
    ("    plays: []", "[]", "form[0].plays: got 0 entries; plays has 1 to 2,000 entries."),
    ("    plays: [{times: 3}]", "{", "form[0].plays[0]: an item of plays needs figure, first, tail or rest."),
    ("    plays: [{first: 3}]", "{", "form[0].plays[0]: first needs of, the figure's name."),
    ("    plays: [{tail: 4, times: 2}]", "times", "form[0].plays[0].times: times can't be used with tail."),
    (
        "    plays: [{rest: 0}]",
        "0",
        "form[0].plays[0].rest: got 0; this is a number of pulses, 1 to 100,000.",
    ),
    ("    plays: {kiln: 3}", "kiln", "form[0].plays.kiln: an item of plays has no such key."),
    ("    plays: [kiln, on]", "on]", "form[0].plays[1]: on can't be one of several items."),
    ("    plays: kiln\n    voices: {a: on}", "voices", "form[0].voices: voices can't be used with plays."),
    ("    starts: later", "later", "form[0].starts: got later; starts is downbeat, after or a position."),
    (
        "    fermata: {1: 0}",
        "0",
        "form[0].fermata.1: got 0; a fermata adds seconds, more than 0 and at most 600.",
    ),
    ("    parts: kit", "kit", "form[0].parts: got a text (kit); a map of parts belongs here."),
    ("  - bars: 3", "bars", "form[1]: a section needs section or again."),
    ("  - section: B", "section", "form[1]: bars is missing in this section."),
    ("  - Theme", "Theme", "form[1]: got a text (Theme); a section belongs here."),
    ("title: " + "a" * 81, "aaa", "title: got 81 characters; there is room for 80."),
    ("pickup: a quarter", "a q", "pickup: got a quarter; a pick-up's length is a fraction of a whole note."),
    (
        "click: {count_in: 9}",
        "9",
        "click.count_in: got 9; a count-in has 0 to 8 bars, or beats as in 6 beats.",
    ),
    ("segments: [{show: wheel, title: Bank}]", "title", "segments[0].title: wheel takes no title."),
    ("segments: [plya]", "plya", "segments[0]: unknown segment plya."),
    ("segments: [{show: play, figure: kiln}]", "figure", "segments[0].figure: play takes no figure."),
    ("segments: [{sections: Theme}]", "{", "segments[0]: show is missing in a segment."),
    (
        "sync: {1: soon}",
        "soon",
        "sync.1: got soon; a place in the recording is seconds or m:ss.s, 0 to 86,400 seconds.",
    ),
]


def the_fault(text: str) -> tuple[str, str]:
    """What stands at the place of the only fault of `text`, to the line's end; and what is told."""
    with pytest.raises(SpecError) as caught:
        parse_spec(text, "x")
    heads = [line for line in str(in_one_voice(caught.value, text)).splitlines() if line.startswith("x:")]
    assert len(heads) == 1, heads
    _, line, column, told = heads[0].split(":", 3)
    return text.splitlines()[int(line) - 1][int(column) - 1 :], told.strip()


@pytest.mark.parametrize(("text", "word", "expected"), FAULTS, ids=[text.strip() for text, *_ in FAULTS])
def test_a_value_at_fault_is_told_alone_with_its_place(text: str, word: str, expected: str) -> None:
    found, told = the_fault(HEAD + THEME + text + "\n")
    assert told == expected
    assert found.startswith(word)


FIGURE_FAULTS = [
    ("5", "5", "figures.a: got 5; hits are written with x, X and . only."),
    ("{groups: '5, 3'}", "'5", "figures.a.groups: got a text (5, 3); a list of groups belongs here."),
    ("[0]", "0", "figures.a[0]: got 0; a group has 1 to 200 pulses."),
    ("[150, 150]", "[150", "figures.a: got 300 pulses; a figure has at most 200."),
    ("[]", "[]", "figures.a: got 0 entries; a list of groups has 1 to 40 entries."),
    ("{hits: X..x, groups: [5]}", "X..x", "figures.a.hits: got 4 pulses; groups says 5."),
    ("{hits: X. .x, groups: [1, 3]}", "X. .x", "figures.a.hits: got 2+2 pulses; groups says 1+3."),
    (
        "{groups: [5, 3], accents: [2]}",
        "2]",
        "figures.a.accents[0]: got 2; an accent stands on a hit, and the hits are 1, 6.",
    ),
    ("{hits: X.x, accents: [3]}", "[3]", "figures.a.accents: got [3]; hits has its X on [1]."),
    ("{accents: [1]}", "{acc", "figures.a: a figure needs groups or hits."),
    (
        "{groups: [3], pulse: 1/0}",
        "1/0",
        "figures.a.pulse: got 1/0; a pulse is a fraction of a whole note, 1/1 to 1/1024.",
    ),
]


@pytest.mark.parametrize(("figure", "word", "expected"), FIGURE_FAULTS)
def test_a_figure_at_fault_is_told_alone(figure: str, word: str, expected: str) -> None:
    form = "tempo: 1\nmeter: 4/4\npulse: 1/8\nform: [{section: A, bars: 1, plays: a}]\n"
    found, told = the_fault(f"figures: {{a: {figure}}}\n{form}")
    assert told == expected
    assert found.startswith(word)


# JSON Schema


def as_json(text: str) -> object:
    """What an ordinary YAML parser makes of a spec: numbers and booleans; keys are texts in JSON."""

    def texts(value: object) -> object:
        if isinstance(value, dict):
            return {str(key): texts(child) for key, child in value.items()}
        return [texts(item) for item in value] if isinstance(value, list) else value

    return texts(yaml.safe_load(text))


def test_the_schema_is_valid_and_pure_json() -> None:
    schema = spec_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    assert json.loads(json.dumps(schema)) == schema


def schemas(value: object) -> Iterator[dict[str, object]]:
    if isinstance(value, dict):
        if "properties" in value:
            yield value
        for child in value.values():
            yield from schemas(child)
    elif isinstance(value, list):
        for child in value:
            yield from schemas(child)


def test_every_key_says_what_it_is_for() -> None:
    records = list(schemas(spec_schema()))
    assert len(records) >= 7
    for record in records:
        properties = record["properties"]
        assert isinstance(properties, dict)
        assert all(key["description"] for key in properties.values())


@pytest.mark.parametrize(
    "text",
    [
        EVERYTHING,
        starter_spec("Reed Bed"),
        *(path.read_text(encoding="utf-8") for path in (ROOT / "specs").glob("*.yaml")),
    ],
)
def test_the_schema_takes_what_the_reader_takes(text: str) -> None:
    parse_spec(text, "x")
    jsonschema.Draft202012Validator(spec_schema()).validate(as_json(text))


BEYOND_A_SCHEMA = (
    "1:Em",
    "1.1",
    "2.2",
    "on]",
    "{first: 3}",
    "times: 2",
    "figure: kiln",
    "title: Bank",
    "voices",
    "- section: B",
)
"""What no JSON Schema of this kind can tell: keys that exclude each other, places, names."""
REFUSED_BY_BOTH = [text for text, *_ in FAULTS if not any(mark in text for mark in BEYOND_A_SCHEMA)]


@pytest.mark.parametrize("text", REFUSED_BY_BOTH, ids=str.strip)
def test_the_schema_refuses_what_has_the_wrong_shape(text: str) -> None:
    validator = jsonschema.Draft202012Validator(spec_schema())
    assert list(validator.iter_errors(as_json(HEAD + THEME + text + "\n")))


def test_the_starter_has_the_name_as_its_title() -> None:
    for title in ("Reed Bed", "Study #2", "1:30", 'So "quiet"', "on", "Überfahrt: zwei"):
        text = starter_spec(title)
        assert parse_spec(text, "x").title == title
        assert build_timeline(parse_spec(text, "x")).repetitions
        assert sum(map(len, text.splitlines())) > 500
