"""A score as values: what a file says, whichever kind of file it is, before anything is made of it.

Musical time is counted in ticks, `Score.grid` to a whole note. Tick 0 is bar 1's downbeat; a pick-up lies below it.
Bars are counted as played.
"""

import re
import unicodedata
from bisect import bisect_right
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

from renderer.spec.meter import Meter

SECONDS_TO_A_WHOLE_NOTE = 240
"""At one quarter note a minute."""


class Onset(NamedTuple):
    """A note, or several at once, beginning."""

    at: int
    accented: bool


class Named(NamedTuple):
    """A text at a place: a section's name, a chord."""

    at: int
    name: str


class TempoChange(NamedTuple):
    """Quarter notes a minute from a place on."""

    at: int
    quarters: Fraction


class ScoreBar(NamedTuple):
    """One bar. The pick-up is the first one, below tick 0, as long as it is."""

    at: int
    end: int
    meter: Meter


class ScorePart(NamedTuple):
    """One player's notes, in order; each place once."""

    name: str
    onsets: tuple[Onset, ...]
    marks_accents: bool
    """Whether the file tells accented notes from others; if not, all count as accented."""
    endless_tie: int | None = None
    """The number of the bar in which a tie begins that never ends."""
    louder: tuple[bool, ...] = ()
    """For each onset whether it is of the upper of two clear levels, however few are; empty where there are not two."""


@dataclass(frozen=True)
class Score:
    """A whole piece. All rows in order of place."""

    title: str
    grid: int
    bars: tuple[ScoreBar, ...]
    tempo: tuple[TempoChange, ...]
    """Empty if the file says none."""
    sections: tuple[Named, ...]
    chords: tuple[Named, ...]
    parts: tuple[ScorePart, ...]
    remarks: tuple[str, ...] = ()
    """What the file says and a spec can't, in sentences."""
    carried: str = ""
    """The spec that barcross wrote in the file."""

    @property
    def pickup(self) -> int:
        """Its length in ticks; 0 without one."""
        return -min(0, self.bars[0].at)

    @property
    def end(self) -> int:
        """The tick after the last bar."""
        return self.bars[-1].end

    def bar_number(self, at: int) -> int:
        """The bar that a tick lies in: from 1, 0 for the pick-up; the first or last one beyond the piece."""
        index = max(0, bisect_right(self.bars, at, key=lambda bar: bar.at) - 1)
        return index + (0 if self.pickup else 1)

    def seconds(self, places: Iterable[int | Fraction]) -> list[Fraction]:
        """When ticks, which rise, sound, by the file's own tempo; counted from the first tick there is."""
        found: list[Fraction] = []
        at, passed, index = Fraction(self.bars[0].at), Fraction(0), 0
        for place in places:
            while index + 1 < len(self.tempo) and self.tempo[index + 1].at <= place:
                reached = max(at, Fraction(self.tempo[index + 1].at))
                passed += self._lasts(reached - at, index)
                at, index = reached, index + 1
            passed += self._lasts(place - at, index)
            at = Fraction(place)
            found.append(passed)
        return found

    def _lasts(self, ticks: int | Fraction, index: int) -> Fraction:
        return Fraction(ticks * SECONDS_TO_A_WHOLE_NOTE, self.grid) / self.tempo[index].quarters


def as_label(text: str, most: int) -> str:
    """A file's text as a name: one line, nothing hidden in it, at most so many characters; empty if nothing is left.

    >>> as_label("Lead\\x1b[2J\\n  flute", 40)
    'Lead [2J flute'
    """
    plain = "".join(
        mark if mark.isprintable() else " " for mark in unicodedata.normalize("NFC", text[: 8 * most])
    )
    return unicodedata.normalize("NFC", re.sub(r"\s+", " ", plain).strip()[:most].strip())


def told_apart(names: Iterable[str], most: int) -> list[str]:
    """Names, those that are there already numbered.

    >>> told_apart(["Flute", "Horn", "Flute"], 40)
    ['Flute', 'Horn', 'Flute 2']
    """
    taken: set[str] = set()
    found = []
    for name in names:
        number, apart = 1, name
        while apart in taken:
            number += 1
            apart = f"{name[: most - len(str(number)) - 1]} {number}"
        taken.add(apart)
        found.append(apart)
    return found
