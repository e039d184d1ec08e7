"""The harmonies of close-ups: the fields of the sky, the seam at which the new one opens, the two names beside it."""

from collections.abc import Sequence
from fractions import Fraction

from renderer.schedule.crossings import CloseUp
from renderer.timeline.model import Harmony, Timeline
from scenes.draw.chords import chord_width, draw_chord
from scenes.draw.kept import Kept
from scenes.draw.look import BOLD, CAPITAL, Look, glide
from scenes.draw.paths import rectangle
from scenes.draw.segment import Moment, Picture
from scenes.draw.shapes import draw
from scenes.row.line import Row
from scenes.row.sky import draw_sky

OPENING = Fraction(3, 5)
"""Seconds in which the new sky opens."""
TALL_NAME, LOW_NAME = 150.0, 96.0
"""The type size of the two names in a tall picture, and on a slide."""


class CloseUpHarmonies:
    """The sky of each close-up over its row."""

    def __init__(
        self, timeline: Timeline, look: Look, keep: Kept, close_ups: Sequence[CloseUp], rows: Sequence[Row]
    ) -> None:
        self.timeline, self.look, self.keep = timeline, look, keep
        self.close_ups, self.rows = close_ups, rows

    def sky(self, index: int) -> Picture:
        """All fields of the row as they will be, with the small names of those that are not meant."""
        row, close_up = self.rows[index], self.close_ups[index]
        look, harmony = self.look, self.timeline.harmony
        drawn: Picture = [*draw_sky(row, harmony, seam_top=row.top + self.name_size + 30)]
        for field in harmony:
            left = max(row.left, row.x(field.at))
            x, stop = left + 15, min(row.right, row.x(field.end), self.look.canvas.right) - 8
            if not row.shows(field.at, field.end) or close_up.crossing.at in (field.at, field.end):
                continue
            if max(x, self.look.canvas.left) + chord_width(field.name, look.size_least) <= stop:
                baseline = row.top + 34 + look.size_least * CAPITAL
                place = max(x, self.look.canvas.left)
                drawn.append(draw_chord(field.name, place, baseline, look.size_least, look.harmony))
        return drawn

    def _opened(self, index: int, moment: Moment) -> float:
        """How far the new sky has opened."""
        close_up = self.close_ups[index]
        turns = close_up.seconds_of(self.timeline, close_up.crossing.at)
        return glide(moment.share(max(close_up.seconds, turns - OPENING), turns))

    def cover(self, index: int, moment: Moment) -> Picture:
        """What the first harmony still covers."""
        row, close_up, look = self.rows[index], self.close_ups[index], self.look
        share, seam = self._opened(index, moment), row.x(close_up.crossing.at)
        if share == 1:
            return []
        edge = seam + share * (row.right - seam) - (0 if share else look.width_seam)
        return [draw(self._colour_before(close_up), rectangle(edge, row.top, row.right, row.line))]

    def names(self, index: int, moment: Moment) -> Picture:
        """The seam, and the two harmonies' names, the new one's as it comes."""
        row, close_up, look = self.rows[index], self.close_ups[index], self.look
        share, seam = self._opened(index, moment), row.x(close_up.crossing.at)
        drawn: Picture = []
        if share:
            half = (look.width_seam + 2) / 2
            line = rectangle(seam - half, row.top, seam + half, row.line)
            drawn.append(draw(look.seam, line, opacity=share))
        crossing = close_up.crossing
        fields = {field.end: field for field in self.timeline.harmony} | {
            -1 - field.at: field for field in self.timeline.harmony
        }
        before, after = fields[crossing.at], fields[-1 - crossing.at]
        left = max(self.look.canvas.left, row.x(before.at) + 12, row.left)
        right = min(self.look.canvas.right, row.x(after.end) - 12, row.right)
        drawn += self.keep(self._big, crossing.before, row, seam - 32, left, 1.0)
        if share > 0.5:
            opacity = 2 * share - 1
            drawn += self.keep(self._big, crossing.after, row, seam + 32, right, opacity)
        return drawn

    def _big(self, name: str, row: Row, x: float, limit: float, opacity: float) -> Picture:
        """A harmony's name beside the seam, as large as its field lets it be, and no further than `limit`; it is left
        out where even the least size has no room."""
        room, look = abs(limit - x), self.look
        size = min(self.name_size, room / max(1e-9, chord_width(name, 1.0, BOLD)))
        if size < look.size_least:
            return []
        baseline = row.top + 30 + self.name_size * CAPITAL
        anchor = 1.0 if limit < x else 0.0
        return [draw_chord(name, x, baseline, size, look.harmony, BOLD, anchor, opacity)]

    @property
    def name_size(self) -> float:
        if self.look.canvas.tall:
            return TALL_NAME
        return self.look.size_close if self.look.canvas.low == 1 else LOW_NAME

    def _colour_before(self, close_up: CloseUp) -> str:
        fields: tuple[Harmony, ...] = self.timeline.harmony
        number = next(n for n, field in enumerate(fields) if field.end == close_up.crossing.at)
        return self.look.sky_two if number % 2 else self.look.sky_one
