"""A part's readings, surest first: the shortest telling, and where else its figure may begin."""

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from renderer.core import limits
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
    """The reading itself, then those with its main figure from another note, the shorter tellings first.

    Only where an accent or the shortest telling speaks for that note, and the figure still comes three times on end.
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
    return (Choice(reading), *sorted(whole, key=lambda choice: choice.longer)[: limits.READINGS - 1])


def _turned(reading: Reading, row: Row, figures: Sequence[Symbols], least: float) -> Choice:
    told = tell(row, figures)
    return Choice(
        replace(reading, figures=tuple(figures), statements=told.statements, others=()), told.bits - least
    )
