"""The timeline as text for other programs: JSON with every row, CSV of the repetitions.

Lengths and places are exact fractions of a whole note, as text (`"11/16"`); seconds are floats, each
rounded once from the exact value. Rows are put together as text, not as dicts: a long piece has half a
million of them.
"""

import csv
import io
import json
from collections.abc import Callable, Iterator
from functools import lru_cache
from itertools import chain, islice
from operator import attrgetter

from renderer.report.place_texts import BeatTexts, OffsetTexts, PlaceTexts, pulses_text
from renderer.report.spreadsheet import number_cell, text_cell
from renderer.report.wholes import Wholes
from renderer.timeline.model import Repetition, Timeline

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

SEPARATOR = ",\n  "
"""Between two rows."""
ROWS_AT_ONCE = 500
"""Rows that are put together before they are handed on."""


def timeline_json(timeline: Timeline) -> str:
    """The whole timeline as JSON text, a row a line; `timeline_schema` describes it."""
    return "".join(timeline_json_parts(timeline))


def timeline_json_parts(timeline: Timeline) -> Iterator[str]:
    """The JSON piece by piece, to be written as it comes: a long piece has hundreds of megabytes."""
    wholes = Wholes(timeline.grid)
    places = PlaceTexts(timeline, _ticks)
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
        separator = SEPARATOR[1:]
        while batch := SEPARATOR.join(islice(rows, ROWS_AT_ONCE)):
            yield separator
            yield batch
            separator = SEPARATOR
        yield "]"
    yield "}\n"


def _ticks(timeline: Timeline) -> Iterator[int]:
    """Every tick whose seconds the JSON gives."""
    yield timeline.end
    at = attrgetter("at")
    yield from map(at, chain(timeline.bars, timeline.beats, timeline.crossings, timeline.sections))
    yield from map(at, chain(timeline.harmony, timeline.sides, timeline.tempo, timeline.marks))
    for _, _, _, _, _, start, statement, _ in timeline.repetitions:
        yield start
        yield from [start + hit for hit in statement.hits]


def _bar_lines(timeline: Timeline, wholes: Wholes, places: PlaceTexts) -> Iterator[str]:
    ats = places.wholes
    names = [_quoted(section.name) for section in timeline.sections]
    for number, section, meter, at, _ in timeline.bars:
        yield (
            f'{{"bar": {number}, "section": {names[section]}, "meter": "{meter.text}", '
            f'"at": "{ats[at]}", "seconds": {places.seconds[at]}}}'
        )


def _beats(timeline: Timeline, wholes: Wholes, places: PlaceTexts) -> Iterator[str]:
    ats = places.wholes
    seconds = places.seconds
    for bar, number, at, _ in timeline.beats:
        yield f'{{"bar": {bar}, "beat": {number}, "at": "{ats[at]}", "seconds": {seconds[at]}}}'


def _repetitions(timeline: Timeline, wholes: Wholes, places: PlaceTexts) -> Iterator[str]:
    ats, seconds = places.wholes, places.seconds
    names = [f', "section": {_quoted(section.name)}, "at": "' for section in timeline.sections]
    first = timeline.bars[0].number
    offsets: dict[int, list[OffsetTexts]] = {}
    alike: dict[int, tuple[str, str, list[tuple[int, str]], list[OffsetTexts]]] = {}
    """What rows of one statement in one voice share, by its identity."""
    last_voice = None
    for voice, number, section, bar, offset, at, statement, count in timeline.repetitions:
        if voice != last_voice:
            last_voice = voice
            alike.clear()
        shared = alike.get(id(statement))
        if shared is None:
            pulse = statement.pulse
            if pulse not in offsets:
                offsets[pulse] = places.offsets(pulse)
            shared = alike[id(statement)] = (
                f'{{"voice": {_quoted(voice)}, "figure": {_quoted(statement.figure)}, "number": ',
                f', "length": "{wholes[statement.length]}", "played": "{wholes[statement.sounding_length]}", '
                f'"cut": {_truth(statement.cut)}, "kind": "{statement.kind}", '
                f'"pulse": "{wholes[pulse]}", "groups": [',
                [(group.at, f'", "length": "{wholes[group.length]}"}}') for group in statement.groups],
                offsets[pulse],
            )
        head, middle, groups, by_bar = shared
        rows = ", ".join([f'{{"at": "{ats[at + start]}{rest}' for start, rest in groups])
        yield (
            f'{head}{number}, "count": {"null" if count is None else count}{names[section]}{ats[at]}", '
            f'"bar": {bar}, {by_bar[bar - first][offset]}, "seconds": {seconds[at]}{middle}{rows}]}}'
        )


def _hits(timeline: Timeline, wholes: Wholes, places: PlaceTexts) -> Iterator[str]:
    ats = places.wholes
    seconds = places.seconds
    alike: dict[int, tuple[str, list[tuple[int, str]]]] = {}
    last_voice = None
    for voice, number, _, _, _, at, statement, _ in timeline.repetitions:
        if voice != last_voice:
            last_voice = voice
            alike.clear()
        shared = alike.get(id(statement))
        if shared is None:
            shared = alike[id(statement)] = (
                f'{{"voice": {_quoted(voice)}, "at": "',
                [
                    (hit, f', "accent": {_truth(accented)}, "repetition": ')
                    for hit, accented in statement.marked_hits
                ],
            )
        head, hits = shared
        for hit, rest in hits:
            place = at + hit
            yield f'{head}{ats[place]}", "seconds": {seconds[place]}{rest}{number}}}'


def _crossings(timeline: Timeline, wholes: Wholes, places: PlaceTexts) -> Iterator[str]:
    changes: dict[int, str] = {}
    """Of each place, what it is in every voice."""
    for voice, number, before, after, at, into, group, into_group in timeline.crossings:
        change = changes.get(at)
        if change is None:
            change = changes[at] = (
                f', "from": {_quoted(before)}, "to": {_quoted(after)}, "at": "{places.wholes[at]}", '
                f'{places.row(at)}, "into": "'
            )
        yield (
            f'{{"voice": {_quoted(voice)}, "repetition": {number}{change}{wholes[into]}", '
            f'"group": {group}, "into_group": "{wholes[into_group]}"}}'
        )


def _landings(timeline: Timeline, wholes: Wholes, places: PlaceTexts) -> Iterator[str]:
    ats = places.wholes
    for voice, repetition, accent, at, bar, sounds in timeline.landings:
        yield (
            f'{{"voice": {_quoted(voice)}, "repetition": {repetition}, "accent": {accent}, '
            f'"at": "{ats[at]}", "bar": {bar}, "played": {_truth(sounds)}}}'
        )


def _realignments(timeline: Timeline, wholes: Wholes, places: PlaceTexts) -> Iterator[str]:
    ats = places.wholes
    for voice, repetition, at, bar, full in timeline.realignments:
        yield (
            f'{{"voice": {_quoted(voice)}, "repetition": {repetition}, "at": "{ats[at]}", '
            f'"bar": {bar}, "full": {_truth(full)}}}'
        )


def _handovers(timeline: Timeline, wholes: Wholes, places: PlaceTexts) -> Iterator[str]:
    for row in timeline.handovers:
        yield (
            f'{{"voice": {_quoted(row.voice)}, "from": {_quoted(row.before)}, "to": {_quoted(row.after)}, '
            f'"at": "{wholes[row.at]}", {places.bar_and_beat(row.at)}, '
            f'"line": "{wholes[row.line]}", "over": "{wholes[row.over]}", '
            f'"ended": "{"cut" if row.cut else "whole"}"}}'
        )


def _sections(timeline: Timeline, wholes: Wholes, places: PlaceTexts) -> Iterator[str]:
    ats = places.wholes
    for name, number, bar, bars, at, *_ in timeline.sections:
        yield (
            f'{{"name": {_quoted(name)}, "pass": {number}, "bar": {bar}, "bars": {bars}, '
            f'"at": "{ats[at]}", "seconds": {places.seconds[at]}}}'
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
    ats = places.wholes
    for name, at, _ in timeline.harmony:
        yield f'{{"name": {_quoted(name)}, "at": "{ats[at]}", {places.row(at)}}}'


def _parts(timeline: Timeline, wholes: Wholes, places: PlaceTexts) -> Iterator[str]:
    ats = places.wholes
    for part, side, at, _ in timeline.sides:
        yield f'{{"part": {_quoted(part)}, "side": {_quoted(side)}, "at": "{ats[at]}", {places.row(at)}}}'


def _tempo(timeline: Timeline, wholes: Wholes, places: PlaceTexts) -> Iterator[str]:
    ats = places.wholes
    for quarters, to, at, _ in timeline.tempo:
        target = "null" if to is None else f'"{to}"'
        yield f'{{"quarters": "{quarters}", "to": {target}, "at": "{ats[at]}", {places.row(at)}}}'


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


def repetitions_csv(timeline: Timeline) -> str:
    """The repetitions as CSV (RFC 4180) under CSV_COLUMNS: as in the JSON, groups in pulses as `5+3+3`, for a
    spreadsheet: fractions as `1 1/4`, and an apostrophe before a name that it would calculate or take for a date."""
    wholes = Wholes(timeline.grid)
    places = PlaceTexts(timeline, lambda timeline: (row.at for row in timeline.repetitions))
    beats = places.beats
    text = io.StringIO()
    table = csv.writer(text)
    table.writerow(CSV_COLUMNS)
    table.writerows(_csv_row(row, timeline, wholes, places, beats) for row in timeline.repetitions)
    return text.getvalue()


def _csv_row(
    row: Repetition, timeline: Timeline, wholes: Wholes, places: PlaceTexts, by_bar: list[BeatTexts]
) -> tuple[object, ...]:
    statement = row.statement
    beats = by_bar[row.bar_number - timeline.bars[0].number]
    return (
        text_cell(row.voice),
        text_cell(statement.figure),
        row.number,
        row.counted,
        text_cell(timeline.sections[row.section_index].name),
        number_cell(wholes[row.at]),
        row.bar_number,
        number_cell(beats[row.offset]),
        number_cell(pulses_text(row.offset, statement.pulse)),
        places.seconds[row.at],
        number_cell(wholes[statement.length]),
        number_cell(wholes[statement.sounding_length]),
        _truth(statement.cut),
        statement.kind,
        number_cell(wholes[statement.pulse]),
        number_cell("+".join(pulses_text(group.length, statement.pulse) for group in statement.groups)),
    )
