"""Shapes that a spec is made of: each reads nodes into values and says the same as JSON Schema.

A shape is one description with two faces, so what the reader takes and what an editor completes can't drift
apart. `read` collects every problem it meets and returns None for what it can't read; no value is None
otherwise.
"""

from collections.abc import Callable, Collection, Mapping
from typing import Any, Generic, NamedTuple, Protocol, TypeVar

from renderer.core.errors import KeyPath, Problem, ValueProblem
from renderer.core.names import nearest, nearest_mend, quoted
from renderer.reading.scalars.parse import parse_label
from renderer.reading.yaml.nodes import Node, Nothing, Pairs, Rows, Text

S = TypeVar("S")
T = TypeVar("T")
T_co = TypeVar("T_co", covariant=True)
Json = dict[str, Any]


class Shape(Protocol[T_co]):
    """Anything that can be read from a node."""

    def read(self, node: Node, path: KeyPath, problems: list[Problem]) -> T_co | None:
        """The value at `node`, or None; what is wrong goes to `problems`."""

    def schema(self) -> Json:
        """The same as JSON Schema, draft 2020-12, for a file that ordinary YAML has parsed."""


class Scalar(NamedTuple, Generic[T]):
    """One bare text. `wanted` completes `... belongs here`; `rule` is its JSON Schema."""

    parse: Callable[[str], T]
    wanted: str
    rule: Json

    def read(self, node: Node, path: KeyPath, problems: list[Problem]) -> T | None:
        """See Shape."""
        if not isinstance(node, Text):
            problems.extend(wrong_kind(node, self.wanted, path))
            return None
        try:
            return self.parse(node.text)
        except ValueProblem as fault:
            problems.append(Problem(path, fault.text, fault.mend))
            return None

    def schema(self) -> Json:
        """See Shape."""
        return self.rule


class ListOf(NamedTuple, Generic[T]):
    """A list of `least` to `most` entries; with `single`, one entry may stand without its brackets."""

    item: Shape[T]
    least: int
    most: int
    wanted: str
    single: bool = False
    mend: str | None = None

    def read(self, node: Node, path: KeyPath, problems: list[Problem]) -> tuple[T, ...] | None:
        """See Shape. Entries that can't be read are left out; too few of the others are no list."""
        if self.single and isinstance(node, Text | Pairs):
            value = self.item.read(node, path, problems)
            return None if value is None else (value,)
        if not isinstance(node, Rows):
            problems.extend(wrong_kind(node, self.wanted, path, self.mend))
            return None
        if not self.least <= len(node.items) <= self.most:
            rule = f"{self.wanted} has {self.least} to {self.most:,} entries"
            problems.append(Problem(path, f"got {len(node.items):,} entries; {rule}."))
            return None
        read = (self.item.read(item, (*path, index), problems) for index, item in enumerate(node.items))
        values = tuple(value for value in read if value is not None)
        return values if len(values) >= self.least else None

    def schema(self) -> Json:
        """See Shape."""
        item = self.item.schema()
        many: Json = {"type": "array", "items": item, "minItems": self.least, "maxItems": self.most}
        return {"anyOf": [item, many]} if self.single else many


class Named(NamedTuple, Generic[T]):
    """A map of names to values, as figures, parts and voices are."""

    item: Shape[T]
    most: int
    wanted: str
    mend: str | None = None
    """What to write where something else than a map stands."""

    def read(self, node: Node, path: KeyPath, problems: list[Problem]) -> dict[str, T | None] | None:
        """See Shape. A name whose value can't be read keeps None, so that it is known."""
        if not isinstance(node, Pairs):
            problems.extend(wrong_kind(node, self.wanted, path, self.mend))
            return None
        if len(node.pairs) > self.most:
            text = f"got {len(node.pairs):,} names; {self.wanted} has at most {self.most}."
            problems.append(Problem(path, text))
            return None
        values: dict[str, T | None] = {}
        for key, child in node.pairs:
            if isinstance(child, Nothing):
                values[key.text] = None
                continue
            try:
                name = parse_label(key.text)
            except ValueProblem as fault:
                problems.append(Problem((*path, key.text), fault.text, fault.mend, on_key=True))
                continue
            if name in values:
                text = "given twice."
                problems.append(Problem((*path, key.text), text, "Keep one of the two.", on_key=True))
            values[name] = self.item.read(child, (*path, key.text), problems)
        return values

    def schema(self) -> Json:
        """See Shape."""
        return {
            "type": "object",
            "propertyNames": {"minLength": 1},
            "maxProperties": self.most,
            "additionalProperties": self.item.schema(),
        }


class ByKind(NamedTuple, Generic[T]):
    """One thing that may be written as a text, a list or a map."""

    wanted: str
    text: Shape[T] | None = None
    rows: Shape[T] | None = None
    pairs: Shape[T] | None = None

    def read(self, node: Node, path: KeyPath, problems: list[Problem]) -> T | None:
        """See Shape."""
        kinds: Mapping[type, Shape[T] | None] = {Text: self.text, Rows: self.rows, Pairs: self.pairs}
        shape = kinds.get(type(node))
        if shape is not None:
            return shape.read(node, path, problems)
        problems.extend(wrong_kind(node, self.wanted, path))
        return None

    def schema(self) -> Json:
        """See Shape."""
        return {"anyOf": [shape.schema() for shape in (self.text, self.rows, self.pairs) if shape]}


class Field(NamedTuple):
    """One key of a record. `about` is what an editor shows."""

    shape: Shape[Any]
    about: str
    required: bool = False
    mend: str | None = None
    """What to write where a required key is missing."""


class Record(NamedTuple):
    """A map with known keys. `text` and `rows` name the key that a bare text or list stands for."""

    what: str
    fields: Mapping[str, Field]
    text: str | None = None
    rows: str | None = None
    mend: str | None = None
    """What to write where something else than a map stands."""
    one_of: tuple[str, ...] = ()
    """At least one of these must be there."""
    one_of_mend: str | None = None
    stands_for: Mapping[str, str] = {}
    """What a key is also called -> the key."""
    meant: Callable[[str, Node, Pairs], str | None] = lambda key, node, pairs: None
    """What to write in place of a key that is none, given what stands in the map; None for the nearest key."""
    takes: Callable[[Pairs], Collection[str] | None] = lambda pairs: None
    """The keys that may stand beside what stands in the map; None: all."""

    def read(self, node: Node, path: KeyPath, problems: list[Problem]) -> dict[str, Any] | None:
        """See Shape. A key that is given but can't be read has the value None."""
        short = self.text if isinstance(node, Text) else self.rows if isinstance(node, Rows) else None
        if short:
            return {short: self.fields[short].shape.read(node, path, problems)}
        if not isinstance(node, Pairs):
            problems.extend(wrong_kind(node, self.what, path, self.mend))
            return None
        values: dict[str, Any] = {}
        strangers: list[str] = []
        for key, child in node.pairs:
            if key.text in self.fields:
                values[key.text] = self.fields[key.text].shape.read(child, (*path, key.text), problems)
            else:
                strangers.append(key.text)
                if not isinstance(child, Nothing):
                    problems.append(self._stranger(key.text, child, node, path))
        for stranger in strangers:
            if meant := self.stands_for.get(stranger) or nearest(stranger, self._free(node)):
                values.setdefault(meant, None)
        problems.extend(self._missing(values, bool(strangers), path))
        return values

    def _free(self, pairs: Pairs) -> list[str]:
        """The keys that may be added to a map."""
        taken, may = {key.text for key, _ in pairs.pairs}, self.takes(pairs)
        return [name for name in self.fields if name not in taken and (may is None or name in may)]

    def _stranger(self, key: str, node: Node, pairs: Pairs, path: KeyPath) -> Problem:
        name, _, value = key.partition(":")
        if value and name in self.fields:
            text = "no space after the colon."
            return Problem((*path, key), text, f"Write {name}: with a space after it.", on_key=True)
        mend = self.meant(key, node, pairs)
        if mend is None and (other := self.stands_for.get(key)) in self._free(pairs):
            mend = f"Write {other}."
        mend = mend or nearest_mend(key, self._free(pairs))
        return Problem((*path, key), f"{self.what} has no such key.", mend, on_key=True)

    def _missing(self, values: Mapping[str, Any], strangers: bool, path: KeyPath) -> list[Problem]:
        """What must be there and is not; a key that is no key may have been meant for one of several."""
        missing = [
            Problem(path, f"{name} is missing in {self.what}.", field.mend)
            for name, field in self.fields.items()
            if field.required and name not in values
        ]
        if self.one_of and not strangers and not any(name in values for name in self.one_of):
            wanted = f"{', '.join(self.one_of[:-1])} or {self.one_of[-1]}"
            missing.append(Problem(path, f"{self.what} needs {wanted}.", self.one_of_mend))
        return missing

    def schema(self) -> Json:
        """See Shape."""
        keys = {
            name: {"description": field.about, **field.shape.schema()} for name, field in self.fields.items()
        }
        required = [name for name, field in self.fields.items() if field.required]
        whole: Json = {"type": "object", "properties": keys, "additionalProperties": False}
        if required:
            whole["required"] = required
        if self.one_of:
            whole["anyOf"] = [{"required": [name]} for name in self.one_of]
        short = [self.fields[name].shape.schema() for name in (self.text, self.rows) if name]
        return {"anyOf": [*short, whole]} if short else whole


class Built(NamedTuple, Generic[S, T]):
    """What `shape` reads, made into its value. `build` gets it, its path and the list of problems."""

    shape: Shape[S]
    build: Callable[[S, KeyPath, list[Problem]], T | None]

    def read(self, node: Node, path: KeyPath, problems: list[Problem]) -> T | None:
        """See Shape."""
        value = self.shape.read(node, path, problems)
        return None if value is None else self.build(value, path, problems)

    def schema(self) -> Json:
        """See Shape."""
        return self.shape.schema()


class Later(NamedTuple, Generic[T]):
    """A shape that takes long to make, made when it is asked for."""

    make: Callable[[], Shape[T]]

    def read(self, node: Node, path: KeyPath, problems: list[Problem]) -> T | None:
        """See Shape."""
        return self.make().read(node, path, problems)

    def schema(self) -> Json:
        """See Shape."""
        return self.make().schema()


def wrong_kind(node: Node, wanted: str, path: KeyPath, mend: str | None = None) -> list[Problem]:
    """The problem of a node where `wanted` belongs; none for Nothing, which is reported already."""
    if isinstance(node, Nothing):
        return []
    got = {Text: "a text", Rows: "a list", Pairs: "a map"}[type(node)]
    shown = f" ({quoted(node.text)})" if isinstance(node, Text) else ""
    return [Problem(path, f"got {got}{shown}; {wanted} belongs here.", mend)]
