"""What follows from a spec, in a musician's words: a line a section and voice, with what should be known below it."""

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from math import gcd

from renderer.build import plan_timeline
from renderer.errors import Problem
from renderer.form import Pass
from renderer.landing import ways_to_land
from renderer.listing import bars_text, place_text, section_name
from renderer.names import listed
from renderer.plan import Plan, plan_spec
from renderer.spec import Item, Position, Spec
from renderer.timeline import Crossing, Figure, Landing, Realignment, Repetition, Section, Timeline
from renderer.voices import Played, Repertoire, decimal_text

WAYS_TOLD = 3

MOST_NAMED = 12
"""Bars or places in one remark; the rest are counted."""

NOTE_NAMES = {
    1: "whole notes",
    2: "halves",
    4: "quarters",
    8: "eighths",
    16: "sixteenths",
    32: "thirty-seconds",
}

SLOWEST_STRETCH = Fraction(5, 4)
FASTEST_STRETCH = Fraction(4, 5)
"""A recording that departs further from the spec's tempo was probably given a wrong point."""


def describe(spec: Spec) -> list[str]:
    """What `check` tells of a spec. Raises SpecError with its faults."""
    plan = plan_spec(spec)
    timeline = plan_timeline(plan)
    lines: list[str] = []
    readings = _read(timeline)
    ends = {voice: [row.end for row in played] for voice, played in plan.walks.items()}
    for index, section in enumerate(plan.layout.passes):
        lines += _SectionAdvice(plan, timeline, index, section, readings, ends).lines()
    lines += _unaligned(timeline)
    lines += _harmony(plan, timeline)
    lines += _halved(plan.figures.values())
    lines += _stretched(plan)
    lines += _top_positions(spec)
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
        voices = self.section.text.plays or {}
        if not voices:
            yield f"{self.heading}: nothing is played"
        for voice in self.timeline.voices:
            if voice in voices:
                yield from self._voice(voice, self._played(voice))

    def _played(self, voice: str) -> list[Played]:
        """What sounds in the section, also in part."""
        walk = self.plan.walks[voice]
        first = bisect_right(self.ends[voice], self.start)
        return list(walk[first : bisect_left(walk, self.row.end, lo=first, key=lambda row: row.at)])

    def _voice(self, voice: str, played: list[Played]) -> Iterator[str]:
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

    def _unit(self, played: Iterable[Played], span: int) -> int:
        """The pulse that the sum counts in: the voice's own, the largest that all that it plays are whole in."""
        pulses = [row.statement.pulse for row in played if row.statement]
        if not pulses:
            return self.timeline.pulse or gcd(span, self.timeline.grid)
        return gcd(*pulses)

    def _terms(self, voice: str, played: list[Played], start: int) -> Iterator["_Term"]:
        """What fills the section, in order; its ticks add up to the section's."""
        taken_over = self._taken_over(voice)
        at = start
        end = self.row.end
        carried = [row for row in played if row.at < taken_over]
        if carried:
            until = min(end, max(min(row.end, end) for row in carried))
            yield _Term(until - start, "waited" if self._waits(voice) else "carried over")
            at = until
        runs: list[list[Played]] = []
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
        start = self._start_word(voice)
        plays = (self.section.text.plays or {})[voice]
        if isinstance(start, Position) and plays.items is not None:
            place = self.plan.layout.places.find(start, self.section.scope, ())
            return self.start if isinstance(place, Problem) else max(place.at, self.start)
        return self.start

    def _start_word(self, voice: str) -> object:
        starts = self.section.text.starts
        return starts.get(voice) if isinstance(starts, Mapping) else starts

    def _waits(self, voice: str) -> bool:
        plays = (self.section.text.plays or {})[voice]
        return self._start_word(voice) == "after" and plays.items is not None

    def _remarks(self, voice: str, played: list[Played]) -> Iterator[str]:
        found = self.readings.get((voice, self.index))
        if found is not None:
            yield from found.remarks(self.timeline)
        own = [row for row in played if row.at >= self._taken_over(voice)]
        plays = (self.section.text.plays or {})[voice]
        if own and plays.items is not None:
            yield from self._too_long(voice, plays.items, own)

    def _too_long(self, voice: str, items: Sequence[Item], own: list[Played]) -> Iterator[str]:
        """How far the section's own list does not fit."""
        last = own[-1]
        statement = last.statement
        if statement is not None and last.cut and last.end == self.row.end:
            short = _pulses(statement.length - statement.played, statement.pulse)
            left = _pulses(statement.played, statement.pulse)
            yield f"{left} left over: the last {statement.figure or 'tail'} is {short} too long"
        repertoire = Repertoire(self.plan.figures, self.timeline.grid, self.plan.layout.spec.pulse)
        chunks = repertoire.chunks(items, [])
        unit = self._unit(own, 0)
        if chunks[-1].times is not None and not self._goes_on(voice):
            total = sum(chunk.length * (chunk.times or 0) for chunk in chunks)
            over = total - sum(row.end - row.at for row in own)
            if over > 0:
                yield f"the list is {_pulses(over, unit)} too long: it is cut before its end"
        elif last.cut and len(items) == 1 and self._start_word(voice) is None:
            yield from self._ways(items[0])

    def _goes_on(self, voice: str) -> bool:
        """Whether the next section lets the voice run on."""
        passes = self.plan.layout.passes
        following = passes[self.index + 1] if self.index + 1 < len(passes) else None
        plays = (following.text.plays or {}).get(voice) if following else None
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
            places = _named(
                f"{row.before} to {row.after} at {place_text(timeline, row.at)}" for row in self.crossings
            )
            yield f"harmony changes inside a repetition: {places}"
        if bars := list(dict.fromkeys(row.bar for row in self.landings if row.played)):
            yield f"accents on downbeats: {_bars(bars)}"
        if self.realignments:
            yield f"starts on a downbeat again: {_bars([row.bar for row in self.realignments])}"
        last = self.repetitions[-1]
        if last.statement.accents:
            yield f"last accent: {place_text(timeline, last.at + last.statement.accents[-1])}"
        for row in self.landings:
            if not row.played:
                ends = "the piece ends" if row.at == timeline.end else "its repetition ends"
                cut = last.statement.cut and row.at < timeline.end
                mend = "; to hear it, let the next section say starts: after" if cut else ""
                yield f"accent {row.accent} would come on bar {row.bar}'s downbeat, where {ends}{mend}"


def _read(timeline: Timeline) -> dict[tuple[str, int], _Readings]:
    """What happens, by voice and by the index of the section in which the repetition starts."""
    found: dict[tuple[str, int], _Readings] = defaultdict(_Readings)
    sections: dict[tuple[str, int], int] = {}
    for row in timeline.repetitions:
        sections[row.voice, row.number] = row.section
        found[row.voice, row.section].repetitions.append(row)
    for crossing in timeline.crossings:
        found[crossing.voice, sections[crossing.voice, crossing.repetition]].crossings.append(crossing)
    for landing in timeline.landings:
        found[landing.voice, sections[landing.voice, landing.repetition]].landings.append(landing)
    for again in timeline.realignments:
        found[again.voice, sections[again.voice, again.repetition]].realignments.append(again)
    return found


@dataclass(frozen=True, slots=True)
class _Term:
    """A term of a section's sum, in ticks: `times` x `length`, or `length` and what it is."""

    length: int
    word: str = ""
    times: Fraction = Fraction(1)

    def text(self, unit: int) -> str:
        length = _pulses(self.length, unit)
        if self.word in ("tail", "first", "rest"):
            return f"{self.word} {length}"
        if self.word:
            return f"{length} {self.word}"
        return length if self.times == 1 else f"{decimal_text(self.times)} x {length}"


def _run_terms(run: list[Played], end: int) -> Iterator[_Term]:
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
            yield _Term(row.end - row.at, "cut" if row.statement else "rest")


def _pulses(ticks: int, unit: int) -> str:
    return decimal_text(Fraction(ticks, unit))


def _named(names: Iterable[str]) -> str:
    """A list of at most MOST_NAMED, the rest counted."""
    known = list(names)
    if len(known) <= MOST_NAMED:
        return listed(known, "and") if known else ""
    return f"{', '.join(known[:MOST_NAMED])} and {len(known) - MOST_NAMED} more"


def _unaligned(timeline: Timeline) -> Iterator[str]:
    """Voices that leave the downbeat and never start on one again."""
    again = {each.voice for each in timeline.realignments}
    for voice in timeline.voices:
        rows = [row for row in timeline.repetitions if row.voice == voice]
        off = any(row.offset for row in rows)
        if off and voice not in again:
            yield f"{voice} does not run into a downbeat again within the piece"


def _harmony(plan: Plan, timeline: Timeline) -> Iterator[str]:
    """Harmony entries that say what holds already."""
    kept = {row.at for row in timeline.harmony}
    changes = plan.layout.harmony_changes()
    useless: dict[int, bool] = {}
    for change in changes:
        if change.since is None:
            found = useless.get(id(change.entry), True)
            useless[id(change.entry)] = found and change.at not in kept
    told: set[tuple[str, str]] = set()
    for change in changes:
        entry = change.entry
        where = (entry.scope, entry.written)
        if useless.get(id(entry)) and where not in told:
            told.add(where)
            name = entry.values[0]
            yield f"harmony {entry.written} in {entry.scope}: {name} holds already"


def _halved(figures: Iterable[Figure]) -> Iterator[str]:
    """Figures that can be counted in a pulse twice as long."""
    for figure in figures:
        on = all(pulse % 2 == 1 for pulse in (*figure.hits, *figure.accents))
        if on and all(group % 2 == 0 for group in figure.groups):
            groups = "+".join(map(str, figure.groups))
            halves = "+".join(str(group // 2) for group in figure.groups)
            yield f"{figure.name}: {groups} is {halves} in {pulse_name(figure.pulse * 2)}"


def pulse_name(pulse: Fraction) -> str:
    """A pulse as musicians call it.

    >>> pulse_name(Fraction(1, 8)), pulse_name(Fraction(1, 12))
    ('eighths', 'pulses of 1/12')
    """
    if pulse.numerator == 1 and pulse.denominator in NOTE_NAMES:
        return NOTE_NAMES[pulse.denominator]
    return f"pulses of {pulse}"


def _stretched(plan: Plan) -> Iterator[str]:
    """Stretches of a recording that are far from the spec's own tempo."""
    for number, stretch in enumerate(plan.clock.stretches, start=1):
        if not FASTEST_STRETCH <= stretch <= SLOWEST_STRETCH:
            share = float(stretch)
            yield (
                f"between sync points {number} and {number + 1} the recording lasts {share:.2f} times as long as "
                "the tempo says: is one of them wrong?"
            )


def _top_positions(spec: Spec) -> Iterator[str]:
    """Positions at the top that a changed bar count would leave where they are."""
    places: dict[str, list[Position]] = {
        "meter": [entry.position for entry in spec.meter],
        "tempo": [entry.position for entry in spec.tempo],
        "harmony": [entry.position for entry in spec.harmony],
        **{part: [entry.position for entry in entries] for part, entries in spec.parts.items()},
        "fermata": [point.position for point in spec.fermata],
        "sync": [point.position for point in spec.sync],
    }
    for key, positions in places.items():
        late = [position.bar for position in positions if position.bar > 1]
        if late:
            yield (
                f"{key} at the top ({_bars(late)}) stays in its place when a section's bars are corrected; "
                "what stands in the section moves with it"
            )


def _bars(numbers: Sequence[int]) -> str:
    """`bar 12`, or `bars 12 and 23`."""
    return f"bar {numbers[0]}" if len(numbers) == 1 else f"bars {_named(map(str, numbers))}"
