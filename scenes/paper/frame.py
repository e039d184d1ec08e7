"""What stands round a page: its header, its footer, its heads, and the legend."""

from collections.abc import Collection, Iterable
from itertools import pairwise

from scenes.draw.look import BOLD, REGULAR, SEMIBOLD
from scenes.draw.paths import disc, lozenge, rectangle, ring
from scenes.draw.text import text_width
from scenes.paper.print_look import FIGURE, FINE, METER, PEN
from scenes.paper.sheet import (
    BLACK,
    HEAD,
    MARGIN,
    POINT,
    SMALLEST,
    TINY,
    WHITE,
    Label,
    Mark,
    Outline,
    Paper,
    Sheet,
    drawn_round,
    filled,
    fitted,
    label,
    rule,
)
from scenes.paper.vessels import figure_sign, meter_sign


def header(paper: Paper, left: str, right: str) -> list[Mark]:
    """The small line over a page and the rule under it."""
    room = paper.right - paper.left
    second = fitted(right, paper.right, MARGIN + 28, TINY, room / 2, anchor=1.0)
    return [
        fitted(left, paper.left, MARGIN + 28, TINY, room - second.width - 40, SEMIBOLD),
        second,
        rule(paper.left, MARGIN + 46, paper.right, MARGIN + 46, FINE),
    ]


def footer(paper: Paper, left: str, right: str) -> list[Mark]:
    """The rule under a page and the small line under it."""
    y = paper.height - MARGIN
    return [
        rule(paper.left, y - 46, paper.right, y - 46, FINE),
        fitted(left, paper.left, y - 8, TINY, (paper.right - paper.left) / 2),
        label(right, paper.right, y - 8, TINY, SEMIBOLD, anchor=1.0),
    ]


def head(text: str, note: str, paper: Paper, baseline: float, x: float | None = None) -> list[Mark]:
    """A head with a note after it."""
    x = paper.left if x is None else x
    found: list[Mark] = [label(text, x, baseline, HEAD, BOLD)]
    start = x + text_width(text, HEAD, BOLD) + 28
    if note:
        found.append(fitted(note, start, baseline, SMALLEST, paper.right - start))
    return found


def numbered(sheets: list[Sheet], footers: str, last: str | None = None) -> list[Sheet]:
    """The pages with their footers, `2 of 3`; with `last` the last one is called so and not counted."""
    count = len(sheets) - (1 if last else 0)
    done = []
    for number, sheet in enumerate(sheets, start=1):
        right = last if last and number == len(sheets) else f"{number} of {count}"
        done.append(sheet._replace(marks=(*sheet.marks, *footer(sheet.paper, footers, right or ""))))
    return done


LEGEND = {
    "figure": "figure",
    "meter": "meter",
    "silent": "silent",
    "changes sides": "changes sides",
    "crossing": "chord turns in a repetition",
    "landing": "accent on a downbeat",
    "missed": "accent not played",
    "realignment": "starts on a downbeat again",
    "cut": "cut",
    "tail": "tail",
    "nobody": "nobody keeps the meter",
}


def legend(signs: Collection[str], paper: Paper, x: float, baseline: float) -> list[Mark]:
    """The signs that occur with their words, smaller where they are many."""
    shown = [sign for sign in LEGEND if sign in signs]
    gap = 40.0
    widths = [60 + text_width(LEGEND[sign], TINY) for sign in shown]
    while gap > 8 and x + sum(widths) + gap * (len(shown) - 1) > paper.right:
        gap -= 8
    found: list[Mark] = []
    for sign, width in zip(shown, widths, strict=True):
        if x + width > paper.right + 2:
            break
        found += [*sign_marks(sign, x, baseline), label(LEGEND[sign], x + 56, baseline, TINY)]
        x += width + gap
    return found


def sign_marks(sign: str, x: float, baseline: float) -> Iterable[Outline]:
    """A sign as it is drawn in the rows."""
    middle, y = x + 26, baseline - 12
    if sign == "figure":
        return [figure_sign(x + 4, baseline)]
    if sign == "meter":
        return [meter_sign(x + 4, baseline)]
    if sign == "silent":
        return [rule(x + 6, y, x + 46, y, FINE, dashed=True)]
    if sign == "crossing":
        return [filled(BLACK, lozenge(middle, y, 11, 15))]
    if sign == "missed":
        return [drawn_round([disc(middle, y, 11)], FINE, BLACK, WHITE, dashed=True)]
    if sign == "realignment":
        return [filled(BLACK, *ring(middle, y, 19, 4), disc(middle, y, 10))]
    if sign == "cut":
        teeth = [(middle + (8 if step % 2 else -2), y - 18 + 6 * step) for step in range(7)]
        return [rule(*a, *b, PEN, FIGURE) for a, b in pairwise(teeth)]
    if sign == "tail":
        return [drawn_round([rectangle(x + 6, y - 10, x + 46, y + 12)], PEN, FIGURE, WHITE, dashed=True)]
    if sign == "nobody":
        return [rule(middle, y - 20, middle, y + 20, 1.4 * POINT, METER, dashed=True)]
    return [rule(middle, y - 22, middle, y + 22, 1.6 * POINT), filled(BLACK, disc(middle, y, 10))]


def title_marks(
    paper: Paper, title: str, note: str, baseline: float, size: float, room: float
) -> tuple[list[Mark], float]:
    """A page's title, smaller where it is long, then on two lines, and the note behind it; the last baseline."""
    from scenes.draw.text import fit_size, shorten, wrap

    note_room = text_width(note, SMALLEST * 1.4) + 40 if note else 0
    least = 16 * POINT
    if text_width(title, least, BOLD) <= room - note_room:
        size = fit_size(title, size, least, room - note_room, BOLD)
        lines = [title]
    else:
        size, lines = least, wrap(title, least, room, BOLD)
        if len(lines) > 2:
            lines = [lines[0], shorten(" ".join(lines[1:]), least, room - note_room, BOLD)]
    found: list[Mark] = []
    for number, line in enumerate(lines):
        found.append(label(line, paper.left, baseline + number * size * 1.1, size, BOLD))
    last = baseline + (len(lines) - 1) * size * 1.1
    final = found[-1]
    if note and isinstance(final, Label):
        x = final.x + final.width + 36
        if x + text_width(note, SMALLEST * 1.4) <= paper.left + room:
            found.append(label(note, x, last, SMALLEST * 1.4, REGULAR))
    return found, last
