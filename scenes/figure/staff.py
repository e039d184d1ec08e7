"""A figure on a staff: where its groups stand on one system or several, and how they are painted.

The line is the look's `line`, the notes are the figure's amber, accents are `ink` as everywhere. Dashes part the
groups; there are no bar lines, since a figure runs over the bars.
"""

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate
from typing import NamedTuple

import numpy as np

from renderer.timeline.model import Figure
from scenes.draw.look import Look
from scenes.draw.paths import Contour, disc, rectangle
from scenes.draw.shapes import FilledShape, draw
from scenes.figure.engraving import Engraving, engrave

MOST_SPACE, LEAST_SPACE = 26.0, 12.0
"""Pixels to a staff space: the height of a note's head."""
SPREADS = ((0.25, 0.6), (0.12, 0.5), (0.0, 0.3))
"""How widely notes are set, from wide to narrow, as verovio's linear and other spacing."""
GROUP_GAP, CLEF_GAP = 1.3, 1.2
"""Staff spaces between groups, and after the clef."""
POINTER = 9.0
"""Radius of the disc under the note that sounds."""
SYSTEM_GAP = 10.0


class StaffBox(NamedTuple):
    """Room on the picture, in pixels."""

    left: float
    top: float
    right: float
    bottom: float


class System(NamedTuple):
    """One line of music: the height of its line, its ends, and where each of its groups begins."""

    line: float
    left: float
    right: float
    places: tuple[tuple[int, float], ...]


@dataclass(frozen=True)
class Staff:
    """A figure's notes in their places."""

    figure: Figure
    engraving: Engraving
    space: float
    systems: tuple[System, ...]

    @property
    def box(self) -> StaffBox:
        """What it may cover, the pointer with it."""
        first, last = self.systems[0], self.systems[-1]
        return StaffBox(
            first.left,
            first.line + self.engraving.top * self.space,
            max(system.right for system in self.systems),
            last.line + _below(self.engraving, self.space),
        )


def lay_staff(figure: Figure, room: StaffBox, most_systems: int, least: float = LEAST_SPACE) -> Staff | None:
    """The figure's notes as large as they fit a room, set as widely as that allows; None where they do not fit at
    `least` pixels to a staff space."""
    space = MOST_SPACE
    while space >= least:
        for spread in SPREADS:
            engraving = engrave(figure, *spread)
            for count in range(1, most_systems + 1):
                height = count * _height(engraving, space) + (count - 1) * SYSTEM_GAP
                rows = pack(engraving, count, (room.right - room.left) / space)
                if rows is not None and height <= room.bottom - room.top:
                    top = (room.top + room.bottom - height) / 2
                    return Staff(
                        figure, engraving, space, tuple(_place(engraving, rows, room.left, top, space))
                    )
        space -= 1.0
    return None


def pack(engraving: Engraving, count: int, width: float) -> list[range] | None:
    """Groups shared out to so many systems, as equal as can be and none wider than `width` staff spaces; None if
    they do not fit."""
    widths = [group.width + GROUP_GAP for group in engraving.groups]
    room = width - engraving.clef_width - CLEF_GAP
    if _rows(widths, room, count) is None:
        return None
    least, most = 0.0, room
    while most - least > 0.1:
        middle = (least + most) / 2
        least, most = (least, middle) if _rows(widths, middle, count) else (middle, most)
    return _rows(widths, most, count)


def _rows(widths: Sequence[float], room: float, count: int) -> list[range] | None:
    rows, start, filled = [], 0, 0.0
    for index, width in enumerate(widths):
        if width > room:
            return None
        if filled + width > room:
            rows.append(range(start, index))
            start, filled = index, 0.0
        filled += width
    rows.append(range(start, len(widths)))
    return rows if len(rows) <= count else None


def _height(engraving: Engraving, space: float) -> float:
    return -engraving.top * space + _below(engraving, space)


def _pointer_drop(engraving: Engraving, space: float) -> float:
    """How far under the line the pointer's middle runs."""
    return max(engraving.bottom, 1.0) * space + 5 + POINTER


def _below(engraving: Engraving, space: float) -> float:
    return _pointer_drop(engraving, space) + POINTER


def _place(
    engraving: Engraving, rows: Sequence[range], left: float, top: float, space: float
) -> Iterator[System]:
    line = top - engraving.top * space
    for row in rows:
        x = left + (engraving.clef_width + CLEF_GAP) * space
        places = []
        for index in row:
            places.append((index, x))
            x += (engraving.groups[index].width + GROUP_GAP) * space
        yield System(line, left, x - GROUP_GAP / 2 * space, tuple(places))
        line += _height(engraving, space) + SYSTEM_GAP


def draw_staff_lines(staff: Staff, look: Look, opacity: float = 1.0) -> list[FilledShape]:
    """The systems without their notes: line, clef, dashes between the groups."""
    space = staff.space
    lines, clefs = [], []
    for system in staff.systems:
        half = look.width_pulse / 2
        lines.append(rectangle(system.left, system.line - half, system.right, system.line + half))
        clefs += _moved(staff.engraving.clef, system.left, system.line, space)
        for _, x in system.places[1:]:
            middle = x - GROUP_GAP / 2 * space
            for step in (-1.5, -0.3, 0.9):
                y = system.line + step * space
                lines.append(rectangle(middle - half, y, middle + half, y + 0.6 * space))
    return [draw(look.line, *lines, opacity=opacity), draw(look.mute, *clefs, opacity=opacity)]


def draw_staff_group(staff: Staff, look: Look, index: int, opacity: float = 1.0) -> list[FilledShape]:
    """The notes of one group, and its accents."""
    group = staff.engraving.groups[index]
    system, x = next((s, x) for s in staff.systems for number, x in s.places if number == index)
    painted = ((look.sail_one, group.notes), (look.ink, group.accents))
    return [
        draw(colour, *_moved(contours, x, system.line, staff.space), opacity=opacity)
        for colour, contours in painted
        if contours
    ]


def draw_pointer(staff: Staff, look: Look, pulses: float) -> list[FilledShape]:
    """The disc that runs along under the notes, `pulses` after the figure's start."""
    x, y = pointer_place(staff, pulses)
    return [draw(look.ink, disc(x, y, POINTER))]


def pointer_place(staff: Staff, pulses: float) -> tuple[float, float]:
    """Where the pointer stands: exactly under each note when it sounds, evenly in between; where a system ends it
    runs to its end."""
    starts = [0, *accumulate(staff.figure.groups)]
    firsts = [starts[system.places[0][0]] for system in staff.systems]
    system = staff.systems[max(0, bisect_right(firsts, pulses) - 1)]
    anchors: list[tuple[float, float]] = []
    for index, x in system.places:
        heads = dict(staff.engraving.groups[index].heads)
        heads.setdefault(starts[index], 0.6)
        anchors += [(float(pulse), x + head * staff.space) for pulse, head in sorted(heads.items())]
    anchors.append((float(starts[system.places[-1][0] + 1]), system.right))
    places, across = zip(*anchors, strict=True)
    x = float(np.interp(pulses, places, across))
    return x, system.line + _pointer_drop(staff.engraving, staff.space)


def _moved(contours: Sequence[Contour], x: float, y: float, space: float) -> list[Contour]:
    return [contour * space + np.array([x, y]) for contour in contours]
