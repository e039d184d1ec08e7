"""Problems shown in their text: `file:line:column: path: what is wrong`, the line, a caret, the mend."""

import unicodedata
from collections.abc import Iterable
from itertools import islice

from renderer.core import limits
from renderer.core.errors import KeyPath, Problem, SpecError, TextPlace, path_text
from renderer.reading.yaml.comments import LINE_BREAK
from renderer.reading.yaml.nodes import Node, Pairs, Rows, Text

_WIDTH = 100
"""Columns of an excerpt; a longer line is shown around its caret."""


class Source:
    """A spec's text with its tree, None if it could not be read. `name` is how messages call it."""

    def __init__(self, name: str, text: str, root: Node | None) -> None:
        self.name, self.text, self.root = name, text, root
        self._children: dict[int, dict[str, tuple[Text, Node]]] = {}

    def error(self, problems: Iterable[Problem]) -> SpecError:
        """All problems in one error, in the order of the text, each once and with its place."""
        found = list(islice(problems, limits.PROBLEMS_SOUGHT))
        once: dict[tuple[TextPlace, str], Problem] = {}
        for problem in found:
            once.setdefault((self.place(problem), problem.text), problem)
        placed = sorted(once.items(), key=lambda pair: pair[0])
        lines = LINE_BREAK.split(self.text)
        shown = [
            self._shown(place, problem, lines) for (place, _), problem in placed[: limits.PROBLEMS_SHOWN]
        ]
        if len(found) == limits.PROBLEMS_SOUGHT:
            shown.append(f"{self.name}: and more.")
        elif len(placed) > limits.PROBLEMS_SHOWN:
            shown.append(f"{self.name}: and {len(placed) - limits.PROBLEMS_SHOWN:,} more.")
        return SpecError([problem._replace(place=place) for (place, _), problem in placed], "\n".join(shown))

    def place(self, problem: Problem) -> TextPlace:
        """Where the problem stands: its own place, or what its path leads to, as far as it leads."""
        return self._walk(problem)[0]

    def where(self, path: KeyPath, on_key: bool = False) -> str:
        """`file:line:column` of a value, or of its key."""
        place = self.place(Problem(path, "", on_key=on_key))
        return f"{self.name}:{place.line}:{place.column}"

    def _walk(self, problem: Problem) -> tuple[TextPlace, KeyPath]:
        """The place, and the part of the path that leads there: a short form has fewer steps."""
        path = problem.path
        if problem.place is not None or self.root is None:
            return problem.place or TextPlace(1, 1), path
        node, place = self.root, self.root.place
        for number, step in enumerate(path):
            if isinstance(node, Rows) and isinstance(step, int) and 0 <= step < len(node.items):
                node = node.items[step]
                place = node.place
            elif isinstance(node, Pairs) and isinstance(step, str) and step in self._index(node):
                key, node = self._index(node)[step]
                place = key.place if problem.on_key and number == len(path) - 1 else node.place
            else:
                return place, path[:number]
        return place, path

    def _index(self, node: Pairs) -> dict[str, tuple[Text, Node]]:
        index = self._children.get(id(node))
        if index is None:
            index = self._children[id(node)] = {key.text: (key, child) for key, child in node.pairs}
        return index

    def _shown(self, place: TextPlace, problem: Problem, lines: list[str]) -> str:
        path = path_text(self._walk(problem)[1])
        head = f"{self.name}:{place.line}:{place.column}: " + (f"{path}: " if path else "") + problem.text
        line = lines[place.line - 1] if place.line <= len(lines) else ""
        parts = [_line(head), *_excerpt(line, place.column - 1)]
        if problem.mend:
            from textwrap import fill

            mend = _line(problem.mend)
            parts.append(fill(mend, _WIDTH + 6, initial_indent="  ", subsequent_indent="  "))
        return "\n".join(parts)


def _line(text: str) -> str:
    """The text on one line, safe for a terminal whatever the spec held."""
    return "".join(letter if letter.isprintable() else "\ufffd" for letter in text)


def _excerpt(line: str, column: int) -> list[str]:
    """The line and its caret, cut to what fits; nothing for an empty line."""
    if not line.strip():
        return []
    first = max(0, min(column - _WIDTH // 2, len(line) - _WIDTH))
    shown = line[first : first + _WIDTH].replace("\t", " ")
    before = ("…" if first else "") + shown[: column - first]
    after = shown[column - first :] + ("…" if first + _WIDTH < len(line) else "")
    return [f"    {before}{after}".rstrip(), "    " + " " * _cells(before) + "^"]


def _cells(text: str) -> int:
    """How many columns a terminal gives `text`."""
    return sum(
        0 if unicodedata.combining(letter) else 2 if unicodedata.east_asian_width(letter) in "WF" else 1
        for letter in text
    )
