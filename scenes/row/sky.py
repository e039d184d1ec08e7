"""Harmony over a row of music: fields taken in turn behind the sails, the seams between them, their names."""

from collections.abc import Iterable, Sequence

from renderer.timeline.model import Harmony
from scenes.draw.look import CAPITAL, SEMIBOLD, RowStyle
from scenes.draw.paths import rectangle
from scenes.draw.shapes import FilledShape, draw, draw_text
from scenes.draw.text import fit_size, musical, text_width
from scenes.row.line import Row

NAME_GAP, NAME_ROOM = 24, 21
LOWER_LINE = 100.0
"""Headroom in which a second line of names stands clear of the sails."""


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


def draw_names(
    row: Row, harmony: Sequence[Harmony], sections: Iterable[tuple[str, int]]
) -> list[FilledShape]:
    """The harmonies' names, each at its field's top left, after its section's name if a section begins there.

    Where the row has room for two lines of names, the sections' stand on the first and the harmonies' on the
    second.
    """
    look, style = row.look, row.style
    starts = {at: name for name, at in sections if row.holds(at)}
    shown = [field for field in harmony if row.shows(field.at, field.end)]
    places = {max(field.at, row.start): field for field in shown}
    marks = sorted({*places, *starts})
    two_lines = has_two_lines(style)
    first = row.top + max(style.name * CAPITAL + 13, style.headroom * 0.72 if style.name > 80 else 0)
    second = first + style.name * CAPITAL + 15 if two_lines else first
    drawn: list[FilledShape] = []
    lower_free = 0.0
    for index, at in enumerate(marks):
        seam = at != row.start or any(field.at == at for field in harmony[1:])
        x = row.x(at) + (15 if seam else 0)
        limit = (row.x(marks[index + 1]) if index + 1 < len(marks) else row.right) - 6
        if at in starts:
            room = row.right - x if two_lines else limit - x
            size = fit_size(
                starts[at], min(style.name, row.look.size_sentence), row.look.size_least, room, SEMIBOLD
            )
            drawn.append(draw_text(starts[at], x, first, size, look.ink, SEMIBOLD))
            x += 0 if two_lines else text_width(starts[at], size, SEMIBOLD) + NAME_GAP
        if at in places:
            name = musical(places[at].name)
            size = fit_size(name, style.name, row.look.size_least, limit - x, SEMIBOLD)
            baseline = second
            if text_width(name, size, SEMIBOLD) > limit - x:
                # A chord cut short would be another chord: it stands lower, where there is room, or not at all.
                baseline = second + size * CAPITAL + 12
                if (
                    style.headroom < LOWER_LINE
                    or x < lower_free
                    or x + text_width(name, size, SEMIBOLD) > row.right
                ):
                    continue
                lower_free = x + text_width(name, size, SEMIBOLD) + 12
            drawn.append(draw_text(name, x, baseline, size, look.harmony, SEMIBOLD))
    return drawn


def has_two_lines(style: RowStyle) -> bool:
    """Whether the room over the sails holds two lines of names."""
    return style.headroom >= 2 * (style.name * CAPITAL + 14)


def names_collide(row: Row, harmony: Sequence[Harmony], sections: Iterable[tuple[str, int]]) -> bool:
    """Whether a section's name and its first harmony's are too wide to stand side by side in the first
    field."""
    for name, at in sections:
        field = next((field for field in harmony if field.at <= at < field.end), None)
        if not row.holds(at) or field is None:
            continue
        width = (
            text_width(name, row.look.size_least, SEMIBOLD)
            + NAME_GAP
            + text_width(musical(field.name), row.look.size_least, SEMIBOLD)
        )
        if row.x(at) + 15 + width > row.x(min(field.end, row.end)) - 6:
            return True
    return False


def names_fit(row: Row, harmony: Sequence[Harmony]) -> bool:
    """Whether every harmony's name is at its least size narrower than its field in the row."""
    for field in harmony:
        if row.shows(field.at, field.end):
            start, end = max(field.at, row.start), min(field.end, row.end)
            stop = row.right if end == row.end else row.x(end)
            if (
                text_width(musical(field.name), row.look.size_least, SEMIBOLD)
                > stop - row.x(start) - NAME_ROOM
            ):
                return False
    return True
