"""The foot of a picture: what its marks mean. And how all but what is meant steps back."""

from collections.abc import Collection, Mapping, Sequence
from typing import NamedTuple

from scenes.draw.look import Canvas, Look
from scenes.draw.paths import disc, lozenge, rectangle, ring
from scenes.draw.shapes import FilledShape, draw, draw_text
from scenes.draw.text import text_width

MARKS = {
    "accent": "accent",
    "hit": "hit inside a group",
    "crossing": "chord turns inside a repetition",
    "landing": "accent on a downbeat",
    "realignment": "starts on a downbeat again",
}
"""The marks on a row of music, in the order of the legend."""
SHORTER = {"hit": "hit"}
"""Where they are told in a tall picture."""
SHORTEST = {**SHORTER, "crossing": "chord turns"}
"""Where the usual words have no room on the one line of a legend, if a spec does not say them otherwise."""
FIRST_TOLD = ("realignment", "landing", "crossing", "accent", "hit")
"""What is told on that line rather than what comes after it, where there is no room for all."""
SIGN, ENTRY_GAP = 42.0, 52.0
STEPPED_BACK, LOW_STEPPED_BACK = 0.35, 0.67
"""What is left of all that is not meant, over the ground; the last on a slide, where its texts still stand out by
3 : 1."""


class Entry(NamedTuple):
    """A mark with its words, and how wide they are together."""

    mark: str
    text: str
    width: float


def draw_legend(look: Look, marks: Collection[str], lines: Sequence[float] = ()) -> list[FilledShape]:
    """What the marks mean that occur in a picture, at its foot. On a canvas without a legend they are told on these
    lines, by their baselines, on plates before the posts; nothing without lines."""
    canvas = look.canvas
    if canvas.legend is not None:
        return _draw_entries(look, _one_line(look, marks), canvas.legend)
    plates: list[FilledShape] = []
    told: list[FilledShape] = []
    shared = _share_out(look, marks, {**MARKS, **SHORTER}, len(lines)) if lines else []
    for entries, baseline in zip(shared, lines, strict=False):
        if entries:
            end = canvas.left + sum(entry.width for entry in entries) + ENTRY_GAP * (len(entries) - 1)
            plates.append(
                draw(look.ground, rectangle(canvas.left - 10, baseline - 42, end + 10, baseline + 12))
            )
            told += _draw_entries(look, entries, baseline)
    return [*plates, *told]


def _one_line(look: Look, marks: Collection[str]) -> list[Entry]:
    """All entries on one line: in the usual words, else in shorter ones, else as many as have room."""
    short = {mark: text for mark, text in SHORTEST.items() if look.words.say(MARKS[mark]) == MARKS[mark]}
    told = [mark for mark in FIRST_TOLD if mark in marks]
    for count in range(len(told), 0, -1):
        for words in (MARKS, {**MARKS, **short}):
            entries = _share_out(look, told[:count], words, 1)[0]
            if len(entries) == count:
                return entries
    return []


def _share_out(look: Look, marks: Collection[str], words: Mapping[str, str], lines: int) -> list[list[Entry]]:
    """The entries of each line, in order; what has no room on the last one is left out."""
    room = look.canvas.right - look.canvas.left
    shared: list[list[Entry]] = [[] for _ in range(lines)]
    line = 0
    for mark, usual in words.items():
        if mark not in marks:
            continue
        text = look.words.say(usual)
        entry = Entry(mark, text, SIGN + text_width(text, look.size_least))
        while line < lines and sum(each.width + ENTRY_GAP for each in shared[line]) + entry.width > room:
            if line + 1 == lines:
                break
            line += 1
        else:
            shared[line].append(entry)
    return shared


def _draw_entries(look: Look, entries: Sequence[Entry], baseline: float) -> list[FilledShape]:
    x, drawn = look.canvas.left, list[FilledShape]()
    for mark, text, width in entries:
        drawn += [
            *_sign(look, mark, x + 14, baseline - 11),
            draw_text(text, x + SIGN, baseline, look.size_least, look.mute),
        ]
        x += width + ENTRY_GAP
    return drawn


def _sign(look: Look, mark: str, x: float, y: float) -> list[FilledShape]:
    if mark == "accent":
        return [draw(look.mute, disc(x, y, 11))]
    if mark == "hit":
        notch, dot = rectangle(x + 0.5, y - 2, x + 3.5, y + 7), disc(x + 2, y - 6, 7)
        return [
            draw(look.sail_one, rectangle(x - 14, y - 14, x + 18, y + 12)),
            draw(look.on_sail, notch, dot),
        ]
    if mark == "crossing":
        return [draw(look.mute, lozenge(x, y, 10, 13))]
    upright = rectangle(x - 2.5, y - 20, x + 2.5, y + 20)
    if mark == "landing":
        return [draw(look.mute, upright), draw(look.mute, disc(x, y, 8))]
    return [
        draw(look.mute, upright),
        draw(look.ground, disc(x, y, 18)),
        draw(look.mute, *ring(x, y, 16, 3.5)),
        draw(look.mute, disc(x, y, 7)),
    ]


def draw_veil(look: Look, share: float = 1.0, head: bool = False) -> FilledShape:
    """The ground over all but the head (or over that too), so that what is painted before it steps back, as one group;
    `share` 0 to 1 of the way. What is meant is painted after it."""
    canvas = look.canvas
    top = 0.0 if head else canvas.stage_top - 40
    whole = rectangle(0, top, canvas.width, canvas.height)
    return draw(look.ground, whole, opacity=veil_opacity(canvas) * share)


def veil_opacity(canvas: Canvas) -> float:
    """How much the ground covers of what is not meant."""
    return 1 - (STEPPED_BACK if canvas.low == 1 else LOW_STEPPED_BACK)
