"""A score's sections and places as a spec writes them."""

from bisect import bisect_right
from collections.abc import Sequence
from itertools import accumulate, pairwise
from typing import NamedTuple

from renderer.core import limits
from renderer.core.names import listed
from renderer.listening.score import Named, Score, told_apart

WHOLE = "Piece"
"""The one section of a piece that names none."""
BEFORE = "Beginning"
"""What comes before the first name."""


class ScoreSection(NamedTuple):
    """A stretch of the form: ticks, and its bars by index."""

    name: str
    at: int
    end: int
    first_bar_index: int
    bar_count: int


def lay_sections(score: Score) -> tuple[list[ScoreSection], list[str]]:
    """The sections, which begin on bar lines, and what is said about names that do not."""
    lines = {bar.at: index for index, bar in enumerate(score.bars) if bar.at >= 0}
    marks = [mark for mark in score.sections if mark.at in lines][: limits.FORM_ENTRIES - 1]
    if not marks or marks[0].at > 0:
        marks = [Named(0, BEFORE if marks else WHOLE), *marks]
    astray = [mark.name for mark in score.sections if mark.at not in lines and mark.at < score.end]
    names = told_apart([mark.name for mark in marks], limits.LABEL_CHARACTERS)
    places = [*(mark.at for mark in marks), score.end]
    indices = [*(lines[mark.at] for mark in marks), len(score.bars)]
    found = [
        ScoreSection(name, start, end, first, after - first)
        for name, (start, end), (first, after) in zip(names, pairwise(places), pairwise(indices), strict=True)
    ]
    remarks = [f"Left out, because no bar begins there: {listed(astray[:5], 'and')}."] if astray else []
    return found, remarks


class Written(NamedTuple):
    """Places of a score as positions; `pulse` ticks to the piece's pulse."""

    score: Score
    sections: Sequence[ScoreSection]
    pulse: int

    def section_index(self, at: int) -> int:
        """The section that a tick lies in; a pick-up belongs to the first."""
        return max(0, bisect_right(self.sections, at, key=lambda section: section.at) - 1)

    def position(self, at: int, section_index: int) -> str | None:
        """A tick in a section, or in the bar before it; None if no pulse begins there."""
        score = self.score
        bar_index = max(0, bisect_right(score.bars, at, key=lambda bar: bar.at) - 1)
        bar = score.bars[bar_index]
        number = bar_index - self.sections[section_index].first_bar_index + 1
        into = at - bar.end + int(bar.meter.length * score.grid)
        beats = [*accumulate((int(beat * score.grid) for beat in bar.meter.beats), initial=0)]
        beat = min(bisect_right(beats, into), len(beats) - 1)
        pulses, left = divmod(into - beats[beat - 1], self.pulse)
        if left or number < 0:
            return None
        if pulses:
            return f"{number}.{beat}.{pulses + 1}"
        return f"{number}.{beat}" if beat > 1 else f"{number}"

    def nearest(self, at: int, section_index: int) -> tuple[str, bool]:
        """A tick's position, or that of the last place before it that has one, and whether it is the place itself."""
        found = self.position(at, section_index)
        if found is not None:
            return found, True
        bar = self.score.bars[max(0, bisect_right(self.score.bars, at, key=lambda bar: bar.at) - 1)]
        start = bar.end - int(bar.meter.length * self.score.grid)
        beats = [
            start + each
            for each in accumulate((int(b * self.score.grid) for b in bar.meter.beats), initial=0)
        ]
        beat = max(each for each in beats[:-1] if each <= at)
        place = beat + (at - beat) // self.pulse * self.pulse
        return self.position(place, section_index) or "1", False
