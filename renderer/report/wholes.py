"""Ticks as exact fractions of a whole note, in text."""

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
