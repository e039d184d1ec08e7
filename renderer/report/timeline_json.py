"""The timeline as text for other programs: JSON with every row, CSV of the repetitions.

Lengths and places are exact fractions of a whole note, as text (`"11/16"`); seconds are floats, each
rounded once from the exact value. Rows are put together as text, not as dicts: a long piece has half a
million of them.
"""

import csv
import io
import json
from bisect import bisect_right
from collections.abc import Callable, Iterable, Iterator
from fractions import Fraction
from functools import lru_cache
from itertools import chain, islice
from operator import attrgetter

from renderer.report.spreadsheet import number_cell, text_cell
from renderer.report.wholes import Wholes
from renderer.timeline.bars import meter_beats
from renderer.timeline.model import Bar, Repetition, Timeline

CSV_COLUMNS = (
    *(
        "voice",
        "figure",
        "number",
        "count",
        "section",
        "at",
        "bar",
        "beat",
        "offset",
        "seconds",
        "length",
        "played",
    ),
    *("cut", "kind", "pulse", "groups"),
)

ROWS_AT_ONCE = 10_000
"""Rows that are put together before they are handed on."""


class PlaceTexts:
    """Ticks as bar, beat and seconds, in text, for one timeline."""

    def __init__(self, timeline: Timeline, ticks: Iterable[int]) -> None:
        """`ticks` are the places whose seconds will be asked for."""
        self._timeline = timeline
        places = sorted(set(ticks))
        self.seconds = dict(zip(places, map(repr, timeline.clock.floats(places)), strict=True))
        self._beats: dict[tuple[int, int], str] = {}
        self._starts: dict[int, tuple[int, ...]] = {}
        self._rows: dict[int, str] = {}

    def beat(self, bar: Bar, at: int) -> str:
        """The place inside a bar in felt beats from 1, exact: `7/2` is half way through beat 3."""
        starts = self._starts.get(id(bar.meter))
        if starts is None:
            starts = self._starts[id(bar.meter)] = meter_beats(bar.meter, self._timeline.grid)
        offset = at - bar.end + starts[-1]
        key = id(bar.meter), offset
        text = self._beats.get(key)
        if text is None:
            number = min(bisect_right(starts, offset), len(starts) - 1)
            start, end = starts[number - 1], starts[number]
            text = self._beats[key] = str(number + Fraction(offset - start, end - start))
        return text

    def row(self, at: int) -> str:
        """`bar`, `beat` and `seconds` of a tick, as members of a JSON object."""
        text = self._rows.get(at)
        if text is None:
            bar = self._timeline.bar_at(at)
            text = f'"bar": {bar.number}, "beat": "{self.beat(bar, at)}", "seconds": {self.seconds[at]}'
            self._rows[at] = text
        return text


def timeline_json(timeline: Timeline) -> str:
    """The whole timeline as JSON text, a row a line; `timeline_schema` describes it."""
    return "".join(timeline_json_parts(timeline))


def timeline_json_parts(timeline: Timeline) -> Iterator[str]:
    """The JSON piece by piece, to be written as it comes: a long piece has hundreds of megabytes."""
    wholes = Wholes(timeline.grid)
    places = PlaceTexts(timeline, _ticks(timeline))
    head = {
        "title": json.dumps(timeline.title, ensure_ascii=False),
        "bars": str(timeline.bars[-1].number),
        "length": f'"{wholes[timeline.end]}"',
        "seconds": places.seconds[timeline.end],
        "pickup": f'"{wholes[-timeline.start]}"',
    }
    yield "{" + ",\n ".join(f'"{key}": {value}' for key, value in head.items())
    for key, write in _TABLES.items():
        rows = write(timeline, wholes, places)
        yield f',\n "{key}": ['
        separator = "\n  "
        while batch := list(islice(rows, ROWS_AT_ONCE)):
            yield separator + ",\n  ".join(batch)
            separator = ",\n  "
        yield "]"
    yield "}\n"


def _ticks(timeline: Timeline) -> Iterator[int]:
    """Every tick whose seconds the JSON tells."""
    yield timeline.end
    at = attrgetter("at")
    yield from map(at, chain(timeline.bars, timeline.beats, timeline.repetitions, timeline.hits))
    yield from map(at, chain(timeline.crossings, timeline.sections, timeline.harmony))
    yield from map(at, chain(timeline.sides, timeline.tempo, timeline.marks))


def _bar_lines(timeline: Timeline, wholes: Wholes, places: PlaceTexts) -> Iterator[str]:
    names = [_quoted(section.name) for section in timeline.sections]
    for number, section, meter, at, _ in timeline.bars:
        yield (
            f'{{"bar": {number}, "section": {names[section]}, "meter": "{meter.text}", '
            f'"at": "{wholes[at]}", "seconds": {places.seconds[at]}}}'
        )


def _beats(timeline: Timeline, wholes: Wholes, places: PlaceTexts) -> Iterator[str]:
    seconds = places.seconds
    for bar, number, at, _ in timeline.beats:
        yield f'{{"bar": {bar}, "beat": {number}, "at": "{wholes[at]}", "seconds": {seconds[at]}}}'


def _repetitions(timeline: Timeline, wholes: Wholes, places: PlaceTexts) -> Iterator[str]:
    names = [_quoted(section.name) for section in timeline.sections]
    voices = {voice: _quoted(voice) for voice in timeline.voices}
    seconds = places.seconds
    tails: dict[int, tuple[str, str, list[tuple[int, str]]]] = {}
    first = timeline.bars[0].number
    for voice, number, section, bar, offset, at, statement, count in timeline.repetitions:
        shared = tails.get(id(statement))
        if shared is None:
            shared = tails[id(statement)] = (
                _quoted(statement.figure),
                f'"length": "{wholes[statement.length]}", "played": "{wholes[statement.sounding_length]}", '
                f'"cut": {_truth(statement.cut)}, "kind": "{statement.kind}", '
                f'"pulse": "{wholes[statement.pulse]}", "groups": [',
                [(group.at, f'", "length": "{wholes[group.length]}"}}') for group in statement.groups],
            )
        figure, middle, groups = shared
        rows = ", ".join([f'{{"at": "{wholes[at + start]}{rest}' for start, rest in groups])
        yield (
            f'{{"voice": {voices[voice]}, "figure": {figure}, "number": {number}, '
            f'"count": {"null" if count is None else count}, '
            f'"section": {names[section]}, "at": "{wholes[at]}", "bar": {bar}, '
            f'"beat": "{places.beat(timeline.bars[bar - first], at)}", '
            f'"offset": "{_pulses(offset, statement.pulse)}", "seconds": {seconds[at]}, {middle}{rows}]}}'
        )


def _hits(timeline: Timeline, wholes: Wholes, places: PlaceTexts) -> Iterator[str]:
    voices = {voice: _quoted(voice) for voice in timeline.voices}
    seconds = places.seconds
    for voice, repetition, at, accent in timeline.hits:
        yield (
            f'{{"voice": {voices[voice]}, "at": "{wholes[at]}", "seconds": {seconds[at]}, '
            f'"accent": {_truth(accent)}, "repetition": {repetition}}}'
        )


def _crossings(timeline: Timeline, wholes: Wholes, places: PlaceTexts) -> Iterator[str]:
    for row in timeline.crossings:
        yield (
            f'{{"voice": {_quoted(row.voice)}, "repetition": {row.repetition_number}, '
            f'"from": {_quoted(row.before)}, "to": {_quoted(row.after)}, '
            f'"at": "{wholes[row.at]}", {places.row(row.at)}, '
            f'"into": "{wholes[row.into]}", "group": {row.group_number}, "into_group": "{wholes[row.into_group]}"}}'
        )


def _landings(timeline: Timeline, wholes: Wholes, places: PlaceTexts) -> Iterator[str]:
    for voice, repetition, accent, at, bar, played in timeline.landings:
        yield (
            f'{{"voice": {_quoted(voice)}, "repetition": {repetition}, "accent": {accent}, '
            f'"at": "{wholes[at]}", "bar": {bar}, "played": {_truth(played)}}}'
        )


def _realignments(timeline: Timeline, wholes: Wholes, places: PlaceTexts) -> Iterator[str]:
    for voice, repetition, at, bar, full in timeline.realignments:
        yield (
            f'{{"voice": {_quoted(voice)}, "repetition": {repetition}, "at": "{wholes[at]}", '
            f'"bar": {bar}, "full": {_truth(full)}}}'
        )


def _handovers(timeline: Timeline, wholes: Wholes, places: PlaceTexts) -> Iterator[str]:
    for row in timeline.handovers:
        bar = timeline.bar_at(row.at)
        yield (
            f'{{"voice": {_quoted(row.voice)}, "from": {_quoted(row.before)}, "to": {_quoted(row.after)}, '
            f'"at": "{wholes[row.at]}", "bar": {bar.number}, "beat": "{places.beat(bar, row.at)}", '
            f'"line": "{wholes[row.line]}", "over": "{wholes[row.over]}", '
            f'"ended": "{"cut" if row.cut else "whole"}"}}'
        )


def _sections(timeline: Timeline, wholes: Wholes, places: PlaceTexts) -> Iterator[str]:
    for name, number, bar, bars, at, *_ in timeline.sections:
        yield (
            f'{{"name": {_quoted(name)}, "pass": {number}, "bar": {bar}, "bars": {bars}, '
            f'"at": "{wholes[at]}", "seconds": {places.seconds[at]}}}'
        )


def _figures(timeline: Timeline, wholes: Wholes, places: PlaceTexts) -> Iterator[str]:
    for figure in timeline.figures:
        row = {
            "name": figure.name,
            "pulse": str(figure.pulse),
            "length": str(figure.pulse * figure.pulses),
            "groups": figure.groups,
            "hits": figure.hits,
            "accents": figure.accents,
            "from": figure.origin,
        }
        yield json.dumps(row, ensure_ascii=False)


def _harmony(timeline: Timeline, wholes: Wholes, places: PlaceTexts) -> Iterator[str]:
    for name, at, _ in timeline.harmony:
        yield f'{{"name": {_quoted(name)}, "at": "{wholes[at]}", {places.row(at)}}}'


def _parts(timeline: Timeline, wholes: Wholes, places: PlaceTexts) -> Iterator[str]:
    for part, side, at, _ in timeline.sides:
        yield f'{{"part": {_quoted(part)}, "side": {_quoted(side)}, "at": "{wholes[at]}", {places.row(at)}}}'


def _tempo(timeline: Timeline, wholes: Wholes, places: PlaceTexts) -> Iterator[str]:
    for quarters, to, at, _ in timeline.tempo:
        target = "null" if to is None else f'"{to}"'
        yield f'{{"quarters": "{quarters}", "to": {target}, "at": "{wholes[at]}", {places.row(at)}}}'


def _marks(timeline: Timeline, wholes: Wholes, places: PlaceTexts) -> Iterator[str]:
    for text, at, to, bar, bars in timeline.marks:
        yield (
            f'{{"text": {_quoted(text)}, "at": "{wholes[at]}", "to": "{wholes[to]}", "bar": {bar}, "bars": {bars}, '
            f'"seconds": {places.seconds[at]}}}'
        )


_TABLES: dict[str, Callable[[Timeline, Wholes, PlaceTexts], Iterator[str]]] = {
    "sections": _sections,
    "bar_lines": _bar_lines,
    "beats": _beats,
    "figures": _figures,
    "repetitions": _repetitions,
    "hits": _hits,
    "crossings": _crossings,
    "landings": _landings,
    "realignments": _realignments,
    "handovers": _handovers,
    "harmony": _harmony,
    "parts": _parts,
    "tempo": _tempo,
    "marks": _marks,
}
"""The JSON's tables, in the order in which they are written."""


@lru_cache(maxsize=4096)
def _quoted(text: str | None) -> str:
    return "null" if text is None else json.dumps(text, ensure_ascii=False)


def _truth(value: bool) -> str:
    return "true" if value else "false"


def _pulses(ticks: int, pulse: int) -> str:
    """Ticks in pulses, an exact fraction."""
    return str(Fraction(ticks, pulse)) if ticks % pulse else str(ticks // pulse)


def repetitions_csv(timeline: Timeline) -> str:
    """The repetitions as CSV (RFC 4180) under CSV_COLUMNS: as in the JSON, groups in pulses as `5+3+3`, for a
    spreadsheet: fractions as `1 1/4`, and an apostrophe before a name that it would calculate or take for a date."""
    wholes = Wholes(timeline.grid)
    places = PlaceTexts(timeline, (row.at for row in timeline.repetitions))
    text = io.StringIO()
    table = csv.writer(text)
    table.writerow(CSV_COLUMNS)
    table.writerows(_csv_row(row, timeline, wholes, places) for row in timeline.repetitions)
    return text.getvalue()


def _csv_row(row: Repetition, timeline: Timeline, wholes: Wholes, places: PlaceTexts) -> tuple[object, ...]:
    statement = row.statement
    bar = timeline.bars[row.bar_number - timeline.bars[0].number]
    return (
        text_cell(row.voice),
        text_cell(statement.figure),
        row.number,
        row.counted,
        text_cell(timeline.sections[row.section_index].name),
        number_cell(wholes[row.at]),
        row.bar_number,
        number_cell(places.beat(bar, row.at)),
        number_cell(_pulses(row.offset, statement.pulse)),
        places.seconds[row.at],
        number_cell(wholes[statement.length]),
        number_cell(wholes[statement.sounding_length]),
        _truth(statement.cut),
        statement.kind,
        number_cell(wholes[statement.pulse]),
        number_cell("+".join(_pulses(group.length, statement.pulse) for group in statement.groups)),
    )
