"""A file to the text of a spec."""

from collections.abc import Sequence
from fractions import Fraction
from math import gcd
from pathlib import Path
from typing import NamedTuple

from renderer.core import limits
from renderer.core.errors import FileError
from renderer.core.names import bars_named, counted, listed, nearest_mend
from renderer.listening.plays import FigureBook, PlaysWriter, section_lines, spans_of
from renderer.listening.proof import LATE, bars_that_differ, largest_delay
from renderer.listening.pulses import LaidPart, is_pulse, lay_part
from renderer.listening.read_score import read_score
from renderer.listening.reading import Reading, read_part, screen
from renderer.listening.score import Score, ScorePart
from renderer.listening.sections import ScoreSection, Written, lay_sections
from renderer.listening.spec_text import Played, write_spec
from renderer.listening.words import doubts_of, reading_words
from renderer.reading.load import parse_spec
from renderer.timeline.build import build_timeline
from renderer.timeline.model import Timeline

LOOKED_AT = 3
"""Parts that are looked at closely where none is named."""
KEEPS = 0.9
"""The share of a part's notes that are on the figure's, if it keeps the figure."""
HALF = 0.5


class Heard(NamedTuple):
    """The text of a spec, and what to say of it, in sentences."""

    text: str
    findings: tuple[str, ...]
    part: ScorePart
    reading: Reading | None
    """None where the part is too long to be looked at."""


def spec_from_file(path: Path, part: str | None = None, tempo: Fraction | None = None) -> Heard:
    """The spec of the piece in a MIDI or MusicXML file; the figure is that of `part`. Raises FileError."""
    score = read_score(path, tempo)
    return spec_from_score(score, path, part)


def spec_from_score(score: Score, path: Path, part: str | None = None) -> Heard:
    """The spec of a piece that was read from `path`. Raises FileError."""
    sections, astray = lay_sections(score)
    named = [choose_part(score, part, path)] if part is not None else _likely(score)
    whole = [one for one in named if one.endless_tie is None]
    if not whole:
        where = f"in bar {named[0].endless_tie} a tie of {named[0].name} begins and never ends"
        raise FileError(f"{path}: {where}. Mend it, and save the file again.")
    chosen, reading = _clearest(score, sections, whole)
    findings = [*score.remarks, *astray, *_left_out(score.parts), *_endless(named)]
    played = _played(score, sections, chosen, reading)
    said = (
        reading_words(score, chosen, reading) if reading else [f"{chosen.name} is too long to be looked at."]
    )
    text = write_spec(score, sections, played, ())
    timeline = build_timeline(parse_spec(text, "read.yaml"))
    findings = [*said, *_differences(score, chosen, reading, timeline), *findings]
    comment = [f"Read from {path.name}.", *findings]
    return Heard(write_spec(score, sections, played, comment), tuple(findings), chosen, reading)


def choose_part(score: Score, name: str, path: Path) -> ScorePart:
    """The part of that name. Raises FileError."""
    for part in score.parts:
        if part.name.casefold() == name.strip().casefold():
            return part
    mend = nearest_mend(name, [part.name for part in score.parts])
    raise FileError(f"{path}: there is no part {name}. {mend}")


def _likely(score: Score) -> list[ScorePart]:
    """The parts that repeat most out of step with the bar."""
    laid = [(part, lay_part(score, part)) for part in score.parts if part.onsets]
    ranked = sorted(laid, key=lambda pair: -screen(score, pair[1]) if pair[1] and len(laid) > 1 else 0)
    return [part for part, _ in ranked[:LOOKED_AT]]


def _read(score: Score, sections: Sequence[ScoreSection], part: ScorePart) -> Reading | None:
    laid = lay_part(score, part)
    return read_part(score, sections, laid) if laid else None


def _clearest(
    score: Score, sections: Sequence[ScoreSection], parts: Sequence[ScorePart]
) -> tuple[ScorePart, Reading | None]:
    """The part, of those that repeat most, that shows a figure; the first one that is sure of it."""
    found = []
    for part in parts:
        reading = _read(score, sections, part)
        found.append((part, reading))
        if reading and reading.kind == "figure" and not doubts_of(score, reading):
            break
    return max(found, key=lambda pair: _clearness(pair[1]))


def _clearness(reading: Reading | None) -> tuple[int, float]:
    kinds = ("none", "ostinato", "figure")
    return (kinds.index(reading.kind), reading.saved) if reading else (-1, 0.0)


def _played(
    score: Score, sections: Sequence[ScoreSection], part: ScorePart, reading: Reading | None
) -> Played:
    sides = {each.name: "meter" for each in _kept_parts(score, part)}
    if reading is None or reading.kind == "none":
        return Played(None, sides=sides)
    laid = reading.laid
    piece = _piece_pulse(score, laid)
    own = laid.pulse if piece != laid.pulse else None
    book = FigureBook(own, part.marks_accents)
    spans, _ = spans_of(reading, book)
    written = Written(score, sections, int(piece * score.grid))
    writer = PlaysWriter(
        spans,
        section_lines(sections, laid.start, laid.step),
        len(laid.symbols),
        own,
        book,
        lambda pulse: written.position(laid.tick(pulse), 0),
    )
    sides |= {each.name: "figure" for each in _kept_parts(score, part) if _keeps(score, each, part)}
    segments = ("figure", "spread", "play")
    return Played(piece, tuple(book.lines), writer.sections(), sides, segments)


def _kept_parts(score: Score, chosen: ScorePart) -> list[ScorePart]:
    """As many parts as a spec has room for, the one with the figure among them."""
    others = [part for part in score.parts if part is not chosen][: limits.PARTS - 1]
    return [part for part in score.parts if part is chosen or part in others]


def _keeps(score: Score, part: ScorePart, chosen: ScorePart) -> bool:
    own, figure = ({onset.at for onset in each.onsets} for each in (part, chosen))
    both = len(own & figure)
    return part is chosen or (bool(own) and both >= KEEPS * len(own) and both >= HALF * len(figure))


def _piece_pulse(score: Score, laid: LaidPart) -> Fraction:
    """The figure's pulse, or a finer one where chords or tempi stand between."""
    places = [mark.at for mark in score.chords] + [change.at for change in score.tempo[:64]]
    step = gcd(laid.step, *(place - laid.start for place in places))
    finer = Fraction(step, score.grid)
    return finer if finer >= Fraction(1, 96) and is_pulse(finer) else laid.pulse


def _differences(score: Score, part: ScorePart, reading: Reading | None, timeline: Timeline) -> list[str]:
    """What the spec does not have as the file has it."""
    told = []
    if reading and reading.kind != "none":
        bars = bars_that_differ(score, reading.laid, timeline, part.marks_accents)
        what = "notes and accents" if part.marks_accents else "notes"
        told.append(
            f"Not as in {part.name}: {bars_named(bars)}."
            if bars
            else f"All {what} of {part.name} are as in the file."
        )
    late, bar = largest_delay(score, timeline)
    if late > LATE:
        told.append(f"Times differ from the file's by up to {float(late):.3f} s, most in bar {bar}.")
    return told


def _endless(named: Sequence[ScorePart]) -> list[str]:
    """Parts that were not looked at."""
    ties = [f"{one.name} (bar {one.endless_tie})" for one in named if one.endless_tie is not None]
    return [f"Not looked at, because a tie never ends: {listed(ties, 'and')}."] if ties else []


def _left_out(parts: Sequence[ScorePart]) -> list[str]:
    more = [part.name for part in parts[limits.PARTS :]]
    if not more:
        return []
    names = f"{counted(len(more), 'part')}, {listed(more[:3], 'and')}"
    return [f"A piece has at most {limits.PARTS} parts; left out: {names}."]
