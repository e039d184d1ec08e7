"""One repetition seen close up: its counts, the beats under it, where the harmony turns in it, and its shares."""

from collections.abc import Iterable
from fractions import Fraction
from math import inf
from typing import NamedTuple

import numpy as np

from renderer.schedule.wording import mixed
from renderer.timeline.model import Bar, Beat, Repetition
from scenes.draw.look import BOLD, CAPITAL, REGULAR, SEMIBOLD
from scenes.draw.paths import brace, clip_all, rectangle, sail_height
from scenes.draw.shapes import FilledShape, draw, draw_text
from scenes.draw.text import fit_size, letter, text_width, wrap
from scenes.row.line import Row, draw_line, draw_post

LOZENGE = 22.0
"""Pixels to either side of a crossing that its lozenge takes."""
NOTCH, PULSE_POST = 15.0, 16.0
SHARE_DROP = 30.0
"""From the line to the braces."""


class CloseRow(NamedTuple):
    """A row, the repetition that is meant, the tick of the crossing that is meant in it, and of its others."""

    row: Row
    repetition: Repetition | None = None
    crossing: int | None = None
    others: tuple[int, ...] = ()

    @property
    def step(self) -> float:
        """Pixels to a pulse of the repetition."""
        return self.row.scale * (self.repetition.statement.pulse if self.repetition else 0)


def draw_counts(close: CloseRow, counted: int, lit: float | None = None, first: int = 0) -> list[FilledShape]:
    """The counts of the repetition from tick `first` up to `counted` that the row shows, each right of its notch; they
    begin again with each group. With `lit` the repetition is lit only up to that pixel."""
    row, repetition, look = close.row, close.repetition, close.row.look
    if repetition is None:
        return []
    statement, drawn = repetition.statement, []
    colour = look.ink if statement.kind == "tail" else look.on_sail
    taken = row.left
    for into in range(first, counted, statement.pulse):
        group = statement.group_at(into)
        count, x = (into - group.at) // statement.pulse + 1, row.x(repetition.at + into)
        if x < max(row.left, look.canvas.left - 6) or x + close.step > min(
            row.right + 1, look.canvas.right + 6
        ):
            continue
        if count > 1:
            drawn.append(draw(colour, rectangle(x - 1.5, row.hull_top, x + 1.5, row.hull_top + NOTCH)))
        weight = BOLD if count == 1 else REGULAR
        found = _place_count(close, x, str(count), weight, taken)
        if found is None:
            continue
        place, size = found
        baseline = row.hull_bottom - (row.style.hull - NOTCH - size * CAPITAL) / 2
        if lit is not None and place + text_width(str(count), size, weight) > lit:
            drawn += _half_lit(row, str(count), (place, baseline, size, weight), lit)
        else:
            drawn.append(draw_text(str(count), place, baseline, size, colour, weight))
        taken = place + text_width(str(count), size, weight) + 4
    return drawn


def _half_lit(row: Row, text: str, place: tuple[float, float, float, int], lit: float) -> list[FilledShape]:
    """A count over which the light is passing: in the colours for both grounds."""
    x, baseline, size, weight = place
    contours = [contour * size + np.array([x, baseline]) for contour in letter(text, 1.0, weight).contours]
    drawn, look = [], row.look
    for colour, left, right in ((look.on_sail, -inf, lit), (look.on_soft, lit, inf)):
        part = clip_all(contours, left, right)
        if part:
            drawn.append(FilledShape(part, colour, 1.0, text if right == inf else None, size))
    return drawn


def _place_count(
    close: CloseRow, x: float, text: str, weight: int, taken: float
) -> tuple[float, float] | None:
    """Where a count stands and how large: clear of the lozenge and of the count before it; None without room."""
    look, row = close.row.look, close.row
    seams = [row.x(at) for at in (close.crossing, *close.others) if at is not None]
    gap = max(5.0, min(18.0, close.step * 0.16))
    inside = [seam + LOZENGE for seam in seams if x - 1 <= seam < x + close.step]
    for size in (row.style.number, look.size_least):
        width = text_width(text, size, weight)
        for place in (x + gap, x + 3, *inside):
            free = all(place >= seam + LOZENGE or place + width <= seam - LOZENGE for seam in seams)
            if place >= max(x, taken) and place + width <= x + close.step and free:
                return place, size
    return None


def draw_close_posts(close: CloseRow, bars: Iterable[Bar], beats: Iterable[Beat]) -> list[FilledShape]:
    """The line with bars, beats and pulses under it, all of them numbered where there is room."""
    row, look, style = close.row, close.row.look, close.row.style
    drawn = [draw_line(row)]
    seen = [beat for beat in beats if row.left + 3 <= row.x(beat.at) <= row.right - 3]
    starts = {beat.at for beat in seen}
    if close.repetition and close.step >= 12:
        pulse, origin = close.repetition.statement.pulse, close.repetition.at
        first = origin - (origin - row.start) // pulse * pulse
        pulses = [at for at in range(first, row.end + 1, pulse) if at not in starts]
        drawn += [draw_post(row, at, PULSE_POST, look.width_pulse + 1, look.meter_line) for at in pulses]
    beat_free = bar_free = row.left
    for beat in seen:
        x = row.x(beat.at)
        downbeat = beat.number == 1
        length = style.post if downbeat else style.beat
        drawn.append(
            draw_post(
                row, beat.at, length, (look.width_post if downbeat else look.width_beat + 1), look.meter_line
            )
        )
        text, size = (
            (look.words.say(f"bar {beat.bar_number}"), style.bar)
            if downbeat
            else (str(beat.number), look.size_least)
        )
        width, free = text_width(text, size, SEMIBOLD), bar_free if downbeat else beat_free
        baseline = row.line + (style.post if downbeat else style.beat) - 1
        inside = look.canvas.left <= x + 12 and x + 12 + width <= min(row.right, look.canvas.right)
        if x + 12 >= free and inside:
            drawn.append(draw_text(text, x + 12, baseline, size, look.meter_text, SEMIBOLD))
            free = x + 12 + width + 10
        bar_free, beat_free = (free, beat_free) if downbeat else (bar_free, free)
    return drawn


def draw_seam_in_vessel(close: CloseRow) -> list[FilledShape]:
    """Dashes where the seam would pass before the sail and the hull."""
    row, repetition, look = close.row, close.repetition, close.row.look
    if repetition is None or close.crossing is None:
        return []
    into = close.crossing - repetition.at
    group, x = repetition.statement.group_at(into), row.x(close.crossing)
    across = (into - group.at) * row.scale
    width = group.written * row.scale - look.gap
    top = row.base - (sail_height(width, row.base - row.mast(group.written), across) if across else 0)
    dashes = []
    y = top + 8
    while y < row.hull_bottom:
        dashes.append(rectangle(x - 1.5, y, x + 1.5, min(y + 8, row.hull_bottom)))
        y += 14
    colour = look.sail_one if repetition.statement.kind == "tail" else look.on_sail
    return [draw(colour, *clip_all(dashes, row.left, row.right))]


def draw_shares(close: CloseRow, share: tuple[int, int, str], side: int, opacity: float) -> list[FilledShape]:
    """A brace over one share of the repetition, (from, up to, harmony), and how many pulses it has; `side` 0 lies
    left of the crossing, 1 right."""
    row, look = close.row, close.row.look
    if close.repetition is None or close.crossing is None:
        return []
    start, end, name = share
    left, right = max(row.left, row.x(start) + 5 - 2 * side), min(row.right, row.x(end) - 3 - 2 * (1 - side))
    y, seam = row.line + row.style.post + SHARE_DROP, row.x(close.crossing)
    text = f"{mixed(Fraction(end - start, close.repetition.statement.pulse))} in {name}"
    room = (look.canvas.right - seam if side else seam - look.canvas.left) - 16
    size = fit_size(text, look.size_title, look.size_least, room, BOLD)
    drawn = [draw(look.sail_one, *brace(left, right, y, look.width_line), opacity=opacity)]
    for number, line in enumerate(wrap(text, size, room, BOLD)):
        width = text_width(line, size, BOLD)
        x = (left + right - width) / 2
        x = max(x, seam + 16) if side else min(x, seam - 16 - width)
        x = max(float(look.canvas.left), min(x, look.canvas.right - width))
        baseline = y + 20 + size * CAPITAL + number * size * 1.15
        drawn.append(draw_text(line, x, baseline, size, look.ink, BOLD, opacity=opacity))
    return drawn
