"""Random specs written out as YAML, by PyYAML's own writer, and read back."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import fields, is_dataclass, replace
from fractions import Fraction
from typing import Any, TypeVar

import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from renderer.reading.load import parse_spec
from renderer.spec.model import (
    BarRange,
    Entry,
    FigureSpec,
    Item,
    MarkSpec,
    Plays,
    Point,
    Position,
    SectionSpec,
    Spec,
)
from tests.strategies import specs

T = TypeVar("T")
Placed = TypeVar("Placed", Entry[Any], Point)
DRUM = (Entry(Position(1), ("meter",), ("parts", "drum")),)


def position_key(position: Position) -> str:
    bar, beat, pulse = position
    return (
        f"{bar}" if (beat, pulse) == (1, None) else f"{bar}.{beat}" + ("" if pulse is None else f".{pulse}")
    )


def each_place_once(lane: Iterable[Placed]) -> tuple[Placed, ...]:
    """Without entries at one place by another name: 1, 1.1, 1.1.1."""
    places = {(entry.position.bar, entry.position.beat, entry.position.pulse or 1): entry for entry in lane}
    return tuple(places.values())


def each_lane_written(section: SectionSpec) -> SectionSpec:
    """Without empty lanes, which no text gives."""
    parts = {part: each_place_once(lane) for part, lane in (section.parts or {}).items() if lane}
    return replace(
        section,
        harmony=section.harmony and each_place_once(section.harmony),
        tempo=section.tempo and each_place_once(section.tempo),
        fermata=section.fermata and each_place_once(section.fermata),
        parts=parts or None,
        plays=section.plays or None,
    )


def lane_data(lane: Iterable[Entry[T]], write: Callable[[T], str], short: bool) -> object:
    entries: dict[str, object] = {}
    for entry in lane:
        values = [write(value) for value in entry.values]
        entries[position_key(entry.position)] = values[0] if short and len(values) == 1 else values
    return entries["1"] if short and list(entries) == ["1"] else entries


def item_data(item: Item, short: bool) -> object:
    values: dict[str, object] = {}
    if item.kind == "figure":
        values["figure"] = item.figure
        if item.times is not None:
            values["times"] = str(item.times)
    elif item.kind == "first":
        values = {
            "of": item.figure,
            "first": f"{item.count} groups" if item.counts_groups else str(item.count),
        }
    else:
        values = {item.kind: list(item.groups) if item.kind == "tail" else item.count}
    if item.pulse is not None:
        values["pulse"] = str(item.pulse)
    return item.figure if short and list(values) == ["figure"] else values


def plays_data(plays: Plays, short: bool) -> object:
    if plays.items is None:
        return "on"
    items = [item_data(item, short) for item in plays.items]
    return items[0] if short and len(items) == 1 else items


def figure_data(figure: FigureSpec, short: bool) -> object:
    starts = tuple(sum(figure.groups[:index]) + 1 for index in range(len(figure.groups)))
    values: dict[str, object] = {}
    if figure.hits == starts:
        values["groups"] = list(figure.groups)
        if figure.accents != starts:
            values["accents"] = list(figure.accents)
    else:
        marks = iter(range(1, sum(figure.groups) + 1))
        mark = {**dict.fromkeys(figure.hits, "x"), **dict.fromkeys(figure.accents, "X")}
        values = {
            "hits": " ".join(
                "".join(mark.get(next(marks), ".") for _ in range(size)) for size in figure.groups
            )
        }
    if figure.pulse is not None:
        values["pulse"] = str(figure.pulse)
    return next(iter(values.values())) if short and len(values) == 1 and "accents" not in values else values


def mark_key(where: Position | BarRange) -> str:
    """As it is written; a bar alone is a range of one."""
    if isinstance(where, Position):
        return position_key(where)
    return f"{where.first}" if where.first == where.last else f"{where.first} to {where.last}"


def section_data(section: SectionSpec, short: bool) -> dict[str, object]:
    plain = {
        "section": section.name,
        "again": section.again,
        "bars": section.bar_count,
        "repeat": section.repeat,
    }
    values: dict[str, object] = {key: value for key, value in plain.items() if value is not None}
    if section.harmony:
        values["harmony"] = lane_data(section.harmony, str, short)
    if section.meter:
        values["meter"] = lane_data(section.meter, lambda meter: meter.text, short)
    if section.tempo:
        values["tempo"] = lane_data(section.tempo, lambda tempo: str(tempo.quarters), short)
    if section.parts:
        values["parts"] = {part: lane_data(lane, str, short) for part, lane in section.parts.items()}
    if section.fermata:
        values["fermata"] = {
            position_key(point.position): str(float(point.seconds)) for point in section.fermata
        }
    if section.marks:
        values["marks"] = {mark_key(mark.where): mark.text for mark in section.marks}
    if section.plays is not None:
        if short and list(section.plays) == ["main"]:
            values["plays"] = plays_data(section.plays["main"], short)
        else:
            values["voices"] = {voice: plays_data(plays, short) for voice, plays in section.plays.items()}
    if section.starts is not None:
        values["starts"] = (
            position_key(section.starts) if isinstance(section.starts, Position) else section.starts
        )
    return values


def spec_data(spec: Spec, short: bool) -> dict[str, object]:
    values: dict[str, object] = {
        "title": spec.title,
        "tempo": lane_data(spec.tempo, lambda tempo: str(tempo.quarters), short),
        "meter": lane_data(spec.meter, lambda meter: meter.text, short),
        "pulse": str(spec.pulse),
        "figures": {figure.name: figure_data(figure, short) for figure in spec.figures},
        "form": [section_data(section, short) for section in spec.form],
    }
    if spec.parts:
        values["parts"] = {part: lane_data(lane, str, short) for part, lane in spec.parts.items()}
    if spec.pickup:
        values["pickup"] = str(spec.pickup)
    if spec.harmony:
        values["harmony"] = lane_data(spec.harmony, str, short)
    return values


def placeless(value: Any) -> Any:
    """The value without its paths; a lane with no entries is one that is not given."""
    if isinstance(value, Position | Fraction):
        return value
    if isinstance(value, MarkSpec):
        return value.where, value.text
    if isinstance(value, tuple):
        return tuple(placeless(item) for item in value) or None
    if isinstance(value, Mapping):
        return {key: placeless(item) for key, item in value.items()}
    if is_dataclass(value):
        return type(value), {
            f.name: placeless(getattr(value, f.name)) for f in fields(value) if f.name != "path"
        }
    return value


@settings(max_examples=200, deadline=None)
@given(specs(), st.booleans(), st.booleans())
def test_a_spec_that_is_written_out_is_read_back(spec: Spec, short: bool, flow: bool) -> None:
    form = tuple(each_lane_written(section) for section in spec.form)
    spec = replace(spec, form=form, harmony=each_place_once(spec.harmony), parts={"drum": DRUM})
    text = yaml.safe_dump(spec_data(spec, short), default_flow_style=flow, sort_keys=False, width=10**6)
    assert placeless(parse_spec(text, "x")) == placeless(spec)
