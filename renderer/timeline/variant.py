"""What a variant keeps of its figure, what was taken out and what was added, group by group.

Lengths and places are counted in pulses, each figure's in its own. Groups are set against each other so that as little
as possible is taken out or added; what a group loses or gains is at its end; a group may also be parted into several,
or several joined into one.
"""

from collections.abc import Sequence
from fractions import Fraction
from itertools import accumulate
from typing import Literal, NamedTuple

from renderer.timeline.model import Figure

CHANGED, PARTED = Fraction(1, 10), Fraction(1, 4)
"""What a change costs beside its length, so that of equal ways the one with fewer changes is found."""


class VariantPiece(NamedTuple):
    """A stretch that both have, or only the figure (`out`) or only the variant (`added`); places and length in pulses.

    Groups are indices; None on the side where the piece is not.
    """

    kind: Literal["kept", "out", "added"]
    length: int
    figure_at: int
    variant_at: int
    figure_group: int | None
    variant_group: int | None


class Comparison(NamedTuple):
    """A figure's and its variant's groups, and the pieces from left to right."""

    figure: tuple[int, ...]
    variant: tuple[int, ...]
    pieces: tuple[VariantPiece, ...]
    stretched: bool
    """Whether the variant's pulse is another one."""

    @property
    def taken(self) -> tuple[VariantPiece, ...]:
        """What only the figure has, from left to right."""
        return tuple(piece for piece in self.pieces if piece.kind == "out")

    @property
    def added(self) -> tuple[VariantPiece, ...]:
        """What only the variant has, from left to right."""
        return tuple(piece for piece in self.pieces if piece.kind == "added")

    @property
    def changes(self) -> tuple[VariantPiece, ...]:
        """What was taken out or added; neighbours of one kind as one piece."""
        joined: list[VariantPiece] = []
        for piece in self.pieces:
            last = joined[-1] if joined else None
            if last is not None and last.kind == piece.kind != "kept":
                joined[-1] = last._replace(length=last.length + piece.length)
            else:
                joined.append(piece)
        return tuple(piece for piece in joined if piece.kind != "kept")

    @property
    def moves(self) -> bool:
        """Whether anything kept stands elsewhere in the variant, or in a group of another length."""
        return self.stretched or any(
            piece.figure_at != piece.variant_at
            or self.figure[piece.figure_group or 0] != self.variant[piece.variant_group or 0]
            for piece in self.pieces
            if piece.kind == "kept"
        )


def compare_figures(figure: Figure, variant: Figure) -> Comparison:
    """Set a variant's groups against its figure's.

    >>> kiln = Figure("kiln", Fraction(1, 16), (5, 3, 3), (), ())
    >>> [(p.kind, p.length) for p in compare_figures(kiln, kiln._replace(groups=(3, 3, 3))).pieces]
    [('kept', 3), ('out', 2), ('kept', 3), ('kept', 3)]
    """
    pieces = tuple(_pieces(figure.groups, variant.groups))
    return Comparison(figure.groups, variant.groups, pieces, figure.pulse != variant.pulse)


def _pieces(ours: Sequence[int], theirs: Sequence[int]) -> list[VariantPiece]:
    starts = [0, *accumulate(ours)], [0, *accumulate(theirs)]
    pieces: list[VariantPiece] = []
    for i, j, down, right in _alignment(ours, theirs):
        at, to = starts[0][i], starts[1][j]
        if not right:
            pieces.append(VariantPiece("out", ours[i], at, to, i, None))
        elif not down:
            pieces.append(VariantPiece("added", theirs[j], at, to, None, j))
        elif down == right == 1:
            kept, rest = min(ours[i], theirs[j]), ours[i] - theirs[j]
            pieces.append(VariantPiece("kept", kept, at, to, i, j))
            if rest > 0:
                pieces.append(VariantPiece("out", rest, at + kept, to + kept, i, None))
            elif rest < 0:
                pieces.append(VariantPiece("added", -rest, at + kept, to + kept, None, j))
        else:
            parts = theirs[j : j + right] if down == 1 else ours[i : i + down]
            for number, (length, into) in enumerate(zip(parts, [0, *accumulate(parts)], strict=False)):
                group = (i, j + number) if down == 1 else (i + number, j)
                pieces.append(VariantPiece("kept", length, at + into, to + into, *group))
    return pieces


Move = tuple[int, int, int, int]
"""From which group of the figure and of the variant, and how many of each."""


def _alignment(ours: Sequence[int], theirs: Sequence[int]) -> list[Move]:
    """The cheapest way through both rows of groups, found from every pair of beginnings to the whole."""
    sums = [0, *accumulate(ours)], [0, *accumulate(theirs)]
    costs: dict[tuple[int, int], tuple[Fraction, Move | None]] = {(0, 0): (Fraction(0), None)}
    for i in range(len(ours) + 1):
        for j in range(len(theirs) + 1):
            if i or j:
                moves = _moves_to(i, j, sums)
                costs[i, j] = min(
                    ((costs[move[0], move[1]][0] + cost, move) for cost, move in moves),
                    key=lambda way: way[0],
                )
    path: list[Move] = []
    at = (len(ours), len(theirs))
    while (move := costs[at][1]) is not None:
        path.append(move)
        at = move[:2]
    return path[::-1]


def _moves_to(i: int, j: int, sums: tuple[Sequence[int], Sequence[int]]) -> list[tuple[Fraction, Move]]:
    """The ways to come to the i-th and j-th group's end in one move, with their costs. Of equal ones the first is
    taken: what is taken out or added is so as late as can be."""
    ours, theirs = sums
    moves: list[tuple[Fraction, Move]] = []
    if i:
        moves.append((ours[i] - ours[i - 1] + CHANGED, (i - 1, j, 1, 0)))
    if j:
        moves.append((theirs[j] - theirs[j - 1] + CHANGED, (i, j - 1, 0, 1)))
    if i and j:
        one, other = ours[i] - ours[i - 1], theirs[j] - theirs[j - 1]
        moves.append((abs(one - other) + (CHANGED if one != other else Fraction(0)), (i - 1, j - 1, 1, 1)))
        for back in range(2, j + 1):
            if theirs[j] - theirs[j - back] >= one:
                if theirs[j] - theirs[j - back] == one:
                    moves.append((PARTED, (i - 1, j - back, 1, back)))
                break
        for back in range(2, i + 1):
            if ours[i] - ours[i - back] >= other:
                if ours[i] - ours[i - back] == other:
                    moves.append((PARTED, (i - back, j - 1, back, 1)))
                break
    return moves
