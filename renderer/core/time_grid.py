"""Seconds to frame and sample indices, and back: the one place where exact time meets a grid.

Everywhere else seconds are exact fractions. An index counts from 0 at the segment's absolute start and is always
rounded from the absolute time, never summed from rounded lengths: beats of 21,818 samples added 44 times end 8
samples short, the rounded absolute time never errs by more than half a sample.
"""

from fractions import Fraction
from math import floor

HALF = Fraction(1, 2)


def nearest(value: Fraction) -> int:
    """The nearest integer, halves up.

    >>> nearest(Fraction(75, 2)), nearest(Fraction(-1, 2))
    (38, 0)
    """
    return floor(value + HALF)


def seconds_to_frame_index(seconds: Fraction, frames_per_second: Fraction) -> int:
    """The frame that first shows what happens at `seconds`.

    >>> seconds_to_frame_index(Fraction(5, 4), Fraction(60))
    75
    """
    return nearest(seconds * frames_per_second)


def frame_index_to_seconds(frame_index: int, frames_per_second: Fraction) -> Fraction:
    """When the frame begins, in seconds, exact.

    >>> frame_index_to_seconds(30, Fraction(30000, 1001))
    Fraction(1001, 1000)
    """
    return frame_index / frames_per_second


def seconds_to_sample_index(seconds: Fraction, samples_per_second: int) -> int:
    """The sample on which a sound that starts at `seconds` begins.

    >>> seconds_to_sample_index(Fraction(5, 4), 48_000)
    60000
    """
    return nearest(seconds * samples_per_second)
