"""A file to the text of a spec."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction
from math import gcd
from pathlib import Path
from typing import NamedTuple

from renderer.core import limits
from renderer.core.errors import FileError
from renderer.core.names import counted, listed, nearest_mend
from renderer.listening.carried import READ_ANYWAY, Carried, read_carried
from renderer.listening.choices import Choice, choices_of
from renderer.listening.plays import FigureBook, PlaysWriter, section_lines, spans_of
from renderer.listening.proof import LATE, bars_that_differ, delays
from renderer.listening.pulses import LaidPart, is_pulse, lay_part
from renderer.listening.reading import Reading, read_part, screen
from renderer.listening.score import Score, ScorePart, as_label
from renderer.listening.sections import ScoreSection, Written, lay_sections
from renderer.listening.spec_text import Played, heading, write_spec
from renderer.listening.words import Finding, bars_said, doubts_of, figure_text, findings, reading_words
from renderer.reading.load import parse_spec
from renderer.timeline.build import build_timeline
from renderer.timeline.model import Timeline

LOOKED_AT = 3
"""Parts that are looked at closely where none is named."""
KEEPS = 0.9
"""The share of a part's notes that are on the figure's, if it keeps the figure."""
HALF = 0.5
NAME_CHARACTERS = 255
SEGMENTS = ("figure", "spread", "play")
"""Of a piece with a figure."""


class Heard(NamedTuple):
    """The text of a spec, and what to say of it."""

    text: str
    said: tuple[Finding, ...]
    part: ScorePart
    reading: Reading | None
    """None where the part is too long to be looked at, or need not be."""

    @property
    def findings(self) -> tuple[str, ...]:
        """What is said, in sentences."""
        return tuple(finding.text for finding in self.said)


class Listened(NamedTuple):
    """A part that was looked at, and its readings, surest first. Without a figure there is one."""

    score: Score
    path: Path
    """The file's."""
    sections: Sequence[ScoreSection]
    part: ScorePart
    choices: tuple[Choice, ...]
    """Empty where the part is too long to be looked at, or need not be."""
    left_out: tuple[Finding, ...]
    carried: Carried | None = None
    """The spec that barcross wrote in the file, if that is what is read."""

    @property
    def labels(self) -> list[str]:
        """What tells the readings apart: the main figure's groups, or its hits where nothing marks groups."""
        told = [choice.reading for choice in self.choices if choice.reading.figures]
        return [figure_text(self.part, reading.figures[0], reading.heads) for reading in told]

    def heard(self, number: int = 1) -> Heard:
        """The spec of a reading, counted from 1. Raises FileError if there is none of that number."""
        if not 1 <= number <= max(1, len(self.choices)):
            there = [f"{index} ({label})" for index, label in enumerate(self.labels, 1)] or ["1"]
            raise FileError(
                f"{self.path}: there is no reading {number} of {self.part.name}. There are: {', '.join(there)}."
            )
        if self.carried:
            return self._as_carried(self.carried)
        score, part = self.score, self.part
        choice = self.choices[number - 1] if self.choices else None
        reading = choice.reading if choice else None
        said = findings("found", [f"{part.name} is too long to be looked at."])
        if choice and reading:
            first = self.choices[0].reading if number > 1 else None
            said = reading_words(score, part, reading, first, choice.close)
        played = _played(score, self.sections, part, reading)
        timeline = build_timeline(parse_spec(write_spec(score, self.sections, played, ()), "read.yaml"))
        said += [*_differences(score, part, reading, timeline), *self.left_out]
        comment = [
            f"Read from {as_label(self.path.name, NAME_CHARACTERS)}.",
            *(finding.text for finding in said),
        ]
        return Heard(write_spec(score, self.sections, played, comment), tuple(said), part, reading)

    def _as_carried(self, carried: Carried) -> Heard:
        said = "Read from what barcross wrote in the file; bars, notes, tempo and names in it are the same."
        head = heading([f"Read from what barcross wrote in {as_label(self.path.name, NAME_CHARACTERS)}."])
        text = f"{head}{carried.text}\nsegments: [{', '.join(SEGMENTS if carried.plays else ('form',))}]\n"
        return Heard(text, (Finding("found", said),), self.part, None)


def listen_to(
    score: Score,
    path: Path,
    part: str | None = None,
    told: Callable[[str], None] = lambda name: None,
    notes_only: bool = False,
) -> Listened:
    """Look for the figure of a piece that was read from `path`. `told` hears of each part that is looked at.

    Where barcross wrote the file and nobody changed its music, the spec that it carries is taken, unless a part is
    named or `notes_only`. Raises FileError.
    """
    sections, astray = lay_sections(score)
    if score.carried and not notes_only:
        carried = read_carried(score) if part is None else Carried(refused=READ_ANYWAY)
        if not carried.refused:
            first = next(each for each in score.parts if each.onsets)
            return Listened(score, path, sections, first, (), (), carried)
        remark = f"The notes were read, not the spec that barcross wrote in the file: {carried.refused}."
        score = replace(score, remarks=(remark, *score.remarks))
    named = [choose_part(score, part, path)] if part is not None else _likely(score)
    whole = [one for one in named if one.endless_tie is None]
    if not whole:
        where = f"in bar {named[0].endless_tie} a tie of {named[0].name} begins and never ends"
        raise FileError(f"{path}: {where}. Mend it, and save the file again.")
    chosen, reading = _clearest(score, sections, whole, told)
    left_out = [*score.remarks, *astray, *_left_out(score.parts), *_endless(named)]
    choices = choices_of(reading, sections) if reading else ()
    return Listened(score, path, sections, chosen, choices, tuple(findings("left out", left_out)))


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
    score: Score, sections: Sequence[ScoreSection], parts: Sequence[ScorePart], told: Callable[[str], None]
) -> tuple[ScorePart, Reading | None]:
    """The part, of those that repeat most, that shows a figure; the first one that is sure of it."""
    found = []
    for part in parts:
        told(part.name)
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
    names = [*(each.name for each in score.parts), *(section.name for section in sections)]
    book = FigureBook(own, part.marks_accents, names)
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
    return Played(piece, tuple(book.lines), writer.sections(), sides, SEGMENTS)


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


def _differences(score: Score, part: ScorePart, reading: Reading | None, timeline: Timeline) -> list[Finding]:
    """What the spec has as the file has it, and what it does not."""
    told = []
    if reading is None or reading.kind == "none":
        bars = sorted({score.bar_number(onset.at) for onset in part.onsets})
        told.append(Finding("unsure", f"Not as in {part.name}: {bars_said(bars)}, because nothing plays."))
    else:
        bars = bars_that_differ(score, reading.laid, timeline, part.marks_accents)
        what = "notes and accents" if part.marks_accents else "notes"
        told.append(
            Finding("unsure", f"Not as in {part.name}: {bars_said(bars)}.")
            if bars
            else Finding("found", f"All {what} of {part.name} are as in the file.")
        )
    return [*told, *findings("unsure", _times(score, timeline))]


def _times(score: Score, timeline: Timeline) -> list[str]:
    """Where the spec is later or earlier than the file."""
    most, bar, end = delays(score, timeline)
    told = []
    if abs(most) > LATE:
        told.append(f"Times differ from the file's by up to {abs(float(most)):.3f} s, most in bar {bar}.")
    if abs(end) > LATE:
        told.append(
            f"The piece ends {abs(float(end)):.3f} s {'later' if end > 0 else 'earlier'} than the file."
        )
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
