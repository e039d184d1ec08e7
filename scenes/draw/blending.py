"""From one picture to another of the same things: each shape goes straight from its place in the first to its
place in the second, at a share of the way.

Shapes are paired by the part that they belong to and by what they show. Both pictures are made once, so a
picture on the way is one sum of arrays.
"""

from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence
from typing import NamedTuple

import numpy as np

from scenes.draw.look import WIDE
from scenes.draw.segment import Picture
from scenes.draw.shapes import PIXEL, Extent, FilledShape, Points, moved

NEAR = 0.3
"""The share of the way over which what is in one picture only fades."""

Parts = Mapping[Hashable, Picture]
"""A picture's parts by name, in the order in which they are painted."""
Levels = Sequence[float]
"""Heights in pixels from the top down that stand for each other in two pictures."""


class _Pair(NamedTuple):
    """A shape in both pictures; where it is in one of them only, it goes along unseen in the other."""

    first: FilledShape
    second: FilledShape

    @property
    def kind(self) -> Hashable:
        """What two shapes have in common that can be one: their colour all the way, and that they are no text."""
        first, second = self
        return (first.fill_rgbas.tobytes(), second.fill_rgbas.tobytes()) if first.text is None else id(first)

    def meets(self, other: "_Pair") -> bool:
        """Whether they share room in either picture."""
        return _overlap(self[0].extent, other[0].extent) or _overlap(self[1].extent, other[1].extent)


class Blend:
    """The way from one picture to another, whose `levels` tell where what is in one of them only goes along."""

    def __init__(self, first: Parts, second: Parts, levels: tuple[Levels, Levels]) -> None:
        groups = _groups(_pairs(first, second, levels))
        self._models = [group[0] for group in groups]
        sizes = [sum(len(pair.first.points) for pair in group) for group in groups]
        self._ends = np.cumsum(sizes).tolist()
        self._starts = [0, *self._ends[:-1]] if groups else []
        pairs = [pair for group in groups for pair in group]
        start, end = ([getattr(pair, side).points for pair in pairs] for side in _Pair._fields)
        self._start = np.concatenate(start) if pairs else np.zeros((0, 3))
        self._way = np.concatenate(end) - self._start if pairs else self._start

    def at(self, share: float, down: float = 0.0) -> Picture:
        """The picture at a share of the way, `down` pixels lower."""
        points = self._start + self._way * share
        points[:, 1] -= down * PIXEL
        if not self._starts:
            return []
        lows = np.minimum.reduceat(points[:, :2], self._starts).tolist()
        highs = np.maximum.reduceat(points[:, :2], self._starts).tolist()
        return [
            _between(pair, share, points[start:end], (*low, *high))
            for pair, start, end, low, high in zip(
                self._models, self._starts, self._ends, lows, highs, strict=True
            )
        ]


def _groups(pairs: Iterable[_Pair]) -> list[list[_Pair]]:
    """Shapes that can be one shape together. One joins those of its kind before it unless it would come to lie under
    something then."""
    groups: list[tuple[Hashable, list[_Pair]]] = []
    for pair in pairs:
        kind = pair.kind
        for other, group in reversed(groups):
            if other == kind:
                group.append(pair)
                break
            if any(map(pair.meets, group)):
                groups.append((kind, [pair]))
                break
        else:
            groups.append((kind, [pair]))
    return [group for _, group in groups]


def _overlap(one: Extent, other: Extent) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def _between(pair: _Pair, share: float, points: Points, extent: Extent) -> FilledShape:
    first, second = pair
    if first.fill_opacity == second.fill_opacity:
        shape = first.placed(points, extent=extent)
    else:
        seen = first if first.fill_opacity else second
        opacity = _opacity(first.fill_opacity, second.fill_opacity, share)
        shape = seen.placed(points, opacity / seen.fill_opacity, extent)
    shape.size_px = first.size_px + (second.size_px - first.size_px) * share
    return shape


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


def _subject(shape: FilledShape) -> tuple[object, ...]:
    """What a shape shows, wherever and however large it is."""
    return shape.text, len(shape.points), tuple(map(tuple, shape.fill_rgbas[:, :3].tolist()))


def _unseen(shape: FilledShape, here: Levels, there: Levels) -> FilledShape:
    """A shape where it would be at other levels, without opacity."""
    middle = WIDE.height / 2 - (shape.points[:, 1].min() + shape.points[:, 1].max()) / 2 / PIXEL
    return moved(shape, 0.0, opacity=0.0, down=float(np.interp(middle, here, there)) - middle)
