"""Ticks as exact fractions of a whole note, in text."""

from collections.abc import Iterable
from math import gcd


class Wholes(dict[int, str]):
    """Ticks -> the exact fraction of a whole note, as text; each is worked out once."""

    def __init__(self, grid: int) -> None:
        super().__init__()
        self._grid = grid

    def __missing__(self, ticks: int) -> str:
        shared = gcd(ticks, self._grid)
        below = self._grid // shared
        text = f"{ticks // shared}/{below}" if below > 1 else str(ticks // shared)
        self[ticks] = text
        return text


def whole_texts(places: Iterable[int], grid: int) -> list[str]:
    """Ticks as exact fractions of a whole note, as text."""
    shared = [gcd(ticks, grid) for ticks in range(grid)]
    below = [f"/{grid // each}" if each < grid else "" for each in shared]
    return [f"{at // shared[at % grid]}{below[at % grid]}" for at in places]
