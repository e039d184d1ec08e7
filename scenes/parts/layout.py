"""Where `parts` puts everything: places across and up, what a row is made of, where its name has room."""

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

from renderer.schedule.part_rows import Stretch, count_rows
from renderer.schedule.parts import PartsPage, PartsSchedule, PartsStop
from scenes.draw.kept import Kept
from scenes.draw.look import SEMIBOLD, WIDE, Look
from scenes.draw.paths import Contour, clip_all, hull, rectangle, sail
from scenes.draw.text import shorten, text_width
from scenes.parts.marks import REACH, ChangeMark

NAMES_TOP = 236.0
"""The highest that a row's name may reach, under the sections' names."""
NUMBERS = WIDE.stage_bottom - 6.0
"""The baseline of the bars' numbers."""
ROW_MOST = 74.0
FIRST_ABOVE, FIRST_BELOW = 22.0, 28.0
"""From the line to the middle of the nearest row."""
ROOM = NUMBERS - 28 - NAMES_TOP - FIRST_ABOVE - FIRST_BELOW
"""Height of all rows together."""
BODY = 8.0
"""Height of a hull or beam."""
SAIL_LEAST = 5.0
"""Narrower repetitions have no sail of their own."""
TICK_LEAST = 9.0


class RowName(NamedTuple):
    """The names on a row: where they begin and how wide they are, in pixels."""

    text: str
    x: float
    width: float


class RowShape(NamedTuple):
    """A stretch's hull with its sails or beam with its ticks, from `left` to `right`, and its names if they have
    room."""

    left: float
    right: float
    contours: tuple[Contour, ...]
    name: RowName | None


class PartsLayout:
    """All places of a schedule's pages, in pixels; what a row is made of is worked out once."""

    def __init__(self, schedule: PartsSchedule, look: Look) -> None:
        self.timeline = schedule.timeline
        self.schedule = schedule
        self.look = look
        longest = max(page.end - page.start for page in schedule.pages)
        self.scale = (look.canvas.music_right - look.canvas.music_left) / longest
        most = max(self._rows(page) for page in schedule.pages)
        self.pitch = min(ROW_MOST, ROOM / max(1, most))
        self.keep = Kept()

    def x(self, page: PartsPage, at: int) -> float:
        """Where a tick stands on a page, in pixels."""
        return self.look.canvas.music_left + (at - page.start) * self.scale

    def right(self, page: PartsPage) -> float:
        """Where a page's line ends."""
        return min(
            float(self.look.canvas.right),
            self.x(page, page.end) + self.look.canvas.music_left - self.look.canvas.left,
        )

    def line(self, page: PartsPage) -> float:
        """The middle of a page's line: as high as the rows over it ask for."""
        slack = max(0.0, ROOM - self._rows(page) * self.pitch)
        return NAMES_TOP + count_rows(page.stretches, "figure") * self.pitch + FIRST_ABOVE - 6 + slack / 2

    def _rows(self, page: PartsPage) -> int:
        return count_rows(page.stretches, "figure") + count_rows(page.stretches, "meter")

    def y(self, page: PartsPage, stretch: Stretch) -> float:
        """The middle of a stretch's hull or beam."""
        if stretch.clock == "figure":
            return self.line(page) - FIRST_ABOVE - stretch.row * self.pitch
        return self.line(page) + FIRST_BELOW + stretch.row * self.pitch

    def shape(self, index: int, number: int) -> RowShape:
        """What stretch `number` of page `index` is made of."""
        return self.keep(self._make_shape, index, number)

    def _make_shape(self, index: int, number: int) -> RowShape:
        page = self.schedule.pages[index]
        stretch = page.stretches[number]
        left, right = self._ends(page, stretch)
        y, figure = self.y(page, stretch), stretch.clock == "figure"
        name = self._name(page, stretch)
        slot = (name.x - 8, name.x + name.width + 12) if name else (0.0, 0.0)
        runs_out = stretch.end == page.end and stretch.goes_on
        bow = 0.0 if runs_out or self._crosses(page, stretch, stretch.end, after=False) else BODY
        top, bottom = y - BODY / 2, y + BODY / 2
        if figure:
            body = hull(left, right, top, bottom, min(bow, (right - left) / 2))
            teeth = self.sails(page, stretch, slot)
        else:
            body = rectangle(left, top, right, bottom)
            teeth = self._ticks(page, stretch, slot)
        return RowShape(left, right, (body, *teeth), name)

    def _ends(self, page: PartsPage, stretch: Stretch) -> tuple[float, float]:
        """Where a stretch's hull or beam begins and ends, in pixels: beside the strokes it comes from or goes to."""
        left, right = self.x(page, stretch.at), self.x(page, stretch.end)
        width = right - left
        if stretch.came_on and stretch.at == page.start:
            left = float(self.look.canvas.left)
        elif self._crosses(page, stretch, stretch.at, after=True):
            left += min(REACH, width / 2)
        if stretch.end == page.end:
            right = self.right(page) if stretch.goes_on else right
        elif self._crosses(page, stretch, stretch.end, after=False):
            right -= min(REACH, width / 2)
        return left, right

    def _crosses(self, page: PartsPage, stretch: Stretch, at: int, after: bool) -> bool:
        return any(
            change.parts == stretch.parts
            and change.crosses
            and (change.after if after else change.before) == stretch.clock
            for stop in page.stops
            if stop.at == at
            for change in stop.changes
        )

    def sails(self, page: PartsPage, stretch: Stretch, slot: tuple[float, float]) -> list[Contour]:
        """One small sail a repetition of what the parts play, none in the name's place."""
        left, right = self._ends(page, stretch)
        height = min(36.0, self.pitch * 0.56)
        base = self.y(page, stretch) - BODY / 2 - self.look.gap
        voices = [s for s in self.timeline.sides if s.part == stretch.parts[0] and s.end > stretch.at]
        sails: list[Contour] = []
        for side in voices:
            for repetition in self.timeline.repetitions:
                if repetition.voice != side.side or repetition.end <= max(side.at, stretch.at):
                    continue
                if repetition.at >= min(side.end, stretch.end):
                    continue
                x, end = self.x(page, repetition.at), self.x(page, repetition.end)
                covered = slot[0] < end and x < slot[1]
                if end - x >= SAIL_LEAST and not covered:
                    start = max(left, self.x(page, side.at)) if side.at > stretch.at else left
                    if min(end, right) - max(x, start) >= SAIL_LEAST:
                        sails += clip_all([sail(x, base, end - x - self.look.gap, height)], start, right)
        return sails

    def _ticks(self, page: PartsPage, stretch: Stretch, slot: tuple[float, float]) -> list[Contour]:
        """A tick a bar under the beam, none in the name's place."""
        left, right = self._ends(page, stretch)
        bars = [bar.at for bar in self.timeline.bars if stretch.at <= bar.at < stretch.end]
        y = self.y(page, stretch) + BODY / 2 - 1
        return [
            rectangle(x - 2, y, x + 2, y + 15)
            for x in (self.x(page, at) for at in bars[:: tick_every(bars, self.scale)])
            if left <= x - 2 and x + 2 <= right and not slot[0] < x < slot[1]
        ]

    def _name(self, page: PartsPage, stretch: Stretch) -> RowName | None:
        """A stretch's names, where they begin and how wide they are: in the first gap between the strokes that pass
        its row in which they fit, else shortened in the widest; None if even that is too narrow."""
        look = self.look
        left, right = self._ends(page, stretch)
        left, right = max(left, self.x(page, page.start)), min(right, self.x(page, page.end))
        text = ", ".join(stretch.parts)
        width = text_width(text, look.size_least, SEMIBOLD)
        y = self.y(page, stretch)
        walls = [left - 9 if stretch.clock == "figure" else left - 2]
        for stop in page.stops:
            mark = self.change_mark(page, stop)
            x = self.x(page, stop.at)
            if mark and left - 1 < x < right and mark.top - 20 <= y <= mark.bottom + 20:
                walls.append(x)
        walls.append(right + 8)
        gaps = [(a + 14, b - 14) for a, b in pairwise(walls)]
        for start, end in gaps:
            if width <= end - start:
                return RowName(text, start, width)
        start, end = max(gaps, key=lambda gap: gap[1] - gap[0])
        text = shorten(text, look.size_least, end - start, SEMIBOLD)
        if len(text) < 3:
            return None
        return RowName(text, start, text_width(text, look.size_least, SEMIBOLD))

    def change_mark(self, page: PartsPage, stop: PartsStop) -> ChangeMark | None:
        """The stroke at a stop; None if nobody goes through the line there."""
        leaving, arriving = [], []
        count = 0
        for change in stop.changes:
            if not change.crosses:
                continue
            count += len(change.parts)
            for stretch in page.stretches:
                if stretch.parts != change.parts:
                    continue
                half = (
                    self.x(page, stretch.end) - self.x(page, stretch.at)
                ) / 2 or self.look.canvas.music_left - self.look.canvas.left
                if stretch.end == stop.at and stretch.clock == change.before:
                    leaving.append((self.y(page, stretch), min(REACH, half)))
                elif stretch.at == stop.at and stretch.clock == change.after:
                    arriving.append((self.y(page, stretch), min(REACH, half)))
        if not leaving or not arriving:
            return None
        return ChangeMark(self.x(page, stop.at), self.line(page), tuple(leaving), tuple(arriving), count)


def tick_every(places: Sequence[int], scale: float) -> int:
    """Of places that follow each other, how many in a row share one tick so that ticks don't touch."""
    if len(places) < 2:
        return 1
    step = (places[-1] - places[0]) / (len(places) - 1) * scale
    every = 1
    while step * every < TICK_LEAST:
        every *= 2
    return every
