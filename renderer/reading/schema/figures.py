"""Figures and what a section plays: the shapes of `figures`, `plays`, `voices` and `starts`."""

import re
from collections.abc import Collection
from typing import Any

from renderer.core import limits
from renderer.core.errors import KeyPath, Problem, ValueProblem
from renderer.core.names import counted, nearest, quoted
from renderer.reading.scalars.parse import (
    First,
    Hits,
    parse_first,
    parse_hits,
    parse_label,
    parse_position,
    parse_times,
    parse_whole,
)
from renderer.reading.scalars.suggest import rest_mend
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
from renderer.reading.schema.lanes import POSITION_PATTERN
from renderer.reading.schema.values import GROUP, GROUPS, PULSE, Values, label, parse_group, whole
from renderer.reading.yaml.nodes import Node, Pairs, Text
from renderer.spec.model import FigureSpec, Item, Plays, Start

ACCENTS = ListOf(
    whole(1, limits.FIGURE_PULSES, "an accent is the number of its pulse, from 1"),
    0,
    limits.FIGURE_PULSES,
    "a list of pulse numbers",
    mend="Write them in brackets: [1, 9].",
)
HITS = Scalar(
    parse_hits,
    "hits such as X..x. xx.",
    {"type": "string", "pattern": r"^[xX.\s]+$", "maxLength": limits.FIGURE_PULSES * 2},
)


def _build_figure(values: Values, path: KeyPath, problems: list[Problem]) -> FigureSpec | None:
    groups: tuple[int, ...] | None = values.get("groups")
    row: Hits | None = values.get("hits")
    if (groups is None and row is None) or any(value is None for value in values.values()):
        return None
    found = len(problems)
    if groups and sum(groups) > limits.FIGURE_PULSES:
        text = f"got {sum(groups)} pulses; a figure has at most {limits.FIGURE_PULSES}."
        problems.append(Problem((*path, "groups"), text))
    if row and len(row.groups) > limits.FIGURE_GROUPS:
        text = f"got {len(row.groups)} groups; a figure has at most {limits.FIGURE_GROUPS}."
        problems.append(Problem((*path, "hits"), text))
    if groups and row and (sum(groups) != sum(row.groups) or (len(row.groups) > 1 and groups != row.groups)):
        got, said = ("+".join(map(str, each)) for each in (row.groups, groups))
        problems.append(
            Problem((*path, "hits"), f"got {got} pulses; groups says {said}.", "Keep one of the two.")
        )
    shape = groups or (row.groups if row else ())
    starts = tuple(1 + sum(shape[:index]) for index in range(len(shape)))
    hits = row.hits if row else starts
    accents = _accents(values.get("accents"), row, hits, path, problems)
    if len(problems) > found:
        return None
    return FigureSpec(
        name=parse_label(str(path[-1])),
        groups=shape,
        hits=hits,
        accents=accents if accents is not None else row.accents if row else starts,
        pulse=values.get("pulse"),
        origin=values.get("from"),
        path=path,
    )


def _accents(
    said: tuple[int, ...] | None,
    row: Hits | None,
    hits: tuple[int, ...],
    path: KeyPath,
    problems: list[Problem],
) -> tuple[int, ...] | None:
    """The accents that the figure says itself, in order; each must be a hit."""
    if said is None:
        return None
    if row and row.accents and row.accents != tuple(sorted(set(said))):
        text = f"got {list(said)}; hits has its X on {list(row.accents)}."
        problems.append(Problem((*path, "accents"), text, "Write accents in one place."))
    for index, accent in enumerate(said):
        if accent not in hits:
            text = f"got {accent}; an accent stands on a hit, and the hits are {', '.join(map(str, hits))}."
            problems.append(
                Problem(
                    (*path, "accents", index), text, "Write one of them, or hits: with an X on every accent."
                )
            )
    return tuple(sorted(set(said)))


FIGURE = Built(
    Record(
        "a figure",
        {
            "groups": Field(GROUPS, "pulses of each group; each begins with an accented hit"),
            "hits": Field(HITS, "x hit, X accented hit, . nothing; a space separates groups"),
            "accents": Field(ACCENTS, "the accented pulses, from 1; no others are"),
            "pulse": Field(PULSE, "the figure's own count, in whole notes"),
            "from": Field(label("a figure's name"), "the figure that this one is a variant of"),
        },
        text="hits",
        rows="groups",
        one_of=("groups", "hits"),
        one_of_mend="Write groups: [5, 3, 3], or hits: X..x. xx.",
    ),
    _build_figure,
)


TIMES = Scalar(
    parse_times, "how often", {"type": ["number", "string"], "exclusiveMinimum": 0, "maximum": limits.TIMES}
)
_FIRST_PATTERN = r"^\s*[0-9]+( +(pulses?|groups?))?\s*$"
_PULSES = f"this is a number of pulses, 1 to {limits.TIMES:,}"
FIRST = Scalar(
    parse_first,
    "a number of pulses or groups",
    {"type": ["integer", "string"], "minimum": 1, "maximum": limits.TIMES, "pattern": _FIRST_PATTERN},
)


def parse_rest(text: str) -> int:
    """How many pulses a rest lasts."""
    return parse_whole(text, 1, limits.TIMES, _PULSES, rest_mend(text.strip()))


def parse_tail(text: str) -> tuple[int, ...]:
    """A tail of one group, without brackets."""
    numbers = re.split(r" *[,+] *| +", text.strip())
    if len(numbers) > 1 and all(number.isdecimal() for number in numbers):
        raise ValueProblem(
            f"got {quoted(text)}; several groups stand in brackets.", f"Write [{', '.join(numbers)}]."
        )
    return (parse_group(text),)


REST = Scalar(parse_rest, "a whole number", whole(1, limits.TIMES, "").rule)
TAIL: Shape[tuple[int, ...]] = ByKind(
    "a list of groups",
    text=Scalar(parse_tail, "a list of groups", GROUP.schema()),
    rows=ListOf(GROUP, 1, limits.FIGURE_GROUPS, "a list of groups"),
)

_KINDS = ("figure", "first", "tail", "rest")
_KEYS = ("figure", "times", "first", "of", "tail", "rest", "pulse")
_ALLOWED = {
    "figure": ("figure", "times", "pulse"),
    "first": ("first", "of", "pulse"),
    "tail": ("tail", "pulse"),
    "rest": ("rest", "pulse"),
}


def _build_item(values: Values, path: KeyPath, problems: list[Problem]) -> Item | None:
    kind = next((key for key in values if key in _KINDS), None)
    if kind is None:
        return None
    strangers = [key for key in values if key not in _ALLOWED[kind]]
    for key in strangers:
        problems.append(
            Problem((*path, key), f"{key} can't be used with {kind}.", _apart(key, kind, values), on_key=True)
        )
    if kind == "first" and not strangers and "of" not in values:
        if values["first"] is not None:
            mend = f"Write {{first: {_first_text(values)}, of: kiln}}."
            problems.append(Problem(path, "first needs of, the figure's name.", mend))
        return None
    if strangers or any(value is None for value in values.values()):
        return None
    if sum(values.get("tail", ())) > limits.FIGURE_PULSES:
        text = f"got {sum(values['tail'])} pulses; a tail has at most {limits.FIGURE_PULSES}."
        problems.append(Problem((*path, "tail"), text, "Make a figure of it."))
        return None
    first: First | None = values.get("first")
    return Item(
        kind=kind,  # type: ignore[arg-type]
        path=path,
        figure=values.get("figure", values.get("of")),
        times=values.get("times"),
        count=first.amount if first else values.get("rest"),
        counts_groups=first is not None and first.groups,
        groups=values.get("tail", ()),
        pulse=values.get("pulse"),
    )


def _first_text(values: Values) -> str:
    """How much of a figure, as it is written; five pulses where that can't be read."""
    first: First | None = values["first"]
    return counted(first.amount, "group") if first and first.groups else str(first.amount if first else 5)


def _apart(key: str, kind: str, values: Values) -> str | None:
    """What to write where a key can't be used with what an item plays."""
    if {key, kind} == {"first", "figure"}:
        return f"Write {{first: {_first_text(values)}, of: {values['figure'] or 'kiln'}}}."
    if key in _KINDS:
        return "Make two items of it."
    times = values.get("times")
    if key == "times" and kind == "rest" and times and values["rest"] and times.denominator == 1:
        return f"Write {{rest: {values['rest'] * times.numerator}}}."
    return f"Remove {key}."


def _build_plays(items: tuple[Item, ...], path: KeyPath, problems: list[Problem]) -> Plays:
    goes_on = len(items) == 1 and items[0].path == path and items[0] == Item("figure", path, figure="on")
    return Plays(None if goes_on else items, path)


def _meant_item(key: str, node: Node, pairs: Pairs) -> str | None:
    """`{kiln: 3}` for `{figure: kiln, times: 3}`."""
    alone = len(pairs.pairs) == 1
    if alone and isinstance(node, Text) and node.text.replace(".", "").isdecimal():
        return f"Write {{figure: {key}, times: {node.text}}}; the keys are {', '.join(_KEYS)}."
    return None


def _takes(pairs: Pairs) -> Collection[str] | None:
    """The keys that an item may have, once it is known what it plays."""
    kinds = [key.text for key, _ in pairs.pairs if key.text in _KINDS]
    return _ALLOWED[kinds[0]] if len(kinds) == 1 else None


ITEM = Built(
    Record(
        "an item of plays",
        {
            "figure": Field(label("a figure's name"), "the figure to repeat"),
            "times": Field(TIMES, "how often; a fraction must come to whole pulses"),
            "first": Field(
                FIRST, "only so many pulses, or groups (`2 groups`), from the start of the figure in `of`"
            ),
            "of": Field(label("a figure's name"), "the figure whose first pulses are played"),
            "tail": Field(TAIL, "groups that fill what is left over"),
            "rest": Field(REST, "so many pulses of silence"),
            "pulse": Field(PULSE, "this item's own count"),
        },
        text="figure",
        one_of=_KINDS,
        one_of_mend="Write {figure: kiln, times: 3}, {first: 5, of: kiln}, {tail: 4} or {rest: 4}.",
        stands_for={"repeat": "times", "repeats": "times", "play": "figure", "plays": "figure"},
        meant=_meant_item,
        takes=_takes,
    ),
    _build_item,
)
PLAYS = Built(ListOf(ITEM, 1, limits.ITEMS, "plays", single=True), _build_plays)


def parse_start(text: str) -> Start:
    """When a section's list takes over: `downbeat`, `after` or a position."""
    word = text.strip()
    if word in ("downbeat", "after"):
        return "after" if word == "after" else "downbeat"
    try:
        return parse_position(word)
    except ValueProblem:
        rule = "starts is downbeat, after or a position"
        near = nearest(word, ("downbeat", "after"))
        raise ValueProblem(
            f"got {quoted(text)}; {rule}.",
            f"Write {near}." if near else "Write downbeat, after, or such as 1.3.",
        ) from None


START: Scalar[Start] = Scalar(
    parse_start,
    "downbeat, after or a position",
    {"type": ["string", "number"], "pattern": f"^(downbeat|after)$|{POSITION_PATTERN}"},
)
STARTS: Shape[Any] = ByKind(
    "downbeat, after, a position, or a map of voices to one of these",
    text=START,
    pairs=Named(START, limits.VOICES, "a map of voices"),
)
