"""What was found in a file, in sentences: the figure, how sure it is, what else would do, what differs."""

from collections.abc import Iterable
from fractions import Fraction
from typing import Literal, NamedTuple

import numpy as np

from renderer.core.names import briefly_listed, counted, listed
from renderer.core.note_values import pulse_word
from renderer.listening.grouping import Heads, groups_text, has_two_groupings, heads_of, hits_text
from renderer.listening.plays import SPARSE
from renderer.listening.reading import WHOLE_ON_END, Reading, longest_run
from renderer.listening.score import Score, ScorePart
from renderer.listening.telling import Symbols

SURE = "nothing in the notes speaks for another reading; but what sounds the same can be meant in two ways"
STRETCHES = 40
"""Of bars, that are named."""
SHOWN = 3
"""Other readings that are named."""

Kind = Literal["found", "unsure", "left out"]


class Finding(NamedTuple):
    """A sentence, and whether it says what was found, what is not sure, or what is left out."""

    kind: Kind
    text: str


def findings(kind: Kind, texts: Iterable[str]) -> list[Finding]:
    """Sentences of one kind."""
    return [Finding(kind, text) for text in texts]


def reading_words(
    score: Score, part: ScorePart, reading: Reading, first: Reading | None = None, close: bool = True
) -> list[Finding]:
    """What was found in a part. `first` is the surest reading where this is another one; `close`: whether this one is
    as good."""
    if reading.kind == "none":
        return [
            Finding(
                "found",
                f"No figure was found in {part.name}: nothing comes {WHOLE_ON_END} times on end that bars alone do "
                "not explain. Write what you hear under figures and plays.",
            )
        ]
    main = reading.figures[0]
    size = f"{length_text(len(main), reading.laid.pulse)}, {figure_text(part, main, reading.heads)}"
    whole = sum(each.figure == 0 and each.end - each.at == len(main) for each in reading.statements)
    times = f"{counted(whole, 'time')} whole"
    if reading.kind == "ostinato":
        found = f"An ostinato was found in {part.name}, in step with the bar: {size}, {times}."
    else:
        found = f"A figure was found in {part.name} that crosses the bars: {size}, {times}."
    doubts = doubts_of(score, reading)
    regrouped = _regrouped(reading) if first is None else []
    unsure = [*_others(part, reading), *doubts, *regrouped, *_groups(part, main), *_moved(reading)]
    if first is not None:
        sure = _beside(reading, first, figure_text(part, first.figures[0], first.heads), close)
    else:
        sure = "look at what follows" if doubts or reading.others or regrouped else SURE
    kind: Kind = "found" if sure == SURE else "unsure"
    return [Finding("found", found), Finding(kind, f"How sure: {sure}."), *findings("unsure", unsure)]


def bars_said(numbers: Iterable[int]) -> str:
    """Bars, those that follow each other as a range.

    >>> bars_said([12]), bars_said([12, 13, 14, 23, 2])
    ('bar 12', 'bars 2, 12-14 and 23')
    """
    rows: list[list[int]] = []
    for number in sorted({*numbers}):
        if rows and rows[-1][-1] == number - 1:
            rows[-1].append(number)
        else:
            rows.append([number])
    texts = [f"{row[0]}-{row[-1]}" if len(row) > 1 else f"{row[0]}" for row in rows]
    one = len(rows) == 1 and len(rows[0]) == 1
    return f"bar {texts[0]}" if one else f"bars {briefly_listed(texts, STRETCHES)}"


def length_text(pulses: int, pulse: Fraction) -> str:
    """A length in note values: `11 sixteenths`."""
    return f"{pulses} {pulse_word(pulse, pulses)}"


def figure_text(part: ScorePart, pattern: Symbols, heads: Heads | None = None) -> str:
    """What tells a figure from others: its groups, or its row of hits where nothing marks the groups. Without `heads`,
    the likely groups."""
    return groups_text(pattern, heads) if groups_marked(part, pattern) else hits_text(pattern, marked=False)


def _beside(reading: Reading, first: Reading, surest: str, close: bool) -> str:
    """How sure another reading is beside the surest one."""
    if np.array_equal(reading.figures[0], first.figures[0]):
        begun = "note to note" if reading.heads == "notes" else "accent to accent"
        return f"the notes are those of {surest}, in groups from {begun}"
    return (
        f"as good as {surest}"
        if close
        else f"less than {surest}, which plays the same notes in a shorter spec"
    )


def groups_marked(part: ScorePart, pattern: Symbols) -> bool:
    """Whether accents mark the groups, or notes that lie far apart."""
    gaps = np.diff(np.append(np.flatnonzero(pattern), len(pattern)))
    return part.marks_accents or bool(np.mean(gaps) >= SPARSE)


def doubts_of(score: Score, reading: Reading) -> list[str]:
    """What may be told otherwise: notes told one by one, scraps inside a section, figures that are hardly repeated."""
    alone, scraps, rare = [], [], []
    for index, each in enumerate(reading.statements):
        bar = score.bar_number(reading.laid.tick(each.at))
        if each.kind == "tail":
            alone.append(bar)
        elif _is_scrap(score, reading, index):
            scraps.append(bar)
    for index, figure in enumerate(reading.figures):
        if longest_run(reading.statements, index, len(figure)) < WHOLE_ON_END:
            rare.append(groups_text(figure))
    told = []
    if alone:
        told.append(f"Notes that belong to no figure are tails of their own: {bars_said(alone)}.")
    if scraps:
        told.append(f"A figure breaks off inside a section: {bars_said(scraps)}.")
    if rare:
        told.append(
            f"Fewer than {WHOLE_ON_END} times whole on end, so it may be part of something else: {listed(rare)}."
        )
    return told


def _is_scrap(score: Score, reading: Reading, index: int) -> bool:
    """Whether a figure breaks off elsewhere than where a section begins, or the piece ends."""
    _, at, end, figure = reading.statements[index]
    if figure is None or end - at == len(reading.figures[figure]):
        return False
    tick = reading.laid.tick(end)
    return tick < score.end and tick not in {mark.at for mark in score.sections}


def _others(part: ScorePart, reading: Reading) -> list[str]:
    if not reading.others:
        return []
    texts = [*dict.fromkeys(figure_text(part, other, reading.heads) for other in reading.others)]
    return [
        f"As short a reading begins elsewhere: {figure_text(part, reading.figures[0], reading.heads)} may be "
        f"{listed(texts[:SHOWN])}."
    ]


def _regrouped(reading: Reading) -> list[str]:
    """What the groups may be instead: from accent to accent where each note begins one, or the other way round where
    no accent parts any."""
    main = reading.figures[0]
    if not has_two_groupings(main):
        return []
    by_accents, by_notes = groups_text(main, "accents"), groups_text(main, "notes")
    if heads_of(main) == "accents":
        one = "+" not in by_accents
        return [f"No accent parts it into groups. From note to note they are {by_notes}."] if one else []
    return (
        [f"Each note begins a group. From accent to accent they are {by_accents}."]
        if "+" in by_accents
        else []
    )


def _groups(part: ScorePart, main: Symbols) -> list[str]:
    if groups_marked(part, main):
        return []
    return [
        "Nothing in the file marks the groups. Put a blank before each that you count, and x where no accent is."
    ]


def _moved(reading: Reading) -> list[str]:
    laid = reading.laid
    if laid.exact:
        return []
    shared = f"; {counted(laid.merged, 'note')} fell on one that was there" if laid.merged else ""
    return [
        f"The file was played, not written: notes stand on the nearest of {pulse_word(laid.pulse)}{shared}."
    ]
