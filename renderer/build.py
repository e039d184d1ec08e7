"""From a spec to its timeline: the whole piece laid out, exact. Pure: no file, no picture."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import NamedTuple

from renderer.errors import KeyPath, Problem, SpecError
from renderer.form import Pass, common_grid, lay_measures, lay_meters, lay_passes
from renderer.lanes import Measure, Places
from renderer.layout import Layout, voice_names
from renderer.meter import Meter
from renderer.names import nearest_name
from renderer.readings import read_crossings, read_hits, read_landings, read_realignments
from renderer.spec import Position, Spec, Start
from renderer.tempo import Clock, TempoMark, build_clock
from renderer.timeline import Bar, Beat, Figure, Harmony, Repetition, Section, Side, Timeline
from renderer.voices import Played, Repertoire, Takeover, walk_voice


class Rows(NamedTuple):
    """The lanes' rows."""

    harmony: tuple[Harmony, ...]
    sides: tuple[Side, ...]
    tempo: tuple[TempoMark, ...]


def build_timeline(spec: Spec) -> Timeline:
    """The timeline of a spec. Raises SpecError with all faults that the music has."""
    problems: list[Problem] = []
    figures = _figures(spec, problems)
    layout = _layout(spec, figures, problems)
    voices = voice_names(layout.passes)
    repertoire = Repertoire(figures, layout.grid, spec.pulse)
    takeovers = {voice: _takeovers(voice, layout, repertoire) for voice in voices}
    walks = {voice: walk_voice(takeovers[voice], layout.end, problems) for voice in voices}
    rows = Rows(layout.harmony(), layout.sides(voices), layout.tempo())
    fermatas = layout.instants("fermata", spec.fermata, lambda text: text.fermata)
    sync = layout.instants("sync", spec.sync, lambda text: text.sync)
    if problems:
        raise SpecError(problems)
    clock = build_clock(layout.grid, rows.tempo, fermatas, sync)
    return _timeline(layout, figures, walks, clock, rows)


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
            mend = nearest_name(text.origin, [name for name in names if name != text.name]) or ""
            problems.append(Problem((*text.path, "from"), f"There is no figure {text.origin}.", mend))
        figures[text.name] = Figure(text.name, pulse, text.groups, text.hits, text.accents, text.origin)
    return figures


def _layout(spec: Spec, figures: Mapping[str, Figure], problems: list[Problem]) -> Layout:
    """The bars in ticks. Raises SpecError where a fault leaves no bars to lay out."""
    passes = lay_passes(spec, problems)
    if not passes and not problems:
        mend = "Write - section: and a name, and its bars."
        problems.append(Problem(("form",), "The form has no sections.", mend))
    meters = lay_meters(spec, passes, problems) if passes else ()
    if not meters:
        raise SpecError(problems)
    if spec.pickup > meters[0].length:
        text = f"The pick-up of {spec.pickup} is longer than a bar of {meters[0].text}."
        problems.append(Problem(("pickup",), text, "Make it shorter, or make it a section of its own."))
    grid = common_grid(_lengths(spec, figures, passes, meters), problems)
    if problems:
        raise SpecError(problems)
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
    for meter in set(meters):
        yield meter.length
        yield from meter.beats
    for section in passes:
        for plays in (section.text.plays or {}).values():
            yield from (item.pulse for item in plays.items or () if item.pulse)


def _takeovers(voice: str, layout: Layout, repertoire: Repertoire) -> list[Takeover]:
    """What each pass says to a voice."""
    takeovers = []
    for section in layout.passes:
        text = section.text
        plays = (text.plays or {}).get(voice)
        line = layout.pass_start(section)
        path: KeyPath = plays.path if plays else section.path
        if plays is None or plays.items is None:
            on = plays is not None
            takeovers.append(Takeover(line, None, line, False, on, section.name, path))
            continue
        chunks = repertoire.chunks(plays.items, layout.problems)
        start = _start(text.starts, voice)
        at = line
        if isinstance(start, Position):
            found = layout.places.find(start, section.scope, _starts_path(section, voice))
            if isinstance(found, Problem):
                layout.problems.append(replace(found, on_key=False))
            else:
                at = found.at
        takeovers.append(Takeover(line, chunks, at, start == "after", False, section.name, path))
    return takeovers


def _start(starts: Start | Mapping[str, Start] | None, voice: str) -> Start:
    if isinstance(starts, Mapping):
        return starts.get(voice, "downbeat")
    return starts or "downbeat"


def _starts_path(section: Pass, voice: str) -> KeyPath:
    path: KeyPath = (*section.text.path, "starts")
    return (*path, voice) if isinstance(section.text.starts, Mapping) else path


def _timeline(
    layout: Layout,
    figures: Mapping[str, Figure],
    walks: Mapping[str, tuple[Played, ...]],
    clock: Clock,
    rows: Rows,
) -> Timeline:
    """The rows of all voices and the readings that follow from them."""
    bars = tuple(_bars(layout))
    downbeats = {measure.full_at: bar.number for measure, bar in zip(layout.measures, bars, strict=True)}
    if layout.measures[0].full_at < layout.measures[0].at:
        del downbeats[layout.measures[0].full_at]
    downbeats[layout.end] = bars[-1].number + 1
    firsts = frozenset(layout.pass_start(section) for section in layout.passes)
    repetitions: list[Repetition] = []
    hits, crossings, landings, realignments = [], [], [], []
    for voice, played in walks.items():
        own = _repetitions(voice, played, bars, layout.measures)
        repetitions += own
        hits += read_hits(own)
        crossings += read_crossings(own, rows.harmony)
        landings += read_landings(own, downbeats)
        realignments += read_realignments(played, own, downbeats, firsts)
    return Timeline(
        title=layout.spec.title,
        grid=layout.grid,
        start=layout.measures[0].at,
        end=layout.end,
        sections=tuple(_sections(layout)),
        bars=bars,
        beats=tuple(_beats(layout)),
        figures=tuple(figures.values()),
        voices=tuple(walks),
        repetitions=tuple(repetitions),
        hits=tuple(hits),
        crossings=tuple(crossings),
        landings=tuple(landings),
        realignments=tuple(realignments),
        harmony=rows.harmony,
        sides=rows.sides,
        tempo=rows.tempo,
        clock=clock,
        pulse=layout.places.pulse,
    )


def _sections(layout: Layout) -> Iterator[Section]:
    for each in layout.passes:
        yield Section(
            each.name, each.number, each.bar, each.bars, layout.pass_start(each), layout.pass_end(each)
        )


def _bars(layout: Layout) -> Iterator[Bar]:
    """Bars by number; the pick-up is one of the first section's."""
    number = layout.places.first
    measures = iter(layout.measures)
    if number == 0:
        measure = next(measures)
        yield Bar(0, 0, measure.meter, measure.at, 0)
    for index, section in enumerate(layout.passes):
        for number, measure in zip(range(section.bar, section.bar + section.bars), measures, strict=False):
            yield Bar(number, index, measure.meter, measure.at, measure.at + measure.beats[-1])


def _beats(layout: Layout) -> Iterator[Beat]:
    """Beats that begin in the piece: a pick-up's first, unfinished one is none."""
    for bar, measure in enumerate(layout.measures, start=layout.places.first):
        full_at, at, _, starts = measure
        for number in range(1, len(starts)):
            start = full_at + starts[number - 1]
            if start >= at:
                yield Beat(bar, number, start, full_at + starts[number])


def _repetitions(
    voice: str, played: Iterable[Played], bars: Sequence[Bar], measures: Sequence[Measure]
) -> list[Repetition]:
    """A voice's statements as numbered rows, each with its bar and offset."""
    rows: list[Repetition] = []
    make = Repetition._make
    index, last = 0, len(bars) - 1
    bar, section, _, _, bar_end = bars[0]
    full_at = measures[0].full_at
    number = 1
    for at, _, statement, _ in played:
        if statement is None:
            continue
        while at >= bar_end and index < last:
            index += 1
            bar, section, _, full_at, bar_end = bars[index]
        rows.append(make((voice, number, section, bar, at - full_at, at, statement)))
        number += 1
    return rows
