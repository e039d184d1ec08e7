"""YAML text to a tree of nodes that know their places; every scalar is text.

The text is read event by event with an explicit stack, so neither depth nor aliases can exhaust anything: an
alias shares its target's children and adds the target's size to the count by arithmetic. What YAML would let
pass in silence (a tag, a key twice, a key without a value, a text that a ` #` cuts off) is a problem here.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from itertools import islice
from typing import Any, NamedTuple, TypeAlias

import yaml

from renderer.core import limits
from renderer.core.errors import (
    KeyPath,
    Problem,
    ProblemList,
    SpecError,
    TextPlace,
    TooManyProblemsError,
)
from renderer.core.names import quoted
from renderer.reading.scalars.suggest import accents_mend
from renderer.reading.yaml.comments import LINE_BREAK, TextSpan, comment_problems, text_span
from renderer.reading.yaml.parser_errors import (
    complaint_problem,
    directive_problem,
    escape_problem,
    unprintable_problem,
)


class Text(NamedTuple):
    """A scalar, quoted or not."""

    text: str
    place: TextPlace


class Rows(NamedTuple):
    """A list."""

    items: tuple["Node", ...]
    place: TextPlace


class Pairs(NamedTuple):
    """A map, in the order written."""

    pairs: tuple[tuple[Text, "Node"], ...]
    place: TextPlace


class Nothing(NamedTuple):
    """What stands where there is no usable value; the problem is reported already."""

    place: TextPlace


Node: TypeAlias = Text | Rows | Pairs | Nothing

_LOADER: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
"""libyaml's parser, or the slower one in Python where that is all there is."""


def read_tree(text: str) -> tuple[Node, ProblemList]:
    """Return the tree of `text` and the problems that do not keep it from being read further.

    Raises SpecError, its problems with places, for what can't be read at all.
    """
    if len(text) > limits.SPEC_CHARACTERS:
        size = f"got {len(text):,} characters; a spec has at most {limits.SPEC_CHARACTERS:,}."
        raise SpecError([Problem((), size, place=TextPlace(1, 1))])
    if problem := unprintable_problem(text) or directive_problem(text):
        raise SpecError([problem])
    builder = _Builder()
    try:
        if complaint := _feed(text, builder):
            cut_off = islice(comment_problems(text, builder.spans), limits.PROBLEMS_SOUGHT)
            raise SpecError([*cut_off] or [complaint])
        builder.problems.extend(comment_problems(text, builder.spans))
    except TooManyProblemsError:
        raise SpecError(builder.problems) from None
    if builder.root is None:
        empty = Problem((), "the spec is empty.", _START, place=TextPlace(1, 1))
        raise SpecError(builder.problems or [empty])
    return builder.root, builder.problems


_MARKED = re.compile("[!*]([0-9]{1,4}),?")
"""A group with a sign before it, as if that accented it."""

_START = "A spec begins with lines such as title: Kiln Song and tempo: 112."


def _feed(text: str, builder: "_Builder") -> Problem | None:
    """Hand all events to the builder; the problem with which the parser stopped, if it did."""
    parser = _LOADER(text)
    try:
        while parser.check_event():
            builder.take(parser.get_event())
    except yaml.YAMLError as complaint:
        return complaint_problem(complaint, text)
    except ValueError:  # the parser in Python, of a code point that does not exist
        mark = parser.get_mark()
        return escape_problem(TextPlace(mark.line + 1, mark.column + 1), LINE_BREAK.split(text)[mark.line])
    finally:
        parser.dispose()
    return None


@dataclass(slots=True)
class _Open:
    """A list or map that is not closed yet."""

    is_map: bool
    place: TextPlace
    anchor: str | None
    flow: bool
    tagged: bool
    items: list[Node] = field(default_factory=list)
    pairs: list[tuple[Text, Node]] = field(default_factory=list)
    lines: dict[str, int] = field(default_factory=dict)
    """The line of each key."""
    key: Text | Nothing | None = None
    """The key whose value comes next."""
    before: int = 0
    """Values counted before this one."""
    marked: list[tuple[int, int, int]] = field(default_factory=list)
    """Numbers with a sign before them (`!5`): the problem reported for each, the entry's index, the number."""
    bare: tuple[int, Text] | None = None
    """The problem reported for the key before, and that key, if it has no value."""


class _Builder:
    """Takes events one by one and grows the tree."""

    def __init__(self) -> None:
        self.root: Node | None = None
        self.problems = ProblemList()
        self.spans: list[TextSpan] = []
        self._stack: list[_Open] = []
        self._anchors: dict[str, tuple[Node, int]] = {}
        self._documents = 0
        self._count = 0
        """Values so far, each alias counted as what it stands for."""
        self._takers: dict[type, Callable[[Any], None]] = {
            yaml.ScalarEvent: self._scalar,
            yaml.AliasEvent: self._alias,
            yaml.SequenceStartEvent: self._open,
            yaml.MappingStartEvent: self._open,
            yaml.SequenceEndEvent: self._close,
            yaml.MappingEndEvent: self._close,
            yaml.DocumentStartEvent: self._document,
        }

    def take(self, event: yaml.Event) -> None:
        """Grow by one event. Raises SpecError where going on makes no sense."""
        if taker := self._takers.get(type(event)):
            taker(event)

    def _document(self, event: yaml.DocumentStartEvent) -> None:
        self._documents += 1
        if self._documents > 1:
            self._stop(event, "a second document begins here; a spec is one.", "Remove the line ---.")

    def _scalar(self, event: yaml.ScalarEvent) -> None:
        place, text = _place(event), event.value
        if event.style:
            self.spans.append(text_span(event))
        if event.tag is not None:
            self._mark(str(event.tag))
            self._tag(event, text)
            self._put(Nothing(place))
        elif text == "" and not event.style:
            self._empty(event)
        elif len(text) > limits.TEXT_CHARACTERS:
            size = f"got {len(text):,} characters; a text has at most {limits.TEXT_CHARACTERS:,}."
            self._problem(event, size, "Shorten it, or look for a quote or a line break that is missing.")
            self._put(Nothing(place))
        else:
            end: Any = event.end_mark
            lines = end.line - place.line + 2
            if lines > 1 and not event.style:
                mend = "Check the colons and the indentation, or put the text on one line."
                self._problem(event, f"this text runs on over {lines} lines: {quoted(text)}.", mend)
            self._put(Text(text, place), event.anchor)

    def _empty(self, event: yaml.ScalarEvent) -> None:
        """A key or an entry with no value."""
        top = self._stack[-1] if self._stack else None
        if top is None:
            return
        if event.anchor is not None:
            word = quoted(f"&{event.anchor}")
            self._problem(
                event, f"{word} has no value.", f'A text that begins with & needs quotes: "{word}".'
            )
        elif not top.is_map:
            self._problem(
                event, "an entry with no value.", "Write a value after the dash, or remove the dash."
            )
        elif top.key is None:
            self._problem(event, "no key stands before the colon.", "Write the key: bars: 12.")
        elif isinstance(top.key, Text):
            top.bare = len(self.problems), top.key
            text, mend = _no_value(top)
            self._problem(event, text, mend, top.key.place)
        self._put(Nothing(_place(event)))

    def _alias(self, event: yaml.AliasEvent) -> None:
        place, name, word = _place(event), event.anchor, quoted(f"*{event.anchor}")
        if any(level.anchor == name for level in self._stack):
            self._problem(event, f"{word} stands inside the value that it names.", "Write the value out.")
            self._put(Nothing(place))
        elif name not in self._anchors:
            self._mark(f"*{name}")
            self._problem(
                event,
                f"{word}: nothing is marked {quoted(f'&{name}')}.",
                f'A text that begins with * needs quotes: "{word}".',
            )
            self._put(Nothing(place))
        else:
            node, size = self._anchors[name]
            self._put(node._replace(place=place), added=size)

    def _open(self, event: yaml.SequenceStartEvent | yaml.MappingStartEvent) -> None:
        if event.tag is not None:
            self._tag(event, "")
        if len(self._stack) >= limits.DEPTH:
            text = f"lists and maps inside each other, more than {limits.DEPTH} deep."
            self._stop(event, text, "Look for a bracket too many.")
        is_map = isinstance(event, yaml.MappingStartEvent)
        level = _Open(is_map, _place(event), event.anchor, bool(event.flow_style), event.tag is not None)
        level.before = self._count
        self._stack.append(level)

    def _close(self, event: yaml.SequenceEndEvent | yaml.MappingEndEvent) -> None:
        done = self._stack.pop()
        self._mend_accents(done)
        whole = Pairs(tuple(done.pairs), done.place) if done.is_map else Rows(tuple(done.items), done.place)
        node = Nothing(done.place) if done.tagged else whole
        self._put(node, done.anchor, size=self._count - done.before + 1)

    def _put(self, node: Node, anchor: str | None = None, added: int = 1, size: int = 1) -> None:
        """Put a node into the list or map that is open: `added` values are new with it, `size` are in it."""
        self._count += added
        if self._count > limits.NODES:
            text = f"more than {limits.NODES:,} values, what * repeats counted in."
            raise SpecError(
                [
                    Problem(
                        self._path(), text, "Write less: what * repeats counts each time.", place=node.place
                    )
                ]
            )
        if anchor is not None:
            self._anchors[anchor] = (node, size)
        if not self._stack:
            self.root = node
            return
        top = self._stack[-1]
        if not top.is_map:
            top.items.append(node)
        elif top.key is None:
            top.key = self._key(top, node)
        else:
            if isinstance(top.key, Text):
                top.pairs.append((top.key, node))
            top.key = None

    def _key(self, top: _Open, node: Node) -> Text | Nothing:
        if not isinstance(node, Text):
            if not isinstance(node, Nothing):
                text = "a list or map stands where a key belongs."
                self.problems.append(
                    Problem(self._path(), text, "A key is one word: bars: 12.", place=node.place)
                )
            return Nothing(node.place)
        if node.text in top.lines:
            text = f"given twice, first in line {top.lines[node.text]}."
            mend = "Keep one of the two."
            self.problems.append(Problem((*self._path(), node.text), text, mend, place=node.place))
            return Nothing(node.place)
        top.lines[node.text] = node.place.line
        if top.bare is not None:
            self._mend_position(*top.bare, node)
        top.bare = None
        return node

    def _mark(self, word: str) -> None:
        """Remember a number in a list with a sign before it, for which a problem is reported next."""
        top = self._stack[-1] if self._stack else None
        if top is not None and not top.is_map and (match := _MARKED.fullmatch(word)):
            top.marked.append((len(self.problems), len(top.items), int(match[1])))

    def _mend_accents(self, done: _Open) -> None:
        """Say how accents are written, where signs before groups were meant for that."""
        signs = {index: f"!{number}" for _, index, number in done.marked}
        entries = (
            signs.get(index) or (item.text if isinstance(item, Text) else "")
            for index, item in enumerate(done.items)
        )
        mend = accents_mend(entries) if signs else None
        for number, _, _ in done.marked:
            self.problems[number] = self.problems[number]._replace(mend=mend or self.problems[number].mend)

    def _mend_position(self, number: int, bare: Text, key: Text) -> None:
        """`2,3: G` in braces is a key 2 without a value, and a key 3."""
        adjoining = (key.place.line, key.place.column - 1) == (
            bare.place.line,
            bare.place.column + len(bare.text),
        )
        if adjoining and bare.text.lstrip("-").isdecimal() and key.text.isdecimal():
            mend = f"Write a position with a point: {bare.text}.{key.text}."
            self.problems[number] = self.problems[number]._replace(mend=mend)

    def _tag(
        self, event: yaml.ScalarEvent | yaml.SequenceStartEvent | yaml.MappingStartEvent, text: str
    ) -> None:
        tag = str(event.tag)
        word = quoted(tag.replace("tag:yaml.org,2002:", "!!") + (f" {text}" if text else ""))
        self._problem(
            event,
            f"{word}: YAML reads this as a tag; a spec has none.",
            f'Remove it, or put quotes around the text: "{word}".',
        )

    def _path(self) -> KeyPath:
        """The path of the value that comes next."""
        steps: list[str | int] = []
        for level in self._stack:
            if not level.is_map:
                steps.append(len(level.items))
            elif isinstance(level.key, Text):
                steps.append(level.key.text)
        return tuple(steps)

    def _problem(self, event: yaml.Event, text: str, mend: str, place: TextPlace | None = None) -> None:
        self.problems.append(Problem(self._path(), text, mend, place=place or _place(event)))

    @staticmethod
    def _stop(event: yaml.Event, text: str, mend: str) -> None:
        raise SpecError([Problem((), text, mend, place=_place(event))])


def _place(event: yaml.Event) -> TextPlace:
    mark: Any = event.start_mark
    return TextPlace(mark.line + 1, mark.column + 1)


def _no_value(top: _Open) -> tuple[str, str]:
    """Problem and mend for the key in `top` that has no value."""
    assert isinstance(top.key, Text)
    word = top.key.text
    before, colon, after = word.partition(":")
    if colon and after:
        return "no value is given.", f"Write a space after the colon: {quoted(before)}: {quoted(after)}."
    if top.flow and top.pairs and isinstance(value := top.pairs[-1][1], Text):
        adjoining = top.key.place.column == value.place.column + len(value.text) + 1
        key = quoted(top.pairs[-1][0].text)
        return "no value is given.", _comma_mend(key, quoted(value.text), quoted(word), adjoining)
    return "no value is given.", f"Write one after the colon, or remove {quoted(word)}."


_LISTS = ("groups", "accents", "tail", "sections", "parts", "list", "every", "crossing")
"""Keys whose value is often a list."""


def _comma_mend(key: str, before: str, after: str, adjoining: bool) -> str:
    """For `key: before, after` in braces, where the comma ends the value; `adjoining`: no space after it."""
    row = f"[{before}, {after}]"
    if key in _LISTS:
        return f"Several values need brackets: {key}: {row}."
    if adjoining and before.isdecimal() and after.isdecimal():
        return f"Write a number with a point: {before}.{after}."
    text = f'text with a comma in it needs quotes: "{before},{"" if adjoining else " "}{after}".'
    return f"A {text}" if adjoining else f"Several values need brackets: {row}; a {text}"
