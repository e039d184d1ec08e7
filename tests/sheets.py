"""The marks of printed pages as boxes, to check that none meet, none is too small, none leaves the page."""

from collections.abc import Iterable
from itertools import combinations
from typing import NamedTuple

from scenes.draw.look import CAPITAL
from scenes.draw.text import text_width
from scenes.paper.sheet import MARGIN, TINY, Label, Sheet

SLACK = 3.0
"""Units (a quarter of a point) that two boxes may share: letters stand a little inside theirs."""


class PaperBox(NamedTuple):
    """What a line of text covers."""

    text: str
    left: float
    top: float
    right: float
    bottom: float


def box(label: Label) -> PaperBox:
    """From the tops of the capitals down to the baseline."""
    right = label.x + text_width(label.text.rstrip(), label.size, label.weight)
    return PaperBox(label.text, label.x, label.baseline - CAPITAL * label.size, right, label.baseline)


def labels(sheet: Sheet) -> list[Label]:
    return [mark for mark in sheet.marks if isinstance(mark, Label) and mark.text.strip()]


def overlaps(boxes: Iterable[PaperBox]) -> list[tuple[str, str]]:
    """The texts that meet, in pairs."""
    return [
        (a.text, b.text)
        for a, b in combinations(boxes, 2)
        if a.left + SLACK < b.right
        and b.left + SLACK < a.right
        and a.top + SLACK < b.bottom
        and b.top + SLACK < a.bottom
    ]


def faults(sheet: Sheet) -> list[str]:
    """What is wrong with a page's texts, in words."""
    paper, texts = sheet.paper, labels(sheet)
    boxes = [box(label) for label in texts]
    outside = [
        f"{each.text!r} leaves the page"
        for each in boxes
        if each.left < paper.left - 20
        or each.right > paper.right + 20
        or each.top < MARGIN - 20
        or each.bottom > paper.height - MARGIN + 20
    ]
    small = [f"{label.text!r} is {label.size / 4:.1f} points" for label in texts if label.size < 0.62 * TINY]
    return [*outside, *small, *(f"{a!r} meets {b!r}" for a, b in overlaps(boxes))]
