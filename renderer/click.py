"""A click, as a value: when it sounds and what it marks."""

from fractions import Fraction
from typing import Literal, NamedTuple

ClickKind = Literal["downbeat", "beat", "pulse"]


class Click(NamedTuple):
    """One click, in seconds from the segment's start, exact."""

    seconds: Fraction
    kind: ClickKind
