"""Harmony over a row of music: fields taken in turn behind the sails, the seams between them, their names."""

from collections.abc import Sequence

from renderer.timeline.model import Harmony
from scenes.draw.look import CAPITAL, RowStyle
from scenes.draw.paths import rectangle
from scenes.draw.shapes import FilledShape, draw
from scenes.row.line import Row

NAME_GAP = 24


def draw_sky(
    row: Row, harmony: Sequence[Harmony], end: float | None = None, seam_top: float | None = None
) -> list[FilledShape]:
    """The harmonies as fields, taken in turn, with the seams between them; `end` is where the sky stops and
    `seam_top` where the seams begin, in pixels."""
    look = row.look
    right = row.right if end is None else min(end, row.right)
    if not harmony:
        return [draw(look.sky_one, rectangle(row.left, row.top, right, row.line))]
    fields, seams = [], []
    if row.shows(row.start, harmony[0].at):
        fields.append(draw(look.sky_one, rectangle(row.left, row.top, row.x(harmony[0].at), row.line)))
    for number, field in enumerate(harmony):
        if not row.shows(field.at, field.end):
            continue
        x = row.left if field.at < row.start else row.x(field.at)
        if field.at == row.start and number == 0:
            x = row.left
        stop = row.right if field.end >= row.end else row.x(field.end)
        colour = look.sky_two if number % 2 else look.sky_one
        if x < right:
            fields.append(draw(colour, rectangle(x, row.top, min(stop, right), row.line)))
        if number and row.holds(field.at) and row.x(field.at) < right:
            if field.at == row.start:
                before = look.sky_one if number % 2 else look.sky_two
                fields.append(draw(before, rectangle(row.left, row.top, x, row.line)))
            seam = row.x(field.at)
            top = row.top + (row.style.name * CAPITAL + 18 if has_two_lines(row.style) else 0)
            top = top if seam_top is None else seam_top
            seams.append(
                draw(
                    look.seam,
                    rectangle(seam - row.look.width_seam / 2, top, seam + row.look.width_seam / 2, row.line),
                )
            )
    return [*fields, *seams]


def has_two_lines(style: RowStyle) -> bool:
    """Whether the room over the sails holds two lines of names."""
    return style.headroom >= 2 * (style.name * CAPITAL + 14)
