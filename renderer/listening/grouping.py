"""Where a figure's groups begin: with every note, or with its accents alone, and what that looks like in a spec."""

from typing import Literal

import numpy as np

from renderer.core import limits
from renderer.listening.telling import Symbols

Heads = Literal["accents", "notes"]
"""What begins a group."""
GROUP_LEAST, GROUP_MOST = 2, 7
"""Pulses of a group that is counted as one."""


def heads_of(pattern: Symbols) -> Heads:
    """What likely begins the groups of a figure.

    Its notes, where some have no accent and all lie as far apart as groups do, however few accents there are. Else its
    accents: notes that lie closer are inside a group. A single accent parts nothing, so that a long way does not
    matter.
    """
    if not has_two_groupings(pattern):
        return "accents"
    gaps = groups_of(pattern, "notes")
    apart = min(gaps) >= GROUP_LEAST
    return (
        "notes"
        if apart and (max(gaps) <= GROUP_MOST or len(groups_of(pattern, "accents")) == 1)
        else "accents"
    )


def has_two_groupings(pattern: Symbols) -> bool:
    """Whether groups from note to note are others than those from accent to accent, and not too many for a figure."""
    notes = groups_of(pattern, "notes")
    return len(notes) <= limits.FIGURE_GROUPS and notes != groups_of(pattern, "accents")


def groups_of(pattern: Symbols, heads: Heads) -> tuple[int, ...]:
    """From one head of a group to the next; the first note is one. Notes that are all alike are all accented."""
    begun = np.flatnonzero(pattern == 2 if heads == "accents" else pattern)
    if not len(begun) or begun[0]:
        begun = np.append(0, begun)
    return tuple(int(gap) for gap in np.diff(np.append(begun, len(pattern))))


def groups_text(pattern: Symbols, heads: Heads | None = None) -> str:
    """Groups as they are added up: `5+3+3`; without `heads`, the likely ones."""
    return "+".join(map(str, groups_of(pattern, heads or heads_of(pattern))))


def hits_text(pattern: Symbols, marked: bool) -> str:
    """A row of hits, parted before accents; one group where the file marks none, all as loud as each other."""
    row = "".join(".xX"[symbol] for symbol in pattern)
    if not marked:
        return row
    return row[0] + row[1:].replace("X", " X")
