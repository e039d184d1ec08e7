"""A meter and its felt beats."""

from dataclasses import dataclass
from fractions import Fraction
from math import lcm


@dataclass(frozen=True, slots=True)
class Meter:
    """A time signature with the beats that are felt in it, as lengths in whole notes that add up to the bar."""

    count: int
    unit: int
    beats: tuple[Fraction, ...]
    text: str
    """As a musician writes it: `4/4`, `6/8 in 2`, `7/8 in 2+2+3`."""

    def __post_init__(self) -> None:
        grid = lcm(*{beat.denominator for beat in self.beats})
        whole = sum([beat.numerator * (grid // beat.denominator) for beat in self.beats])
        if whole * self.unit != self.count * grid:
            raise ValueError(f"beats {self.beats} do not add up to {self.count}/{self.unit}")

    @property
    def length(self) -> Fraction:
        """The bar's length in whole notes."""
        return Fraction(self.count, self.unit)
