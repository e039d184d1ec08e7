"""A second opinion on the timeline: the piece walked tick by tick, with no arithmetic that could leap.

Written from the rules of the format alone and without any module of the builder: every tick of every bar is
visited in turn, the sections' words are obeyed as they come, what sounds is noted. Slow and plain on purpose.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import NamedTuple, TypeVar

from renderer.spec.meter import Meter
from renderer.spec.model import Entry, FigureSpec, Item, MarkSpec, Plays, Position, Spec


class NothingRunsError(Exception):
    """`plays: on` where nothing runs, or a list that would start before the one before it has."""


@dataclass
class Stretch:
    """One pass of a section: its keys with what was taken over, its bars (from 0), which section it is."""

    keys: dict[str, object]
    name: str
    first: int
    bars: int
    root: str
    start: int = 0
    end: int = 0


@dataclass
class Token:
    """One tick of one statement."""

    statement: int
    figure: str | None
    sounds: bool
    offset: int
    planned: int
    full: int
    early: bool
    pulse: int
    accents: tuple[int, ...]
    hits: tuple[int, ...]
    groups: tuple[int, ...]
    """Where each group starts."""


class Heard(NamedTuple):
    """A statement, or a rest, as it sounds: from `at` up to `end`, from the list of number `which`."""

    at: int
    end: int
    which: int
    token: Token
    """Its first tick's."""


@dataclass
class Found:
    """What the walk noted, in the words of the timeline's JSON but in ticks."""

    repetitions: list[tuple[object, ...]] = field(default_factory=list)
    hits: list[tuple[object, ...]] = field(default_factory=list)
    crossings: list[tuple[object, ...]] = field(default_factory=list)
    landings: list[tuple[object, ...]] = field(default_factory=list)
    realignments: list[tuple[object, ...]] = field(default_factory=list)
    handovers: list[tuple[object, ...]] = field(default_factory=list)
    marks: list[tuple[object, ...]] = field(default_factory=list)


KEYS = ("bar_count", "repeat", "meter", "tempo", "harmony", "parts", "plays", "starts", "fermata", "marks")
T = TypeVar("T")


class PulseWalk:
    """The whole walk. `grid` is the ticks to a whole note; any grid on which all is whole does."""

    def __init__(self, spec: Spec, grid: int) -> None:
        self.spec, self.grid = spec, grid
        self.stretches = list(self._stretches())
        self.total = sum(stretch.bars for stretch in self.stretches)
        self.meters = self._meters()
        self.bar_starts = [0]
        for meter in self.meters:
            self.bar_starts.append(self.bar_starts[-1] + int(meter.length * grid))
        for stretch in self.stretches:
            stretch.start = self.bar_starts[stretch.first]
            stretch.end = self.bar_starts[stretch.first + stretch.bars]
        self.start = -int(spec.pickup * grid)
        self.end = self.bar_starts[-1]

    def _stretches(self) -> Iterator[Stretch]:
        written: dict[str, tuple[dict[str, object], str]] = {}
        bar = 0
        for section in self.spec.form:
            keys: dict[str, object] = {key: getattr(section, key) for key in KEYS}
            root = section.name or ""
            if section.again is not None:
                original, root = written[section.again]
                for key in KEYS:
                    if keys[key] is None:
                        keys[key] = original[key]
            name = section.name or section.again or ""
            written.setdefault(name, (keys, root))
            bars, repeat = keys["bar_count"], keys["repeat"] or 1
            assert isinstance(bars, int)
            assert isinstance(repeat, int)
            for _ in range(repeat):
                yield Stretch(keys, name, bar, bars, root)
                bar += bars

    def _bar(self, position: Position, stretch: Stretch | None) -> int | None:
        """The bar (from 0) of a position; None if it lies beyond the section's own."""
        first, count = (stretch.first, stretch.bars) if stretch else (0, self.total)
        within = position.bar - 1 if position.bar >= 0 else count + position.bar
        return first + within if within < count and (within >= 0 or position.bar == 0) else None

    def tick(self, position: Position, stretch: Stretch | None) -> int | None:
        """Where a position is."""
        bar = self._bar(position, stretch)
        if bar is None:
            return None
        meter = self.meters[max(bar, 0)]
        start = self.bar_starts[bar] if bar >= 0 else -int(meter.length * self.grid)
        place = start + int(sum(meter.beats[: position.beat - 1]) * self.grid)
        if position.pulse is not None:
            assert self.spec.pulse is not None
            place += (position.pulse - 1) * int(self.spec.pulse * self.grid)
        return place

    def _meters(self) -> list[Meter]:
        values: list[Meter] = []
        seen: dict[str, tuple[tuple[Meter, ...], int]] = {}
        running: tuple[Meter, ...] = ()
        turn = 0
        for bar in range(self.total):
            given = self._given_meter(bar)
            stretch = next(s for s in self.stretches if s.first <= bar < s.first + s.bars)
            turn += 1
            if given is not None:
                running, turn = given, 0
            elif bar == stretch.first and stretch.root in seen:
                running, turn = seen[stretch.root]
            if bar == stretch.first:
                seen.setdefault(stretch.root, (running, turn))
            values.append(running[turn % len(running)])
        return values

    def _given_meter(self, bar: int) -> tuple[Meter, ...] | None:
        for stretch in reversed(self.stretches):
            entries = stretch.keys["meter"] or ()
            assert isinstance(entries, tuple)
            for entry in entries:
                if self._bar(entry.position, stretch) == bar:
                    return tuple(entry.values)
        for entry in self.spec.meter:
            if self._bar(entry.position, None) == bar:
                return entry.values
        return None

    def lane(self, top: Sequence[Entry[T]], key: str, part: str | None = None) -> dict[int, T | None]:
        """The value of a lane at every tick."""
        given: dict[int, tuple[T, ...]] = {}
        for entry in top:
            place = self.tick(entry.position, None)
            assert place is not None
            given[place] = entry.values
        for stretch in self.stretches:
            entries = stretch.keys[key] or ()
            if isinstance(entries, Mapping):
                entries = entries.get(part, ())
            assert isinstance(entries, tuple)
            for entry in entries:
                place = self.tick(entry.position, stretch)
                if place is not None:
                    given[place] = entry.values
        starts = {stretch.start: stretch for stretch in self.stretches}
        lines = set(self.bar_starts)
        seen: dict[str, tuple[tuple[T, ...], int]] = {}
        running: tuple[T, ...] = ()
        turn = 0
        values: dict[int, T | None] = {}
        for tick in range(self.start, self.end):
            turn += tick in lines
            if tick in given:
                running, turn = given[tick], 0
            elif tick in starts and seen.get(starts[tick].root, ((), 0))[0]:
                running, turn = seen[starts[tick].root]
            if tick in starts:
                seen.setdefault(starts[tick].root, (running, turn))
            values[tick] = running[turn % len(running)] if running else None
        return values

    def seconds(self) -> dict[int, Fraction]:
        """When each tick from bar 1 on sounds, tick by tick; tempi are steps."""
        tempi = self.lane(self.spec.tempo, "tempo")
        holds: dict[int, Fraction] = {}
        for point in self.spec.fermata:
            place = self.tick(point.position, None)
            assert place is not None
            holds[place] = point.seconds
        for stretch in self.stretches:
            points = stretch.keys["fermata"] or ()
            assert isinstance(points, tuple)
            for point in points:
                place = self.tick(point.position, stretch)
                if place is not None:
                    holds[place] = point.seconds
        sounds = {0: Fraction(0)}
        for tick in range(self.end):
            tempo = tempi[tick]
            assert tempo is not None
            lasts = Fraction(240, self.grid) / tempo.quarters
            sounds[tick + 1] = sounds[tick] + holds.get(tick, Fraction(0)) + lasts
        return sounds

    def marks(self) -> Iterator[tuple[int, int, str]]:
        """From where to where each mark stands, bar by bar, as far as its section has bars."""
        for stretch in self.stretches:
            own: Sequence[MarkSpec] = stretch.keys["marks"] or ()  # type: ignore[assignment]
            for where, text, _ in own:
                if isinstance(where, Position):
                    bars = [where.bar] if where.bar <= stretch.bars else []
                else:
                    ends = [bar if bar > 0 else stretch.bars + 1 + bar for bar in where]
                    bars = [bar for bar in range(1, stretch.bars + 1) if ends[0] <= bar <= ends[1]]
                if bars:
                    first, last = stretch.first + bars[0] - 1, stretch.first + bars[-1] - 1
                    yield self.bar_starts[first], self.bar_starts[last + 1], text

    def voices(self) -> list[str]:
        """Their names in the order in which the form names them."""
        names: list[str] = []
        for stretch in self.stretches:
            plays = stretch.keys["plays"] or {}
            assert isinstance(plays, Mapping)
            names += [voice for voice in plays if voice not in names]
        return names

    def tokens(self, items: Sequence[Item], figures: Mapping[str, FigureSpec]) -> Iterator[Token]:
        """A plays list, a tick at a time, for ever if its last item goes on."""
        pulse = self.spec.pulse
        statement = 0
        for index, item in enumerate(items):
            figure = figures[item.figure] if item.figure else None
            pulse = item.pulse or (figure and (figure.pulse or self.spec.pulse)) or pulse
            assert pulse is not None
            ticks = int(pulse * self.grid)
            groups = figure.groups if figure else item.groups
            starts = tuple(sum(groups[:n]) * ticks for n in range(len(groups)))
            hits = tuple((n - 1) * ticks for n in figure.hits) if figure else starts
            accents = tuple((n - 1) * ticks for n in figure.accents) if figure else starts
            full = sum(groups) * ticks
            last = index == len(items) - 1
            if item.counts_groups:
                total: int | None = sum(groups[: item.count]) * ticks
            elif item.kind in ("first", "rest"):
                total = (item.count or 0) * ticks
            elif item.kind == "figure" and item.times is None and last:
                total = None
            else:
                total = int(full * (item.times or 1))
            done = 0
            while total is None or done < total:
                planned = total if item.kind == "rest" else full if total is None else min(full, total - done)
                assert planned is not None
                for offset in range(planned):
                    yield Token(
                        statement,
                        item.figure,
                        item.kind != "rest",
                        offset,
                        planned,
                        planned if item.kind == "rest" else full,
                        planned < full,
                        ticks,
                        accents,
                        hits,
                        starts,
                    )
                done += planned
                statement += 1


class Stream:
    """A list of tokens of which the next one can be seen."""

    def __init__(self, tokens: Iterator[Token]) -> None:
        self._tokens = tokens
        self.next = next(tokens, None)

    def take(self) -> Token | None:
        """The next token."""
        token = self.next
        self.next = next(self._tokens, None)
        return token


def walk(spec: Spec, grid: int) -> tuple[PulseWalk, Found]:
    """Everything that is played and what follows from it. Raises NothingRunsError."""
    piece = PulseWalk(spec, grid)
    found = Found()
    harmony = piece.lane(spec.harmony, "harmony")
    for voice in piece.voices():
        row, lines = _play(piece, voice)
        statements = _statements(piece, row)
        _note(piece, voice, statements, harmony, found)
        _note_handovers(voice, statements, lines, found)
    found.marks = sorted(piece.marks())
    return piece, found


def _starts(piece: PulseWalk, stretch: Stretch, voice: str) -> str | int:
    starts = stretch.keys["starts"]
    if isinstance(starts, Mapping):
        starts = starts.get(voice)
    if isinstance(starts, Position):
        place = piece.tick(starts, stretch)
        assert place is not None
        return place
    assert starts is None or isinstance(starts, str)
    return starts or "downbeat"


def _play(piece: PulseWalk, voice: str) -> tuple[list[tuple[Token, int] | None], dict[int, int]]:
    """What sounds at each tick: a token and which list it is from; and the first tick of each list's section."""
    figures = {figure.name: figure for figure in piece.spec.figures}
    said: dict[int, list[tuple[str, Stretch, Plays | None]]] = {}
    order: list[int] = []
    for stretch in piece.stretches:
        plays = stretch.keys["plays"] or {}
        assert isinstance(plays, Mapping)
        own = plays.get(voice)
        when = _starts(piece, stretch, voice) if own and own.items is not None else "line"
        at = when if isinstance(when, int) else stretch.start
        if isinstance(when, int):
            said.setdefault(stretch.start, []).append(("reach", stretch, own))
            said.setdefault(at, []).append(("position", stretch, own))
        else:
            word = when if when != "line" else "on" if own else "stop"
            said.setdefault(stretch.start, []).append((word, stretch, own))
        if own and own.items is not None:
            order.append(at)
    if order != sorted(order):
        raise NothingRunsError
    stream: Stream | None = None
    pending: Stream | None = None
    pending_line = 0
    heard: list[tuple[Token, int] | None] = []
    number = 0
    lines: dict[int, int] = {}
    for tick in range(piece.start, piece.end):
        for word, stretch, plays in said.get(tick, ()):
            new = plays.items if plays else None
            if word == "on":
                if (stream is None or stream.next is None) and pending is None:
                    raise NothingRunsError
                continue
            pending = None
            if word == "reach":
                continue
            if word == "stop":
                stream = None
                continue
            assert new is not None
            fresh = Stream(piece.tokens(new, figures))
            if word == "after":
                pending, pending_line = fresh, stretch.start
            else:
                stream, number = fresh, number + 1
                lines[number] = stretch.start
        if pending and (stream is None or stream.next is None or stream.next.offset == 0):
            stream, pending, number = pending, None, number + 1
            lines[number] = pending_line
        token = stream.take() if stream else None
        heard.append((token, number) if token else None)
    return heard, lines


def _statements(piece: PulseWalk, heard: list[tuple[Token, int] | None]) -> list[Heard]:
    """What is heard, a statement or a rest at a time."""
    statements: list[Heard] = []
    last: tuple[int, int] | None = None
    for tick, entry in enumerate(heard, start=piece.start):
        if entry is None:
            last = None
            continue
        token, which = entry
        if last != (token.statement, which):
            statements.append(Heard(tick, tick, which, token))
            last = token.statement, which
        statements[-1] = statements[-1]._replace(end=tick + 1)
    return statements


def _note_handovers(voice: str, statements: list[Heard], lines: Mapping[int, int], found: Found) -> None:
    """Where another list is heard than before."""
    last: Heard | None = None
    for one in statements:
        if not one.token.sounds:
            continue
        if last is not None and last.which != one.which:
            line = lines[one.which]
            cut = last.end - last.at < last.token.planned
            figures = last.token.figure, one.token.figure
            found.handovers.append((voice, *figures, one.at, line, last.end - line, cut))
        last = one


def _note(
    piece: PulseWalk,
    voice: str,
    statements: list[Heard],
    harmony: Mapping[int, str | None],
    found: Found,
) -> None:
    """Statements, and what follows from where they stand."""
    downbeats = {tick: bar + 1 for bar, tick in enumerate(piece.bar_starts)}
    if piece.start == -int(piece.meters[0].length * piece.grid):
        downbeats[piece.start] = 0
    firsts = {stretch.start for stretch in piece.stretches}
    number = 0
    heard_in_list: dict[int, list[int]] = {}
    for index, (at, end, which, token) in enumerate(statements):
        cut = end - at < token.planned
        if not token.sounds:
            continue
        number += 1
        count = _count_back(statements[: index + 1])
        _note_statement(piece, voice, number, count, at, end, token, cut, downbeats, harmony, found)
        earlier = heard_in_list.setdefault(which, [])
        if at in downbeats and _comes_home(statements[index - 1], statements[index], earlier, downbeats):
            found.realignments.append((voice, number, at, downbeats[at], at in firsts))
        earlier.append(at)


def _count_back(heard: list[Heard]) -> int | None:
    """Which one the last statement is: how many of the same figure touch each other up to it, in its list."""
    *before, one = heard
    if one.token.figure is None:
        return None
    count, at = 1, one.at
    while before and before[-1].end == at:
        left = before.pop()
        if (left.which, left.token.figure, left.token.sounds) != (one.which, one.token.figure, True):
            break
        count, at = count + 1, left.at
    return count


def _comes_home(last: Heard, this: Heard, earlier: list[int], downbeats: Mapping[int, int]) -> bool:
    """Whether a statement on a downbeat has come there by itself. `last`: the one right before it; `earlier`: where
    the others of its list started."""
    on = [index for index, at in enumerate(earlier) if at in downbeats]
    been_on_and_off = bool(on) and on[-1] < len(earlier) - 1
    if not been_on_and_off:
        return False
    touches = last.end == this.at and last.which == this.which
    same = last.token.sounds and last.token.figure == this.token.figure is not None
    whole = last.end - last.at == last.token.full and not last.token.early
    written_short = this.token.early and this.end - this.at == this.token.planned
    return touches and same and whole and not written_short


def _note_statement(
    piece: PulseWalk,
    voice: str,
    number: int,
    count: int | None,
    at: int,
    end: int,
    token: Token,
    cut: bool,
    downbeats: Mapping[int, int],
    harmony: Mapping[int, str | None],
    found: Found,
) -> None:
    bar = max((n for n in range(len(piece.meters)) if piece.bar_starts[n] <= at), default=-1)
    start = piece.bar_starts[bar] if bar >= 0 else -int(piece.meters[0].length * piece.grid)
    section = max((n for n, s in enumerate(piece.stretches) if s.start <= at), default=0)
    kind = "cut" if cut else "tail" if token.figure is None else "first" if token.early else "whole"
    played = end - at
    found.repetitions.append(
        (
            *(voice, number, count, section, bar + 1, at - start, at),
            *(token.figure, kind, token.full, played, token.pulse),
        )
    )
    group = 0
    for tick in range(at, end):
        offset = tick - at
        group += offset in token.groups
        if offset in token.hits:
            found.hits.append((voice, number, tick, offset in token.accents))
        if offset in token.accents and tick in downbeats:
            accent = token.accents.index(offset) + 1
            found.landings.append((voice, number, accent, tick, downbeats[tick], True))
        if offset and harmony[tick - 1] is not None and harmony[tick] != harmony[tick - 1]:
            inside = offset - token.groups[group - 1]
            names = harmony[tick - 1], harmony[tick]
            found.crossings.append((voice, number, *names, tick, offset, group, inside))
    if played < token.full and played in token.accents and end in downbeats:
        accent = token.accents.index(played) + 1
        found.landings.append((voice, number, accent, end, downbeats[end], False))
