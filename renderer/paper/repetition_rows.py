"""Every repetition as rows of a table: section by section, voice by voice, its sum first, what happens in each."""

from collections import defaultdict
from collections.abc import Iterator, Mapping
from fractions import Fraction
from typing import Literal, NamedTuple

from renderer.paper.bar_rows import bars_said
from renderer.paper.counting import count_text, counted_text, pulses_of
from renderer.report.table import place_text, section_names
from renderer.schedule.fit_sum import FitTerm, Part, add_up, section_parts
from renderer.timeline.model import Repetition, Section, Timeline

Happening = Literal["landing", "missed", "realignment", "crossing", "cut"]
MOST_ROWS = 600
"""Of a piece with more repetitions only those in which something happens are listed."""


class Note(NamedTuple):
    """Something that happens in a repetition: its sign, its words, and for a crossing its two shares."""

    kind: Happening
    text: str
    shares: str = ""


class TableRow(NamedTuple):
    """One repetition."""

    number: str
    starts: str
    counted: str
    offset: str
    notes: tuple[Note, ...]


class TableBlock(NamedTuple):
    """What one voice plays in one section."""

    title: str
    about: str
    sum: str
    rows: tuple[TableRow, ...]


def table_blocks(timeline: Timeline) -> tuple[tuple[TableBlock, ...], bool]:
    """All blocks, and whether rows in which nothing happens are left out."""
    notes = _notes(timeline)
    rows: dict[tuple[int, str], list[Repetition]] = defaultdict(list)
    for repetition in timeline.repetitions:
        rows[repetition.section_index, repetition.voice].append(repetition)
    fewer = len(timeline.repetitions) > MOST_ROWS
    blocks = []
    for index, title in enumerate(section_names(timeline)):
        section = timeline.sections[index]
        for voice in timeline.voices:
            own = rows.get((index, voice), [])
            shown = tuple(
                _row(timeline, row, notes) for row in own if not fewer or notes.get((row.voice, row.number))
            )
            if own:
                name = f"{title}, {voice}" if len(timeline.voices) > 1 else title
                about = ", ".join([bars_said(section), *_figures(timeline, own)])
                blocks.append(TableBlock(name, about, sum_said(timeline, section, voice), shown))
    return tuple(blocks), fewer


def _figures(timeline: Timeline, rows: list[Repetition]) -> Iterator[str]:
    names = list(dict.fromkeys(row.statement.figure for row in rows if row.statement.figure))
    if len(names) == 1:
        figure = timeline.figure(names[0])
        few = len(figure.groups) <= 6
        yield f"{figure.name}, {' + '.join(map(str, figure.groups))}" if few else figure.name
    elif len(names) > 1:
        yield f"{len(names)} figures"


def sum_said(timeline: Timeline, section: Section, voice: str) -> str:
    """A section's sum in its own pulses: `192 = 17 × 11 + 5 running on`."""
    parts = section_parts(timeline, section, voice)
    pulses = [part.repetition.statement.pulse for part in parts if part.repetition]
    if not pulses:
        return ""
    unit = min(pulses)
    rest = _untouched(parts)
    terms = [_term(term, unit) for term in add_up(rest).terms] if rest else []
    last = parts[-1]
    if last.kind == "over":
        terms.append(f"{pulses_of(last.end - last.at, unit)} running on")
    elif last.kind == "cut":
        terms.append(f"{pulses_of(last.end - last.at, unit)} cut")
    return f"{pulses_of(section.end - section.at, unit)} = {' + '.join(terms)}" if terms else ""


def _untouched(parts: tuple[Part, ...]) -> tuple[Part, ...]:
    """The parts without a last one that is too long for its room: it is told as what there is of it."""
    return parts[:-1] if parts[-1].kind in ("over", "cut") else parts


def _term(term: FitTerm, unit: int) -> str:
    size = pulses_of(term.ticks, unit)
    words = {"carried": "carried over", "rest": "rest", "left": "silent", "cut": "cut", "over": "running on"}
    if term.kind == "whole":
        return f"{term.times} × {size}"
    many = f"{term.times} × " if term.times > 1 else ""
    return f"{many}{size} {words.get(term.kind, term.kind)}"


def _row(timeline: Timeline, repetition: Repetition, notes: Mapping[tuple[str, int], list[Note]]) -> TableRow:
    statement = repetition.statement
    found = list(notes.get((repetition.voice, repetition.number), ()))
    return TableRow(
        number=count_text(repetition) or "tail",
        starts=place_text(timeline, repetition.at),
        counted=counted_text(timeline, repetition.at, statement.pulse),
        offset=pulses_of(repetition.offset, statement.pulse),
        notes=tuple(found),
    )


def _notes(timeline: Timeline) -> Mapping[tuple[str, int], list[Note]]:
    """What happens in each repetition, by its voice and number."""
    found: dict[tuple[str, int], list[Note]] = defaultdict(list)
    home = {(row.voice, row.repetition_number): row for row in timeline.realignments}
    by_number = {(row.voice, row.number): row for row in timeline.repetitions}
    for key in home:
        found[key].append(Note("realignment", "on a downbeat again"))
    for landing in timeline.landings:
        key = landing.voice, landing.repetition_number
        if key in home and landing.accent_number == 1:
            continue
        text = f"accent {landing.accent_number} {'on' if landing.sounds else 'missed, bar'}"
        kind: Happening = "landing" if landing.sounds else "missed"
        found[key].append(Note(kind, f"{text} {'bar ' if landing.sounds else ''}{landing.bar_number}"))
    for key, repetition in by_number.items():
        statement = repetition.statement
        if statement.sounding_length < statement.length:
            played, whole = (
                pulses_of(ticks, statement.pulse) for ticks in (statement.sounding_length, statement.length)
            )
            found[key].append(Note("cut", f"{'cut to' if statement.cut else 'first'} {played} of {whole}"))
    for crossing in timeline.crossings:
        key = crossing.voice, crossing.repetition_number
        repetition = by_number[key]
        before = Fraction(crossing.into, repetition.statement.pulse)
        after = Fraction(repetition.statement.sounding_length, repetition.statement.pulse) - before
        shares = f"{pulses_of(crossing.into, repetition.statement.pulse)} + {_mixed(after)}"
        found[key].append(Note("crossing", f"{crossing.before} → {crossing.after}", shares))
    return found


def _mixed(number: Fraction) -> str:
    return pulses_of(number.numerator, number.denominator)
