"""A lesson: a spec with its timeline, and the schedule of each segment that it asks for."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from pathlib import Path
from typing import NamedTuple

from renderer.core.errors import BarcrossError, Problem, SpecError
from renderer.core.names import nearest
from renderer.lesson.sound_files import check_sound_files
from renderer.reading.coverage import check_labels
from renderer.reading.load import load
from renderer.schedule.card import schedule_card
from renderer.schedule.compare import schedule_compare
from renderer.schedule.crossings import choose_crossings, schedule_crossings
from renderer.schedule.figure import schedule_figure
from renderer.schedule.fit import schedule_fit
from renderer.schedule.form import schedule_form
from renderer.schedule.model import Schedule
from renderer.schedule.parts import schedule_parts
from renderer.schedule.play import schedule_play
from renderer.schedule.say import say
from renderer.schedule.spread import schedule_spread
from renderer.schedule.staffs import check_staffs
from renderer.schedule.wheel import schedule_wheel
from renderer.spec.model import SegmentSpec, Spec
from renderer.spec.sound import ClickSpec
from renderer.timeline.build import build_timeline
from renderer.timeline.model import Timeline

NO_SEGMENTS = "The spec asks for no segments. Write, for example, segments: [figure, spread, play]."


class Planned(NamedTuple):
    """A segment of the spec: its number, from 1, what it shows, and when."""

    number: int
    show: str
    schedule: Schedule

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
        raise BarcrossError(f"No segment {name!r} in this spec. {mend}There are: {known}.")

    def schedule_show(self, show: str) -> Schedule:
        """The schedule of the spec's first segment of that show, or of one without options."""
        texts = [text for text in self.spec.segments if text.show == show]
        return self._schedule(texts[0] if texts else SegmentSpec(show, ()))

    def _schedule(self, text: SegmentSpec) -> Schedule:
        schedule = self._at_speed(text, self.timeline.slowed(text.speed))
        return say(replace(schedule, without=text.without), text.say, self.files)

    def _at_speed(self, text: SegmentSpec, timeline: Timeline) -> Schedule:
        click = self.click
        voice = text.voice or next(iter(timeline.voices), "")
        if text.show == "figure":
            figure = timeline.figure(text.figure) if text.figure else timeline.figures[0]
            return schedule_figure(timeline, figure, click, text.staff)
        if text.show == "spread":
            return schedule_spread(timeline, voice, text.sections, click)
        if text.show == "form":
            return schedule_form(timeline, text.sections, click)
        if text.show == "compare":
            variants = [figure for figure in timeline.figures if figure.origin]
            variant = timeline.figure(text.figure) if text.figure else variants[0]
            return schedule_compare(timeline, variant, click)
        if text.show == "parts":
            return schedule_parts(timeline, text.sections, text.parts, click)
        if text.show == "crossings":
            return schedule_crossings(timeline, voice, text.sections, text.crossings, click)
        if text.show == "fit":
            return schedule_fit(timeline, voice, text.section, click)
        named = timeline.figure(text.figure) if text.figure else None
        if text.show == "card":
            return schedule_card(timeline, text.title, text.line, text.entries, named)
        if text.show == "wheel":
            return schedule_wheel(timeline, named, text.sections, text.voice, click)
        if text.show == "play":
            return schedule_play(timeline, text.sections, click)
        raise ValueError(f"no schedule is made for {text.show}")


def open_lesson(path: Path, trust: bool = False) -> Lesson:
    """Read a spec and lay its music out. Raises FileError, or SpecError with all faults and their places.

    With `trust` the spec may name sound files outside its folder.
    """
    loaded = load(path)
    with loaded.placing():
        timeline = build_timeline(loaded.spec)
        check_choices(loaded.spec, timeline)
        if not trust:
            check_sound_files(loaded.spec, path.parent)
        lesson = Lesson(loaded.spec, timeline, path.parent, measure_narration(loaded.spec, path.parent), path)
        if any(text.say for text in loaded.spec.segments):
            lesson.segments()  # a line may belong to no step
        return lesson


def measure_narration(spec: Spec, folder: Path) -> Mapping[str, Fraction]:
    """The seconds of each voice file that a spec names. Raises SpecError with all that can't be heard."""
    if not any(line.file for segment in spec.segments for line in segment.say):
        return {}
    from renderer.audio.audio_file import narration_lengths  # what decodes them takes its time to load

    return narration_lengths(spec, folder)


def check_choices(spec: Spec, timeline: Timeline) -> None:
    """Whether what segments choose is there and every label can be drawn. Raises SpecError with all that is not."""
    problems = [*check_labels(spec), *check_staffs(spec, timeline)]
    for text in spec.segments:
        voice = text.voice or next(iter(timeline.voices), "")
        count = len(choose_crossings(timeline, voice, text.sections)) if text.crossings else 0
        for index, number in enumerate(text.crossings or ()):
            if number > count:
                wrong = f"there is no crossing {number}."
                mend = (
                    f"Write 1 to {count}." if count else "No harmony change falls inside a repetition there."
                )
                problems.append(Problem((*text.path, "crossing", index), wrong, mend))
    if problems:
        raise SpecError(problems)
