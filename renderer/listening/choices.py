"""A part's readings, surest first: the shortest telling, and where else its figure may begin."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from renderer.core import limits
from renderer.listening.grouping import Heads, groups_of, has_two_groupings, heads_of
from renderer.listening.reading import CLOSE, WHOLE_ON_END, Reading, longest_run, row_of
from renderer.listening.repetitions import rotations
from renderer.listening.sections import ScoreSection
from renderer.listening.telling import Row, Symbols, tell, telling_bits


class Choice(NamedTuple):
    """One reading of a part. `longer`: bits by which it tells the part in more than the shortest does."""

    reading: Reading
    longer: float = 0.0

    @property
    def close(self) -> bool:
        """Whether it is as good as the shortest."""
        return self.longer <= CLOSE


def choices_of(reading: Reading, sections: Sequence[ScoreSection]) -> tuple[Choice, ...]:
    """The reading itself, then its main figure in other groups, then from another note, the shorter tellings first.

    From another note only where an accent or the shortest telling speaks for it, and the figure still comes three times
    on end. In other groups where some of its notes have no accent: from note to note, or from accent to accent.
    """
    if not reading.figures:
        return (Choice(reading),)
    row = row_of(reading.laid, sections)
    main, *rest = reading.figures
    least = telling_bits(row, reading.figures)
    known = {other.tobytes() for other in reading.others}
    offered = [
        turned for turned in [*rotations(main)][1:] if turned.tobytes() in known or turned[0] == np.max(main)
    ]
    found = [_turned(reading, row, [turned, *rest], least) for turned in offered]
    whole = [
        choice for choice in found if longest_run(choice.reading.statements, 0, len(main)) >= WHOLE_ON_END
    ]
    found = [*_regrouped(reading), *sorted(whole, key=lambda choice: choice.longer)]
    return (Choice(reading), *found[: limits.READINGS - 1])


def _regrouped(reading: Reading) -> Iterator[Choice]:
    """The reading in other groups; one group alone is no other."""
    main = reading.figures[0]
    other: Heads = "accents" if heads_of(main) == "notes" else "notes"
    if has_two_groupings(main) and len(groups_of(main, other)) > 1:
        yield Choice(replace(reading, heads=other))


def _turned(reading: Reading, row: Row, figures: Sequence[Symbols], least: float) -> Choice:
    told = tell(row, figures)
    return Choice(
        replace(reading, figures=tuple(figures), statements=told.statements, others=()), told.bits - least
    )
