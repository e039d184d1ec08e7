"""Chord names as musicians write them: additions raised and small, the bass after its stroke small on the line."""

import re
from functools import lru_cache

import numpy as np

from scenes.draw.look import CAPITAL, SEMIBOLD
from scenes.draw.paths import Contour
from scenes.draw.shapes import FilledShape
from scenes.draw.text import TEXTS, Lettering, letter, musical

SMALL = 0.62
"""Size of additions and bass, by that of the root."""
_CHORD = re.compile(
    r"(?P<root>(?:[A-G][#b♯♭]?|[#b♯♭]?[IViv]+))(?P<minor>m(?!aj|in)|min|-)?"
    r"(?P<additions>[^\s/]{0,14}(?:\([^\s)]*\))?)(?P<bass>/[A-G][#b♯♭]?)?"
)
_ADDITIONS = re.compile(r"(?:maj|min|dim|aug|sus|add|alt|omit|no|M|m|ma|[#b♯♭+\-°ø△Δ^]|\d|[(),])*")


def chord_parts(name: str) -> tuple[str, str, str]:
    """Root with its minor sign, additions and bass of a chord's name; all of it is root where it is no such name.

    >>> chord_parts("F#m7b5"), chord_parts("Gmaj7"), chord_parts("D/F#"), chord_parts("N.C.")
    (('F♯m', '7♭5', ''), ('G', 'maj7', ''), ('D', '', '/F♯'), ('N.C.', '', ''))
    """
    found = _CHORD.fullmatch(name)
    if found is None or not _ADDITIONS.fullmatch(found["additions"]):
        return musical(name), "", ""
    root, additions = found["root"] + (found["minor"] or ""), found["additions"]
    shown = musical(root + additions)
    return shown[: len(root)], shown[len(root) :], musical(found["bass"] or "")


@lru_cache(maxsize=TEXTS)
def _shape_chord(name: str, weight: int) -> Lettering:
    """A chord's name at size 1."""
    root, additions, bass = chord_parts(name)
    contours: list[Contour] = []
    x = 0.0
    for text, size, rise in ((root, 1.0, 0.0), (additions, SMALL, (1 - SMALL) * CAPITAL), (bass, SMALL, 0.0)):
        if text:
            part = letter(text, size, weight)
            gap = 0.02 if contours else 0.0
            contours += [contour + np.array([x + gap, -rise]) for contour in part.contours]
            x += part.width + gap
    return Lettering(tuple(contours), x)


def chord_width(name: str, size: float, weight: int = SEMIBOLD) -> float:
    """How far a chord's name advances, in pixels. Raises MissingCharacterError."""
    return _shape_chord(name, weight).width * size


def draw_chord(
    name: str,
    x: float,
    baseline: float,
    size: float,
    colour: str,
    weight: int = SEMIBOLD,
    anchor: float = 0.0,
    opacity: float = 1.0,
) -> FilledShape:
    """A chord's name from `x` on; `anchor` is the share of its width that lies left of it."""
    shaped = _shape_chord(name, weight)
    origin = np.array([x - anchor * shaped.width * size, baseline])
    contours = [contour * size + origin for contour in shaped.contours]
    return FilledShape(contours, colour, opacity, musical(name), size)
