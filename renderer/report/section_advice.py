"""What follows from a spec, in a musician's words: a line a section and voice, with what should be known below it."""

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from math import gcd
from typing import Any

from renderer.core.errors import Problem
from renderer.core.names import bars_named, briefly_listed
from renderer.report.piece_advice import describe_piece
from renderer.report.table import bars_text, counted, place_text, section_name
from renderer.report.ways_to_land import ways_to_land
from renderer.spec.model import Entry, Item, Point, Position, Spec
from renderer.timeline.build import plan_timeline
from renderer.timeline.model import Crossing, Landing, Realignment, Repetition, Section, Timeline
from renderer.timeline.passes import Pass
from renderer.timeline.plan import Plan, plan_spec
from renderer.timeline.positions import position_text
from renderer.timeline.statements import decimal_text
from renderer.timeline.voices import VoiceSpan

WAYS_TOLD = 3


def describe(spec: Spec) -> list[str]:
    """What `check` tells of a spec. Raises SpecError with its faults."""
    plan = plan_spec(spec)
    timeline = plan_timeline(plan)
    lines: list[str] = []
    readings = _read(timeline)
    ends = {voice: [row.end for row in played] for voice, played in plan.voice_spans.items()}
    for index, section in enumerate(plan.layout.passes):
        lines += _SectionAdvice(plan, timeline, index, section, readings, ends).lines()
    lines += describe_piece(plan, timeline)
    return lines


@dataclass(frozen=True)
class _SectionAdvice:
    """The lines of one pass of a section."""

    plan: Plan
    timeline: Timeline
    index: int
    section: Pass
    readings: Mapping[tuple[str, int], "_Readings"]
    ends: Mapping[str, list[int]]
    """Where each of a voice's statements and rests ends."""

    @property
    def row(self) -> Section:
        return self.timeline.sections[self.index]

    @property
    def start(self) -> int:
        """Its first tick, with the pick-up in the first section."""
        return self.timeline.start if self.index == 0 else self.row.at

    @property
    def heading(self) -> str:
        return f"{section_name(self.timeline, self.row)}, {bars_text(self.row)}"

    def lines(self) -> Iterator[str]:
        voices = self.section.spec.plays or {}
        if not voices:
            yield f"{self.heading}: nothing is played"
        for voice in self.timeline.voices:
            if voice in voices:
                yield from self._voice(voice, self._played(voice))
        if fallen := list(_fallen(self.section)):
            verb, bars = (
                ("lies", "falls") if len(fallen) == 1 else ("lie", "fall"),
                counted(self.row.bar_count, "bar"),
            )
            yield f"  {briefly_listed(fallen)} {verb[0]} beyond its {bars} and {verb[1]} away"

    def _played(self, voice: str) -> list[VoiceSpan]:
        """What sounds in the section, also in part."""
        walk = self.plan.voice_spans[voice]
        first = bisect_right(self.ends[voice], self.start)
        return list(walk[first : bisect_left(walk, self.row.end, lo=first, key=lambda row: row.at)])

    def _voice(self, voice: str, played: list[VoiceSpan]) -> Iterator[str]:
        start = self.start
        if start < self.row.at and all(row.at >= self.row.at for row in played):
            start = self.row.at
        terms = list(self._terms(voice, played, start))
        unit = self._unit(played, self.row.end - start)
        rows = " + ".join(term.text(unit) for term in terms)
        name = f"{self.heading}, {voice}" if len(self.timeline.voices) > 1 else self.heading
        counted_in = (
            "" if unit == self.timeline.pulse else f" (pulses of {Fraction(unit, self.timeline.grid)})"
        )
        yield f"{name}: {_pulses(self.row.end - start, unit)}{counted_in} = {rows}"
        yield from (f"  {remark}" for remark in self._remarks(voice, played))

    def _unit(self, played: Iterable[VoiceSpan], span: int) -> int:
        """The pulse that the sum counts in: the voice's own, the largest that all that it plays are whole in."""
        pulses = [row.statement.pulse for row in played if row.statement]
        if not pulses:
            return self.timeline.pulse or gcd(span, self.timeline.grid)
        return gcd(*pulses)

    def _terms(self, voice: str, played: list[VoiceSpan], start: int) -> Iterator["_Term"]:
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

    def _remarks(self, voice: str, played: list[VoiceSpan]) -> Iterator[str]:
        found = self.readings.get((voice, self.index))
        if found is not None:
            yield from found.remarks(self.timeline)
        own = [row for row in played if row.at >= self._taken_over(voice)]
        plays = (self.section.spec.plays or {})[voice]
        if own and plays.items is not None:
            yield from self._too_long(voice, plays.items, own)

    def _too_long(self, voice: str, items: Sequence[Item], own: list[VoiceSpan]) -> Iterator[str]:
        """How far the section's own list does not fit."""
        last = own[-1]
        statement = last.statement
        if statement is not None and last.cut and last.end == self.row.end:
            short = _pulses(statement.length - statement.sounding_length, statement.pulse)
            left = _pulses(statement.sounding_length, statement.pulse)
            if len(own) > 1 and own[-2].item is last.item:
                yield f"{left} left over: the last {statement.figure or 'tail'} is {short} too long"
            else:
                yield f"there is room for {left}: {statement.figure or 'the tail'} is {short} too long"
        rows = self.plan.compiler.compile(items, [])
        unit = self._unit(own, 0)
        if rows[-1].times is not None and not self._goes_on(voice):
            total = sum(row.length * (row.times or 0) for row in rows)
            over = total - sum(row.end - row.at for row in own)
            if over > 0:
                yield f"the list is {_pulses(over, unit)} too long: it is cut before its end"
        elif last.cut and len(items) == 1 and self.section.start(voice) == "downbeat":
            yield from self._ways(items[0])

    def _goes_on(self, voice: str) -> bool:
        """Whether the next section lets the voice run on."""
        passes = self.plan.layout.passes
        following = passes[self.index + 1] if self.index + 1 < len(passes) else None
        plays = (following.spec.plays or {}).get(voice) if following else None
        return plays is not None and plays.items is None

    def _ways(self, item: Item) -> Iterator[str]:
        """How a figure that has the section to itself could land."""
        figure = self.plan.figures.get(item.figure or "")
        if figure is None or item.kind != "figure" or item.pulse:
            return
        span = self.timeline.whole(self.row.end - self.row.at) / figure.pulse
        if span.denominator == 1:
            ways = [way for way in ways_to_land(figure, int(span)) if not way.cut]
            yield from (f"to land: {way.text}" for way in ways[:WAYS_TOLD])


@dataclass
class _Readings:
    """What happens in one voice's repetitions that start in one section."""

    repetitions: list[Repetition] = field(default_factory=list)
    crossings: list[Crossing] = field(default_factory=list)
    landings: list[Landing] = field(default_factory=list)
    realignments: list[Realignment] = field(default_factory=list)

    def remarks(self, timeline: Timeline) -> Iterator[str]:
        """The same in words."""
        if self.crossings:
            places = briefly_listed(
                f"{row.before} to {row.after} at {place_text(timeline, row.at)}" for row in self.crossings
            )
            yield f"harmony changes inside a repetition: {places}"
        if bars := list(dict.fromkeys(row.bar_number for row in self.landings if row.sounds)):
            yield f"accents on downbeats: {bars_named(bars)}"
        if self.realignments:
            yield f"starts on a downbeat again: {bars_named([row.bar_number for row in self.realignments])}"
        last = self.repetitions[-1]
        if last.statement.accents:
            yield f"last accent: {place_text(timeline, last.at + last.statement.accents[-1])}"
        for row in self.landings:
            if not row.sounds:
                ends = "the piece ends" if row.at == timeline.end else "its repetition ends"
                cut = last.statement.cut and row.at < timeline.end
                mend = "; to hear it, let the next section say starts: after" if cut else ""
                yield f"accent {row.accent_number} would come on bar {row.bar_number}'s downbeat, where {ends}{mend}"


def _read(timeline: Timeline) -> dict[tuple[str, int], _Readings]:
    """What happens, by voice and by the index of the section in which the repetition starts."""
    found: dict[tuple[str, int], _Readings] = defaultdict(_Readings)
    sections: dict[tuple[str, int], int] = {}
    for row in timeline.repetitions:
        sections[row.voice, row.number] = row.section_index
        found[row.voice, row.section_index].repetitions.append(row)
    for crossing in timeline.crossings:
        found[crossing.voice, sections[crossing.voice, crossing.repetition_number]].crossings.append(crossing)
    for landing in timeline.landings:
        found[landing.voice, sections[landing.voice, landing.repetition_number]].landings.append(landing)
    for again in timeline.realignments:
        found[again.voice, sections[again.voice, again.repetition_number]].realignments.append(again)
    return found


@dataclass(frozen=True, slots=True)
class _Term:
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
    """The terms of one item: whole repetitions and a fraction as a product, what is cut or runs on by itself."""
    item = run[0].item
    first = run[0]
    inside = [row for row in run if not row.cut and row.end <= end]
    if item.kind == "figure" and inside:
        statement = inside[0].statement
        length = statement.length if statement else 0
        yield _Term(length, times=Fraction(sum(row.end - row.at for row in inside), length))
    elif inside:
        yield _Term(first.end - first.at, item.kind)
    for row in run[len(inside) :]:
        if row.end > end:
            yield _Term(end - row.at, "running on")
        else:
            yield _Term(row.end - row.at, _cut_word(row, bool(inside)))


def _cut_word(row: VoiceSpan, after_whole: bool) -> str:
    """How a cut statement stands in the sum: by its figure's name where no whole one stands before it."""
    if row.statement is None:
        return "rest"
    return "cut" if after_whole or row.statement.figure is None else f"{row.statement.figure} cut to"


def _pulses(ticks: int, unit: int) -> str:
    return decimal_text(Fraction(ticks, unit))


def _fallen(section: Pass) -> Iterator[str]:
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
    for part, sides in (text.parts or {}).items():
        for side in sides:
            if not section.holds("parts", side.position):
                yield f"{part} {position_text(side.position)}"
    starts = text.starts.values() if isinstance(text.starts, Mapping) else [text.starts]
    for start in starts:
        if isinstance(start, Position) and not section.holds("starts", start):
            yield f"starts {position_text(start)}"
