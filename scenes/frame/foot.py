"""The foot of a picture: what its marks mean. And how all but what is meant steps back."""

from collections.abc import Collection

from scenes.draw.look import Look
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
SIGN, ENTRY_GAP = 42.0, 52.0
STEPPED_BACK = 0.35
"""What is left of all that is not meant, over the ground."""


def draw_legend(look: Look, marks: Collection[str]) -> list[FilledShape]:
    """What the marks mean that occur in a picture, at its foot; nothing on a canvas without room for it."""
    canvas, drawn = look.canvas, []
    if canvas.legend is None:
        return []
    x = canvas.left
    for mark, text in MARKS.items():
        width = SIGN + text_width(text, look.size_least)
        if mark in marks and x + width <= canvas.right:
            drawn += [
                *_sign(look, mark, x + 14, canvas.legend - 11),
                draw_text(text, x + SIGN, canvas.legend, look.size_least, look.mute),
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
    return draw(look.ground, whole, opacity=(1 - STEPPED_BACK) * share)
