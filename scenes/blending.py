"""From one picture to another of the same things: each shape goes straight from its place in the first to its
place in the second, at a share of the way.

Shapes are paired by the part that they belong to and by what they show. Both pictures are made once, so a
picture on the way is one sum of arrays.
"""

from collections.abc import Hashable, Iterator, Mapping, Sequence
from itertools import groupby
from typing import NamedTuple

import numpy as np

from scenes.drawing import PIXEL, Drawn, moved
from scenes.look import HEIGHT
from scenes.segment import Picture

NEAR = 0.3
"""The share of the way over which what is in one picture only fades."""

Parts = Mapping[Hashable, Picture]
"""A picture's parts by name, in the order in which they are painted."""
Levels = Sequence[float]
"""Heights in pixels from the top down that stand for each other in two pictures."""


class _Pair(NamedTuple):
    """A shape in both pictures; where it is in one of them only, it goes along unseen in the other."""

    first: Drawn
    second: Drawn

    @property
    def kind(self) -> tuple[object, ...]:
        """Neighbours of one kind can be one shape: their colour is the same all the way, and they are no text."""
        colours = [tuple(map(tuple, shape.fill_rgbas.tolist())) for shape in self]
        solid = colours[0] == colours[1] and len(colours[0]) == 1 and colours[0][0][3] == 1
        return ("one", colours[0]) if solid and self.first.text is None else ("alone", id(self.first))


class Blend:
    """The way from one picture to another, whose `levels` tell where what is in one of them only goes along."""

    def __init__(self, first: Parts, second: Parts, levels: tuple[Levels, Levels]) -> None:
        pairs = list(_pairs(first, second, levels))
        groups = [list(group) for _, group in groupby(pairs, key=lambda pair: pair.kind)]
        self._models = [group[0] for group in groups]
        sizes = [sum(len(pair.first.points) for pair in group) for group in groups]
        self._ends = np.cumsum(sizes).tolist()
        starts = [pair.first.points for pair in pairs]
        self._start = np.concatenate(starts) if starts else np.zeros((0, 3))
        self._way = np.concatenate([pair.second.points for pair in pairs] or [self._start]) - self._start

    def at(self, share: float, down: float = 0.0) -> Picture:
        """The picture at a share of the way, `down` pixels lower."""
        points = self._start + self._way * share
        points[:, 1] -= down * PIXEL
        drawn, start = [], 0
        for pair, end in zip(self._models, self._ends, strict=True):
            drawn.append(_between(pair, share, points[start:end]))
            start = end
        return drawn


def _between(pair: _Pair, share: float, points: np.ndarray) -> Drawn:
    first, second = pair
    copy = Drawn.__new__(Drawn)
    copy.__dict__.update(first.__dict__, submobjects=[], updaters=[])
    copy.points = points
    if first.fill_opacity != second.fill_opacity:
        copy.fill_opacity = _opacity(first.fill_opacity, second.fill_opacity, share)
        copy.fill_rgbas = first.fill_rgbas.copy()
        copy.fill_rgbas[:, 3] = copy.fill_opacity
    copy.size_px = first.size_px + (second.size_px - first.size_px) * share
    return copy


def _opacity(first: float, second: float, share: float) -> float:
    if second == 0:
        return first * max(0.0, 1 - share / NEAR)
    if first == 0:
        return second * max(0.0, 1 - (1 - share) / NEAR)
    return first + (second - first) * share


def _pairs(first: Parts, second: Parts, levels: tuple[Levels, Levels]) -> Iterator[_Pair]:
    """The shapes of both in the order in which they are painted."""
    before, after = levels
    for name in _merged(list(first), list(second)):
        left = {shape: _subject(shape) for shape in second.get(name, ()) if len(shape.points)}
        for shape in first.get(name, ()):
            if len(shape.points):
                subject = _subject(shape)
                twin = next((other for other, its in left.items() if its == subject), None)
                if twin is None:
                    yield _Pair(shape, _unseen(shape, before, after))
                else:
                    del left[twin]
                    yield _Pair(shape, twin)
        yield from (_Pair(_unseen(shape, after, before), shape) for shape in left)


def _merged(first: list[Hashable], second: list[Hashable]) -> list[Hashable]:
    """All names of two lists, each in its order."""
    merged, at = [*first], 0
    for name in second:
        if name in first:
            at = merged.index(name)
        else:
            merged.insert(at, name)
        at += 1
    return merged


def _subject(shape: Drawn) -> tuple[object, ...]:
    """What a shape shows, wherever and however large it is."""
    return shape.text, len(shape.points), tuple(map(tuple, shape.fill_rgbas[:, :3].tolist()))


def _unseen(shape: Drawn, here: Levels, there: Levels) -> Drawn:
    """A shape where it would be at other levels, without opacity."""
    middle = HEIGHT / 2 - (shape.points[:, 1].min() + shape.points[:, 1].max()) / 2 / PIXEL
    return moved(shape, 0.0, opacity=0.0, down=float(np.interp(middle, here, there)) - middle)
