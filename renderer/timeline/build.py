"""From a spec to its timeline: the whole piece laid out, exact. Pure: no file, no picture."""

from collections.abc import Iterable, Iterator

from renderer.core.collector import collector_at_rest
from renderer.spec.model import Spec
from renderer.timeline.bars import lay_beats
from renderer.timeline.events import read_crossings, read_handovers, read_landings, read_realignments
from renderer.timeline.layout import Layout
from renderer.timeline.model import Repetition, Section, Timeline
from renderer.timeline.plan import Plan, plan_spec
from renderer.timeline.voices import VoiceSpan


def build_timeline(spec: Spec) -> Timeline:
    """The timeline of a spec. Raises SpecError with all that is wrong with the music."""
    with collector_at_rest():
        return plan_timeline(plan_spec(spec))


def plan_timeline(plan: Plan) -> Timeline:
    """The rows of all voices, and what follows from where they stand."""
    layout = plan.layout
    bars, places = layout.bars, layout.places
    downbeats = {bar.at: bar.number for bar in bars if bar.number or layout.is_full(bar)}
    downbeats[layout.end] = bars[-1].number + 1
    lines = [layout.pass_start(each) for each in layout.passes]
    firsts = frozenset(lines)
    repetitions: list[Repetition] = []
    crossings, landings, realignments, handovers = [], [], [], []
    for voice, spans in plan.voice_spans.items():
        own = _repetitions(voice, spans, layout)
        repetitions += own
        crossings += read_crossings(own, plan.harmony)
        landings += read_landings(own, downbeats)
        realignments += read_realignments(spans, own, downbeats, firsts)
        handovers += read_handovers(spans, own, lines)
    return Timeline(
        title=plan.spec.title,
        grid=layout.grid,
        start=bars[0].at,
        end=layout.end,
        sections=tuple(_sections(layout)),
        bars=bars,
        beats=lay_beats(bars, places.beats),
        figures=tuple(plan.figures.values()),
        voices=tuple(plan.voice_spans),
        repetitions=tuple(repetitions),
        crossings=tuple(crossings),
        landings=tuple(landings),
        realignments=tuple(realignments),
        handovers=tuple(handovers),
        harmony=plan.harmony,
        sides=plan.sides,
        tempo=plan.tempo,
        clock=plan.clock,
        pulse=places.pulse,
        marks=plan.marks,
        clicks=plan.spec.click is not None,
        own_words=plan.spec.words,
    )


def _sections(layout: Layout) -> Iterator[Section]:
    for each in layout.passes:
        start, end = layout.pass_start(each), layout.pass_end(each)
        click = each.spec.click
        yield Section(each.name, each.number, each.first_bar_number, each.bar_count, start, end, click)


def _repetitions(voice: str, spans: Iterable[VoiceSpan], layout: Layout) -> list[Repetition]:
    """A voice's statements as numbered rows, each with its bar and offset."""
    rows: list[Repetition] = []
    make = tuple.__new__
    bars, beats = layout.bars, layout.places.beats
    index, last = 0, len(bars) - 1
    bar, section, _, _, bar_end = bars[0]
    full_at = bar_end - beats[0][-1]
    number = 1
    counted: tuple[int, int, str] | None = None
    """Where the last statement of a figure ends, the number of its run, and the figure."""
    count = 0
    for at, end, statement, _, _, run in spans:
        if statement is None:
            continue
        figure = statement.figure
        count = count + 1 if counted == (at, run.number, figure) else 1
        counted = (end, run.number, figure) if figure is not None else None
        while at >= bar_end and index < last:
            index += 1
            bar, section, _, full_at, bar_end = bars[index]
        rows.append(
            make(
                Repetition,
                (voice, number, section, bar, at - full_at, at, statement, count if counted else None),
            )
        )
        number += 1
    return rows
