"""What a correction changes in a piece, in words: sections, what they say, statements, and what these come to.

Sections are compared pass by pass, and in each pair the statements of a voice that start in it, in order. So a bar more
in one section is told once, and not again for all that comes later by it.
"""

from collections.abc import Iterable, Iterator, Sequence
from difflib import SequenceMatcher
from fractions import Fraction
from itertools import groupby
from typing import NamedTuple

from renderer.core.names import bars_named, briefly_listed, counted
from renderer.report.table import bars_text, place_text, section_names
from renderer.spec.model import MAIN_VOICE
from renderer.timeline.model import Repetition, Section, Timeline


class SectionPair(NamedTuple):
    """One pass of a section before and after, by index; None where it was not, or is not."""

    name: str
    before: int | None
    after: int | None


class StatementPair(NamedTuple):
    """One statement before and after; None where it was not, or is not."""

    before: Repetition | None
    after: Repetition | None


class _Piece(NamedTuple):
    """A timeline with what is looked up in it."""

    timeline: Timeline
    names: tuple[str, ...]
    statements: dict[tuple[int, str], list[Repetition]]
    home: frozenset[tuple[str, int]]
    crossings: dict[tuple[str, int], list[str]]


def music_changes(before: Timeline, after: Timeline) -> list[str]:
    """All that changes, a line each; empty if nothing does."""
    old, new = _read(before), _read(after)
    pairs = pair_sections(old.names, new.names)
    lines = [*_section_lines(old, new, pairs)]
    if before.title != after.title:
        lines.insert(0, f"The piece is called {after.title}, it was {before.title}.")
    lines += _lane_lines(old, new, pairs)
    for pair in pairs:
        if pair.before is not None and pair.after is not None:
            lines += _statement_lines(old, new, pair)
    lines += _landing_lines(old, new, pairs)
    return lines


def _read(timeline: Timeline) -> _Piece:
    statements: dict[tuple[int, str], list[Repetition]] = {}
    for repetition in timeline.repetitions:
        statements.setdefault((repetition.section_index, repetition.voice), []).append(repetition)
    crossings: dict[tuple[str, int], list[str]] = {}
    for crossing in timeline.crossings:
        key = crossing.voice, crossing.repetition_number
        crossings.setdefault(key, []).append(f"{crossing.before} to {crossing.after}")
    home = frozenset((row.voice, row.repetition_number) for row in timeline.realignments)
    return _Piece(timeline, tuple(section_names(timeline)), statements, home, crossings)


def pair_sections(before: Sequence[str], after: Sequence[str]) -> list[SectionPair]:
    """The passes of both, those of one name in one order side by side.

    >>> pair_sections(["Mill", "Sea"], ["Mill", "Weir", "Sea"])[1]
    SectionPair(name='Weir', before=None, after=1)
    """
    pairs: list[SectionPair] = []
    for kind, start, end, first, last in SequenceMatcher(None, before, after, autojunk=False).get_opcodes():
        if kind == "equal":
            pairs += [SectionPair(before[start + n], start + n, first + n) for n in range(end - start)]
        else:
            pairs += [SectionPair(before[index], index, None) for index in range(start, end)]
            pairs += [SectionPair(after[index], None, index) for index in range(first, last)]
    return pairs


def _section_lines(old: _Piece, new: _Piece, pairs: Iterable[SectionPair]) -> Iterator[str]:
    for name, before, after in pairs:
        was = old.timeline.sections[before] if before is not None else None
        now = new.timeline.sections[after] if after is not None else None
        if was is None and now is not None:
            yield f"{name} is new: {bars_text(now)}."
        elif now is None and was is not None:
            yield f"{name} is gone: it was {bars_text(was)}."
        elif was is not None and now is not None and was.bar_count != now.bar_count:
            text = f"{name} has {counted(now.bar_count, 'bar')}, it had {was.bar_count}"
            yield f"{text}{_later(old.timeline, was, now)}."


def _later(timeline: Timeline, was: Section, now: Section) -> str:
    if was.end == timeline.end:
        return ""
    bars = now.bar_count - was.bar_count
    many = "a bar" if abs(bars) == 1 else f"{abs(bars)} bars"
    return f": everything after bar {was.last_bar_number} is {many} {'later' if bars > 0 else 'earlier'}"


def _lane_lines(old: _Piece, new: _Piece, pairs: Sequence[SectionPair]) -> Iterator[str]:
    """What is said of harmony, tempo, meter, parts and marks at other places than before, or in other words."""
    lanes = dict.fromkeys([*_lanes(old.timeline), *_lanes(new.timeline)])
    for lane in lanes:
        was, now = _entries(old, lane, pairs, 1), _entries(new, lane, pairs, 2)
        for key in dict.fromkeys([*was, *now]):
            before, after = was.get(key), now.get(key)
            if before is None and after is not None:
                yield f"{lane}: {after[0]} at {after[1]} is new."
            elif after is None and before is not None:
                yield f"{lane}: {before[0]} at {before[1]} is gone."
            elif before is not None and after is not None and before[0] != after[0]:
                yield f"{lane} at {after[1]} is {after[0]}, it was {before[0]}."


def _lanes(timeline: Timeline) -> list[str]:
    return ["tempo", "meter", "harmony", *dict.fromkeys(side.part for side in timeline.sides), "mark"]


def _values(timeline: Timeline, lane: str) -> Iterator[tuple[int, str]]:
    if lane == "tempo":
        for mark in timeline.tempo:
            quarters = f"{float(mark.quarters):g}"
            yield mark.at, quarters if mark.to is None else f"{quarters} to {float(mark.to):g}"
    elif lane == "meter":
        for meter, bars in groupby(timeline.bars, key=lambda bar: bar.meter):
            yield next(bars).at, meter.text
    elif lane == "harmony":
        yield from ((harmony.at, harmony.name) for harmony in timeline.harmony)
    elif lane == "mark":
        yield from ((mark.at, mark.text) for mark in timeline.marks)
    for side in timeline.sides:
        if side.part == lane:
            yield side.at, "figure" if side.side == MAIN_VOICE else side.side


def _entries(
    piece: _Piece, lane: str, pairs: Sequence[SectionPair], side: int
) -> dict[tuple[int, Fraction], tuple[str, str]]:
    """A lane's values and where they stand, by the pair of sections and the place in it, in whole notes."""
    timeline = piece.timeline
    numbers = {pair[side]: number for number, pair in enumerate(pairs) if pair[side] is not None}
    found = {}
    for at, value in _values(timeline, lane):
        index = timeline.bar_at(at).section_index
        place = timeline.whole(at - timeline.sections[index].at)
        found[numbers[index], place] = value, place_text(timeline, at)
    return found


def _statement_lines(old: _Piece, new: _Piece, pair: SectionPair) -> Iterator[str]:
    assert pair.before is not None
    assert pair.after is not None
    several = len(new.timeline.voices) > 1
    for voice in dict.fromkeys([*old.timeline.voices, *new.timeline.voices]):
        where = f"{pair.name}, {voice}" if several else pair.name
        was, now = (
            piece.statements.get((index, voice), [])
            for piece, index in ((old, pair.before), (new, pair.after))
        )
        statements = pair_statements(old.timeline, was, new.timeline, now)
        yield from (f"{where}: {line}" for line in _come_and_gone(statements))
        yield from (f"{where}: {line}" for line in _moved(old, new, pair, statements))
        yield from (f"{where}: {line}" for line in _readings(old, new, statements))


def pair_statements(
    before: Timeline, was: Sequence[Repetition], after: Timeline, now: Sequence[Repetition]
) -> list[StatementPair]:
    """The statements of one section before and after: those that are alike from its beginning on, then from its end
    back, side by side; what is left of both alone."""
    ones = [_kind(before, each) for each in was]
    others = [_kind(after, each) for each in now]
    most = min(len(ones), len(others))
    head = next((n for n in range(most) if ones[n] != others[n]), most)
    tail = next((n for n in range(most - head) if ones[-1 - n] != others[-1 - n]), most - head)
    return [
        *(StatementPair(one, other) for one, other in zip(was[:head], now[:head], strict=True)),
        *(StatementPair(one, None) for one in was[head : len(was) - tail]),
        *(StatementPair(None, other) for other in now[head : len(now) - tail]),
        *(
            StatementPair(one, other)
            for one, other in zip(was[len(was) - tail :], now[len(now) - tail :], strict=True)
        ),
    ]


def _kind(timeline: Timeline, repetition: Repetition) -> tuple[object, ...]:
    """What two statements that are the same have in common, wherever they stand."""
    statement = repetition.statement
    lengths = (statement.length, statement.sounding_length, *(group.length for group in statement.groups))
    marks = (*statement.hits, -1, *statement.accents)
    return (
        statement.figure,
        statement.kind,
        *(timeline.whole(length) for length in lengths),
        *(timeline.whole(mark) for mark in marks if mark >= 0),
        len(statement.accents),
    )


def _come_and_gone(pairs: Iterable[StatementPair]) -> Iterator[str]:
    for verb, rows in (
        ("gone", [pair.before for pair in pairs if pair.after is None]),
        ("new", [pair.after for pair in pairs if pair.before is None]),
    ):
        found = [row for row in rows if row is not None]
        for words, alike in groupby(found, key=_what):
            many = list(alike)
            bars = bars_named(list(dict.fromkeys(row.bar_number for row in many)))
            count = words if len(many) == 1 else f"{len(many)} x {words}"
            yield f"{count}, {bars}, {'is' if len(many) == 1 else 'are'} {verb}."


def _what(repetition: Repetition) -> str:
    """`ferry`, `ferry cut to 5`, `first 5 of ferry`, `tail 4+3`."""
    statement = repetition.statement
    pulses = str(Fraction(statement.sounding_length, statement.pulse))
    if statement.figure is None:
        return "tail " + "+".join(str(Fraction(group.length, statement.pulse)) for group in statement.groups)
    if statement.kind == "cut":
        return f"{statement.figure} cut to {pulses}"
    return f"first {pulses} of {statement.figure}" if statement.kind == "first" else statement.figure


def _moved(old: _Piece, new: _Piece, pair: SectionPair, statements: Sequence[StatementPair]) -> Iterator[str]:
    """What stands elsewhere in its section."""
    assert pair.before is not None
    assert pair.after is not None
    was, now = old.timeline.sections[pair.before], new.timeline.sections[pair.after]

    def by(each: StatementPair) -> Fraction:
        if each.before is None or each.after is None:
            return Fraction(0)
        before = old.timeline.whole(each.before.at - was.at)
        after = new.timeline.whole(each.after.at - now.at)
        return (after - before) / new.timeline.whole(each.after.statement.pulse)

    for pulses, run in groupby(statements, key=by):
        rows = [each.after for each in run if each.after is not None]
        if pulses and rows:
            much = counted(abs(pulses), "pulse")
            start = "starts" if len(rows) == 1 else "start"
            yield f"{_row(rows)} {start} {much} {'later' if pulses > 0 else 'earlier'} in it."


def _row(rows: Sequence[Repetition]) -> str:
    """`ferry 18`, or `ferry 18 to 24`."""
    first, last = _one(rows[0]), _one(rows[-1])
    if len(rows) == 1:
        return first
    shared = rows[0].statement.figure == rows[-1].statement.figure
    return f"{first} to {last.rpartition(' ')[2] if shared and rows[-1].counted else last}"


def _one(repetition: Repetition) -> str:
    name = repetition.statement.figure or "the tail"
    return f"{name} {repetition.counted}" if repetition.counted else name


def _readings(old: _Piece, new: _Piece, statements: Iterable[StatementPair]) -> Iterator[str]:
    """Which statements start on the downbeat again now or no more, and in which the harmony turns."""
    begins, ends = [], []
    for before, after in statements:
        if before is None or after is None:
            continue
        was_home = (before.voice, before.number) in old.home
        is_home = (after.voice, after.number) in new.home
        if was_home and not is_home:
            yield f"{_one(after)} starts on a downbeat no more; it did on that of its bar {_bar(old, before)}."
        if is_home and not was_home:
            yield f"{_one(after)} starts on the downbeat of its bar {_bar(new, after)} now."
        turned = old.crossings.get((before.voice, before.number), [])
        turns = new.crossings.get((after.voice, after.number), [])
        if turned and turns and turned != turns:
            now, then = briefly_listed(turns), briefly_listed(turned)
            yield f"the harmony turns from {now} inside {_one(after)}, before from {then}."
        elif turns and not turned:
            begins.append(_one(after))
        elif turned and not turns:
            ends.append(_one(after))
    if begins:
        yield f"the harmony turns inside {briefly_listed(begins)} now."
    if ends:
        yield f"the harmony turns inside {briefly_listed(ends)} no more."


def _bar(piece: _Piece, repetition: Repetition) -> int:
    """The bar of its section in which it starts, from 1."""
    return repetition.bar_number - piece.timeline.sections[repetition.section_index].first_bar_number + 1


def _landing_lines(old: _Piece, new: _Piece, pairs: Sequence[SectionPair]) -> Iterator[str]:
    """Downbeats on which accents land now, or no more, in each section's own count of bars."""
    was, now = _landings(old), _landings(new)
    for name, before, after in pairs:
        if before is None or after is None:
            continue
        gone, come = sorted(was[before] - now[after]), sorted(now[after] - was[before])
        if come and gone:
            yield (
                f"{name}: accents land on the downbeats of its {bars_named(come)} now, "
                f"before on those of its {bars_named(gone)}."
            )
        elif come:
            yield f"{name}: accents land on the downbeats of its {bars_named(come)} now; they did not before."
        elif gone:
            yield f"{name}: accents land on the downbeats of its {bars_named(gone)} no more."


def _landings(piece: _Piece) -> list[set[int]]:
    """For each section the bars, from 1, on whose downbeats an accent sounds."""
    found: list[set[int]] = [set() for _ in piece.timeline.sections]
    bars = {bar.number: bar for bar in piece.timeline.bars}
    for landing in piece.timeline.landings:
        bar = bars.get(landing.bar_number)
        if landing.sounds and bar is not None:
            first = piece.timeline.sections[bar.section_index].first_bar_number
            found[bar.section_index].add(bar.number - first + 1)
    return found
