"""A click, as a value: when it sounds and which one of the clicks it is."""

from fractions import Fraction
from typing import Literal, NamedTuple


class Click(NamedTuple):
    """One click, in seconds from the segment's start, exact."""

    seconds: Fraction
    kind: Literal["downbeat", "beat", "pulse"]
