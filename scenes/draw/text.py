"""Text as outlines: the same on every machine, measured before it is drawn.

HarfBuzz shapes the text with the fonts that come with the install, so neither the machine's fonts nor its
font configuration matter. Source Sans 3 is the face; a character that it lacks (sharps and flats) is taken
from DejaVu Sans at 0.86 of the size. Outlines are pixels, x to the right from the text's start, y down from
the baseline.
"""

import re
from dataclasses import dataclass
from functools import cache, lru_cache
from itertools import groupby
from typing import NamedTuple

import numpy as np
import uharfbuzz as hb

from renderer.core.installed import ASSETS
from scenes.draw.look import BOLD, REGULAR, SEMIBOLD
from scenes.draw.paths import Contour, contour_from_points

FALLBACK_SCALE = 0.86
EMBOLDENED = {REGULAR: (0.045, 0.0), SEMIBOLD: (0.095, 0.02), BOLD: (0.11, 0.03)}
"""By how much of an em the fallback's strokes are widened, across and up: its sharps and flats are as thin in bold as
they are in regular."""
TEXTS = 500
"""So many texts' outlines are kept: those of a picture and more."""


class MissingCharacterError(ValueError):
    """No font that comes with the install has this character."""


@dataclass(frozen=True, slots=True)
class Lettering:
    """One line of text, shaped: its outlines and its advance, in pixels."""

    contours: tuple[Contour, ...]
    width: float


def text_width(text: str, size: float, weight: int = REGULAR) -> float:
    """How far a text advances, in pixels. Raises MissingCharacterError."""
    return _shape(text, weight).width * size


def letter(text: str, size: float, weight: int = REGULAR) -> Lettering:
    """Shape one line of text at an em `size` in pixels. Raises MissingCharacterError."""
    shaped = _shape(text, weight)
    return Lettering(tuple(contour * size for contour in shaped.contours), shaped.width * size)


class PlacedLetter(NamedTuple):
    """A character, where it stands at size 1, and whether its face is the one that stands in."""

    text: str
    x: float
    fallback: bool


@lru_cache(maxsize=TEXTS)
def placed_letters(text: str, weight: int = REGULAR) -> tuple[PlacedLetter, ...] | None:
    """The characters of a line of text, each at its own place; None if they don't follow each other one by one from
    left to right. Raises MissingCharacterError."""
    x, placed = 0.0, []
    for fallback, run in groupby(text, key=lambda mark: _needs_fallback(mark)):
        font, scale = _fallback(weight) if fallback else _source_sans(weight)
        marks = "".join(run)
        buffer = _shaped(font, marks)
        unit = scale / font.face.upem
        if [info.cluster for info in buffer.glyph_infos] != list(range(len(marks))):
            return None
        for mark, info, place in zip(marks, buffer.glyph_infos, buffer.glyph_positions, strict=True):
            if place.x_offset or place.y_offset or font.get_nominal_glyph(ord(mark)) != info.codepoint:
                return None
            placed.append(PlacedLetter(mark, x, fallback))
            x += place.x_advance * unit
    return tuple(placed)


def font_bytes(fallback: bool, weight: int) -> bytes:
    """The font file that a character of a weight is taken from; that of the main face holds all weights."""
    if not fallback:
        return _font_file("SourceSans3.ttf")
    return _font_file(_fallback_name(weight))


def fit_size(text: str, size: float, least: float, width: float, weight: int = REGULAR) -> float:
    """The largest size from `size` down to `least` at which the text is at most `width` wide, else
    `least`."""
    return max(least, min(size, width / max(1e-9, text_width(text, 1, weight))))


def shorten(text: str, size: float, room: float, weight: int = REGULAR) -> str:
    """The text, cut off with an ellipsis where it is wider than `room`."""
    if text_width(text, size, weight) <= room:
        return text
    while text and text_width(text + "…", size, weight) > room:
        text = text[:-1]
    return text.rstrip() + "…"


def wrap(text: str, size: float, room: float, weight: int = REGULAR) -> list[str]:
    """The text in lines of at most `room` pixels, parted at blanks; a word that is wider is parted inside."""
    lines: list[str] = []
    for word in text.split():
        joined = f"{lines[-1]} {word}" if lines else word
        if lines and text_width(joined, size, weight) <= room:
            lines[-1] = joined
            continue
        while text_width(word, size, weight) > room and len(word) > 1:
            count = next(
                n for n in range(len(word) - 1, 0, -1) if n == 1 or text_width(word[:n], size, weight) <= room
            )
            lines.append(word[:count])
            word = word[count:]
        lines.append(word)
    return lines


def musical(text: str) -> str:
    """A harmony's name with its sharps and flats as such: after a note letter or a degree's number or
    bracket.

    >>> musical("F#m7b5"), musical("Bb"), musical("Absus"), musical("C7#9")
    ('F♯m7♭5', 'B♭', 'A♭sus', 'C7♯9')
    """
    return re.sub(r"(?<=[A-G\d(,])[#b](?=[^a-z]|sus|dim|aug|maj|m|add|$)", _accidental, text)


def _accidental(found: re.Match[str]) -> str:
    return {"#": "♯", "b": "♭"}[found[0]]


@lru_cache(maxsize=TEXTS)
def _shape(text: str, weight: int) -> Lettering:
    """The text at size 1."""
    x, contours = 0.0, []
    for fallback, run in groupby(text, key=lambda mark: _needs_fallback(mark)):
        font, scale = _fallback(weight) if fallback else _source_sans(weight)
        buffer = _shaped(font, "".join(run))
        unit = scale / font.face.upem
        for info, place in zip(buffer.glyph_infos, buffer.glyph_positions, strict=True):
            origin = np.array([x + place.x_offset * unit, -place.y_offset * unit])
            contours += [contour * unit + origin for contour in _glyph(fallback, weight, info.codepoint)]
            x += place.x_advance * unit
    return Lettering(tuple(contours), x)


def _shaped(font: hb.Font, text: str) -> hb.Buffer:
    buffer = hb.Buffer()
    buffer.add_str(text)
    buffer.guess_segment_properties()
    hb.shape(font, buffer, {"kern": True, "liga": False})
    return buffer


@cache
def _glyph(fallback: bool, weight: int, glyph: int) -> tuple[Contour, ...]:
    """A glyph's outlines in font units, y down."""
    font, _ = _fallback(weight) if fallback else _source_sans(weight)
    pen = _Pen()
    font.draw_glyph_with_pen(glyph, pen)
    return tuple(contour_from_points(curves) * np.array([1.0, -1.0]) for curves in pen.contours)


class _Pen:
    """Collects a glyph's outline as cubics: lists of four (x, y)."""

    def __init__(self) -> None:
        self.contours: list[list[tuple[tuple[float, float], ...]]] = []
        self._at = self._start = (0.0, 0.0)

    def moveTo(self, point: tuple[float, float]) -> None:  # noqa: N802 (the pen protocol's names)
        self.contours.append([])
        self._at = self._start = point

    def lineTo(self, point: tuple[float, float]) -> None:  # noqa: N802
        self.curveTo(_between(self._at, point, 1 / 3), _between(self._at, point, 2 / 3), point)

    def qCurveTo(self, control: tuple[float, float], point: tuple[float, float]) -> None:  # noqa: N802
        self.curveTo(_between(self._at, control, 2 / 3), _between(point, control, 2 / 3), point)

    def curveTo(  # noqa: N802
        self, first: tuple[float, float], second: tuple[float, float], point: tuple[float, float]
    ) -> None:
        self.contours[-1].append((self._at, first, second, point))
        self._at = point

    def closePath(self) -> None:  # noqa: N802
        if self._at != self._start:
            self.lineTo(self._start)

    endPath = closePath  # noqa: N815


def _between(start: tuple[float, float], end: tuple[float, float], share: float) -> tuple[float, float]:
    return (start[0] + (end[0] - start[0]) * share, start[1] + (end[1] - start[1]) * share)


@cache
def _needs_fallback(mark: str) -> bool:
    for fallback, (font, _) in ((False, _source_sans(REGULAR)), (True, _fallback(REGULAR))):
        if font.get_nominal_glyph(ord(mark)):
            return fallback
    raise MissingCharacterError(f"no font of this install has the character {mark!r} (U+{ord(mark):04X})")


@cache
def _source_sans(weight: int) -> tuple[hb.Font, float]:
    font = hb.Font(_face("SourceSans3.ttf"))
    font.set_variations({"wght": float(weight)})
    return font, 1.0


@cache
def _fallback(weight: int) -> tuple[hb.Font, float]:
    font = hb.Font(_face(_fallback_name(weight)))
    font.synthetic_bold = (*EMBOLDENED[weight], False)
    return font, FALLBACK_SCALE


@cache
def _face(name: str) -> hb.Face:
    return hb.Face(hb.Blob(_font_file(name)))


def _fallback_name(weight: int) -> str:
    return "DejaVuSans-Bold.ttf" if weight in (SEMIBOLD, BOLD) else "DejaVuSans.ttf"


@cache
def _font_file(name: str) -> bytes:
    return (ASSETS / "fonts" / name).read_bytes()
