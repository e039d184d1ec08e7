"""A spec thought through: bars laid out, lanes as rows, what each voice plays, the clock, all faults."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from renderer.core.errors import KeyPath, Problem, SpecError
from renderer.core.names import nearest_mend
from renderer.spec.meter import Meter
from renderer.spec.model import Point, Position, Spec
from renderer.timeline.clock import Clock, Instant, TempoMark, build_clock
from renderer.timeline.lane_layout import NO_VOICE, Layout, taken_over, voice_names
from renderer.timeline.lanes import Places, position_text
from renderer.timeline.model import Figure, Harmony, Side
from renderer.timeline.passes import Pass, common_grid, different, lay_measures, lay_meters, lay_passes
from renderer.timeline.plays import (
    Budget,
    PlaysChange,
    PlaysRun,
    StatementCompiler,
    VoiceSpan,
    decimal_text,
    walk_voice,
)

RESERVED = ("figure", *NO_VOICE)
"""Words for a part's side that no voice can be called."""

LONGEST_SECONDS = 86_400
"""A day of music."""


@dataclass(frozen=True)
class Plan:
    """Everything that the timeline's rows are made from. `voice_spans` has what each voice plays, in order."""

    layout: Layout
    figures: Mapping[str, Figure]
    voice_spans: Mapping[str, tuple[VoiceSpan, ...]]
    harmony: tuple[Harmony, ...]
    sides: tuple[Side, ...]
    tempo: tuple[TempoMark, ...]
    clock: Clock


def plan_spec(spec: Spec) -> Plan:
    """Think a spec through. Raises SpecError with all faults that the music has."""
    problems: list[Problem] = []
    figures = _figures(spec, problems)
    layout = _layout(spec, figures, problems)
    voices = voice_names(layout.passes)
    repertoire = StatementCompiler(figures, layout.grid, spec.pulse)
    walks = _walks(voices, layout, repertoire)
    harmony, sides, tempo = layout.harmony(), layout.sides(voices), layout.tempo()
    fermatas = layout.instants("fermata", spec.fermata, lambda text: text.fermata)
    sync = layout.instants("sync", spec.sync, lambda text: text.sync)
    _check_rising(sync, problems)
    if problems:
        raise SpecError(dict.fromkeys(problems))
    clock = build_clock(
        layout.grid, tempo, [instant for instant, _ in fermatas], [instant for instant, _ in sync]
    )
    _check_length(clock, layout.end)
    return Plan(layout, figures, walks, harmony, sides, tempo, clock)


def _check_rising(sync: list[tuple[Instant, Point]], problems: list[Problem]) -> None:
    """A later place of the piece is a later place of the recording."""
    for (before, _), (after, point) in pairwise(sync):
        if after.seconds <= before.seconds:
            text = f"{position_text(point.position)} comes later in the piece, but not in the recording."
            mend = f"Write more than {decimal_text(before.seconds)} seconds."
            problems.append(Problem(point.path, text, mend))


def _check_length(clock: Clock, end: int) -> None:
    seconds = clock.seconds(end)
    if seconds > LONGEST_SECONDS:
        text = f"the piece lasts {float(seconds / 3600):,.0f} hours; it may last a day."
        raise SpecError([Problem(("tempo",), text, "Write a faster tempo or fewer bars.")])


def _figures(spec: Spec, problems: list[Problem]) -> dict[str, Figure]:
    names = [figure.name for figure in spec.figures]
    figures = {}
    for text in spec.figures:
        pulse = text.pulse or spec.pulse
        if pulse is None:
            mend = "Write one at the top, such as pulse: 1/16."
            problems.append(Problem(text.path, f"{text.name} has no pulse.", mend))
            continue
        if text.origin is not None and text.origin not in names:
            mend = nearest_mend(text.origin, [name for name in names if name != text.name])
            problems.append(Problem((*text.path, "from"), f"there is no figure {text.origin}.", mend))
        figures[text.name] = Figure(text.name, pulse, text.groups, text.hits, text.accents, text.origin)
    return figures


def _layout(spec: Spec, figures: Mapping[str, Figure], problems: list[Problem]) -> Layout:
    """The bars in ticks. Raises SpecError where a fault leaves no bars to lay out."""
    passes = lay_passes(spec, problems)
    if not passes and not problems:
        mend = "Write - section: and a name, and its bars."
        problems.append(Problem(("form",), "the form has no sections.", mend))
    meters = lay_meters(spec, passes, problems) if passes else ()
    if not meters:
        raise SpecError(dict.fromkeys(problems))
    if spec.pickup > meters[0].length:
        text = f"the pick-up of {spec.pickup} is longer than a bar of {meters[0].text}."
        problems.append(Problem(("pickup",), text, "Make it shorter, or make it a section of its own."))
    grid = common_grid(_lengths(spec, figures, passes, meters), problems)
    if problems:
        raise SpecError(dict.fromkeys(problems))
    pickup = int(spec.pickup * grid)
    measures = lay_measures(meters, grid, pickup)
    pulse = int(spec.pulse * grid) if spec.pulse else None
    places = Places(measures, 0 if pickup else 1, pulse, str(spec.pulse))
    return Layout(spec, passes, measures, grid, places, problems)


def _lengths(
    spec: Spec, figures: Mapping[str, Figure], passes: Iterable[Pass], meters: Iterable[Meter]
) -> Iterator[Fraction]:
    """Every length whose multiples are places of the piece."""
    yield spec.pickup
    if spec.pulse:
        yield spec.pulse
    yield from (figure.pulse for figure in figures.values())
    for meter in different(meters):
        yield meter.length
        yield from meter.beats
    for section in passes:
        for plays in (section.text.plays or {}).values():
            yield from (item.pulse for item in plays.items or () if item.pulse)


def _walks(
    voices: Iterable[str], layout: Layout, repertoire: StatementCompiler
) -> dict[str, tuple[VoiceSpan, ...]]:
    """What each voice plays. A wrong list is told once, however often its section comes."""
    for section in layout.passes:
        _check_voices(section, layout.problems)
    problems: list[Problem] = []
    takeovers = {voice: _takeovers(voice, layout, repertoire, problems) for voice in voices}
    layout.problems.extend(problems)
    if problems:
        return {}
    budget = Budget()
    walks = {voice: walk_voice(own, layout.end, budget, layout.problems) for voice, own in takeovers.items()}
    if budget.spent:
        text = "the piece plays more than three million repetitions."
        layout.problems.append(Problem(("figures",), text, "Write longer pulses, or fewer bars."))
    return walks


def _check_voices(section: Pass, problems: list[Problem]) -> None:
    """Names that a voice can't have, and `starts` that says nothing about any list."""
    text = section.text
    plays = text.plays or {}
    for voice in plays:
        if voice in RESERVED:
            mend = "Give the voice a name of its own."
            problems.append(Problem(plays[voice].path, f"{voice} is a side, not a voice's name.", mend))
    if text.starts is None or "starts" in section.inherited:
        return
    path = (*text.path, "starts")
    if isinstance(text.starts, Mapping):
        for voice in text.starts:
            if voice not in plays:
                wrong = f"{section.name} has no voice {voice}."
                problems.append(Problem((*path, voice), wrong, nearest_mend(voice, plays), on_key=True))
    elif all(each.items is None for each in plays.values()):
        wrong = f"starts says when a list takes over, but {section.name} gives none."
        problems.append(Problem(path, wrong, "Leave starts out, or write under plays what is to start."))


def _takeovers(
    voice: str, layout: Layout, repertoire: StatementCompiler, problems: list[Problem]
) -> list[PlaysChange]:
    """What each pass says to a voice."""
    takeovers = []
    lists: dict[int, tuple[PlaysRun, ...]] = {}
    """Passes of one section share their list's statements."""
    for section in layout.passes:
        text = section.text
        plays = (text.plays or {}).get(voice)
        line = layout.pass_start(section)
        path: KeyPath = plays.path if plays else section.path
        if plays is None or plays.items is None:
            on = plays is not None
            takeovers.append(PlaysChange(line, None, line, False, on, section.name, path))
            continue
        if not plays.items:
            mend = "Write a figure, or leave plays out for silence."
            problems.append(Problem(plays.path, "this list is empty.", mend))
        if id(plays) not in lists:
            lists[id(plays)] = repertoire.chunks(plays.items, problems)
        chunks = lists[id(plays)]
        start = section.start(voice)
        at = line
        if isinstance(start, Position):
            found = layout.places.find(start, section.scope, _starts_path(layout.spec, section, voice))
            if isinstance(found, Problem):
                problems.append(taken_over(replace(found, on_key=False), section, "starts"))
            else:
                at = found.at
        takeovers.append(PlaysChange(line, chunks, at, start == "after", False, section.name, path))
    return takeovers


def _starts_path(spec: Spec, section: Pass, voice: str) -> KeyPath:
    root = spec.form[section.root]
    owner = root if "starts" in section.inherited and root.starts is not None else section.text
    path: KeyPath = (*owner.path, "starts")
    return (*path, voice) if isinstance(section.text.starts, Mapping) else path
