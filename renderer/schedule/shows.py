"""Every show as one record: what a spec may say of it, what it needs, and what makes its schedule, pictures and notes.

All else reads it from here: the schema, the lesson, what draws and what sounds. What makes something is named as text,
`module:name`, because `check` reads the records and loads only what it needs.
"""

from collections.abc import Iterable, Mapping
from importlib import import_module
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

from renderer.core.errors import Problem
from renderer.spec.model import SegmentSpec
from renderer.spec.sound import ClickSpec

if TYPE_CHECKING:
    from renderer.schedule.model import Schedule
    from renderer.timeline.model import Timeline

Need = Literal["figures", "parts", "variants"]
"""What a piece must have for a show: a figure, a part, a figure that comes from another."""


FRAME = ("title", "counter", "foot")
"""What stands round the music."""


class Show(NamedTuple):
    """One show. `schedule`, `segment`, `notes` and `check` are `module:name`."""

    name: str
    options: tuple[str, ...]
    """The keys that a spec may give beside `show` and `say`."""
    schedule: str
    """What makes its schedule: called with the timeline at the segment's speed, the options, and the click or None. The
    schedule's class stands in the same module."""
    segment: str
    """The class that draws it, or what chooses it: called with the schedule and a look."""
    notes: str | None = None
    """What the voices play in it: called with the schedule. None: nothing."""
    leaves_out: tuple[str, ...] = ()
    """What `without` may name."""
    needs: Need | None = None
    check: str | None = None
    """What finds the options that ask for something the music does not have: called with timeline and options."""
    checks: str | None = None
    """The option that `check` looks at: where it is not given, nothing can be wrong. None: it always looks."""

    def make_schedule(
        self, timeline: "Timeline", options: SegmentSpec, click: ClickSpec | None
    ) -> "Schedule":
        """What a segment does when. `timeline` is at the segment's speed."""
        made: Schedule = load_named(self.schedule)(timeline, options, click)
        return made

    def problems(self, timeline: "Timeline", options: SegmentSpec) -> Iterable[Problem]:
        """What the options ask for and the music does not have."""
        if self.check is None or (self.checks and not getattr(options, self.checks)):
            return ()
        found: Iterable[Problem] = load_named(self.check)(timeline, options)
        return found


_ALL = (
    Show(
        name="card",
        options=("title", "line", "list", "figure"),
        schedule="renderer.schedule.card:schedule_card",
        segment="scenes.card.card:CardSegment",
    ),
    Show(
        name="form",
        options=("sections", "bars", "without", "click", "point", "speed"),
        leaves_out=FRAME,
        schedule="renderer.schedule.form:schedule_form",
        segment="scenes.form.form:FormSegment",
        check="renderer.schedule.points:check_points",
        checks="point",
    ),
    Show(
        name="figure",
        options=("figure", "staff", "without", "click", "sound", "speed"),
        leaves_out=("title", "foot"),
        schedule="renderer.schedule.figure:schedule_figure",
        segment="scenes.figure.figure:FigureSegment",
        notes="renderer.mix.notes:figure_notes",
        needs="figures",
        check="renderer.schedule.staffs:check_staff",
        checks="staff",
    ),
    Show(
        name="compare",
        options=("figure", "without", "speed"),
        leaves_out=("title",),
        schedule="renderer.schedule.compare:schedule_compare",
        segment="scenes.compare.compare:CompareSegment",
        needs="variants",
    ),
    Show(
        name="spread",
        options=("sections", "bars", "voice", "numbers", "without", "click", "sound", "point", "speed"),
        leaves_out=("accents", "crossings", "harmony", "landings", "numbers", "offsets", *FRAME),
        schedule="renderer.schedule.spread:schedule_spread",
        segment="scenes.spread.spread:SpreadSegment",
        notes="renderer.mix.notes:spread_notes",
        check="renderer.schedule.points:check_points",
        checks="point",
    ),
    Show(
        name="crossings",
        options=("crossing", "sections", "bars", "voice", "without", "click", "sound", "speed"),
        leaves_out=("title", "foot"),
        schedule="renderer.schedule.crossings:schedule_crossings",
        segment="scenes.crossings.crossings:CrossingsSegment",
        notes="renderer.mix.notes:crossing_notes",
        check="renderer.schedule.crossings:check_crossings",
    ),
    Show(
        name="parts",
        options=("sections", "bars", "parts", "table", "without", "click", "speed"),
        leaves_out=FRAME,
        schedule="renderer.schedule.parts:schedule_parts",
        segment="scenes.parts.parts:parts_segment",
        needs="parts",
    ),
    Show(
        name="fit",
        options=("section", "voice", "without", "speed"),
        leaves_out=("title", "foot"),
        schedule="renderer.schedule.fit:schedule_fit",
        segment="scenes.fit.fit:FitSegment",
    ),
    Show(
        name="wheel",
        options=("figure", "sections", "bars", "voice", "numbers", "without", "click", "speed"),
        leaves_out=FRAME,
        schedule="renderer.schedule.wheel:schedule_wheel",
        segment="scenes.wheel.wheel:WheelSegment",
        needs="figures",
    ),
    Show(
        name="handover",
        options=("section", "voice", "numbers", "without", "click", "sound", "speed"),
        leaves_out=("title", "counter"),
        schedule="renderer.schedule.handover:schedule_handover",
        segment="scenes.handover.handover:HandoverSegment",
        notes="renderer.mix.notes:handover_notes",
        check="renderer.schedule.handover:check_handover",
    ),
    Show(
        name="play",
        options=("sections", "bars", "times", "numbers", "without", "click", "sound", "point", "speed"),
        leaves_out=("accents", "crossings", "harmony", "landings", "numbers", "parts", *FRAME),
        schedule="renderer.schedule.play:schedule_play",
        segment="scenes.play.play:PlaySegment",
        notes="renderer.mix.notes:play_notes",
        check="renderer.schedule.points:check_points",
        checks="point",
    ),
)
SHOWS: Mapping[str, Show] = {show.name: show for show in _ALL}
"""By name, in the order in which they are listed."""


def show_of(schedule: "Schedule") -> Show:
    """The show that a schedule is of, whatever is said over it. Raises KeyError."""
    from renderer.schedule.say import SaidSchedule

    inner = schedule.inner if isinstance(schedule, SaidSchedule) else schedule
    return {show.schedule.partition(":")[0]: show for show in _ALL}[type(inner).__module__]


def load_named(name: str) -> Any:
    """What a `module:name` names."""
    module, _, attribute = name.partition(":")
    return getattr(import_module(module), attribute)
