"""What follows from a spec, in a musician's words: a line a section and voice, with what should be known below it."""

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from itertools import groupby
from math import gcd
from typing import Any, NamedTuple

from renderer.core.collector import collector_at_rest
from renderer.core.errors import KeyPath, Problem
from renderer.core.names import bars_named, briefly_listed, counted, last_of
from renderer.report.piece_advice import describe_piece
from renderer.report.table import bars_text, place_text, section_names
from renderer.report.ways_to_land import Way, ways_to_land
from renderer.spec.model import Entry, Point, Position
from renderer.timeline.marks import kept_range
from renderer.timeline.model import Crossing, Figure, Landing, Realignment, Repetition, Section, Timeline
from renderer.timeline.passes import Pass
from renderer.timeline.plan import Plan
from renderer.timeline.positions import position_text
from renderer.timeline.statements import PlaysRow, decimal_text
from renderer.timeline.voices import VoiceSpan

WAYS_TOLD = 3


def describe(plan: Plan, timeline: Timeline) -> list[str]:
    """What `check` says of a piece; `timeline` is the plan's."""
    with collector_at_rest():
        return [*_describe_sections(plan, timeline), *describe_piece(plan, timeline)]


def _describe_sections(plan: Plan, timeline: Timeline) -> Iterator[str]:
    for advice in _advices(plan, timeline):
        yield from advice.lines()


def _advices(plan: Plan, timeline: Timeline) -> "Iterator[_SectionAdvice]":
    names = section_names(timeline)
    readings = _read(timeline)
    ends = {voice: [row.end for row in spans] for voice, spans in plan.voice_spans.items()}
    starters = {voice: _starters(voice, plan.layout.passes) for voice in plan.voice_spans}
    firsts = frozenset(section.at for section in timeline.sections)
    for index, section in enumerate(plan.layout.passes):
        yield _SectionAdvice(plan, timeline, index, section, names[index], readings, ends, starters, firsts)


class OfferedWay(NamedTuple):
    """A way to land at the end of a section: for a voice, in place of what the form's entry at `path` plays."""

    section: str
    voice: str
    path: KeyPath
    where: str
    """Where its list is written, if that is in an earlier section: `, in Mill`."""
    way: Way

    def lines(self) -> Iterator[str]:
        """The way in words, and below that as it is written in a spec."""
        yield f"to land{self.where}: {self.way.text}"
        yield f"  plays: {self.way.plays}"
        yield from (f"  figures: {{{text}}}" for text in self.way.figures)


def ways_offered(plan: Plan, timeline: Timeline) -> list[OfferedWay]:
    """The ways to land that `describe` tells, to be written into the spec."""
    return [way for advice in _advices(plan, timeline) for way in advice.offered()]


@dataclass(frozen=True)
class _SectionAdvice:
    """The lines of one pass of a section."""

    plan: Plan
    timeline: Timeline
    index: int
    section: Pass
    name: str
    readings: Mapping[tuple[str, int], "_Readings"]
    ends: Mapping[str, list[int]]
    """Where each of a voice's statements and rests ends."""
    starters: Mapping[str, list[int | None]]
    """The pass that gave each voice what it may play at the end of each section; None for nothing."""
    firsts: frozenset[int]
    """Every section's first tick."""

    @property
    def row(self) -> Section:
        return self.timeline.sections[self.index]

    @property
    def start(self) -> int:
        """Its first tick, with the pick-up in the first section."""
        return self.timeline.start if self.index == 0 else self.row.at

    @property
    def heading(self) -> str:
        return f"{self.name}, {bars_text(self.row)}"

    def lines(self) -> Iterator[str]:
        voices = self.section.spec.plays or {}
        if not voices:
            yield f"{self.heading}: nothing is played"
        for voice in self.timeline.voices:
            if voice in voices:
                yield from self._voice(voice, self._spans(voice))
        if dropped := list(_dropped(self.section)):
            bars = counted(self.row.bar_count, "bar")
            yield f"  dropped, after the last of its {bars}: {briefly_listed(dropped)}"

    def _spans(self, voice: str) -> Sequence[VoiceSpan]:
        """What sounds in the section, also in part."""
        spans = self.plan.voice_spans[voice]
        first = bisect_right(self.ends[voice], self.start)
        return spans[first : bisect_left(spans, self.row.end, lo=first, key=lambda row: row.at)]

    def _voice(self, voice: str, played: Sequence[VoiceSpan]) -> Iterator[str]:
        start = self.start
        if start < self.row.at and all(row.at >= self.row.at for row in played):
            start = self.row.at
        terms = list(self._terms(voice, played, start))
        unit = self._unit(played, self.row.end - start)
        rows = " + ".join(term.text(unit) for term in terms)
        name = f"{self.heading}, {voice}" if len(self.timeline.voices) > 1 else self.heading
        pulses = "" if unit == self.timeline.pulse else f" (pulses of {Fraction(unit, self.timeline.grid)})"
        yield f"{name}: {_pulses(self.row.end - start, unit)}{pulses} = {rows}"
        found = self.readings.get((voice, self.index))
        if found is not None:
            yield from (f"  {remark}" for remark in found.remarks(self.timeline))
        yield from (f"  {remark}" for remark in self._handover(voice, unit))
        yield from (f"  {remark}" for remark in self._misfit(voice))

    def _handover(self, voice: str, unit: int) -> Iterator[str]:
        """Where the section's list begins, if that is not just where the one before it ended, on the line."""
        for row in self.timeline.handovers:
            if row.voice == voice and row.line == self.row.at and (row.over > 0 or row.at != row.line):
                begins = f"{row.after or 'the tail'} begins at {place_text(self.timeline, row.at)}"
                if row.over <= 0:
                    yield begins
                    continue
                where = ", where it is cut" if row.cut else ""
                over = f"{_pulses(row.over, unit)} past the line{where}"
                yield f"{row.before or 'the tail'} runs {over}; {begins}"

    def _unit(self, rows: Iterable[VoiceSpan | PlaysRow], span: int) -> int:
        """The pulse that the sum counts in: the voice's own, the largest that all that it plays are whole in."""
        pulses = [row.statement.pulse for row in rows if row.statement]
        if not pulses:
            return self.timeline.pulse or gcd(span, self.timeline.grid)
        return gcd(*pulses)

    def _terms(self, voice: str, played: Sequence[VoiceSpan], start: int) -> Iterator["_Term"]:
        """What fills the section, in order; its ticks add up to the section's."""
        taken_over = self._taken_over(voice)
        at = start
        end = self.row.end
        carried = [row for row in played if row.at < taken_over]
        if carried:
            until = min(end, max(min(row.end, end) for row in carried))
            yield _Term(until - start, "waited" if self._waits(voice) else "carried over")
            at = until
        runs: list[list[VoiceSpan]] = []
        for row in played[len(carried) :]:
            if runs and runs[-1][-1].item is row.item and runs[-1][-1].end == row.at:
                runs[-1].append(row)
            else:
                runs.append([row])
        for run in runs:
            if run[0].at > at:
                yield _Term(run[0].at - at, "silent")
            yield from _run_terms(run, end)
            at = min(run[-1].end, end)
        if at < end:
            yield _Term(end - at, "silent")

    def _taken_over(self, voice: str) -> int:
        """Where the section's own list, or what it lets go on, begins to count as its own."""
        start = self.section.start(voice)
        plays = (self.section.spec.plays or {})[voice]
        if isinstance(start, Position) and plays.items is not None:
            place = self.plan.layout.places.find(start, self.section.scope, ())
            return self.start if isinstance(place, Problem) else max(place.at, self.start)
        return self.start

    def _waits(self, voice: str) -> bool:
        plays = (self.section.spec.plays or {})[voice]
        return self.section.start(voice) == "after" and plays.items is not None

    def _misfit(self, voice: str) -> Iterator[str]:
        """How far what ends with the section does not fit, and how it could."""
        starter = self.starters[voice][self.index]
        if starter is None or self._goes_on(voice):
            return
        spans = self.plan.voice_spans[voice]
        number = bisect_right(spans, starter, key=lambda row: row.run.section_index)
        last, before = spans[number - 1], spans[number - 2] if number > 1 else None
        if not number or last.run.section_index != starter:
            return
        rows, statement, left_over = last.run.rows, last.statement, last.cut and last.end == self.row.end
        if statement is not None and left_over:
            short = _pulses(statement.length - statement.sounding_length, statement.pulse)
            left = _pulses(statement.sounding_length, statement.pulse)
            if before is not None and before.run is last.run and before.item is last.item:
                yield f"{left} left over: {last_of(statement.figure or 'tail')} is {short} too long"
            else:
                yield f"there is room for {left}: {statement.figure or 'the tail'} is {short} too long"
        if rows[-1].times is None:
            for way in self._ways(voice, last) if left_over else ():
                yield from way.lines()
            return
        over = sum(row.length * (row.times or 0) for row in rows) - (last.end - last.run.at)
        if over > 0:
            yield f"the list is {_pulses(over, self._unit(rows, 0))} too long: it is cut before its end"

    def _goes_on(self, voice: str) -> bool:
        """Whether the next section lets the voice run on."""
        passes = self.plan.layout.passes
        following = passes[self.index + 1] if self.index + 1 < len(passes) else None
        plays = (following.spec.plays or {}).get(voice) if following else None
        return plays is not None and plays.items is None

    def offered(self) -> Iterator[OfferedWay]:
        """The ways to land at its end, voice by voice."""
        for voice in self.section.spec.plays or {}:
            starter = self.starters[voice][self.index]
            if starter is None or self._goes_on(voice):
                continue
            spans = self.plan.voice_spans[voice]
            number = bisect_right(spans, starter, key=lambda row: row.run.section_index)
            last = spans[number - 1] if number else None
            if last is None or last.run.section_index != starter or last.run.rows[-1].times is not None:
                continue
            if last.statement is not None and last.cut and last.end == self.row.end:
                yield from self._ways(voice, last)

    def _ways(self, voice: str, last: VoiceSpan) -> Iterator[OfferedWay]:
        """How a figure that has its run to itself, from a section's downbeat on, could land at the section's end."""
        run, item = last.run, last.item
        figure = self.plan.figures.get(item.figure or "")
        if figure is None or item.pulse or len(run.rows) > 1 or run.at not in self.firsts:
            return
        span = self.timeline.whole(self.row.end - run.at) / figure.pulse
        if span.denominator == 1:
            begun = self.plan.layout.passes[run.section_index].spec.name
            where = "" if run.section_index == self.index else f", in {begun}"
            path = self.plan.layout.passes[run.section_index].spec.path
            for way in _ways_told(figure, int(span)):
                yield OfferedWay(self.name, voice, path, where, way)


def _starters(voice: str, passes: Iterable[Pass]) -> list[int | None]:
    """Of each pass, the one whose list the voice may play at its end: itself, or an earlier one if it goes on."""
    found: list[int | None] = []
    for index, section in enumerate(passes):
        plays = (section.spec.plays or {}).get(voice)
        before = found[-1] if found else None
        found.append(None if plays is None else before if plays.items is None else index)
    return found


@lru_cache(maxsize=4096)
def _ways_told(figure: Figure, span: int) -> tuple[Way, ...]:
    """The first ways to land."""
    return ways_to_land(figure, span, WAYS_TOLD, cut=False)


class _Readings(NamedTuple):
    """What happens in one voice in one section."""

    last: Repetition | None
    """The last repetition that starts in it."""
    crossings: list[Crossing]
    landings: list[Landing]
    realignments: list[Realignment]

    def remarks(self, timeline: Timeline) -> Iterator[str]:
        """The same in words."""
        if self.crossings:

            def crossing_text(row: Crossing) -> str:
                return f"{row.before} to {row.after} at {place_text(timeline, row.at)}"

            places = briefly_listed(self.crossings, text=crossing_text)
            yield f"harmony changes inside a repetition: {places}"
        if bars := list(dict.fromkeys(row.bar_number for row in self.landings if row.sounds)):
            yield f"accents on downbeats: {bars_named(bars)}"
        if self.realignments:
            yield f"starts on a downbeat again: {bars_named([row.bar_number for row in self.realignments])}"
        last = self.last
        if last is None:
            return
        if last.statement.accents:
            yield f"last accent: {place_text(timeline, last.at + last.statement.accents[-1])}"
        for row in self.landings:
            if not row.sounds:
                ends = "the piece ends" if row.at == timeline.end else "its repetition ends"
                cut = last.statement.cut and row.at < timeline.end
                mend = "; to hear it, let the next section say starts: after" if cut else ""
                yield f"accent {row.accent_number} would come on bar {row.bar_number}'s downbeat, where {ends}{mend}"


def _read(timeline: Timeline) -> dict[tuple[str, int], _Readings]:
    """What happens, by voice and by the index of the section: where the harmony changes in a repetition, else where the
    repetition starts."""
    lasts = {(row.voice, row.section_index): row for row in timeline.repetitions}
    found = {key: _Readings(last, [], [], []) for key, last in lasts.items()}
    firsts: dict[str, int] = {}
    for index, row in enumerate(timeline.repetitions):
        firsts.setdefault(row.voice, index)

    def readings(row: Landing | Realignment) -> _Readings:
        repetition = timeline.repetitions[firsts[row.voice] + row.repetition_number - 1]
        return found[row.voice, repetition.section_index]

    for crossing in timeline.crossings:
        key = crossing.voice, timeline.bar_at(crossing.at).section_index
        found.setdefault(key, _Readings(None, [], [], [])).crossings.append(crossing)
    for landing in timeline.landings:
        readings(landing).landings.append(landing)
    for again in timeline.realignments:
        readings(again).realignments.append(again)
    return found


class _Term(NamedTuple):
    """A term of a section's sum, in ticks: `times` x `length`, or `length` and what it is."""

    length: int
    word: str = ""
    times: Fraction = Fraction(1)

    def text(self, unit: int) -> str:
        length = _pulses(self.length, unit)
        if self.word in ("tail", "first", "rest") or self.word.endswith("cut to"):
            return f"{self.word} {length}"
        if self.word:
            return f"{length} {self.word}"
        return length if self.times == 1 else f"{decimal_text(self.times)} x {length}"


def _run_terms(run: list[VoiceSpan], end: int) -> Iterator[_Term]:
    """The terms of one item, in order: whole repetitions as a product, what is cut or runs on by itself."""
    item, after_whole = run[0].item, False
    for whole, spans in groupby(run, lambda row: not row.cut and row.end <= end):
        rows = list(spans)
        if whole and item.kind == "figure":
            statement = rows[0].statement
            length = statement.length if statement else 0
            yield _Term(length, times=Fraction(sum(row.end - row.at for row in rows), length))
        else:
            for row in rows:
                if whole:
                    yield _Term(row.end - row.at, item.kind)
                elif row.end > end:
                    yield _Term(end - row.at, "running on")
                else:
                    yield _Term(row.end - row.at, _cut_word(row, after_whole))
        after_whole = after_whole or whole


def _cut_word(row: VoiceSpan, after_whole: bool) -> str:
    """How a cut statement stands in the sum: by its figure's name where no whole one stands before it."""
    if row.statement is None:
        return "rest"
    return "cut" if after_whole or row.statement.figure is None else f"{row.statement.figure} cut to"


def _pulses(ticks: int, unit: int) -> str:
    return decimal_text(Fraction(ticks, unit)) if ticks % unit else str(ticks // unit)


def _dropped(section: Pass) -> Iterator[str]:
    """What `again` took over and the section's bars leave no room for."""
    text = section.spec
    lanes: dict[str, Iterable[Entry[Any] | Point]] = {
        "meter": text.meter or (),
        "tempo": text.tempo or (),
        "harmony": text.harmony or (),
        "fermata": text.fermata or (),
    }
    for key, entries in lanes.items():
        for entry in entries:
            if not section.holds(key, entry.position):
                yield f"{key} {position_text(entry.position)}"
    for mark in text.marks or ():
        if kept_range(mark.where, section) is None:
            yield f"marks {mark.path[-1]}"
    for part, sides in (text.parts or {}).items():
        for side in sides:
            if not section.holds("parts", side.position):
                yield f"{part} {position_text(side.position)}"
    starts = text.starts.values() if isinstance(text.starts, Mapping) else [text.starts]
    for start in starts:
        if isinstance(start, Position) and not section.holds("starts", start):
            yield f"starts {position_text(start)}"
