"""Two texts that have come from one: where they are the same, where one alone has changed it, and where both have.

As diff3 does it: what is unchanged in both is where they meet again; between two such places stands one difference.
Source: S. Khanna, K. Kunal, B. C. Pierce, A Formal Investigation of Diff3, 2007.
"""

from collections.abc import Iterator, Sequence
from difflib import SequenceMatcher
from typing import Literal, NamedTuple

Changed = Literal["", "mine", "file", "both"]


class Stretch(NamedTuple):
    """Some lines: who has changed them, from which line (from 1) of mine on, and how they are in each text."""

    changed: Changed
    line: int
    mine: tuple[str, ...]
    file: tuple[str, ...]


def stretches(base: str, mine: str, file: str) -> list[Stretch]:
    """The texts as stretches; all of mine together are mine, all of the file's are the file.

    >>> [(s.changed, s.mine, s.file) for s in stretches("a\\nb\\nc", "a\\nB\\nc", "a\\nb\\nd")]
    [('', ('a',), ('a',)), ('both', ('B', 'c'), ('b', 'd'))]
    """
    return list(_stretches(*(text.split("\n") for text in (base, mine, file))))


def _stretches(base: Sequence[str], mine: Sequence[str], file: Sequence[str]) -> Iterator[Stretch]:
    at = at_mine = at_file = 0
    for start, start_mine, start_file, length in [
        *_meetings(base, mine, file),
        (len(base), len(mine), len(file), 0),
    ]:
        before = tuple(base[at:start])
        own, others = tuple(mine[at_mine:start_mine]), tuple(file[at_file:start_file])
        if own or others:
            changed: Changed = (
                "" if own == others else "file" if own == before else "mine" if others == before else "both"
            )
            yield Stretch(changed, at_mine + 1, own, others)
        same = tuple(mine[start_mine : start_mine + length])
        if same:
            yield Stretch("", start_mine + 1, same, same)
        at, at_mine, at_file = start + length, start_mine + length, start_file + length


def _meetings(
    base: Sequence[str], mine: Sequence[str], file: Sequence[str]
) -> Iterator[tuple[int, int, int, int]]:
    """Where both still have some lines of the base: its line, mine, the file's, and how many."""
    in_mine, in_file = (
        SequenceMatcher(None, base, other, autojunk=False).get_matching_blocks()[:-1]
        for other in (mine, file)
    )
    one = two = 0
    while one < len(in_mine) and two < len(in_file):
        a, b = in_mine[one], in_file[two]
        start, end = max(a.a, b.a), min(a.a + a.size, b.a + b.size)
        if start < end:
            yield start, a.b + start - a.a, b.b + start - b.a, end - start
        if a.a + a.size < b.a + b.size:
            one += 1
        else:
            two += 1
