"""A click, as a value: when it sounds and what it marks."""

from fractions import Fraction
from typing import Literal, NamedTuple

ClickKind = Literal["downbeat", "beat", "pulse", "figure", "group"]
CLICK_KINDS: tuple[ClickKind, ...] = ("downbeat", "beat", "pulse", "figure", "group")
"""The meter's kinds, from the heaviest down, then the figure's: the start of a repetition, of a group."""


class Click(NamedTuple):
    """One click, in seconds from the segment's start, exact."""

    seconds: Fraction
    kind: ClickKind
