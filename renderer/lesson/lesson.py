"""A lesson: a spec with its timeline, and the schedule of each segment that it asks for."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from renderer.core.collector import collector_at_rest
from renderer.core.errors import BarcrossError, Problem, SpecError
from renderer.core.names import nearest
from renderer.lesson.sound_files import check_sound_files
from renderer.reading.coverage import check_labels
from renderer.reading.load import LoadedSpec, load
from renderer.schedule.shows import SHOWS
from renderer.spec.model import SegmentSpec, Spec
from renderer.spec.sound import ClickSpec, SoundSpec
from renderer.timeline.build import plan_timeline
from renderer.timeline.model import Timeline
from renderer.timeline.plan import Plan, plan_spec

if TYPE_CHECKING:
    from renderer.schedule.model import Schedule

NO_SEGMENTS = "The spec asks for no segments. Write, for example, segments: [figure, spread, play]."


class Planned(NamedTuple):
    """A segment of the spec: its number, from 1, what it shows, and when."""

    number: int
    show: str
    schedule: "Schedule"

    @property
    def name(self) -> str:
        """Its file's name without the ending: `01-figure`."""
        return f"{self.number:02}-{self.show}"


@dataclass(frozen=True)
class Lesson:
    """A spec that has been read, and its timeline."""

    spec: Spec
    timeline: Timeline
    folder: Path = Path()
    """Where files that the spec names are looked for: beside it."""
    files: Mapping[str, Fraction] = field(default_factory=dict)
    """The seconds of each voice file that the spec names."""
    path: Path | None = None
    """The spec's own file."""
    text: str = field(default="", repr=False, compare=False)
    """The spec's text; empty where it was not read from one."""

    @property
    def inputs(self) -> tuple[Path, ...]:
        """The files that it is made from; none of them is written over."""
        names = [*([self.spec.recording] if self.spec.recording else []), *self.files]
        return (*([self.path] if self.path else []), *(self.folder / name for name in names))

    @property
    def click(self) -> ClickSpec | None:
        """The click, also where only a section asks for one."""
        if self.spec.click is None and any(section.click for section in self.timeline.sections):
            return ClickSpec(count_in=0)
        return self.spec.click

    def segments(self) -> tuple[Planned, ...]:
        """The spec's segments in its order, scheduled."""
        return tuple(
            Planned(number, text.show, self._schedule(text))
            for number, text in enumerate(self.spec.segments, start=1)
        )

    def named_segments(self, name: str) -> list[Planned]:
        """The segments of that number or show. Raises BarcrossError, naming those that there are."""
        planned = self.segments()
        found = [segment for segment in planned if name in (str(segment.number), segment.show)]
        if found:
            return found
        if not planned:
            raise BarcrossError(NO_SEGMENTS)
        near = nearest(name, {segment.show for segment in planned})
        mend = f"Write {near}? " if near else ""
        known = ", ".join(f"{segment.number} {segment.show}" for segment in planned)
        raise BarcrossError(f"Unknown segment {name}. {mend}The segments are {known}.")

    def schedule_show(self, show: str) -> "Schedule":
        """The schedule of the spec's first segment of that show, or of one without options."""
        texts = [text for text in self.spec.segments if text.show == show]
        return self._schedule(texts[0] if texts else SegmentSpec(show))

    def _schedule(self, options: SegmentSpec) -> "Schedule":
        from renderer.schedule.say import say

        timeline, click = self.timeline.slowed(options.speed), self.click
        if options.click is not None:
            timeline = replace(timeline, clicks=True)
            click = options.click if isinstance(options.click, ClickSpec) else None
        schedule = SHOWS[options.show].make_schedule(timeline, options, click)
        shown = replace(schedule, without=options.without, numbers=options.numbers)
        sound = self.spec.sound
        if options.sound is not None:
            sound = replace(options.sound, loudness=(sound or SoundSpec()).loudness)
        return replace(say(shown, options.say, self.files), click=click, sound=sound)


def open_lesson(path: Path, trust: bool = False, placed: bool = True) -> Lesson:
    """Read a spec and lay its music out. Raises FileError, or SpecError with all faults and their places.

    With `trust` the spec may name sound files outside its folder; unless `placed`, its recording needs no sync point.
    """
    return lay_out(load(path, placed), path, trust)[0]


def open_planned(path: Path, trust: bool = False) -> tuple[Lesson, Plan]:
    """Like open_lesson, with the plan that the timeline is made from."""
    return lay_out(load(path), path, trust)


def lay_out(loaded: LoadedSpec, path: Path, trust: bool = False) -> tuple[Lesson, Plan]:
    """A lesson and its plan from a spec that has been read, be it not yet in its file `path`. Raises as open_lesson."""
    with loaded.placing():
        with collector_at_rest():
            plan = plan_spec(loaded.spec)
            timeline = plan_timeline(plan)
        check_choices(loaded.spec, timeline)
        if not trust:
            check_sound_files(loaded.spec, path.parent)
        files = measure_narration(loaded.spec, path.parent)
        lesson = Lesson(loaded.spec, timeline, path.parent, files, path, loaded.source.text)
        if any(text.say for text in loaded.spec.segments):
            lesson.segments()  # a line may belong to no step
        return lesson, plan


def measure_narration(spec: Spec, folder: Path) -> Mapping[str, Fraction]:
    """The seconds of each voice file that a spec names. Raises SpecError with all that can't be heard."""
    if not any(line.file for segment in spec.segments for line in segment.say):
        return {}
    from renderer.audio.audio_file import narration_lengths  # what decodes them takes its time to load

    return narration_lengths(spec, folder)


def _missing_bars(timeline: Timeline, options: SegmentSpec) -> Iterator[Problem]:
    if options.bars:
        from renderer.schedule.spans import check_bars

        yield from check_bars(timeline, options)


def check_choices(spec: Spec, timeline: Timeline) -> None:
    """Whether what segments choose is there and every label can be drawn. Raises SpecError with all that is not."""
    problems = [*check_labels(spec)]
    for options in spec.segments:
        missing = [*_missing_bars(timeline, options)]
        problems += missing or SHOWS[options.show].problems(timeline, options)
    if problems:
        raise SpecError(problems)
