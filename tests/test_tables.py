"""The timeline as JSON, CSV and a table to read."""

import csv
import io
import json
import re
from fractions import Fraction
from typing import Any

import jsonschema
from hypothesis import HealthCheck, assume, given, settings

from renderer.core.errors import SpecError
from renderer.report.table import clock_text, timeline_listing
from renderer.report.timeline_json import CSV_COLUMNS, repetitions_csv, timeline_json
from renderer.report.timeline_schema import timeline_schema
from renderer.spec.model import Spec
from renderer.timeline.build import build_timeline
from renderer.timeline.model import Timeline
from tests.pieces import HEAD, timeline_of
from tests.strategies import specs

KILN = """\
title: Kiln Song
tempo: 112
meter: 4/4
pulse: 1/16
figures:
  kiln: [5, 3, 3]
  brief: {groups: [3, 3, 2], from: kiln}
parts: {marimba: figure, bass: figure, kit: figure}
form:
  - section: Opening
    bars: 12
    harmony: {1: Em, -4: G}
    plays: kiln
    parts: {kit: {9.3: meter}}
  - section: Theme
    bars: 12
    harmony: {1: [Dm, F], 9: C, 12.4.3: G}
    plays: on
    parts: {kit: figure}
  - section: Middle
    bars: 8
    starts: after
    tempo: {7: {to: 80}}
    fermata: {8.4: 2}
    plays: [{figure: brief, times: 3.5}, {tail: [4, 4]}, kiln, {first: 5, of: kiln}, {rest: 4}, brief]
  - again: Opening
    bars: 13
"""


def document(timeline: Timeline) -> dict[str, Any]:
    """The JSON read back; it must be as its schema says."""
    found: dict[str, Any] = json.loads(timeline_json(timeline))
    jsonschema.Draft202012Validator(timeline_schema()).validate(found)
    return found


def test_the_schema_is_one() -> None:
    jsonschema.Draft202012Validator.check_schema(timeline_schema())


def test_the_json_has_the_example_s_rows() -> None:
    found = document(timeline_of("", KILN))
    assert (found["title"], found["bars"], found["length"], found["pickup"]) == ("Kiln Song", 45, "45", "0")
    assert found["bar_lines"][0] == {
        "bar": 1,
        "section": "Opening",
        "meter": "4/4",
        "at": "0",
        "seconds": 0.0,
    }
    assert found["beats"][0] == {"bar": 1, "beat": 1, "at": "0", "seconds": 0.0}
    assert found["repetitions"][0] == {
        "voice": "main",
        "figure": "kiln",
        "number": 1,
        "count": 1,
        "section": "Opening",
        "at": "0",
        "bar": 1,
        "beat": "1",
        "offset": "0",
        "seconds": 0.0,
        "length": "11/16",
        "played": "11/16",
        "cut": False,
        "kind": "whole",
        "pulse": "1/16",
        "groups": [
            {"at": "0", "length": "5/16"},
            {"at": "5/16", "length": "3/16"},
            {"at": "1/2", "length": "3/16"},
        ],
    }
    seconds = float(8 * Fraction(240, 112))
    crossing = found["crossings"][0]
    assert crossing == {
        "voice": "main",
        "repetition": 12,
        "from": "Em",
        "to": "G",
        "at": "8",
        "bar": 9,
        "beat": "1",
        "seconds": seconds,
        "into": "7/16",
        "group": 2,
        "into_group": "1/8",
    }
    landing = {"voice": "main", "repetition": 2, "accent": 2, "at": "1", "bar": 2, "played": True}
    assert found["landings"][1] == landing
    realignment = {"voice": "main", "repetition": 17, "at": "11", "bar": 12, "full": False}
    assert found["realignments"][0] == realignment
    assert found["handovers"][0] == {
        "voice": "main",
        "from": "kiln",
        "to": "brief",
        "at": "385/16",
        "bar": 25,
        "beat": "5/4",
        "line": "24",
        "over": "1/16",
        "ended": "whole",
    }
    assert found["sections"][3] == {
        "name": "Opening",
        "pass": 2,
        "bar": 33,
        "bars": 13,
        "at": "32",
        "seconds": found["bar_lines"][32]["seconds"],
    }
    assert found["figures"][1] == {
        "name": "brief",
        "pulse": "1/16",
        "length": "1/2",
        "groups": [3, 3, 2],
        "hits": [1, 4, 7],
        "accents": [1, 4, 7],
        "from": "kiln",
    }
    assert found["harmony"][1] == {"name": "G", "at": "8", "bar": 9, "beat": "1", "seconds": seconds}
    drum = [
        (row["side"], row["at"], row["bar"], row["beat"]) for row in found["parts"] if row["part"] == "kit"
    ]
    assert drum[:2] == [("main", "0", 1, "1"), ("meter", "17/2", 9, "3")]
    tempo = [(row["quarters"], row["to"], row["at"]) for row in found["tempo"]]
    assert tempo == [("112", None, "0"), ("112", "80", "30"), ("112", None, "32")]


def test_a_pick_up_has_bar_0_and_stands_below_0() -> None:
    found = document(
        timeline_of("""\
        pickup: 1/4
        form:
          - {section: A, bars: 2, starts: 0.4, plays: [{tail: [4]}, kiln]}
        """)
    )
    assert (found["bars"], found["length"], found["pickup"]) == (2, "2", "1/4")
    assert found["bar_lines"][0]["bar"] == 0
    assert found["bar_lines"][0]["at"] == "-1/4"
    first = found["repetitions"][0]
    assert (first["at"], first["bar"], first["beat"], first["offset"]) == ("-1/4", 0, "4", "12")
    assert first["figure"] is None


def test_beats_are_felt_beats_and_offsets_own_pulses_as_fractions() -> None:
    head = HEAD.replace("meter: 4/4", "meter: 7/8 in 2+2+3").replace(
        "[5, 3, 3]", "{groups: [4], pulse: 1/12}"
    )
    found = document(timeline_of("form:\n  - {section: A, bars: 3, plays: kiln}\n", head))
    rows = [(row["at"], row["bar"], row["beat"], row["offset"]) for row in found["repetitions"][:5]]
    assert rows == [
        ("0", 1, "1", "0"),
        ("1/3", 1, "7/3", "4"),
        ("2/3", 1, "31/9", "8"),
        ("1", 2, "3/2", "3/2"),
        ("4/3", 2, "17/6", "11/2"),
    ]


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(specs())
def test_every_timeline_s_json_is_as_its_schema_says_and_as_the_timeline(spec: Spec) -> None:
    try:
        timeline = build_timeline(spec)
    except SpecError:
        assume(False)
        return
    found = document(timeline)
    for row, made in zip(found["repetitions"], timeline.repetitions, strict=True):
        assert Fraction(row["at"]) == timeline.whole(made.at)
        assert row["seconds"] == float(timeline.seconds(made.at))
        beat = timeline.beat_at(made.at)
        if beat.at <= made.at:
            inside = Fraction(made.at - beat.at, beat.end - beat.at)
            assert Fraction(row["beat"]) == beat.number + inside
        lengths = [Fraction(group["length"]) for group in row["groups"]]
        assert sum(lengths) == Fraction(row["played"])
        assert Fraction(row["offset"]) * Fraction(row["pulse"]) == timeline.whole(made.offset)
    assert len(list(csv.reader(io.StringIO(repetitions_csv(timeline))))) == len(timeline.repetitions) + 1


def as_number(cell: str) -> str:
    """A cell with a fraction after its whole number as one fraction."""
    whole, _, part = cell.partition(" ")
    if "/" not in part:
        return cell
    return str(Fraction(part) + int(whole) if cell[0] != "-" else int(whole) - Fraction(part))


def test_a_spreadsheet_takes_no_cell_of_the_csv_for_a_date_or_a_formula() -> None:
    """What begins a formula: OWASP, CSV Injection. What is a date to a spreadsheet, two or three numbers with strokes
    or lines between them, or a month with a number, is from memory."""
    names = ["=1+1", "+2", "-3", "@here", "3/4", "2-3", "Mar 3", "Theme 2", "9.10"]
    form = "".join(f'  - {{section: "{name}", bars: 2, plays: kiln}}\n' for name in names)
    text = repetitions_csv(timeline_of("pickup: 3/16\nform:\n" + form, HEAD.replace("5, 3, 3", "1, 2")))
    cells = {cell for row in csv.reader(io.StringIO(text)) for cell in row}
    assert {f"'{name}" for name in names if name != "Theme 2"} | {"Theme 2"} <= cells
    assert not [cell for cell in cells if cell[:1] in ("=", "+", "@", "\t", "\r")]
    assert not [
        cell for cell in cells if cell.startswith("-") and not re.fullmatch(r"-[0-9]+( [0-9]+/[0-9]+)?", cell)
    ]
    date = re.compile(
        r"[0-9]+([-/.][0-9]+){1,2}|(jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]* ?[0-9]+", re.I
    )
    seconds = {row["seconds"] for row in csv.DictReader(io.StringIO(text))}
    assert not [cell for cell in cells - seconds if date.fullmatch(cell)]


def test_the_csv_has_the_json_s_values() -> None:
    timeline = timeline_of("", KILN)
    rows = list(csv.DictReader(io.StringIO(repetitions_csv(timeline))))
    assert tuple(rows[0]) == CSV_COLUMNS
    for row, expected in zip(rows, document(timeline)["repetitions"], strict=True):
        for key in ("voice", "number", "section", "at", "bar", "beat", "offset", "length", "played", "kind"):
            assert as_number(row[key]) == str(expected[key])
        assert float(row["seconds"]) == expected["seconds"]
    assert [row["groups"] for row in rows[38:42]] == ["3+1", "4+4", "5+3+3", "5"]
    assert rows[39]["figure"] == ""
    assert [row["count"] for row in rows[38:42]] == ["4", "", "1", "2"]


def test_the_table_tells_what_happens_in_each_repetition() -> None:
    lines = timeline_listing(timeline_of("", KILN))
    assert lines[0] == "Kiln Song: 45 bars, 45 whole notes, 1:39.190"
    assert lines[2] == "Opening (1), bars 1-12, from 0:00.000"
    assert lines[3] == "  no  figure  count  bar.beat  offset  plays      time  what happens"
    assert lines[5] == "   2  kiln        2  1.3.4         11  5+3+3  0:01.473  accent 2 lands on bar 2"
    assert lines[15] == "  12  kiln       12  8.3.2          9  5+3+3  0:16.205  Em to G in group 2"
    assert lines[20] == "  17  kiln       17  12.1           0  5+3+3  0:23.571  starts on a downbeat again"
    assert any(line.endswith("cut to 10 of 11") for line in lines)
    assert any(line.endswith("first 4 of 8") for line in lines)


def test_times_are_rounded_to_the_millisecond_once() -> None:
    assert clock_text(Fraction(59_9996, 10_000)) == "1:00.000"
    assert clock_text(Fraction(-1, 1000)) == "-0:00.001"


def test_offsets_carry_their_pulse_where_there_are_several() -> None:
    """Three eighths and six sixteenths are the same place."""
    head = HEAD.replace("  kiln: [5, 3, 3]", "  kiln: {groups: [3], pulse: 1/8}")
    form = "form:\n  - {section: A, bars: 1, plays: [kiln, kiln, {first: 4, of: brief}]}\n"
    lines = timeline_listing(timeline_of(form, head))[4:]
    assert [re.findall(r" (\d+ x 1/\d+) ", line) for line in lines] == [[], ["3 x 1/8"], ["12 x 1/16"]]
    alone = timeline_listing(timeline_of("form:\n  - {section: A, bars: 1, plays: brief}\n"))
    assert " x " not in "".join(alone[4:])
