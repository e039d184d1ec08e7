"""What `check` tells of a piece as a whole, below its sections."""

import re
from bisect import bisect_left
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from fractions import Fraction
from typing import Any, TypeVar

from renderer.core.errors import KeyPath, Problem
from renderer.core.names import bars_from, bars_named, listed
from renderer.core.note_values import pulse_word
from renderer.report.table import place_text
from renderer.spec.model import Entry, Position, SectionSpec, Spec, Tempo
from renderer.spec.sound import WEB_LUFS
from renderer.timeline.clock import TempoMark
from renderer.timeline.lanes import LaneChange, Placed, lane_entries
from renderer.timeline.model import Figure, Timeline
from renderer.timeline.plan import Plan
from renderer.timeline.positions import position_text
from renderer.timeline.sides import find_nobody, part_names
from renderer.timeline.statements import decimal_text

T = TypeVar("T")

SLOWEST_STRETCH = Fraction(5, 4)
FASTEST_STRETCH = Fraction(4, 5)
"""A recording that departs further from the spec's tempo was probably given a wrong point."""

_SUFFIX = r"(?:maj|min|ma|mi|dim|aug|sus|add|alt|[mM0-9°øΔ+/()b#♭♯A-HIViv-])*"
_CHORD = f"[A-H][b#♭♯]?{_SUFFIX}|[b#♭♯]?(?:[IV]+|[iv]+){_SUFFIX}"
"""What looks like a chord's name: by its root, or by its degree. A text of several such may lack a comma."""


def describe_piece(plan: Plan, timeline: Timeline) -> Iterator[str]:
    """What should be known, a line each."""
    yield from _unaligned(timeline)
    yield from _unchanged(plan, timeline)
    yield from _overridden(plan)
    yield from _idle_moves(timeline)
    yield from _cut_short(plan)
    yield from _two_in_one(plan)
    yield from _odd_beats(timeline)
    yield from _late_parts(timeline)
    yield from _unkept(timeline)
    yield from _unaccented(plan.figures.values())
    yield from _halved(plan.figures.values())
    yield from _stretched(plan)
    yield from _top_positions(plan.spec)
    yield from _loud(plan.spec)
    for name in timeline.words.clashing:
        yield f"{name} is a name in this piece: the pictures say {name} as it is, not in your words"


def _unaligned(timeline: Timeline) -> Iterator[str]:
    """Voices that leave the downbeat and never start on one again."""
    again = {each.voice for each in timeline.realignments}
    off = {row.voice for row in timeline.repetitions if row.offset}
    for voice in timeline.voices:
        if voice in off and voice not in again:
            what = voice if len(timeline.voices) > 1 else "the figure"
            yield f"{what} does not run into a downbeat again within the piece"


def _unchanged(plan: Plan, timeline: Timeline) -> Iterator[str]:
    """Entries that say what holds already, wherever they come."""
    new = {row.at for row in timeline.harmony}
    for entry in _useless(plan.harmony_changes, lambda change: change.at in new):
        yield f"harmony {entry.written} in {entry.scope.name}: {entry.values[0]} holds already"
    for same in _useless(plan.tempo_changes, lambda change: not _is_held(change, timeline.tempo)):
        quarters = decimal_text(same.values[0].quarters)
        yield f"tempo {same.written} in {same.scope.name}: {quarters} holds already"


def _useless(
    changes: Sequence[LaneChange[T]], is_new: Callable[[LaneChange[T]], bool]
) -> Iterator[Placed[T]]:
    """The entries of which nothing is new in any pass, each once, at its first place."""
    useful = {change.entry.path for change in changes if change.since is None and is_new(change)}
    told: set[KeyPath] = set()
    for change in changes:
        path = change.entry.path
        if path not in useful and path not in told:
            told.add(path)
            yield change.entry


def _is_held(change: LaneChange[Tempo], marks: Sequence[TempoMark]) -> bool:
    """Whether a plain tempo is that of the step before it. After a ramp it says where the ramp ends."""
    index = bisect_left(marks, change.at, key=lambda mark: mark.at) - 1
    before = marks[index] if index >= 0 else None
    held = before is not None and before.to is None and before.quarters == change.value.quarters
    return held and not change.value.moves


def _overridden(plan: Plan) -> Iterator[str]:
    """Entries at the top that a section has one of its own in place of."""
    layout, spec = plan.layout, plan.spec
    lanes: dict[str, tuple[Iterable[Entry[Any]], Callable[[SectionSpec], Iterable[Entry[Any]] | None]]] = {
        "meter": (spec.meter, lambda text: text.meter),
        "tempo": (spec.tempo, lambda text: text.tempo),
        "harmony": (spec.harmony, lambda text: text.harmony),
    }
    for key, (top, of) in lanes.items():
        at_top: dict[int, Position] = {}
        for entry, scope, rank in lane_entries(top, key, of, layout.passes):
            place = layout.places.find(entry.position, scope, ())
            if isinstance(place, Problem):
                continue
            if rank == 0:
                at_top[place.at] = entry.position
            elif position := at_top.pop(place.at, None):
                yield f"{key} {position_text(position)} at the top: {scope.name} has its own there, which holds"


def _idle_moves(timeline: Timeline) -> Iterator[str]:
    """Moves to the tempo that holds already."""
    for mark in timeline.tempo:
        if mark.to == mark.quarters:
            yield f"tempo at {place_text(timeline, mark.at)} moves to {decimal_text(mark.to)}, which holds already"


def _unaccented(figures: Iterable[Figure]) -> Iterator[str]:
    """Figures that can land nowhere."""
    for figure in figures:
        if not figure.accents:
            yield f"{figure.name} has no accents, so it lands nowhere; X in its hits is one"


def _loud(spec: Spec) -> Iterator[str]:
    """A lesson that is louder than what else one hears on the web."""
    if spec.sound is not None and spec.sound.loudness > WEB_LUFS:
        yield (
            f"loudness {float(spec.sound.loudness):g} LUFS is louder than most of what is heard on the web "
            f"({WEB_LUFS}): turn the volume down before you play it, above all on headphones"
        )


def _cut_short(plan: Plan) -> Iterator[str]:
    """Lists of harmonies of which no pass has room for all."""
    most: Counter[tuple[str, str, int]] = Counter()
    entries = {id(change.entry): change.entry for change in plan.harmony_changes}
    counts = Counter(id(change.entry) for change in plan.harmony_changes if change.since is None)
    for key, count in counts.items():
        entry = entries[key]
        where = entry.scope.name, entry.written, len(entry.values)
        most[where] = max(most[where], count)
    for (scope, written, length), count in most.items():
        if count < length:
            yield f"harmony {written} in {scope}: only {count} of its {length} come"


def _odd_beats(timeline: Timeline) -> Iterator[str]:
    """Beats that `in N` makes and that are no plain or dotted note, as in 7/8 in 2."""
    for text, meter in {bar.meter.text: bar.meter for bar in timeline.bars}.items():
        beat, even = meter.beats[0], len(set(meter.beats)) == 1
        plain = beat.numerator in (1, 3) and beat.denominator & (beat.denominator - 1) == 0
        if even and len(meter.beats) > 1 and not plain:
            yield (
                f"{text}: its beats are {beat} of a whole note each; is that meant? "
                "Beats of unlike length are written as in 7/8 in 2+2+3"
            )


def _late_parts(timeline: Timeline) -> Iterator[str]:
    """Parts that have no side at the beginning."""
    for part in dict.fromkeys(side.part for side in timeline.sides):
        first = next(side for side in timeline.sides if side.part == part)
        if first.at > timeline.start and first.at > 0:
            yield f"{part} keeps no side before {place_text(timeline, first.at)}"


def _unkept(timeline: Timeline) -> Iterator[str]:
    """Where parts play and none of them keeps the meter, or none the figure."""
    whole = timeline.start, timeline.end
    nobody = find_nobody(timeline, part_names(timeline), [whole])
    for clock in dict.fromkeys(each.clock for each in nobody):
        spans = [(each.start, each.end) for each in nobody if each.clock == clock]
        when = [] if spans == [whole] else [listed([_when(timeline, *span) for span in spans], "and")]
        yield " ".join([*when, f"nobody keeps the {clock}"])


def _when(timeline: Timeline, start: int, end: int) -> str:
    """A stretch in words: `from bar 29 on`, `in bars 9 to 12`, `from 9.3 to 13.1`."""
    downbeats = {bar.at for bar in timeline.bars} | {timeline.end}
    first, last = timeline.bar_at(start).number, timeline.bar_at(end - 1).number
    if end == timeline.end:
        return f"from bar {first} on" if start in downbeats else f"from {place_text(timeline, start)} on"
    if start in downbeats and end in downbeats:
        return f"in {bars_from(first, last)}"
    if start == timeline.start:
        return f"up to {place_text(timeline, end)}"
    return f"from {place_text(timeline, start)} to {place_text(timeline, end)}"


def _two_in_one(plan: Plan) -> Iterator[str]:
    """Harmonies that look like several."""
    names = dict.fromkeys(change.value for change in plan.harmony_changes)
    for name in names:
        words = name.split()
        if len(words) > 1 and all(re.fullmatch(_CHORD, word) for word in words):
            yield f"harmony {name}: is this one, or is a comma missing? A list is [{', '.join(words)}]"


def _halved(figures: Iterable[Figure]) -> Iterator[str]:
    """Figures that can be counted in a pulse twice as long."""
    for figure in figures:
        on = all(pulse % 2 == 1 for pulse in (*figure.hits, *figure.accents))
        if on and all(group % 2 == 0 for group in figure.groups):
            groups = "+".join(map(str, figure.groups))
            halves = "+".join(str(group // 2) for group in figure.groups)
            yield f"{figure.name}: {groups} is {halves} in {pulse_word(figure.pulse * 2)}"


def _stretched(plan: Plan) -> Iterator[str]:
    """Stretches of a recording that are far from the spec's own tempo."""
    for number, stretch in enumerate(plan.clock.sync_ratios, start=1):
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
        late = sorted({position.bar for position in positions if position.bar > 1})
        if late:
            yield (
                f"{key} at the top ({bars_named(late)}) stays in its place when a section's bars are corrected; "
                "what stands in the section moves with it"
            )
