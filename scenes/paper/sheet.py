"""A page as marks: outlines with a pen, filled or not, and lines of text, which stay text.

Lengths are quarters of a point, y down from the page's top: at that size the shapes of the films' rows have the
widths that paper wants.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from scenes.draw.chords import SMALL, chord_parts
from scenes.draw.look import CAPITAL, REGULAR, SEMIBOLD
from scenes.draw.paths import Contour, disc, edge
from scenes.draw.text import fit_size, shorten, text_width

POINT = 4.0
"""Units to a point (1/72 inch)."""
MILLIMETRE = POINT * 72 / 25.4
BLACK, WHITE = "#000000", "#FFFFFF"
MEASURE = 174 * MILLIMETRE
"""How wide the text is, on any paper."""
MARGIN = 18 * MILLIMETRE
TINY, SMALLEST, TEXT, SECTION, HEAD, TITLE = (size * POINT for size in (9, 10, 12, 12, 14, 32))
"""Type sizes; nothing is smaller than the first."""


@dataclass(frozen=True, slots=True)
class Paper:
    """A size of paper, in units."""

    name: str
    width: float
    height: float

    @property
    def left(self) -> float:
        return (self.width - MEASURE) / 2

    @property
    def right(self) -> float:
        return self.left + MEASURE

    @property
    def top(self) -> float:
        """Where what a page is about begins, under its header."""
        return MARGIN + 80

    @property
    def bottom(self) -> float:
        """Where it ends, over its footer."""
        return self.height - MARGIN - 80


PAPERS = {
    "a4": Paper("a4", 210 * MILLIMETRE, 297 * MILLIMETRE),
    "letter": Paper("letter", 8.5 * 72 * POINT, 11 * 72 * POINT),
}
"""ISO 216's A4, and letter of ANSI/ASME Y14.1, 8.5 by 11 inches."""


class Outline(NamedTuple):
    """Contours, closed unless they are `open`, filled with one colour and drawn round with another."""

    contours: tuple[Contour, ...]
    fill: str | None = None
    stroke: str | None = None
    width: float = 0.0
    dash: tuple[float, ...] = ()
    closed: bool = True


class Label(NamedTuple):
    """A line of text from `x` on."""

    text: str
    x: float
    baseline: float
    size: float
    weight: int = REGULAR
    colour: str = BLACK

    @property
    def width(self) -> float:
        return text_width(self.text, self.size, self.weight)


Mark = Outline | Label


class Sheet(NamedTuple):
    """One page."""

    paper: Paper
    marks: tuple[Mark, ...]


def label(
    text: str,
    x: float,
    baseline: float,
    size: float = SMALLEST,
    weight: int = REGULAR,
    anchor: float = 0.0,
    colour: str = BLACK,
) -> Label:
    """A line of text; `anchor` is the share of its width that lies left of `x`."""
    shift = anchor * text_width(text, size, weight) if anchor else 0.0
    return Label(text, x - shift, baseline, size, weight, colour)


def fitted(
    text: str, x: float, baseline: float, size: float, room: float, weight: int = REGULAR, anchor: float = 0.0
) -> Label:
    """A line of text in a room: smaller where it is long, down to the least size, then cut off."""
    size = fit_size(text, size, TINY, room, weight)
    return label(shorten(text, size, room, weight), x, baseline, size, weight, anchor)


def words(
    stretches: Iterable[tuple[str, int]], x: float, baseline: float, size: float = SMALLEST
) -> list[Label]:
    """A line whose stretches differ in weight."""
    found: list[Label] = []
    for text, weight in stretches:
        found.append(Label(text, x, baseline, size, weight))
        x += found[-1].width
    return found


def paragraph(
    stretches: Sequence[tuple[str, int]], x: float, baseline: float, room: float, size: float, leading: float
) -> tuple[list[Label], float]:
    """Stretches of text in lines of at most `room`, parted at blanks, and the last line's baseline."""
    found: list[Label] = []
    left, blank = x, text_width(" ", size)
    hangs = False
    for text, weight in stretches:
        for number, word in enumerate(text.split(" ")):
            if number:
                hangs = False
                x += blank if x > left else 0
            word = shorten(word, size, room, weight)
            if not word:
                continue
            width = text_width(word, size, weight)
            if x > left and x + width > left + room:
                glued = [found.pop()] if hangs and found else []
                x, baseline = left, baseline + leading
                for part in glued:  # what hangs on the word before without a blank goes with it
                    found.append(part._replace(x=x, baseline=baseline))
                    x += part.width
            found.append(Label(word, x, baseline, size, weight))
            x += width
            hangs = True
    return _joined(found), baseline


def _joined(labels: Sequence[Label]) -> list[Label]:
    """Words that follow each other in one weight as one text, so that it is read as one."""
    found: list[Label] = []
    for each in labels:
        last = found[-1] if found else None
        if last and (last.baseline, last.weight) == (each.baseline, each.weight):
            for between in ("", " "):
                text = f"{last.text}{between}{each.text}"
                at = text_width(f"{last.text}{between}", last.size, last.weight)
                if abs(last.x + at - each.x) < 3:
                    found[-1] = last._replace(text=text)
                    break
            else:
                found.append(each)
        else:
            found.append(each)
    return found


def chord(name: str, x: float, baseline: float, size: float, colour: str, anchor: float = 0.0) -> list[Label]:
    """A chord's name: additions raised and small, the bass small."""
    parts, found = chord_parts(name), []
    if anchor:
        x -= anchor * paper_chord_width(name, size)
    for text, share, rise in zip(parts, (1.0, SMALL, SMALL), (0.0, (1 - SMALL) * CAPITAL, 0.0), strict=True):
        if text:
            found.append(Label(text, x, baseline - rise * size, size * share, SEMIBOLD, colour))
            x += found[-1].width + 0.02 * size
    return found


def paper_chord_width(name: str, size: float) -> float:
    """How far such a name advances."""
    shares = zip(chord_parts(name), (1.0, SMALL, SMALL), strict=True)
    return sum(text_width(text, size * share, SEMIBOLD) + 0.02 * size for text, share in shares if text)


def filled(colour: str, *contours: Contour) -> Outline:
    """Contours filled with a colour."""
    return Outline(contours, fill=colour)


def drawn_round(
    contours: Iterable[Contour],
    pen: float,
    stroke: str = BLACK,
    fill: str | None = None,
    dashed: bool = False,
) -> Outline:
    """Contours drawn round with a pen of that width."""
    return Outline(tuple(contours), fill, stroke, pen, (3.5 * pen, 2.5 * pen) if dashed else ())


def rule(
    x0: float, y0: float, x1: float, y1: float, pen: float, colour: str = BLACK, dashed: bool = False
) -> Outline:
    """A straight line."""
    line = np.array([edge((x0, y0), (x1, y1))])
    return Outline((line,), None, colour, pen, (3.5 * pen, 2.5 * pen) if dashed else (), closed=False)


def dot(x: float, y: float, radius: float) -> list[Outline]:
    """A black disc with a white edge."""
    return [filled(WHITE, disc(x, y, radius + 3)), filled(BLACK, disc(x, y, radius))]
