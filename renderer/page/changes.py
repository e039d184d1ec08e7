"""Changes to a spec's text that leave its comments and its layout as they were: one value is written in place of
another, wherever that stands.

Places are found by PyYAML, which says where a value ends too. What a change makes of the spec is not known here:
whoever asks for it reads the new text before it is offered or written.
"""

import re
from collections.abc import Sequence
from typing import Any, NamedTuple

import yaml

from renderer.core.errors import KeyPath, TextPlace
from renderer.reading.yaml.comments import LINE_BREAK

_LOADER: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
BLANK = re.compile(r"[ ]*")


class Extent(NamedTuple):
    """From one character of a text up to another, counted from 0."""

    start: int
    end: int


def replaced(text: str, extent: Extent, written: str) -> str:
    """The text with something else in place of a part of it."""
    return text[: extent.start] + written + text[extent.end :]


def line_starts(text: str) -> list[int]:
    """Where each line of a text begins."""
    return [0, *(found.end() for found in LINE_BREAK.finditer(text))]


def value_extent(text: str, path: KeyPath) -> Extent | None:
    """Where a value stands: a text, or a list or map in brackets. None where there is none, or nothing to replace it
    in as one piece.

    >>> value_extent("form: [{section: Race, bars: 6}]", ("form", 0, "bars"))
    Extent(start=29, end=30)
    """
    node = _node(text, path)
    if isinstance(node, yaml.CollectionNode) and not node.flow_style:
        return None
    return None if node is None else _extent(text, node)


def word_at(text: str, path: KeyPath) -> str | None:
    """The text that stands at a path; None if none does."""
    node = _node(text, path)
    return str(node.value) if isinstance(node, yaml.ScalarNode) else None


def word_extent(text: str, place: TextPlace) -> Extent | None:
    """The key or value that begins at a place; None if none does."""
    pending = [_root(text)]
    seen: set[int] = set()
    while pending:
        node = pending.pop()
        if node is None or id(node) in seen:
            continue
        seen.add(id(node))
        mark = node.start_mark
        if isinstance(node, yaml.ScalarNode):
            if (mark.line + 1, mark.column + 1) == place:
                return _extent(text, node)
        elif isinstance(node, yaml.MappingNode):
            pending += [part for pair in node.value for part in pair]
        else:
            pending += node.value
    return None


def with_bar_count(text: str, path: KeyPath, count: int) -> str | None:
    """The text with another number of bars in the form's entry at `path`; None if it gives no number."""
    extent = value_extent(text, (*path, "bars"))
    return None if extent is None else replaced(text, extent, str(count))


def with_plays(text: str, path: KeyPath, voice: str, plays: str, figures: Sequence[str]) -> str | None:
    """The text with another list of what a voice plays in the form's entry at `path`, and with figures more."""
    own = (*path, "plays", voice)
    extent = value_extent(text, own if _node(text, own) else own[:-1])
    if extent is None:
        return None
    changed = replaced(text, extent, plays)
    for figure in figures:
        more = _with_figure(changed, figure)
        if more is None:
            return None
        changed = more
    return changed


def with_top_value(text: str, key: str, written: str) -> str:
    """The text with another value of a key at the top; where that is not there, on a line of its own at the end."""
    node = _node(text, (key,))
    if node is not None:
        extent = _extent(text, node)
        if isinstance(node, yaml.CollectionNode) and not node.flow_style:
            before = text.rindex(":", 0, extent.start) if node.value else extent.start
            return replaced(text, Extent(before + 1, _last(text, node)), f" {written}")
        return replaced(text, extent, written)
    end = "" if not text or text.endswith("\n") else "\n"
    return f"{text}{end}{key}: {written}\n"


def _with_figure(text: str, figure: str) -> str | None:
    """A figure more, before the first one."""
    node = _node(text, ("figures",))
    if not isinstance(node, yaml.MappingNode) or not node.value:
        return None
    start = _extent(text, node.value[0][0]).start
    if node.flow_style:
        return replaced(text, Extent(start, start), f"{figure}, ")
    line = text.rfind("\n", 0, start) + 1
    indent = BLANK.match(text, line)
    return replaced(text, Extent(line, line), f"{indent.group() if indent else ''}{figure}\n")


def _root(text: str) -> yaml.Node | None:
    try:
        root: yaml.Node | None = yaml.compose(text, Loader=_LOADER)
    except (yaml.YAMLError, ValueError, RecursionError):
        return None
    return root


def _node(text: str, path: KeyPath) -> yaml.Node | None:
    node = _root(text)
    for step in path:
        if isinstance(node, yaml.SequenceNode) and isinstance(step, int) and step < len(node.value):
            node = node.value[step]
        elif isinstance(node, yaml.MappingNode):
            node = next((value for key, value in node.value if key.value == step), None)
        else:
            return None
    return node


def _last(text: str, node: yaml.Node) -> int:
    """Where the last thing in a list or map without brackets ends."""
    while isinstance(node, yaml.CollectionNode) and not node.flow_style and node.value:
        last = node.value[-1]
        node = last[1] if isinstance(last, tuple) else last
    return _extent(text, node).end


def _extent(text: str, node: yaml.Node) -> Extent:
    starts = line_starts(text)
    ends = [starts[mark.line] + mark.column for mark in (node.start_mark, node.end_mark)]
    return Extent(ends[0], ends[1])
