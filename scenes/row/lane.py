"""The lane over a row of music in which the chords' names stand, all of a row in one size and on one baseline."""

from collections.abc import Sequence

from renderer.timeline.model import Harmony
from scenes.draw.chords import chord_width, draw_chord
from scenes.draw.look import SEMIBOLD
from scenes.draw.shapes import FilledShape, draw_text
from scenes.draw.text import musical, shorten
from scenes.row.line import Row

CHORD_LEAST, CHORD_GAP, CHORD_AFTER = 34.0, 15.0, 6.0
"""The least type size of a chord's name; pixels from a seam to its name, and from its end to the next seam."""
LEAST_LETTERS = 2
"""A name is cut off with an ellipsis only if so many letters of it are left."""


def chord_rooms(row: Row, harmony: Sequence[Harmony]) -> list[tuple[Harmony, float, float]]:
    """The chords of a row, each with where its name begins and how wide it may be."""
    limit = min(row.look.canvas.right, row.right)
    rooms = []
    for field in harmony:
        if row.shows(field.at, field.end):
            x = row.x(max(field.at, row.start)) + CHORD_GAP
            stop = limit if field.end >= row.end else min(limit, row.x(field.end))
            rooms.append((field, x, stop - CHORD_AFTER - x))
    return rooms


def lane_size(row: Row, harmony: Sequence[Harmony], most: float) -> float:
    """The one size at which all chords of a row have room for their names; it may be less than can be read."""
    return min([most, *(room / chord_width(field.name, 1.0) for field, _, room in chord_rooms(row, harmony))])


def draw_lane(row: Row, harmony: Sequence[Harmony], baseline: float, most: float) -> list[FilledShape]:
    """The chords' names; one that has no room at the least size ends in an ellipsis, or is left out."""
    size = max(CHORD_LEAST, lane_size(row, harmony, most))
    look, drawn = row.look, []
    for field, x, room in chord_rooms(row, harmony):
        if chord_width(field.name, size) <= room:
            drawn.append(draw_chord(field.name, x, baseline, size, look.harmony))
            continue
        text = shorten(musical(field.name), size, room, SEMIBOLD)
        if len(text) > LEAST_LETTERS:
            drawn.append(draw_text(text, x, baseline, size, look.harmony, SEMIBOLD))
    return drawn
