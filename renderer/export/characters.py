"""Characters that a format can't hold, replaced in one way for all of them.

What looks nearly alike takes their place (`♯` is `#`, a curved quote a straight one), else the letter without its
accent, else a question mark.
"""

import unicodedata
from collections.abc import Callable

ALIKE = {
    "♯": "#",
    "♭": "b",
    "♮": "n",
    "×": "x",
    "−": "-",
    "–": "-",
    "—": "-",
    "‐": "-",
    "‑": "-",
    "·": ".",
    "•": "*",
    "…": "...",
    "‘": "'",
    "’": "'",
    "“": '"',
    "”": '"',
    "„": '"',
    "«": '"',
    "»": '"',
    "→": "->",
    "ß": "ss",
    "æ": "ae",
    "Æ": "AE",
    "ø": "o",
    "Ø": "O",
    "œ": "oe",
    "Œ": "OE",
    "ł": "l",
    "Ł": "L",
    "đ": "d",
    "Đ": "D",
    "Δ": "maj",
    "°": "dim",
    "º": "dim",
    "<": "‹",
    ">": "›",
    "\xa0": " ",
    "\n": " ",
    "\t": " ",
}
"""What stands for a character where a format can't hold it; the marks of harmony as lead sheets spell them out."""
UNKNOWN = "?"

Holds = Callable[[str], bool]
"""Whether a format can hold a character."""


def is_ascii(mark: str) -> bool:
    """Printable ASCII: what the oldest formats hold."""
    return " " <= mark <= "~"


def is_text(mark: str) -> bool:
    """What text formats and XML 1.0 (its production 2, Char) hold in one line: no control characters, no surrogates,
    none of the code points that are no characters."""
    if mark in "\n\t":
        return False
    return unicodedata.category(mark) not in ("Cc", "Cs", "Zl", "Zp") and ord(mark) & 0xFFFE != 0xFFFE


def held(text: str, holds: Holds) -> str:
    """The text with each character that a format can't hold replaced.

    >>> held("Bb7(♯9) – Dvořák → 鼓", is_ascii)
    'Bb7(#9) - Dvorak -> ?'
    """
    return "".join(mark if holds(mark) else _nearest(mark, holds) for mark in text)


def _nearest(mark: str, holds: Holds) -> str:
    bare = unicodedata.normalize("NFKD", mark)
    for stand_in in (ALIKE.get(mark, ""), "".join(each for each in bare if not unicodedata.combining(each))):
        if stand_in and all(map(holds, stand_in)):
            return stand_in
    return "" if unicodedata.combining(mark) else UNKNOWN
