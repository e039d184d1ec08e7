"""Names in messages: the nearest right word, and lists as a musician reads them."""

from collections.abc import Callable, Iterable, Sequence
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from typing import TypeVar

T = TypeVar("T")

_LONGEST_WORD = 100
"""Characters of a word that may be a slip of a known one."""
_COMPARED = 4
"""Known words that are compared letter by letter: those that share the most pairs of letters."""


def listed(names: Iterable[str], last: str = "or") -> str:
    """Names in a row.

    >>> listed(["Opening", "Theme", "Middle"])
    'Opening, Theme or Middle'
    """
    known = list(names)
    if len(known) < 2:
        return known[0] if known else "nothing"
    return f"{', '.join(known[:-1])} {last} {known[-1]}"


def briefly_listed(names: Iterable[T], most: int = 12, text: Callable[[T], str] = str) -> str:
    """Names in a row, those after the first `most` counted. `text` is asked for those alone that are shown.

    >>> briefly_listed(["Em", "G", "Am"]), briefly_listed(["Em", "G", "Am"], 2)
    ('Em, G and Am', 'Em, G and 1 more')
    """
    known = list(names)
    shown = [text(name) for name in known[:most]]
    if len(known) <= most:
        return listed(shown, "and") if known else ""
    return f"{', '.join(shown)} and {len(known) - most} more"


def last_of(name: str) -> str:
    """The last statement of a figure; one whose name begins with `last` is not called the last last one.

    >>> last_of("kiln"), last_of("last pattern")
    ('the last kiln', 'the last one of last pattern')
    """
    return f"the last one of {name}" if name.lower().startswith("last") else f"the last {name}"


def bars_named(numbers: Sequence[int]) -> str:
    """Bars in a row.

    >>> bars_named([12]), bars_named([12, 23])
    ('bar 12', 'bars 12 and 23')
    """
    if len(numbers) == 1:
        return f"bar {numbers[0]}"
    return f"bars {briefly_listed(numbers)}"


def bars_from(first: int, last: int) -> str:
    """A stretch of bars, both ends meant.

    >>> bars_from(5, 5), bars_from(1, 12)
    ('bar 5', 'bars 1 to 12')
    """
    return f"bar {last}" if first == last else f"bars {first} to {last}"


def counted(count: int | Fraction, word: str) -> str:
    """A number with its word: `1 bar`, `12 bars`."""
    return f"{count} {word}" if count == 1 else f"{count} {word}s"


def quoted(text: str) -> str:
    """A text as a message says it: at most 50 characters on one line, and `""` for an empty one.

    >>> quoted("Em\\n  G"), quoted("")
    ('Em G', '""')
    """
    shown = " ".join(text[:400].split())
    return (shown if len(shown) <= 50 and len(text) <= 400 else shown[:49] + "…") or '""'


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known word that is nearest to `word`, if one is near.

    >>> nearest("figrue", ["play", "figure"])
    'figure'
    """
    if len(word) > _LONGEST_WORD:
        return None
    from difflib import get_close_matches
    from heapq import nsmallest

    names, folded = tuple(known), word.casefold()
    letters = _letter_pairs(folded)
    differences = [(letters ^ pairs).bit_count() for pairs in _all_letter_pairs(names)]
    likely = nsmallest(_COMPARED, range(len(names)), key=differences.__getitem__)
    spelt = {names[index].casefold(): names[index] for index in likely}
    near = get_close_matches(folded, spelt, n=1, cutoff=0.6)
    return spelt[near[0]] if near else None


@lru_cache(maxsize=16)
def _all_letter_pairs(words: tuple[str, ...]) -> tuple[int, ...]:
    return tuple(_letter_pairs(word.casefold()) for word in words)


@lru_cache(maxsize=8192)
def _letter_pairs(word: str) -> int:
    """Which letters follow each other in a word, as bits; words that are alike differ in few of them."""
    pairs = 0
    for first, second in pairwise(f" {word} "):
        pairs |= 1 << (ord(first) * 31 + ord(second)) % 251
    return pairs


def nearest_mend(word: str, known: Iterable[str], shown: int = 20) -> str:
    """What to write in place of an unknown word: the known one that is nearest, and what else there is.

    >>> nearest_mend("figur", ("figure", "play"))
    'Write figure? There are: figure, play.'
    >>> nearest_mend("oboe", ("click", "bass, kit"))
    'There are: click, "bass, kit".'
    """
    names = list(known)
    if not names:
        return "There are none."
    near = nearest(word, names)
    more = f" and {len(names) - shown} more" if len(names) > shown else ""
    # A comma in a name is not one between names.
    told = [f'"{name}"' if "," in name else name for name in names[:shown]]
    return (f"Write {near}? " if near else "") + f"There are: {', '.join(told)}{more}."
