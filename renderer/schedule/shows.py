"""Every show as one record: what a spec may say of it, what it needs, and what makes its schedule, pictures and notes.

All else reads it from here: the schema, the lesson, what draws and what sounds. Pictures and notes are named as text,
because `check` reads the records and must not load what draws.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from importlib import import_module
from typing import Any, Literal

from renderer.core.errors import Problem
from renderer.schedule.card import CardSchedule, schedule_card
from renderer.schedule.compare import CompareSchedule, schedule_compare
from renderer.schedule.crossings import CrossingsSchedule, check_crossings, schedule_crossings
from renderer.schedule.figure import FigureSchedule, schedule_figure
from renderer.schedule.fit import FitSchedule, schedule_fit
from renderer.schedule.form import FormSchedule, schedule_form
from renderer.schedule.model import Schedule
from renderer.schedule.parts import PartsSchedule, schedule_parts
from renderer.schedule.play import PlaySchedule, schedule_play
from renderer.schedule.say import SaidSchedule
from renderer.schedule.spread import SpreadSchedule, schedule_spread
from renderer.schedule.staffs import check_staff
from renderer.schedule.wheel import WheelSchedule, schedule_wheel
from renderer.spec.model import SegmentSpec
from renderer.spec.sound import ClickSpec
from renderer.timeline.model import Timeline

Need = Literal["figures", "parts", "variants"]
"""What a piece must have for a show: a figure, a part, a figure that comes from another."""


def _no_problems(timeline: Timeline, options: SegmentSpec) -> Iterable[Problem]:
    return ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Show:
    """One show. `segment` and `notes` are `module:name`."""

    name: str
    options: tuple[str, ...]
    """The keys that a spec may give beside `show` and `say`."""
    schedule: Callable[[Timeline, SegmentSpec, ClickSpec | None], Schedule]
    """From the timeline at the segment's speed."""
    kind: type[Schedule]
    """What `schedule` makes."""
    segment: str
    """The class that draws it: called with the schedule and a look."""
    notes: str | None = None
    """What the voices play in it: called with the schedule. None: nothing."""
    leaves_out: tuple[str, ...] = ()
    """What `without` may name."""
    needs: Need | None = None
    problems: Callable[[Timeline, SegmentSpec], Iterable[Problem]] = _no_problems
    """What its options ask for and the music does not have."""


_ALL = (
    Show(
        name="card",
        options=("title", "line", "list", "figure"),
        schedule=schedule_card,
        kind=CardSchedule,
        segment="scenes.card.card:CardSegment",
    ),
    Show(
        name="form",
        options=("sections", "speed"),
        schedule=schedule_form,
        kind=FormSchedule,
        segment="scenes.form.form:FormSegment",
    ),
    Show(
        name="figure",
        options=("figure", "staff", "speed"),
        schedule=schedule_figure,
        kind=FigureSchedule,
        segment="scenes.figure.figure:FigureSegment",
        notes="renderer.mix.notes:figure_notes",
        needs="figures",
        problems=check_staff,
    ),
    Show(
        name="compare",
        options=("figure", "speed"),
        schedule=schedule_compare,
        kind=CompareSchedule,
        segment="scenes.compare.compare:CompareSegment",
        needs="variants",
    ),
    Show(
        name="spread",
        options=("sections", "voice", "without", "speed"),
        leaves_out=("accents", "crossings", "harmony", "landings", "numbers", "offsets"),
        schedule=schedule_spread,
        kind=SpreadSchedule,
        segment="scenes.spread.spread:SpreadSegment",
        notes="renderer.mix.notes:spread_notes",
    ),
    Show(
        name="crossings",
        options=("crossing", "sections", "bars", "voice", "speed"),
        schedule=schedule_crossings,
        kind=CrossingsSchedule,
        segment="scenes.crossings.crossings:CrossingsSegment",
        notes="renderer.mix.notes:crossing_notes",
        problems=check_crossings,
    ),
    Show(
        name="parts",
        options=("sections", "parts", "speed"),
        schedule=schedule_parts,
        kind=PartsSchedule,
        segment="scenes.parts.parts:PartsSegment",
        needs="parts",
    ),
    Show(
        name="fit",
        options=("section", "voice", "speed"),
        schedule=schedule_fit,
        kind=FitSchedule,
        segment="scenes.fit.fit:FitSegment",
    ),
    Show(
        name="wheel",
        options=("figure", "sections", "bars", "voice", "speed"),
        schedule=schedule_wheel,
        kind=WheelSchedule,
        segment="scenes.wheel.wheel:WheelSegment",
        needs="figures",
    ),
    Show(
        name="play",
        options=("sections", "bars", "times", "without", "speed"),
        leaves_out=("accents", "crossings", "harmony", "landings", "numbers", "parts"),
        schedule=schedule_play,
        kind=PlaySchedule,
        segment="scenes.play.play:PlaySegment",
        notes="renderer.mix.notes:play_notes",
    ),
)
SHOWS: Mapping[str, Show] = {show.name: show for show in _ALL}
"""By name, in the order in which they are listed."""


def show_of(schedule: Schedule) -> Show:
    """The show that a schedule is of, whatever is said over it. Raises KeyError."""
    inner = schedule.inner if isinstance(schedule, SaidSchedule) else schedule
    return {show.kind: show for show in _ALL}[type(inner)]


def load_named(name: str) -> Any:
    """What a `module:name` names."""
    module, _, attribute = name.partition(":")
    return getattr(import_module(module), attribute)
