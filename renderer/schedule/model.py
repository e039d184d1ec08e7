"""What a segment does when: its steps and clicks in seconds from its own start, exact.

Made from the timeline alone, before any picture is drawn or sound mixed; both follow it, so they can't part.
A segment that counts in does so in whole bars of its first bar's meter and tempo.
"""

from dataclasses import dataclass, field
from fractions import Fraction
from typing import ClassVar, NamedTuple

from renderer.spec.click import Click
from renderer.spec.model import Numbers
from renderer.spec.sound import ClickSpec, SoundSpec
from renderer.timeline.model import Timeline

SLOWEST_COUNT = Fraction(1, 5)
"""Seconds that a pulse lasts at least where it is counted aloud."""
HOLD = Fraction(3)
"""Seconds that a finished explanation stands at least."""


class Step(NamedTuple):
    """A named moment of a segment."""

    name: str
    seconds: Fraction


class Span(NamedTuple):
    """A stretch of the piece that sounds without a break: ticks, and when it starts in the segment."""

    start: int
    end: int
    seconds: Fraction
    ahead: int | None = None
    """Where the bar before it begins, in ticks, where that is seen too, unlit."""

    @property
    def seen(self) -> int:
        """Where what is seen of it begins."""
        return self.start if self.ahead is None else self.ahead


class Caption(NamedTuple):
    """Words that are said from `start` to `end`, in seconds."""

    start: Fraction
    end: Fraction
    text: str


class Spoken(NamedTuple):
    """A voice file that sounds from `seconds` on, `length` seconds long."""

    seconds: Fraction
    length: Fraction
    name: str


@dataclass(frozen=True)
class Schedule:
    """A segment's length, clicks and steps, all in seconds from its start."""

    sets_out: ClassVar[Fraction] = Fraction(1)
    """Seconds before a step by which nothing of it is on its way yet."""
    timeline: Timeline
    """The music at the speed at which the segment runs: what its pictures and its sound are made from."""
    seconds: Fraction
    clicks: tuple[Click, ...]
    steps: tuple[Step, ...]
    captions: tuple[Caption, ...] = field(default=(), kw_only=True)
    spoken: tuple[Spoken, ...] = field(default=(), kw_only=True)
    click: ClickSpec | None = field(default=None, kw_only=True, repr=False)
    """How the click sounds. No picture follows from it, so it is no part of what a film is kept by: its repr."""
    sound: SoundSpec | None = field(default=None, kw_only=True, repr=False)
    """How all else sounds; None: as nothing is said of it. As above."""
    without: tuple[str, ...] = field(default=(), kw_only=True)
    """What the picture leaves out."""
    numbers: Numbers = field(default="figure", kw_only=True)
    """What repetitions are numbered by."""

    def seconds_at(self, at: int) -> Fraction | None:
        """When the segment shows tick `at` of the piece; None if it does not run along the piece, or not there."""
        return None

    def finding(self) -> str:
        """What the segment comes to, in a sentence or a few words; empty if no more is to be said than its show."""
        return ""
