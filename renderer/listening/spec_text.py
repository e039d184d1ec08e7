"""The text of a spec that says what a score says."""

import textwrap
from collections.abc import Iterable, Iterator, Mapping, Sequence
from fractions import Fraction
from typing import NamedTuple

from renderer.core.installed import ASSETS
from renderer.listening.score import Score
from renderer.listening.sections import ScoreSection, Written
from renderer.listening.tempo_marks import tempo_entries
from renderer.reading.starter import as_text

WIDTH = 110
IN_TURN = 3
"""Chords, one a bar, that are written as a list."""


class Played(NamedTuple):
    """What is known of the music beyond the file's own words, as lines of YAML."""

    pulse: Fraction | None
    figures: Sequence[str] = ()
    """Name and figure, a line each."""
    sections: Mapping[int, Sequence[str]] = {}
    """By section: its `plays` and `starts`."""
    sides: Mapping[str, str] = {}
    segments: Sequence[str] = ("form",)


def write_spec(score: Score, sections: Sequence[ScoreSection], played: Played, comment: Iterable[str]) -> str:
    """The whole text. `comment` are sentences at its top, a paragraph each."""
    pulse = int((played.pulse or Fraction(1, 16)) * score.grid)
    written = Written(score, sections, pulse)
    lanes = [_harmony(written), _tempo(written), _meter(written)]
    lines = [*heading(comment).splitlines()]
    lines += [f"title: {as_text(score.title)}", f"tempo: {tempo_text(score.tempo[0].quarters)}"]
    lines += [f"meter: {score.bars[0].meter.text}", f"pulse: {played.pulse or Fraction(1, 16)}"]
    if score.pickup:
        lines.append(f"pickup: {Fraction(score.pickup, score.grid)}")
    if played.figures:
        lines += ["", "figures:", *(f"  {line}" for line in played.figures)]
    if played.sides:
        lines += ["", *_map("parts", [(as_text(part), side) for part, side in played.sides.items()], "")]
    lines += ["", "form:"]
    for index, section in enumerate(sections):
        lines += [f"  - section: {as_text(section.name)}", f"    bars: {section.bar_count}"]
        for key, lane in zip(("harmony", "tempo", "meter"), lanes, strict=True):
            if lane.get(index):
                lines += _map(key, [*lane[index].items()], "    ")
        lines += [f"    {line}" for line in played.sections.get(index, ())]
    lines += ["", "click: {every: beat, count_in: 1}", f"segments: [{', '.join(played.segments)}]"]
    return "\n".join(lines) + "\n"


def heading(comment: Iterable[str]) -> str:
    """The lines at a spec's top: the one for editors, then sentences, a paragraph each."""
    lines = [*(ASSETS / "starter.yaml").read_text(encoding="utf-8").splitlines()[:2], *_comment(comment)]
    return "\n".join(lines) + "\n"


def tempo_text(quarters: Fraction) -> str:
    """Quarters a minute, to a millionth at most.

    >>> tempo_text(Fraction(112)), tempo_text(Fraction(225, 2)), tempo_text(Fraction(200, 3))
    ('112', '112.5', '66.666667')
    """
    return f"{float(quarters):.6f}".rstrip("0").rstrip(".")


def _comment(sentences: Iterable[str]) -> Iterator[str]:
    for sentence in sentences:
        yield from textwrap.wrap(
            sentence, WIDTH, initial_indent="# ", subsequent_indent="#   ", break_on_hyphens=False
        )


def _map(key: str, pairs: Sequence[tuple[str, str]], indent: str) -> Iterator[str]:
    """A map on one line, or on several where it is long; a bare value where it holds from the beginning."""
    if len(pairs) == 1 and pairs[0][0] == "1":
        yield f"{indent}{key}: {pairs[0][1]}"
        return
    text = f"{key}: {{{', '.join(f'{name}: {value}' for name, value in pairs)}}}"
    if len(text) + len(indent) <= WIDTH:
        yield indent + text
        return
    yield f"{indent}{key}:"
    yield from (f"{indent}  {name}: {value}" for name, value in pairs)


Lane = dict[int, dict[str, str]]
"""By section: position and value, in order."""


def _harmony(written: Written) -> Lane:
    lane: Lane = {}
    before = None
    for at, name in written.score.chords:
        if name != before:
            _put(lane, written, at, as_text(name))
        before = name
    return {index: in_turn(entries, written.sections[index].bar_count) for index, entries in lane.items()}


def in_turn(entries: Mapping[str, str], bar_count: int) -> dict[str, str]:
    """A section's entries with those that come one a bar, three on end and more, as a list that goes round.

    >>> in_turn({"1": "Dm", "2": "F", "3": "Dm", "4": "F", "5": "C", "8.3": "G"}, 8)
    {'1': '[Dm, F]', '5': 'C', '8.3': 'G'}
    """
    places = [*entries, str(bar_count + 1)]
    found: dict[str, str] = {}
    index = 0
    while index < len(entries):
        after = index
        while after < len(entries) and _lasts_a_bar(places[after], places[after + 1]):
            after += 1
        names = [entries[place] for place in places[index:after]]
        if len(names) >= IN_TURN:
            count = next(n for n in range(1, len(names) + 1) if names[n:] == names[: len(names) - n])
            found[places[index]] = f"[{', '.join(names[:count])}]"
            index = after
        else:
            found[places[index]] = entries[places[index]]
            index += 1
    return found


def _lasts_a_bar(place: str, following: str) -> bool:
    """Whether an entry on a bar line holds up to the next bar line, or to a place before it."""
    number, _, into = following.partition(".")
    return place.isdecimal() and int(place) == int(number) - (0 if into else 1) > 0


def _tempo(written: Written) -> Lane:
    score = written.score
    lane: Lane = {}
    entries = tempo_entries(score.tempo, score.grid, score.end)
    for entry in entries[1:]:
        quarters = tempo_text(entry.quarters)
        _put(lane, written, entry.at, f"{{to: {quarters}}}" if entry.moves else quarters)
    return lane


def _meter(written: Written) -> Lane:
    lane: Lane = {}
    before = written.score.bars[0].meter
    for bar in written.score.bars[1:]:
        if bar.meter != before:
            _put(lane, written, bar.at, bar.meter.text)
        before = bar.meter
    return lane


def _put(lane: Lane, written: Written, at: int, value: str) -> None:
    if at >= written.score.end:
        return
    index = written.section_index(at)
    lane.setdefault(index, {})[written.nearest(at, index)[0]] = value
