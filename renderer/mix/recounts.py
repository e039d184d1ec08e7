"""Every other bar count of a piece, laid out: the spec with other `bars`, or with one chord longer or shorter.

A course is what a recording can be compared with: the piece's beats, each with its length and its chord.
"""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from itertools import pairwise
from typing import NamedTuple

from renderer.core.errors import SpecError
from renderer.spec.model import Spec
from renderer.timeline.bars import lay_beats
from renderer.timeline.passes import Pass
from renderer.timeline.plan import Plan, plan_spec
from renderer.timeline.recount import recounted

MOST_MORE = 4
"""How many bars a section may have more or fewer than counted."""
EACH_BAR = 1.0
"""What each bar costs by which a count differs, in nats."""
IN_A_CHORD = 1.0
"""What it costs that the bars are not laid out from the count, but one chord is longer or shorter."""


class Stretch(NamedTuple):
    """A beat, or what of it has a chord of its own."""

    bar: int
    seconds: float
    """By the spec's tempo."""
    chord: str
    """Empty before the first one."""
    is_beat: bool


Course = Sequence[Stretch]


class Recount(NamedTuple):
    """Another count."""

    sections: tuple[int, ...]
    """The passes that have it, as indices."""
    more: int
    """How many bars each of them has more; below zero, fewer."""
    course: Course
    price: float
    """What it costs to suppose it, in nats."""


def course_of(plan: Plan) -> list[Stretch]:
    """A plan's beats from bar 1 on, parted where the harmony changes."""
    layout = plan.layout
    beats = {beat.at: beat.bar_number for beat in lay_beats(layout.bars, layout.places.beats)}
    changes = {field.at: field.name for field in plan.harmony}
    places = sorted(at for at in beats.keys() | changes.keys() if 0 <= at < layout.end)
    chord = next((field.name for field in reversed(plan.harmony) if field.at <= 0), "")
    bar, course = 1, []
    for at, end in pairwise([*places, layout.end]):
        chord, bar = changes.get(at, chord), beats.get(at, bar)
        seconds = float(plan.clock.seconds(end) - plan.clock.seconds(at))
        course.append(Stretch(bar, seconds, chord, at in beats))
    return course


def recounts(spec: Spec, passes: Sequence[Pass], course: Course) -> list[Recount]:
    """Every other count of a spec of `bars_alone`, with its passes and its course; the likelier ones first."""
    return sorted(_recounts(spec, passes, course), key=lambda each: each.price)


def _recounts(spec: Spec, passes: Sequence[Pass], course: Course) -> Iterator[Recount]:
    alike: dict[int, list[int]] = {}
    for index, one in enumerate(passes):
        alike.setdefault(one.root_index, []).append(index)
    chosen: list[tuple[int, ...]] = [(index,) for index in range(len(passes))]
    chosen += [tuple(indices) for indices in alike.values() if len(indices) > 1]
    bars: dict[int, list[Stretch]] = {}
    for stretch in course:
        bars.setdefault(stretch.bar, []).append(stretch)
    for sections in chosen:
        for more in (each for each in range(-MOST_MORE, MOST_MORE + 1) if each):
            counts = {index: passes[index].bar_count + more for index in sections}
            if min(counts.values()) < 1:
                continue
            price = EACH_BAR * abs(more)
            with suppress(SpecError):  # two entries come to one place, or one to none
                yield Recount(sections, more, course_of(plan_spec(recounted(spec, counts))), price)
            if len(sections) == 1:
                for changed in _in_a_chord(bars, passes[sections[0]], more):
                    yield Recount(sections, more, changed, price + IN_A_CHORD)


def _in_a_chord(bars: Mapping[int, Course], one: Pass, more: int) -> Iterator[Course]:
    """Courses in which one of a pass's chords is so many bars longer or shorter."""
    first, last = one.first_bar_number, one.first_bar_number + one.bar_count - 1
    for bar in range(first, last + 1):
        begun, chord = bars[bar][0].chord, bars[bar][-1].chord
        if more > 0 and begun != chord and (bar == first or bars[bar - 1][-1].chord != begun):
            yield _changed(bars, bar - 1, bar, _with_one_chord(bars[bar], begun) * more)
        if bar < last and all(row.chord == chord for row in bars[bar + 1]):
            continue  # its last whole bar comes later
        gone = range(bar + more + 1, bar + 1)
        if more > 0:
            yield _changed(bars, bar, bar + 1, _with_one_chord(bars[bar], chord) * more)
        elif gone.start >= first and all(row.chord == chord for each in gone for row in bars[each]):
            before = gone.start > first and bars[gone.start - 1][-1].chord == chord
            if before or (bar < last and bars[bar + 1][0].chord == chord):  # something is left of it
                yield _changed(bars, gone.start - 1, bar + 1, [])


def _changed(bars: Mapping[int, Course], until: int, since: int, between: Course) -> Course:
    """The bars up to one, something between, and the bars from another on."""
    return [*_rows(bars, 1, until), *between, *_rows(bars, since, max(bars))]


def _rows(bars: Mapping[int, Course], first: int, last: int) -> Iterator[Stretch]:
    for number in range(first, last + 1):
        yield from bars[number]


def _with_one_chord(bar: Course, chord: str) -> list[Stretch]:
    """A bar's beats, all in one chord."""
    found: list[Stretch] = []
    for row in bar:
        if row.is_beat or not found:
            found.append(row._replace(chord=chord))
        else:
            found[-1] = found[-1]._replace(seconds=found[-1].seconds + row.seconds)
    return found
