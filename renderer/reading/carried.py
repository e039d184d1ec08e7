"""A spec in a file for another program: its music alone, so that it can be read from there again.

What is carried is what the timeline is made from, as text without comments, blanks or aliases: no recording, no other
file, no picture and no word said. It is a spec like any other, and is read as one.
"""

import json
import re
from collections.abc import Iterator
from typing import TypeAlias

from renderer.reading.yaml.nodes import Nothing, Pairs, Rows, Text, read_tree

MARK = "barcross spec: "
"""Begins the text that carries a spec."""
NAME = "barcross-spec"
"""Of a field that carries one, where fields have names."""
MUSIC = (
    "title",
    "tempo",
    "meter",
    "pulse",
    "pickup",
    "harmony",
    "marks",
    "fermata",
    "sync",
    "words",
    "click",
    "parts",
    "figures",
    "form",
)
"""The keys of a spec that are carried, in the order in which they are written."""
OPENED = ("figures", "form")
"""Those that stand over several lines."""
WIDTH = 110
_PLAIN = re.compile(r"-?[\w.][\w.+/♭♯°ø△-]*(?: [\w.+/=][\w.+/=-]*)*")

Value: TypeAlias = "str | list[Value] | dict[str, Value]"


def carried_spec(text: str) -> str:
    """The music of a spec's text, on one line; empty for no text. Raises SpecError.

    >>> carried_spec("tempo: 112\\nmeter: 4/4 # as ever\\nrecording: take.flac\\nform: [{section: Theme, bars: 12}]")
    '{"tempo":"112","meter":"4/4","form":[{"section":"Theme","bars":"12"}]}'
    """
    if not text:
        return ""
    return json.dumps(_music(text), ensure_ascii=False, separators=(",", ":"))


def written_spec(carried: str) -> str:
    """A carried spec as somebody would write it, a key a line; with what is no music left out. Raises SpecError."""
    lines: list[str] = []
    for key, value in _music(carried).items():
        opened = key in OPENED
        lines += [*([""] if opened else []), *_lines(key, value, "", opened)]
    return "\n".join(lines).strip() + "\n"


def _music(text: str) -> dict[str, Value]:
    root, problems = read_tree(text)
    values = _value(root)
    if problems or not isinstance(values, dict):
        return {}
    return {key: values[key] for key in MUSIC if key in values}


def _value(node: Text | Rows | Pairs | Nothing) -> Value:
    match node:
        case Text(text=text):
            return text
        case Rows(items=items):
            return [_value(item) for item in items]
        case Pairs(pairs=pairs):
            return {key.text: _value(value) for key, value in pairs}
    return ""


def _lines(key: str, value: Value, indent: str, opened: bool = False) -> Iterator[str]:
    """A key with its value: on one line, or a line each where that is too long, or for what is `opened`."""
    flow = f"{indent}{_text(key)}: {_flow(value)}"
    if isinstance(value, str) or not value or (not opened and len(flow) <= WIDTH):
        yield flow
    elif isinstance(value, dict):
        yield f"{indent}{_text(key)}:"
        for name, each in value.items():
            yield from _lines(name, each, f"{indent}  ")
    else:
        yield f"{indent}{_text(key)}:"
        for each in value:
            if key == "form" and isinstance(each, dict) and each:
                rows = [row for name, part in each.items() for row in _lines(name, part, f"{indent}    ")]
                yield f"{indent}  - {rows[0].lstrip()}"
                yield from rows[1:]
            else:
                yield f"{indent}  - {_flow(each)}"


def _flow(value: Value) -> str:
    if isinstance(value, str):
        return _text(value)
    if isinstance(value, list):
        return f"[{', '.join(map(_flow, value))}]"
    return f"{{{', '.join(f'{_text(key)}: {_flow(each)}' for key, each in value.items())}}}"


def _text(text: str) -> str:
    return text if _PLAIN.fullmatch(text) else json.dumps(text, ensure_ascii=False)
