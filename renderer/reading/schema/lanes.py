"""Shapes of what is said along the piece: lanes, seconds at places, marks."""

from typing import Any, Generic, NamedTuple, TypeVar

from renderer.core.errors import KeyPath, Problem, ValueProblem
from renderer.core.names import quoted
from renderer.reading.scalars.parse import parse_mark_place, parse_position
from renderer.reading.schema.fields import Json, Scalar, Shape, wrong_kind
from renderer.reading.yaml.nodes import Node, Nothing, Pairs, Rows, Text
from renderer.spec.model import Entry, MarkSpec, Point, Position

T = TypeVar("T")

POSITION_PATTERN = r"^-?[0-9]+(\.[0-9]+){0,2}$"
MARK_PATTERN = r"^-?[0-9]+((\.[0-9]+){0,2}|( +to +| *[-–] *)-?[0-9]+)$"


class Lane(NamedTuple, Generic[T]):
    """A lane: a bare value (from position 1), a list (one a bar), or a map of positions to either.

    A map with the key `value_key` is a value itself (`{to: 80}`); `bar_lines_only` refuses other places.
    """

    value: Shape[T]
    wanted: str
    value_key: str | None = None
    bar_lines_only: bool = False

    def read(self, node: Node, path: KeyPath, problems: list[Problem]) -> tuple[Entry[T], ...] | None:
        """See Shape. Entries stand in the order written; one that can't be read makes the whole lane None."""
        if isinstance(node, Pairs) and not any(key.text == self.value_key for key, _ in node.pairs):
            return self._entries(node, path, problems)
        entry = self._entry(Position(1), node, path, problems)
        return None if entry is None else (entry,)

    def _entries(self, node: Pairs, path: KeyPath, problems: list[Problem]) -> tuple[Entry[T], ...] | None:
        if not node.pairs:
            problems.append(Problem(path, f"got an empty map; {self.wanted} belongs here."))
            return None
        found = len(problems)
        read = [
            self._entry(position, child, (*path, key.text), problems)
            for key, position, child in read_positions(node, path, problems, self.bar_lines_only)
        ]
        entries = tuple(entry for entry in read if entry is not None)
        return entries if len(problems) == found and len(entries) == len(node.pairs) else None

    def _entry(
        self, position: Position, node: Node, path: KeyPath, problems: list[Problem]
    ) -> Entry[T] | None:
        if not isinstance(node, Rows):
            value = self.value.read(node, path, problems)
            return None if value is None else Entry(position, (value,), path)
        if not node.items:
            problems.append(Problem(path, "got an empty list; it has one value a bar."))
        if mend := self._one_map(node):
            problems.append(Problem(path, "got a list of maps; a list has one value a bar.", mend))
            return None
        read = (self.value.read(item, (*path, index), problems) for index, item in enumerate(node.items))
        values = tuple(value for value in read if value is not None)
        return Entry(position, values, path) if values else None

    def _one_map(self, node: Rows) -> str | None:
        """What to write where each position stands in a map of its own; None where that is not so."""
        maps = [item.pairs for item in node.items if isinstance(item, Pairs)]
        pairs = [pair for each in maps for pair in each]
        if not pairs or len(maps) < len(node.items) or any(key.text == self.value_key for key, _ in pairs):
            return None
        shown = ", ".join(
            f"{key.text}: {child.text if isinstance(child, Text) else '...'}" for key, child in pairs
        )
        return f"Positions stand in one map: {{{shown}}}."

    def schema(self) -> Json:
        """See Shape."""
        value = self.value.schema()
        one: Json = {"anyOf": [value, {"type": "array", "items": value, "minItems": 1}]}
        positions: Json = {
            "type": "object",
            "patternProperties": {POSITION_PATTERN: one},
            "additionalProperties": False,
            "minProperties": 1,
        }
        return {"anyOf": [*one["anyOf"], positions]}


class Points(NamedTuple):
    """Positions and their seconds. With `bare`, a bare value stands at position 1."""

    value: Scalar[Any]
    wanted: str
    mend: str
    bare: bool

    def read(self, node: Node, path: KeyPath, problems: list[Problem]) -> tuple[Point, ...] | None:
        """See Shape."""
        if self.bare and isinstance(node, Text):
            seconds = self.value.read(node, path, problems)
            return None if seconds is None else (Point(Position(1), seconds, path),)
        if not isinstance(node, Pairs):
            problems.extend(wrong_kind(node, self.wanted, path, self.mend))
            return None
        points = []
        for key, position, child in read_positions(node, path, problems):
            where = (*path, key.text)
            seconds = self.value.read(child, where, problems)
            if seconds is not None:
                points.append(Point(position, seconds, where))
        return tuple(points)

    def schema(self) -> Json:
        """See Shape."""
        value = self.value.schema()
        keys: Json = {POSITION_PATTERN: value}
        positions: Json = {"type": "object", "patternProperties": keys, "additionalProperties": False}
        return {"anyOf": [value, positions]} if self.bare else positions


class Marks(NamedTuple):
    """Positions or bars, and words for each."""

    value: Scalar[str]
    wanted: str
    mend: str

    def read(self, node: Node, path: KeyPath, problems: list[Problem]) -> tuple[MarkSpec, ...] | None:
        """See Shape."""
        if not isinstance(node, Pairs):
            problems.extend(wrong_kind(node, self.wanted, path, self.mend))
            return None
        marks = []
        for key, child in node.pairs:
            where = (*path, key.text)
            try:
                place = parse_mark_place(key.text)
            except ValueProblem as fault:
                problems.append(Problem(where, fault.text, fault.mend, on_key=True))
                continue
            text = self.value.read(child, where, problems)
            if text is not None:
                marks.append(MarkSpec(place, text, where))
        return tuple(marks)

    def schema(self) -> Json:
        """See Shape."""
        keys: Json = {MARK_PATTERN: self.value.schema()}
        return {"type": "object", "patternProperties": keys, "additionalProperties": False}


def read_positions(
    node: Pairs, path: KeyPath, problems: list[Problem], bar_lines_only: bool = False
) -> list[tuple[Text, Position, Node]]:
    """The map's keys as positions, each once; what is not a position is reported and left out."""
    seen: dict[tuple[int, int, int], str] = {}
    found: list[tuple[Text, Position, Node]] = []
    for key, child in node.pairs:
        if isinstance(child, Nothing):
            continue
        try:
            position = parse_position(key.text)
        except ValueProblem as fault:
            problems.append(Problem((*path, key.text), fault.text, fault.mend, on_key=True))
            continue
        place = (position.bar, position.beat, position.pulse or 1)
        if place in seen:
            text = f"{key.text} is the same place as {seen[place]}."
            problems.append(Problem((*path, key.text), text, "Keep one of the two.", on_key=True))
        elif bar_lines_only and place[1:] != (1, 1):
            text = f"got {quoted(key.text)}; a meter changes on a bar line."
            problems.append(Problem((*path, key.text), text, f"Write {position.bar}.", on_key=True))
        else:
            seen[place] = key.text
            found.append((key, position, child))
    return found
