"""Names in messages: the nearest right word, and lists as a musician reads them."""

from collections.abc import Iterable
from difflib import get_close_matches


def listed(names: Iterable[str], last: str = "or") -> str:
    """Names in a row.

    >>> listed(["Opening", "Theme", "Middle"])
    'Opening, Theme or Middle'
    """
    known = list(names)
    if len(known) < 2:
        return known[0] if known else "nothing"
    return f"{', '.join(known[:-1])} {last} {known[-1]}"


def nearest_name(name: str, known: Iterable[str]) -> str | None:
    """What to write in place of an unknown name: the nearest one, else all there are; None if there are none.

    >>> nearest_name("Opning", ["Opening", "Theme"])
    'did you mean Opening?'
    """
    names = list(known)
    if not names:
        return None
    lower = {candidate.lower(): candidate for candidate in names}
    close = get_close_matches(name.lower(), lower, n=1, cutoff=0.6)
    return f"did you mean {lower[close[0]]}?" if close else f"write {listed(names[:12])}"
