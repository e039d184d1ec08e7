"""Values that several keys share: numbers, names, the lanes, points in time, pulses, groups."""

import re
from collections.abc import Callable, Mapping
from typing import Any

from renderer.core import limits
from renderer.core.errors import KeyPath, Problem, ValueProblem
from renderer.core.names import nearest_mend, quoted
from renderer.reading.scalars.parse import (
    parse_fermata_seconds,
    parse_harmony,
    parse_label,
    parse_meter,
    parse_pulse,
    parse_recording_seconds,
    parse_tempo,
    parse_whole,
)
from renderer.reading.scalars.suggest import accents_mend
from renderer.reading.schema.fields import (
    Built,
    ByKind,
    Field,
    ListOf,
    Named,
    Record,
    Scalar,
    Shape,
)
from renderer.reading.schema.lanes import Lane, Marks, Points
from renderer.reading.yaml.nodes import Node, Pairs
from renderer.spec.model import Tempo

Values = dict[str, Any]
"""What a record was read into: a key that is given but faulty has the value None."""

ANY_TEXT = ["string", "number", "boolean"]
"""What ordinary YAML may take a text for: `on` is a boolean to it, `112` a number."""
FRACTION_PATTERN = r"^\s*[0-9]+( ?/ ?[0-9]+)?\s*$"


def whole(least: int, most: int, rule: str, mend: str | None = None) -> Scalar[int]:
    """A whole number; `rule` says its range in words, as `a section has at least 1 bar`."""
    schema = {"type": ["integer", "string"], "minimum": least, "maximum": most, "pattern": r"^\s*[0-9]+\s*$"}
    return Scalar(lambda text: parse_whole(text, least, most, rule, mend), "a whole number", schema)


def label(
    wanted: str, parse: Callable[[str], str] = parse_label, most: int = limits.LABEL_CHARACTERS
) -> Scalar[str]:
    """A name or another short text."""
    return Scalar(parse, wanted, {"type": ANY_TEXT, "minLength": 1, "maxLength": most})


def choice(wanted: str, words: tuple[str, ...], aliases: Mapping[str, str] | None = None) -> Scalar[str]:
    """One of a few words; `aliases` are taken for them in silence."""
    other = aliases or {}

    def parse(text: str) -> str:
        word = other.get(text.strip(), text.strip())
        if word not in words:
            raise ValueProblem(f"got {quoted(text)}; {wanted} belongs here.", nearest_mend(word, words))
        return word

    return Scalar(parse, wanted, {"enum": [*words, *other]})


# Lanes and points

METER = Scalar(
    parse_meter,
    "a meter such as 4/4 or 7/8 in 2+2+3",
    {"type": "string", "pattern": r"^\s*[0-9]+ ?/ ?[0-9]+"},
)
TEMPO_TEXT = Scalar(
    parse_tempo,
    "a tempo such as 112 or 3/8 = 76",
    {
        "type": ["number", "string"],
        "minimum": limits.TEMPO_LEAST,
        "maximum": limits.TEMPO_MOST,
        "pattern": r"^\s*([0-9]+ ?/ ?[0-9]+\s*=\s*)?[0-9]+(\.[0-9]+)?\s*$",
    },
)


def _build_move(values: Values, path: KeyPath, problems: list[Problem]) -> Tempo | None:
    tempo: Tempo | None = values.get("to")
    return None if tempo is None else Tempo(tempo.quarters, moves=True)


def _meant_move(key: str, node: Node, pairs: Pairs) -> str | None:
    """A position beside `to`."""
    if key.replace(".", "").lstrip("-").isdecimal():
        return "Give the change a place of its own: {1: 120, 7: {to: 80}}."
    return None


MOVE = Record(
    "a change of tempo",
    {"to": Field(TEMPO_TEXT, "the tempo to move to", True, "Write {to: 80}.")},
    meant=_meant_move,
)
TEMPO: Shape[Tempo] = ByKind(TEMPO_TEXT.wanted, text=TEMPO_TEXT, pairs=Built(MOVE, _build_move))
HARMONY = label("a harmony such as Em", parse_harmony)
SIDE = label("a side (figure, meter, tacet or a voice's name)")

METER_LANE = Lane(METER, "a meter", bar_lines_only=True)
TEMPO_LANE = Lane(TEMPO, "a tempo", value_key="to")
HARMONY_LANE = Lane(HARMONY, "a harmony")
PARTS = Named(
    Lane(SIDE, "a side"),
    limits.PARTS,
    "a map of parts",
    "Write each with its side: {marimba: figure, kit: meter}.",
)

SECONDS_RULE = {
    "type": ["number", "string"],
    "minimum": 0,
    "pattern": r"^\s*([0-9]+:){0,2}[0-9]+(\.[0-9]+)?\s*$",
}
FERMATA = Points(
    Scalar(parse_fermata_seconds, "seconds", {**SECONDS_RULE, "exclusiveMinimum": 0}),
    "a map of positions to seconds",
    "Write where and how long: {8.4: 2}.",
    bare=False,
)
SYNC = Points(
    Scalar(parse_recording_seconds, "a place in the recording", SECONDS_RULE),
    "a map of positions to places in the recording",
    "Write {1: 0.532, 9: 17.4}.",
    bare=True,
)

MARKS = Marks(
    label("a mark's words"),
    "a map of bars to words",
    "Write where and what: {9: strings enter, 17-20: brass alone}.",
)

PULSE = Scalar(
    parse_pulse,
    "a pulse such as 1/16",
    {"type": ["string", "integer"], "minimum": 1, "maximum": 1, "pattern": FRACTION_PATTERN},
)


def parse_group(text: str) -> int:
    """A group's number of pulses."""
    numbers = text.split()
    if len(numbers) > 1 and all(number.isdecimal() for number in numbers):
        raise ValueProblem(
            f"got {quoted(text)}; a comma stands between groups.", f"Write {', '.join(numbers)}."
        )
    if accents_mend([text]):
        mend = "Accents are pulse numbers, as in {groups: [5, 3, 3], accents: [1, 9]}."
        raise ValueProblem(f"got {quoted(text)}; a group is only a number of pulses.", mend)
    if re.fullmatch(r"[0-9]+\.[0-9]+", text.strip()):
        raise ValueProblem(
            f"got {quoted(text)}; a group is whole pulses.", "Count the figure in a shorter pulse."
        )
    return parse_whole(text, 1, limits.FIGURE_PULSES, f"a group has 1 to {limits.FIGURE_PULSES} pulses")


GROUP = Scalar(parse_group, "a whole number", whole(1, limits.FIGURE_PULSES, "").rule)
GROUPS = ListOf(GROUP, 1, limits.FIGURE_GROUPS, "a list of groups", mend="Write them in brackets: [5, 3, 3].")
