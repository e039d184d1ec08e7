"""A spec thought through once: its form resolved, its bars laid out, what each voice plays, its lanes, its clock.

The order is that of the music: passes, bars, voices, lanes, clock. What follows from it, and nothing new, is in
`build`.
"""

from collections.abc import Iterable, Iterator, Mapping
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from renderer.core.errors import KeyPath, Problem, SpecError
from renderer.spec.meter import Meter
from renderer.spec.model import Point, Position, Spec, Tempo
from renderer.timeline.bars import common_grid, different, lay_bars, lay_meters, meter_beats
from renderer.timeline.clock import Clock, Instant, TempoMark, build_clock
from renderer.timeline.lanes import LaneChange
from renderer.timeline.layout import Layout, lay_tempo
from renderer.timeline.marks import lay_marks
from renderer.timeline.model import Figure, Harmony, Mark, Side
from renderer.timeline.passes import resolve
from renderer.timeline.positions import Places, position_text
from renderer.timeline.statements import StatementCompiler, decimal_text
from renderer.timeline.voices import Budget, PlaysChange, VoiceSpan, walk_voice

LONGEST_SECONDS = 86_400
"""A day of music."""


class Plan(NamedTuple):
    """Everything that the timeline's rows are made from."""

    spec: Spec
    layout: Layout
    figures: Mapping[str, Figure]
    compiler: StatementCompiler
    """What plays lists come to, on the piece's grid."""
    voice_spans: Mapping[str, tuple[VoiceSpan, ...]]
    """What each voice plays, in order of time; voices in the order in which the form names them."""
    harmony_changes: tuple[LaneChange[str], ...]
    tempo_changes: tuple[LaneChange[Tempo], ...]
    """What these lanes say, also where that changes nothing."""
    harmony: tuple[Harmony, ...]
    sides: tuple[Side, ...]
    tempo: tuple[TempoMark, ...]
    clock: Clock
    marks: tuple[Mark, ...]


def plan_spec(spec: Spec) -> Plan:
    """Think a spec through. Raises SpecError with all that is wrong with the music."""
    problems: list[Problem] = []
    figures = {
        each.name: Figure(each.name, spec.pulse_of(each), each.groups, each.hits, each.accents, each.origin)
        for each in spec.figures
    }
    layout = _lay_out(spec, figures, problems)
    compiler = StatementCompiler(figures, layout.grid, spec.pulse)
    voice_spans = _walk(layout, compiler, problems)
    harmony_changes = layout.lane("harmony", spec.harmony, lambda section: section.harmony, problems)
    sides = layout.sides(spec.parts, tuple(voice_spans), problems)
    tempo_changes = layout.tempo_changes(spec.tempo, problems)
    fermatas = layout.instants("fermata", spec.fermata, lambda section: section.fermata, problems)
    sync = layout.instants("sync", spec.sync, lambda section: section.sync, problems)
    marks = lay_marks(layout, spec.marks, problems)
    problems += _not_rising(sync)
    if problems:
        raise SpecError(dict.fromkeys(problems))
    tempo = lay_tempo(tempo_changes, layout.end)
    clock = build_clock(
        layout.grid, tempo, [instant for instant, _ in fermatas], [instant for instant, _ in sync]
    )
    _check_length(clock, layout.end)
    return Plan(
        *(spec, layout, figures, compiler, voice_spans, tuple(harmony_changes), tuple(tempo_changes)),
        *(layout.harmony(harmony_changes), sides, tempo, clock, marks),
    )


def _not_rising(sync: list[tuple[Instant, Point]]) -> Iterator[Problem]:
    """A later place of the piece is a later place of the recording."""
    for (before, _), (after, point) in pairwise(sync):
        if after.seconds <= before.seconds:
            text = f"{position_text(point.position)} comes later in the piece, but not in the recording."
            yield Problem(point.path, text, f"Write more than {decimal_text(before.seconds)} seconds.")


def _check_length(clock: Clock, end: int) -> None:
    seconds = clock.seconds(end)
    if seconds > LONGEST_SECONDS:
        text = f"the piece lasts {float(seconds / 3600):,.0f} hours; it may last a day."
        raise SpecError([Problem(("tempo",), text, "Write a faster tempo or fewer bars.")])


def _lay_out(spec: Spec, figures: Mapping[str, Figure], problems: list[Problem]) -> Layout:
    """The bars in ticks. Raises SpecError where what is wrong leaves no bars to lay out."""
    passes = resolve(spec.form, problems)
    meters = lay_meters(spec.meter, passes, problems) if not problems else ()
    if meters and spec.pickup > meters[0].length:
        text = f"the pick-up of {spec.pickup} is longer than a bar of {meters[0].text}."
        problems.append(Problem(("pickup",), text, "Make it shorter, or make it a section of its own."))
    grid = common_grid(_lengths(spec, figures, meters), problems)
    if problems:
        raise SpecError(dict.fromkeys(problems))
    shapes = {id(meter): meter_beats(meter, grid) for meter in different(meters)}
    beats = [shapes[id(meter)] for meter in meters]
    pickup = int(spec.pickup * grid)
    bars = lay_bars(passes, meters, beats, pickup)
    pulse = int(spec.pulse * grid) if spec.pulse else None
    places = Places(bars, [*beats[:1], *beats] if pickup else beats, pulse, str(spec.pulse))
    return Layout(passes, bars, grid, places)


def _lengths(spec: Spec, figures: Mapping[str, Figure], meters: Iterable[Meter]) -> Iterator[Fraction]:
    """Every length whose multiples are places of the piece."""
    yield spec.pickup
    if spec.pulse:
        yield spec.pulse
    yield from (figure.pulse for figure in figures.values())
    for meter in different(meters):
        yield meter.length
        yield from meter.beats
    for section in spec.form:
        for plays in (section.plays or {}).values():
            yield from (item.pulse for item in plays.items or () if item.pulse)


def _walk(
    layout: Layout, compiler: StatementCompiler, problems: list[Problem]
) -> dict[str, tuple[VoiceSpan, ...]]:
    """What each voice plays, from the form's first bar to its last."""
    voices = dict.fromkeys(voice for each in layout.passes for voice in each.spec.plays or ())
    found: list[Problem] = []
    changes = {
        voice: [_change(index, voice, layout, compiler, found) for index in range(len(layout.passes))]
        for voice in voices
    }
    problems += found
    if found:
        return dict.fromkeys(voices, ())
    budget = Budget()
    spans = {voice: walk_voice(own, layout.end, budget, problems) for voice, own in changes.items()}
    if budget.spent:
        text = "the piece plays more than three million repetitions."
        problems.append(Problem(("figures",), text, "Write longer pulses, or fewer bars."))
    return spans


def _change(
    index: int, voice: str, layout: Layout, compiler: StatementCompiler, problems: list[Problem]
) -> PlaysChange:
    """What a pass says to a voice."""
    one = layout.passes[index]
    plays = (one.spec.plays or {}).get(voice)
    line = layout.pass_start(one)
    path: KeyPath = plays.path if plays else one.path
    if plays is None or plays.items is None:
        return PlaysChange(index, line, None, line, False, plays is not None, one.name, path)
    rows = compiler.compile(plays.items, problems)
    start, at = one.start(voice), line
    if isinstance(start, Position):
        found = layout.start_place(one, voice, start)
        if isinstance(found, Problem):
            problems.append(found)
        else:
            at = found.at
    return PlaysChange(index, line, rows, at, start == "after", False, one.name, path)
