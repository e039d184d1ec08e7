"""The size and rate of a film."""

from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True, slots=True)
class Quality:
    """Pixels, and frames a second."""

    width: int = 1920
    height: int = 1080
    frames_per_second: Fraction = Fraction(60)


FINAL = Quality()
DRAFT = Quality(960, 540, Fraction(30))
