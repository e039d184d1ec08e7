"""A spec as values: typed, each with the place where it stands, nothing worked out yet.

The loader makes these from text; the timeline is built from them. Positions are as written (bar -1 is the
last one). Values are checked when they are made (ValueError) and trusted from then on; that a name leads
somewhere, and a position lies inside, is not theirs to know.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, Generic, Literal, NamedTuple, TypeVar

from renderer.core.errors import KeyPath
from renderer.spec.meter import Meter
from renderer.spec.sound import ClickSpec as ClickSpec
from renderer.spec.sound import SoundSpec as SoundSpec
from renderer.spec.words import OwnWords

DEFAULT_THEME = "dark"

T = TypeVar("T")

SIDES = ("figure", "meter", "tacet")
"""What a part can keep besides a voice's name."""
MAIN_VOICE = "main"
"""The voice of a bare `plays`."""


Numbers = Literal["figure", "piece"]
"""What repetitions are numbered by on pictures: each figure's own row, or all that a voice plays in the piece."""


class Position(NamedTuple):
    """`bar`, `bar.beat` or `bar.beat.pulse`, each from 1; bar 0 and below reach back (-1: the last)."""

    bar: int
    beat: int = 1
    pulse: int | None = None


class BarRange(NamedTuple):
    """Bars from one to another, both included; -1 is the last one."""

    first: int
    last: int


@dataclass(frozen=True, slots=True)
class Entry(Generic[T]):
    """What a lane says from a position on: one value, or several that take turns, one a bar."""

    position: Position
    values: tuple[T, ...]
    path: KeyPath

    def __post_init__(self) -> None:
        if not self.values:
            raise ValueError("an entry has at least one value")


@dataclass(frozen=True, slots=True)
class Point:
    """Seconds at a position: a fermata or a sync point."""

    position: Position
    seconds: Fraction
    path: KeyPath

    def __post_init__(self) -> None:
        if self.seconds < 0:
            raise ValueError(f"{self.seconds} seconds: at least 0")


class MarkSpec(NamedTuple):
    """The teacher's own words at a position, or over some bars."""

    where: Position | BarRange
    text: str
    path: KeyPath


class PointSpec(NamedTuple):
    """What a picture points at: a repetition, or a place of the piece."""

    repetition: int | None
    """Its count, or with `by_number` its number in its voice."""
    by_number: bool
    position: Position | None
    text: str
    path: KeyPath = ()


@dataclass(frozen=True, slots=True)
class Tempo:
    """Quarter notes a minute; `moves` for `{to: T}`: reached evenly by the lane's next entry."""

    quarters: Fraction
    moves: bool = False

    def __post_init__(self) -> None:
        if self.quarters <= 0:
            raise ValueError(f"{self.quarters} quarters a minute: more than 0")


@dataclass(frozen=True, slots=True)
class FigureSpec:
    """A figure as written: hits and accents are pulse numbers from 1, short forms filled in."""

    name: str
    groups: tuple[int, ...]
    hits: tuple[int, ...]
    accents: tuple[int, ...]
    pulse: Fraction | None
    """Length of its pulse, in whole notes; None: the piece's."""
    origin: str | None
    """The figure that this one is a variant of."""
    path: KeyPath

    def __post_init__(self) -> None:
        if min(self.groups, default=0) < 1:
            raise ValueError(f"{self.name}: groups {self.groups} of at least 1 pulse")
        pulses = sum(self.groups)
        for what, numbers in (("hits", self.hits), ("accents", self.accents)):
            if list(numbers) != sorted(set(numbers)) or not all(1 <= number <= pulses for number in numbers):
                raise ValueError(f"{self.name}: {what} {numbers} rise from 1 to {pulses}")
        if not set(self.accents) <= set(self.hits):
            raise ValueError(f"{self.name}: accents {self.accents} stand on hits {self.hits}")


@dataclass(frozen=True, slots=True)
class Item:
    """One item of a plays list.

    figure: `figure`, with `times` or without (None). first: the first `count` pulses, or groups, of `figure`.
    tail: `groups`. rest: `count` pulses of silence. `pulse` is what the item itself says, else None.
    """

    kind: Literal["figure", "first", "tail", "rest"]
    path: KeyPath
    figure: str | None = None
    times: Fraction | None = None
    count: int | None = None
    counts_groups: bool = False
    groups: tuple[int, ...] = ()
    pulse: Fraction | None = None

    def __post_init__(self) -> None:
        if (self.figure is not None) is not (self.kind in ("figure", "first")):
            raise ValueError(f"a {self.kind} with the figure {self.figure}")
        if self.kind == "tail" and min(self.groups, default=0) < 1:
            raise ValueError(f"a tail of {self.groups}: groups of at least 1 pulse")
        if self.kind in ("first", "rest") and (self.count or 0) < 1:
            raise ValueError(f"a {self.kind} of {self.count} pulses: at least 1")
        if self.times is not None and self.times <= 0:
            raise ValueError(f"{self.figure} {self.times} times: more than 0")


@dataclass(frozen=True, slots=True)
class Plays:
    """What a voice plays in a section: a list of items, or `on`: what runs goes on (`items` is None)."""

    items: tuple[Item, ...] | None
    path: KeyPath

    def __post_init__(self) -> None:
        if self.items == ():
            raise ValueError("a list has at least one item")


Start = Literal["downbeat", "after"] | Position


@dataclass(frozen=True, slots=True)
class SectionSpec:
    """A form entry as written. None stands for a key that is not given; `again` names what it repeats."""

    path: KeyPath
    name: str | None
    again: str | None
    bar_count: int | None
    repeat: int | None
    meter: tuple[Entry[Meter], ...] | None
    tempo: tuple[Entry[Tempo], ...] | None
    harmony: tuple[Entry[str], ...] | None
    parts: Mapping[str, tuple[Entry[str], ...]] | None
    plays: Mapping[str, Plays] | None
    """By voice; a bare `plays` is the voice `main`."""
    starts: Start | Mapping[str, Start] | None
    fermata: tuple[Point, ...] | None
    sync: tuple[Point, ...] | None
    click: bool | None = None
    """Whether the click sounds in it; None: as the piece's."""
    marks: tuple[MarkSpec, ...] | None = None

    def __post_init__(self) -> None:
        if self.name is None and self.again is None:
            raise ValueError("a form entry has a name, or says what it is again")
        if self.again is None and self.bar_count is None:
            raise ValueError(f"{self.name} has bars")
        if min(1 if count is None else count for count in (self.bar_count, self.repeat)) < 1:
            raise ValueError(f"{self.name}: at least 1 bar, played at least once")


class VoiceFile(NamedTuple):
    """A sound file in which a line is spoken, by its name beside the spec."""

    name: str
    path: KeyPath


class SaySpec(NamedTuple):
    """A line that is said over a segment; `step` names the step it belongs to, None: the next one in order."""

    text: str
    """Empty where it is only heard."""
    step: str | None
    path: KeyPath
    file: VoiceFile | None = None


class SegmentSpec(NamedTuple):
    """One stretch of video that the spec asks for. `sections` are names; None means the whole piece."""

    show: str
    path: KeyPath = ()
    figure: str | None = None
    sections: tuple[str, ...] | None = None
    bars: tuple[BarRange, ...] | None = None
    """In place of sections."""
    times: int = 1
    """So many times round."""
    speed: Fraction = Fraction(1)
    """1 is at tempo, 3/4 a quarter slower."""
    section: str | None = None
    voice: str | None = None
    parts: tuple[str, ...] | None = None
    crossings: tuple[int, ...] | None = None
    """Their numbers, from 1; none for all of them. None: the first of each section."""
    title: str | None = None
    line: str | None = None
    entries: tuple[str, ...] | None = None
    """A card's list."""
    table: bool = False
    """Whether parts are shown as a table that stands still."""
    staff: bool = False
    """Whether a figure's groups stand on a staff too."""
    without: tuple[str, ...] = ()
    """What is left out of the picture."""
    click: ClickSpec | Literal["none"] | None = None
    """Its own, or none at all; None: the piece's."""
    sound: SoundSpec | None = None
    """Its own, but for the loudness; None: the piece's."""
    point: tuple[PointSpec, ...] = ()
    """What the picture turns to, one after another."""
    numbers: Numbers = "figure"
    """What repetitions are numbered by: each figure's own row, or all that the voice plays in the piece."""
    say: tuple[SaySpec, ...] = ()


class ThemeSpec(NamedTuple):
    """A theme that comes with the install, and what a spec changes in it: (name, value)."""

    name: str = DEFAULT_THEME
    changes: tuple[tuple[str, str | float], ...] = ()


UNCHANGED_THEME = ThemeSpec()


@dataclass(frozen=True, slots=True)
class Spec:
    """A whole spec."""

    title: str
    tempo: tuple[Entry[Tempo], ...]
    meter: tuple[Entry[Meter], ...]
    harmony: tuple[Entry[str], ...]
    parts: Mapping[str, tuple[Entry[str], ...]]
    pulse: Fraction | None
    pickup: Fraction
    figures: tuple[FigureSpec, ...]
    form: tuple[SectionSpec, ...]
    fermata: tuple[Point, ...]
    sync: tuple[Point, ...]
    recording: str | None
    click: ClickSpec | None
    segments: tuple[SegmentSpec, ...]
    sound: SoundSpec | None = None
    theme: ThemeSpec = UNCHANGED_THEME
    thumbnail: str | None = None
    """The words beside the figure on the thumbnail; None: the title's, if they are few."""
    marks: tuple[MarkSpec, ...] = ()
    words: OwnWords = ()

    def __post_init__(self) -> None:
        if not self.form:
            raise ValueError("a form has at least one section")
        for key in ("tempo", "meter"):
            if not known_from_bar_1((*getattr(self, key), *(getattr(self.form[0], key) or ()))):
                raise ValueError(f"{key} is given from bar 1 on")
        for figure in self.figures:
            self.pulse_of(figure)

    def pulse_of(self, figure: FigureSpec) -> Fraction:
        """What a figure is counted in, in whole notes. Raises ValueError if neither it nor the piece says."""
        pulse = figure.pulse or self.pulse
        if pulse is None:
            raise ValueError(f"{figure.name} has a pulse, or the piece has one")
        return pulse


def known_from_bar_1(entries: Iterable[Entry[Any]]) -> bool:
    """Whether a lane's entries, the piece's and its first section's, leave nothing before the first one."""
    positions = (entry.position for entry in entries)
    return any(bar == 0 or (bar == 1 and beat == 1 and pulse in (None, 1)) for bar, beat, pulse in positions)
