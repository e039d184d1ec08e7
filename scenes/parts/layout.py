"""Where `parts` puts everything: a line a part, its name in a gutter before the music, or over it in a tall frame."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from renderer.schedule.pace import share_pages
from renderer.schedule.parts import PartsSchedule
from renderer.timeline.model import Timeline
from scenes.draw.look import Look

GUTTER_WIDE, GUTTER_SQUARE = 264.0, 200.0
"""From the left edge of the text to the music, where names stand before it."""
PITCH_MOST, PITCH_TALL = 150.0, 250.0
"""From one row to the next at most."""
BODY = 100.0
"""The height for which the measures of a row are given: sails, hull and beam, posts, and how far a change's stroke
reaches over and under the line."""
SAIL, HULL, BEAM, POST, REACH_UP, REACH_DOWN = 34.0, 11.0, 8.0, 24.0, 55.0, 34.0
SMALLEST, LARGEST = 0.36, 1.9
NAME_OVER = 42.0
"""What a name takes that stands over its row."""
SECTIONS, SECTIONS_TALL, SECTIONS_SQUARE, SECTIONS_LOW = 72.0, 88.0, 84.0, 52.0
"""Over the rows, for the sections' names, which stand on two lines on a canvas that is not wide; the last on a slide
with more parts than these."""
MOST_LOW = 6
NUMBERS, BRACE, WORDS = 52.0, 30.0, 64.0
"""Under the rows: for the bars' numbers, for a brace, and for the words under it."""
APART, MOST_PAGES = 30.0, 4
"""Pixels between two changes of one part, for which the music is shared out to so many pages at most."""


class PartRow(NamedTuple):
    """One row: its part, the height of its line, and how large it is drawn."""

    part: str
    line: float
    scale: float
    top: float
    """Where the room for the row begins: that of its name in a tall frame."""


@dataclass(frozen=True, eq=False)
class PartsLayout:
    """All places of a schedule's pages, in pixels. A page shows all rows between two ticks."""

    timeline: Timeline
    look: Look
    spans: tuple[tuple[int, int], ...]
    """From which tick to which each page goes."""
    left: float
    """Where the music begins."""
    scale: float
    """Pixels to a tick."""
    rows: tuple[PartRow, ...]

    def x(self, span: tuple[int, int], at: float) -> float:
        """Where a tick stands on a page of music."""
        return self.left + (at - span[0]) * self.scale

    def right(self, span: tuple[int, int]) -> float:
        """Where the music of a page ends."""
        return self.x(span, span[1])

    @property
    def top(self) -> float:
        """Where the rows begin."""
        return self.rows[0].top if self.rows else self.look.canvas.stage_top

    @property
    def bottom(self) -> float:
        """Where they end, with the strokes under them."""
        if not self.rows:
            return self.look.canvas.stage_bottom
        return self.rows[-1].line + REACH_DOWN * self.rows[-1].scale


def lay_parts(schedule: PartsSchedule, look: Look) -> PartsLayout:
    """The rows as large as the most of them allow, the music on one page unless changes come too close."""
    canvas = look.canvas
    left = canvas.music_left
    if not canvas.tall:
        left = canvas.left + (GUTTER_SQUARE if canvas.legend is None else GUTTER_WIDE)
    spans = _share_time(schedule, canvas.music_right - left)
    longest = max(end - start for start, end in spans)
    return PartsLayout(
        timeline=schedule.timeline,
        look=look,
        spans=tuple(spans),
        left=left,
        scale=(canvas.music_right - left) / longest,
        rows=_lay_rows(schedule.parts, look),
    )


def _share_time(schedule: PartsSchedule, width: float) -> list[tuple[int, int]]:
    timeline, stretches = schedule.timeline, schedule.course.stretches
    total = max(end - start for start, end in stretches)
    closest = _closest(schedule)
    best = share_pages(timeline, stretches, total)
    for count in range(1, MOST_PAGES + 1):
        spans = share_pages(timeline, stretches, -(-total // count))
        if len(spans) > MOST_PAGES * len(stretches):
            break
        best = spans
        scale = width / max(end - start for start, end in spans)
        if closest is None or closest * scale >= APART:
            break
    return best


def _closest(schedule: PartsSchedule) -> int | None:
    """The fewest ticks between two changes of one part."""
    last: dict[str, int] = {}
    gaps = []
    for change in schedule.changes:
        if change.part in last:
            gaps.append(change.at - last[change.part])
        last[change.part] = change.at
    return min(gaps, default=None)


def _lay_rows(parts: Sequence[str], look: Look) -> tuple[PartRow, ...]:
    canvas = look.canvas
    under = NUMBERS + BRACE + WORDS
    top = canvas.stage_top + (
        SECTIONS_TALL if canvas.tall else SECTIONS if canvas.legend else SECTIONS_SQUARE
    )
    if canvas.low < 1 and len(parts) > MOST_LOW:
        top, under = canvas.stage_top + SECTIONS_LOW, NUMBERS + WORDS
    bottom = (canvas.bottom if canvas.legend is None else canvas.legend - 36) - under
    over = NAME_OVER if canvas.tall else 0.0
    pitch = min(PITCH_TALL if canvas.tall else PITCH_MOST, (bottom - top) / max(1, len(parts)))
    scale = min(LARGEST, max(SMALLEST, (pitch - over) / BODY))
    first = top if canvas.tall else top + min(130.0, (bottom - top - len(parts) * pitch) / 2.5)
    return tuple(
        PartRow(
            part=part,
            line=first + index * pitch + over + (pitch - over) * 0.6,
            scale=scale,
            top=first + index * pitch,
        )
        for index, part in enumerate(parts)
    )
