"""In which order bars are played: repeats, endings, D.C. and D.S., Fine and Coda, as MusicXML says.

A repeat is played twice if it says no number. After D.C. or D.S. repeats are not played again, and of several endings
only the last one is.
"""

from collections.abc import Sequence
from typing import NamedTuple

from renderer.core import limits
from renderer.listening.lay_bars import UnusableError


class RepeatSign(NamedTuple):
    """`forward`, `backward` (with how often), `ending start`, `ending stop` or `ending discontinue` (with numbers), a
    jump of MusicXML's `sound` element, or `words`: a jump that is only written."""

    kind: str
    text: str = ""


class _Ending(NamedTuple):
    """A bracket: the bars under it, and in which turns it is played."""

    first: int
    last: int
    turns: tuple[int, ...]


def played_order(signs: Sequence[Sequence[RepeatSign]]) -> list[int]:
    """The bars' indices as they are played. `signs` are those of each bar. Raises UnusableError for too many bars."""
    return _Walk(signs).order


class _Walk:
    def __init__(self, signs: Sequence[Sequence[RepeatSign]]) -> None:
        self._signs = [{sign.kind: sign.text for sign in each} for each in signs]
        self._endings = [*_endings(self._signs)]
        self._turn, self._start, self._jumped = 1, 0, False
        self.order: list[int] = []
        index = 0
        while index < len(signs):
            index = self._step(index)
            if len(self.order) > limits.BARS:
                raise UnusableError(f"it has more than {limits.BARS:,} bars, the most that a piece can have.")

    def _step(self, index: int) -> int:
        """Play a bar, or pass over an ending; the bar that comes next."""
        signs = self._signs[index]
        if "forward" in signs and index != self._start:
            self._turn, self._start = 1, index
        ending = next((each for each in self._endings if each.first <= index <= each.last), None)
        if ending and index == ending.first and not self._plays(ending):
            if not self._follows(ending):
                self._turn, self._start = 1, ending.last + 1
            return ending.last + 1
        self.order.append(index)
        if self._jumped and "fine" in signs:
            return len(self._signs)
        if self._jumped and "tocoda" in signs:
            return next((at for at, each in enumerate(self._signs) if "coda" in each), len(self._signs))
        if "backward" in signs and not self._jumped:
            if self._goes_back(ending, signs["backward"]):
                self._turn += 1
                return self._start
            self._turn, self._start = 1, index + 1
        elif ending and index == ending.last:
            self._turn, self._start = 1, index + 1
        if not self._jumped and ("dacapo" in signs or "dalsegno" in signs):
            self._jumped = True
            return (
                next((at for at, each in enumerate(self._signs) if "segno" in each), 0)
                if "dalsegno" in signs
                else 0
            )
        return index + 1

    def _plays(self, ending: _Ending) -> bool:
        return self._follows(ending) is None if self._jumped else self._turn in ending.turns

    def _follows(self, ending: _Ending) -> _Ending | None:
        """The bracket right after one."""
        return next((each for each in self._endings if each.first == ending.last + 1), None)

    def _goes_back(self, ending: _Ending | None, times: str) -> bool:
        """Whether a repeat is played once more: under a bracket, if the next turn has one, or this is the only one."""
        if ending is None:
            return self._turn < (int(times) if times.isdecimal() else 2)
        after = self._follows(ending)
        alone = after is None and not any(each.last + 1 == ending.first for each in self._endings)
        return self._turn + 1 in (*ending.turns, *(after.turns if after else ())) or alone


def _endings(signs: Sequence[dict[str, str]]) -> list[_Ending]:
    found: list[_Ending] = []
    first: int | None = None
    turns: tuple[int, ...] = ()
    for index, each in enumerate(signs):
        if "ending start" in each:
            first = index
            numbers = (number.strip() for number in each["ending start"].split(","))
            turns = tuple(int(number) for number in numbers if number.isdecimal())
        if first is not None and ("ending stop" in each or "ending discontinue" in each):
            found.append(_Ending(first, index, turns or (1,)))
            first = None
    return found
