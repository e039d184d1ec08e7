"""A figure as notes on a line: what is written for each of its groups.

Each group stands by itself, as a musician counts it: a hit lasts until the next hit of its group or the group's end,
a group that begins without a hit begins with a rest, beams join the notes of a group and never those of two. A
length that is no single note is tied. Where the pulse is no half, quarter, eighth ... of a whole note, a group whose
lengths need it stands under a bracket: 3 where it is just one triplet, else the ratio (3:2).
"""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import accumulate, groupby, pairwise
from typing import NamedTuple

from renderer.timeline.model import Figure

WHOLE = Fraction(1)


class Sign(NamedTuple):
    """One note or rest of a group, as written."""

    value: int
    """The note's name as a number: 4 is a quarter."""
    dotted: bool
    pulse: int | None
    """The pulse of the figure, from 0, at which a hit begins; None for a rest and for what is tied to a note."""
    rest: bool = False
    tied_back: bool = False
    tied_on: bool = False
    accent: bool = False

    @property
    def length(self) -> Fraction:
        """In whole notes, without the tuplet that it may stand in."""
        return Fraction(3 if self.dotted else 2, 2 * self.value)


class WrittenGroup(NamedTuple):
    """The signs of one group, and the tuplet that they stand in: so many in the time of so many."""

    signs: tuple[Sign, ...]
    tuplet: tuple[int, int] | None

    @property
    def single(self) -> bool:
        """Whether it is one tuplet just filled: then its bracket needs no ratio."""
        if self.tuplet is None:
            return False
        units = sum((sign.length for sign in self.signs), Fraction(0)) / self.tuplet[0]
        return units.numerator == 1 and units.denominator & (units.denominator - 1) == 0


def write_groups(figure: Figure) -> tuple[WrittenGroup, ...]:
    """What is written for each group of a figure.

    >>> [sign.value for sign in write_groups(Figure("kiln", Fraction(1, 16), (5, 3), (1, 6), (1, 6)))[0].signs]
    [4, 16]
    """
    starts = [0, *accumulate(figure.groups)]
    return tuple(_write_group(figure, start, end) for start, end in pairwise(starts))


def _write_group(figure: Figure, start: int, end: int) -> WrittenGroup:
    hits = [hit - 1 for hit in figure.hits if start <= hit - 1 < end]
    edges = sorted({start, *hits, end})
    lengths = [(after - before) * figure.pulse for before, after in pairwise(edges)]
    tuplet = _tuplet(figure.pulse) if any(_odd_part(length) > 1 for length in lengths) else None
    stretch = Fraction(*tuplet) if tuplet else WHOLE
    signs: list[Sign] = []
    for at, length in zip(edges, lengths, strict=False):
        signs += _signs(length * stretch, at, at in hits, at + 1 in figure.accents)
    return WrittenGroup(tuple(signs), tuplet)


def _signs(length: Fraction, at: int, hit: bool, accent: bool) -> Iterator[Sign]:
    parts = split_length(length)
    for number, part in enumerate(parts):
        dotted = part.numerator == 3
        yield Sign(
            value=int((3 if dotted else 1) / part) // (2 if dotted else 1),
            dotted=dotted,
            pulse=at if hit and not number else None,
            rest=not hit,
            tied_back=hit and number > 0,
            tied_on=hit and number < len(parts) - 1,
            accent=hit and accent and not number,
        )


def split_length(length: Fraction) -> list[Fraction]:
    """A length in whole notes as lengths of single notes, plain or with one dot, the longest first; its denominator
    is a power of two.

    >>> [str(part) for part in split_length(Fraction(5, 16))]
    ['1/4', '1/16']
    """
    parts: list[Fraction] = []
    while not _is_note(length):
        plain = WHOLE
        while plain > length:
            plain /= 2
        pairs = (first for first in (plain, plain * 3 / 2) if _is_note(first) and _is_note(length - first))
        parts.append(next(pairs, plain))
        length -= parts[-1]
    return [*parts, length]


def _is_note(length: Fraction) -> bool:
    return length.numerator == 1 or (length.numerator == 3 and 0 < length < 2)


def _odd_part(length: Fraction) -> int:
    """What makes a length more than halves of halves: 3 for a triplet eighth, 1 for an eighth."""
    return length.denominator // (length.denominator & -length.denominator)


def _tuplet(pulse: Fraction) -> tuple[int, int]:
    """So many in the time of the next lower power of two, as is common practice: 3 of 2, 5 of 4, 7 of 4."""
    odd = _odd_part(pulse)
    return odd, 1 << odd.bit_length() - 1


def beamed(signs: Sequence[Sign]) -> Iterator[list[Sign]]:
    """The signs in runs: notes shorter than a quarter that follow each other stand under one beam, all else alone."""
    for under_beam, run in groupby(signs, key=lambda sign: sign.value > 4 and not sign.rest):
        if under_beam:
            yield list(run)
        else:
            yield from ([sign] for sign in run)
