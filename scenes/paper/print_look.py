"""The print look: outlines on white, small black type, colours that a black-and-white printer makes dark."""

from functools import cache

from scenes.draw.look import Canvas, Look, read_look
from scenes.paper.sheet import BLACK, MILLIMETRE, POINT, WHITE, Paper

FIGURE, METER, HARMONY, TINT = "#6F3A05", "#154A7C", "#532A6C", "#F6E6C8"
"""Colours of lines at least 0.8 points wide, each 9:1 or more on white, and what tells every other repetition."""
PEN, FINE, BEAM = 0.8 * POINT, 0.6 * POINT, 1.4 * POINT
"""The least width of a coloured line; that of a black one; that of a line that carries others."""

COLOURS = {
    **dict.fromkeys(("ground", "sky_one", "sky_two", "sail_one", "sail_soft"), WHITE),
    **dict.fromkeys(("line", "ink", "mute", "on_sail", "on_soft", "meter_text", "figure_text"), BLACK),
    "sail_two": TINT,
    "soft_edge": FIGURE,
    "seam": HARMONY,
    "harmony": HARMONY,
    "meter_line": METER,
}
WIDTHS = {
    "width_line": POINT,
    "width_post": 1.4 * POINT,
    "width_beat": 0.9 * POINT,
    "width_pulse": FINE,
    "width_seam": PEN,
    "size_least": 9 * POINT,
    "gap": 3,
    "edge": 3,
}


def page_canvas(
    paper: Paper, left: float | None = None, right: float | None = None, margin: float = 0
) -> Canvas:
    """The room of a row of music on a page: from `left` to `right`, its first and last tick so far inside."""
    left = paper.left if left is None else left
    right = paper.right if right is None else right
    return Canvas(
        width=paper.width,
        height=paper.height,
        left=left,
        right=right,
        top=paper.top,
        bottom=paper.bottom,
        sky_left=left,
        sky_right=right,
        music_left=left + margin,
        music_right=right - margin,
        stage_top=paper.top,
        stage_bottom=paper.bottom,
        small=0,
        sentence=0,
        lines=(),
        size_sentence=0,
        sides=0,
        legend=None,
        foot=paper.bottom,
    )


@cache
def _look() -> Look:
    return read_look("light", {**COLOURS, **WIDTHS})


def print_look(canvas: Canvas) -> Look:
    """The look on a canvas of a page."""
    return _look().on(canvas)


SIDE = 13 * MILLIMETRE / 4
"""From a row's left end to its first post."""
