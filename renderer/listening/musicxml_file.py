"""MusicXML, also compressed (.mxl), as a score, read by music21.

Rehearsal marks name sections, chord symbols are the harmony. Accents and strong accents are accents. A tied note begins
once. Repeats are played out where music21 can.
"""

import io
import re
import warnings
import zipfile
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from math import lcm
from typing import Any

from renderer.core import limits
from renderer.core.names import bars_named
from renderer.listening.lay_bars import UnusableError, meter_of_length, read_meter
from renderer.listening.midi_file import NOTES
from renderer.listening.score import (
    Named,
    Onset,
    Score,
    ScoreBar,
    ScorePart,
    TempoChange,
    as_label,
    told_apart,
)
from renderer.spec.meter import Meter

XML_BYTES = 32_000_000
"""Of a file when it is unpacked."""
FINEST = 1 << 22
"""Ticks to a whole note, at most."""
CLOSEST = 1 << 16
"""The largest denominator of a place, in quarters; music21 keeps places as floats where they are exact."""
DIVISIONS = re.compile(rb"<note\b")
MARK = re.compile("<score-(partwise|timewise)")
ENCODING = re.compile(rb"""<\?xml[^>]*encoding\s*=\s*["']([A-Za-z0-9._-]+)["']""")
ROOT = re.compile(r'full-path\s*=\s*"([^"]+)"')


def unpacked(data: bytes) -> bytes:
    """The MusicXML that a compressed file holds. Raises UnusableError."""
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        if sum(entry.file_size for entry in archive.infolist()) > 2 * XML_BYTES:
            raise UnusableError(
                f"it holds more than {XML_BYTES // 1_000_000} MB. Save the part that you need alone."
            )
        names = archive.namelist()
        root = ROOT.search(archive.read("META-INF/container.xml").decode("utf-8", "replace"))
        inner = [name for name in names if name.endswith((".xml", ".musicxml")) and "META-INF" not in name]
        name = root[1] if root and root[1] in names else next(iter(inner), None)
        if name is None:
            raise UnusableError("there is no score in it.")
        return archive.read(name)


def decoded(data: bytes) -> str:
    """XML as text: UTF-8 or UTF-16, or what it says of itself. Raises UnicodeError or LookupError."""
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return data.decode("utf-16")
    said = ENCODING.search(data[:200])
    return data.decode(said[1].decode() if said else "utf-8-sig").removeprefix("\ufeff")


def read_musicxml(data: bytes, title: str) -> Score:
    """The score. Raises UnusableError; whatever else is raised comes of a damaged file."""
    if len(data) > XML_BYTES:
        raise UnusableError(
            f"it is larger than {XML_BYTES // 1_000_000} MB. Save the part that you need alone."
        )
    if len(DIVISIONS.findall(data)) > NOTES:
        raise UnusableError(f"it has more than {NOTES:,} notes. Save the part that you need alone.")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from music21.musicxml.xmlToM21 import MusicXMLImporter

        importer = MusicXMLImporter()
        importer.xmlText = decoded(data)
        importer.parseXMLText()
        return score_of_stream(importer.stream, title)


def score_of_stream(stream: Any, title: str) -> Score:
    """The score in a music21 stream. Raises UnusableError."""
    parts, remarks = _played_out([*stream.parts])
    if not parts:
        raise UnusableError("there are no parts in it.")
    return _score(stream, parts, [[*part.flatten()] for part in parts], remarks, title)


def _played_out(parts: list[Any]) -> tuple[list[Any], list[str]]:
    """Parts with their repeats written out."""
    from music21.repeat import ExpanderException

    if not any(
        part.recurse().getElementsByClass(["Repeat", "RepeatMark", "RepeatBracket"]) for part in parts
    ):
        return parts, []
    try:
        return [part.expandRepeats() for part in parts], []
    except (ExpanderException, IndexError, ValueError, AttributeError):
        return parts, ["The repeats of the file can't be followed; here each bar stands once."]


def _score(stream: Any, parts: list[Any], rows: list[list[Any]], remarks: list[str], title: str) -> Score:
    places = {_place(element) for row in rows for element in row}
    measures = [*parts[0].getElementsByClass("Measure")]
    if not measures:
        raise UnusableError("there are no bars in it.")
    lines = [_exact(measure.offset) for measure in measures]
    lengths = [_exact(measure.barDuration.quarterLength) for measure in measures]
    last = max(
        [lines[-1] + lengths[-1], *(_exact(measures[-1].offset + measures[-1].quarterLength) for _ in (0,))]
    )
    grid = lcm(*(place.denominator for place in {*places, *lines, *lengths, last}), max(limits.METER_UNITS))
    if grid > FINEST:
        raise UnusableError("its notes are too finely divided to be counted.")
    bars, odd = _bars(measures, [*lines, last], lengths, grid)
    shift = _pickup(bars)
    bars = [ScoreBar(bar.at - shift, bar.end - shift, bar.meter) for bar in bars]
    if odd:
        remarks = [
            *remarks,
            f"Not as long as the meter says: {bars_named(odd)}; here they have meters of their own.",
        ]
    names = told_apart(
        (_part_name(part, number) for number, part in enumerate(parts, 1)), limits.LABEL_CHARACTERS
    )
    listed = [*_marks(rows, "RehearsalMark", lambda element: element.content, grid, shift)]
    chords = [*_marks(rows, "ChordSymbol", _chord_name, grid, shift)]
    metadata = stream.metadata
    found = (metadata.title or metadata.movementName or "") if metadata else ""
    score = Score(
        as_label(found, limits.TITLE_CHARACTERS) or title,
        grid,
        tuple(bars),
        _tempo(rows, grid, shift),
        tuple(listed),
        tuple(chords),
        (),
        tuple(remarks),
    )
    made = tuple(_part(name, row, score, shift) for name, row in zip(names, rows, strict=True))
    return replace(score, parts=made)


def _exact(quarters: float | Fraction) -> Fraction:
    """A place or length in quarters as part of a whole note."""
    return Fraction(quarters).limit_denominator(CLOSEST) / 4


def _place(element: Any) -> Fraction:
    return _exact(element.offset)


def _bars(
    measures: Sequence[Any], lines: Sequence[Fraction], lengths: Sequence[Fraction], grid: int
) -> tuple[list[ScoreBar], list[int]]:
    """Bars, and the numbers of those whose length is not their meter's; the first may be a pick-up."""
    bars: list[ScoreBar] = []
    odd: list[int] = []
    meter = read_meter("4/4")
    short_first = len(lines) > 2 and lines[1] - lines[0] < lengths[0]
    for index, measure in enumerate(measures):
        if measure.timeSignature is not None:
            meter = _meter(measure.timeSignature)
        length = lines[index + 1] - lines[index]
        if index == len(measures) - 1:
            length = max(length, meter.length)
        own = meter
        if length != meter.length and not (index == 0 and short_first):
            odd.append(index + (0 if short_first else 1))
            own = meter_of_length(length)
        at = int(lines[index] * grid)
        bars.append(ScoreBar(at, at + int(length * grid), own))
    return bars, odd


def _meter(signature: Any) -> Meter:
    """A meter, with its felt beats where the file writes them out, as in 2+2+3 over 8."""
    shares = [int(part.numerator) for part in signature.displaySequence]
    text = f"{signature.numerator}/{signature.denominator}"
    return read_meter(f"{text} in {'+'.join(map(str, shares))}" if len(shares) > 1 else text)


def _pickup(bars: Sequence[ScoreBar]) -> int:
    """Where bar 1 begins."""
    first = bars[0]
    return first.end if first.end - first.at < first.meter.length * _grid_of(bars) else first.at


def _grid_of(bars: Sequence[ScoreBar]) -> int:
    """Ticks to a whole note, from a bar that is full."""
    full = bars[1] if len(bars) > 1 else bars[0]
    return int((full.end - full.at) / full.meter.length)


def _part_name(part: Any, number: int) -> str:
    return as_label(str(part.partName or ""), limits.LABEL_CHARACTERS) or f"Part {number}"


def _marks(rows: Iterable[Iterable[Any]], kind: str, name: Any, grid: int, shift: int) -> Iterator[Named]:
    """What stands over the parts, once a place."""
    found: dict[int, str] = {}
    for row in rows:
        for element in row:
            if kind in element.classes and (label := as_label(str(name(element)), limits.LABEL_CHARACTERS)):
                found.setdefault(int(_place(element) * grid) - shift, label)
    return (Named(at, found[at]) for at in sorted(found))


def _chord_name(symbol: Any) -> str:
    """A chord symbol as it is written: flats are `b`.

    A root's flats are hyphens in music21's names.
    """
    if "NoChord" in symbol.classes:
        return "N.C."
    return re.sub(r"(^|/)([A-G])(-+)", lambda match: match[1] + match[2] + "b" * len(match[3]), symbol.figure)


def _tempo(rows: Iterable[Iterable[Any]], grid: int, shift: int) -> tuple[TempoChange, ...]:
    found: dict[int, Fraction] = {}
    for row in rows:
        for element in row:
            if "MetronomeMark" in element.classes and not element.numberImplicit:
                quarters = element.getQuarterBPM()
                if quarters:
                    at = int(_place(element) * grid) - shift
                    found.setdefault(at, Fraction(quarters).limit_denominator(10_000))
    return tuple(TempoChange(at, found[at]) for at in sorted(found))


def _part(name: str, row: Iterable[Any], score: Score, shift: int) -> ScorePart:
    """A part's onsets. What is tied from before begins no more."""
    found: dict[int, bool] = {}
    open_ties: dict[str, tuple[int, int]] = {}
    """By pitch: where a tied note begins, and where it ends and the tie goes on."""
    endless: int | None = None
    marked = False
    for element in row:
        if "GeneralNote" not in element.classes or "Rest" in element.classes or "Harmony" in element.classes:
            continue
        if element.duration.isGrace:
            continue
        at = int(_place(element) * score.grid) - shift
        accented = any(mark.name in ("accent", "strong accent") for mark in element.articulations)
        marked = marked or accented
        begins = False
        for note in getattr(element, "notes", (element,)):
            pitch = getattr(note, "pitch", None) or getattr(note, "displayName", "")
            tie = note.tie.type if note.tie else None
            begun, held = open_ties.get(str(pitch), (0, at + 1))
            goes_on = tie in ("continue", "stop") or held == at  # not every program says where a tie stops
            if held <= at or goes_on:  # else it is another voice's
                open_ties.pop(str(pitch), None)
            if held < at and not goes_on:
                endless = endless or score.bar_number(begun)
            begins = begins or not goes_on
            if tie in ("start", "continue"):
                open_ties[str(pitch)] = at, at + int(_exact(element.quarterLength) * score.grid)
        if begins:
            found[at] = found.get(at, False) or accented
    if open_ties and endless is None:
        endless = score.bar_number(min(open_ties.values())[0])
    onsets = tuple(Onset(at, found[at] or not marked) for at in sorted(found))
    return ScorePart(name, onsets, marked and not all(found.values()), endless)
