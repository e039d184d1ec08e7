"""Figures and what a section plays: the shapes of `figures`, `plays`, `voices` and `starts`."""

from typing import Any

from renderer.core import limits
from renderer.core.errors import KeyPath, Problem, ValueProblem
from renderer.core.names import nearest, quoted
from renderer.reading.scalars.parse import Hits, parse_hits, parse_label, parse_position, parse_times
from renderer.reading.schema.fields import (
    POSITION_PATTERN,
    Built,
    ByKind,
    Field,
    ListOf,
    Named,
    Record,
    Scalar,
    Shape,
)
from renderer.reading.schema.values import GROUP, GROUPS, PULSE, Values, label, whole
from renderer.reading.yaml.nodes import Node, Text
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
        problems.append(Problem((*path, "accents"), text, "Say accents in one place."))
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
            "hits": Field(HITS, "x hit, X accented hit, . nothing; a blank parts groups"),
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
_PULSES = f"this is a number of pulses, 1 to {limits.TIMES:,}"
FIRST = whole(1, limits.TIMES, _PULSES, "Write {first: 5, of: kiln} for its first five pulses.")
REST = whole(1, limits.TIMES, _PULSES, "Write 4; in another count {rest: 1, pulse: 1/4}.")
TAIL: Shape[tuple[int, ...]] = ListOf(GROUP, 1, limits.FIGURE_GROUPS, "a list of groups", single=True)

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
        text = f"{key} can't stand beside {kind}."
        mend = "Write {first: 5, of: kiln}." if "first" in (key, kind) else "Make two items of it."
        problems.append(Problem((*path, key), text, mend, on_key=True))
    if kind == "first" and "of" not in values:
        problems.append(Problem(path, "first needs of, the figure's name.", "Write {first: 5, of: kiln}."))
        return None
    if strangers or any(value is None for value in values.values()):
        return None
    if sum(values.get("tail", ())) > limits.FIGURE_PULSES:
        text = f"got {sum(values['tail'])} pulses; a tail has at most {limits.FIGURE_PULSES}."
        problems.append(Problem((*path, "tail"), text, "Make a figure of it."))
        return None
    return Item(
        kind=kind,  # type: ignore[arg-type]
        path=path,
        figure=values.get("figure", values.get("of")),
        times=values.get("times"),
        count=values.get("first", values.get("rest")),
        groups=values.get("tail", ()),
        pulse=values.get("pulse"),
    )


def _build_plays(items: tuple[Item, ...], path: KeyPath, problems: list[Problem]) -> Plays:
    goes_on = len(items) == 1 and items[0].path == path and items[0] == Item("figure", path, figure="on")
    return Plays(None if goes_on else items, path)


def _meant_item(key: str, node: Node) -> str | None:
    """`{kiln: 3}` for `{figure: kiln, times: 3}`."""
    if isinstance(node, Text) and node.text.replace(".", "").isdecimal():
        return f"Write {{figure: {key}, times: {node.text}}}; the keys are {', '.join(_KEYS)}."
    return None


ITEM = Built(
    Record(
        "an item of plays",
        {
            "figure": Field(label("a figure's name"), "the figure to repeat"),
            "times": Field(TIMES, "how often; a fraction must come to whole pulses"),
            "first": Field(FIRST, "only so many pulses from the start of the figure in `of`"),
            "of": Field(label("a figure's name"), "the figure whose first pulses are played"),
            "tail": Field(TAIL, "groups that fill what is left over"),
            "rest": Field(REST, "so many pulses of silence"),
            "pulse": Field(PULSE, "this item's own count"),
        },
        text="figure",
        one_of=_KINDS,
        one_of_mend="Write {figure: kiln, times: 3}, {first: 5, of: kiln}, {tail: 4} or {rest: 4}.",
        meant=_meant_item,
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
