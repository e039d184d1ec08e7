"""From a spec to its timeline: the whole piece laid out, exact. Pure: no file, no picture."""

from collections.abc import Iterable, Iterator, Sequence

from renderer.core.collector import collector_at_rest
from renderer.spec.model import Spec
from renderer.timeline.events import read_crossings, read_hits, read_landings, read_realignments
from renderer.timeline.lane_layout import Layout
from renderer.timeline.lanes import Measure
from renderer.timeline.model import Bar, Beat, Repetition, Section, Timeline
from renderer.timeline.plan import Plan, plan_spec
from renderer.timeline.plays import VoiceSpan


def build_timeline(spec: Spec) -> Timeline:
    """The timeline of a spec. Raises SpecError with all faults that the music has."""
    with collector_at_rest():
        return plan_timeline(plan_spec(spec))


def plan_timeline(plan: Plan) -> Timeline:
    """The rows of all voices and the readings that follow from them."""
    layout = plan.layout
    bars = tuple(_bars(layout))
    downbeats = {measure.full_at: bar.number for measure, bar in zip(layout.measures, bars, strict=True)}
    if layout.measures[0].full_at < layout.measures[0].at:
        del downbeats[layout.measures[0].full_at]
    downbeats[layout.end] = bars[-1].number + 1
    firsts = frozenset(layout.pass_start(section) for section in layout.passes)
    repetitions: list[Repetition] = []
    hits, crossings, landings, realignments = [], [], [], []
    for voice, played in plan.voice_spans.items():
        own = _repetitions(voice, played, bars, layout.measures)
        repetitions += own
        hits += read_hits(own)
        crossings += read_crossings(own, plan.harmony)
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
        figures=tuple(plan.figures.values()),
        voices=tuple(plan.voice_spans),
        repetitions=tuple(repetitions),
        hits=tuple(hits),
        crossings=tuple(crossings),
        landings=tuple(landings),
        realignments=tuple(realignments),
        harmony=plan.harmony,
        sides=plan.sides,
        tempo=plan.tempo,
        clock=plan.clock,
        pulse=layout.places.pulse,
    )


def _sections(layout: Layout) -> Iterator[Section]:
    default = layout.spec.click is not None
    for each in layout.passes:
        yield Section(
            each.name,
            each.number,
            each.first_bar_number,
            each.bar_count,
            layout.pass_start(each),
            layout.pass_end(each),
            default if each.text.click is None else each.text.click,
        )


def _bars(layout: Layout) -> Iterator[Bar]:
    """Bars by number; the pick-up is one of the first section's."""
    number = layout.places.first
    measures = iter(layout.measures)
    if number == 0:
        measure = next(measures)
        yield Bar(0, 0, measure.meter, measure.at, 0)
    for index, section in enumerate(layout.passes):
        for number, measure in zip(
            range(section.first_bar_number, section.first_bar_number + section.bar_count),
            measures,
            strict=False,
        ):
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
    voice: str, played: Iterable[VoiceSpan], bars: Sequence[Bar], measures: Sequence[Measure]
) -> list[Repetition]:
    """A voice's statements as numbered rows, each with its bar and offset."""
    rows: list[Repetition] = []
    make = tuple.__new__
    index, last = 0, len(bars) - 1
    bar, section, _, _, bar_end = bars[0]
    full_at = measures[0].full_at
    number = 1
    for at, _, statement, _, _ in played:
        if statement is None:
            continue
        while at >= bar_end and index < last:
            index += 1
            bar, section, _, full_at, bar_end = bars[index]
        rows.append(make(Repetition, (voice, number, section, bar, at - full_at, at, statement)))
        number += 1
    return rows
