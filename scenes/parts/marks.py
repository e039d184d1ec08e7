"""The stroke of a change of side: one upright through the line, with a bend from each row that is left and a bend to
each row that is taken."""

from dataclasses import dataclass

from scenes.draw.look import BOLD, CAPITAL, Look
from scenes.draw.paths import Contour, clip_between, disc, elbow, rectangle
from scenes.draw.shapes import FilledShape, draw, draw_text

REACH, RADIUS = 34.0, 14.0
DISC, COUNTED_DISC = 11.0, 22.0


@dataclass(frozen=True, slots=True)
class ChangeMark:
    """At `x`, on the line at `line`; rows as (height, how far a bend reaches beside the stroke), in pixels."""

    x: float
    line: float
    leaving: tuple[tuple[float, float], ...]
    arriving: tuple[tuple[float, float], ...]
    count: int
    """How many parts change."""

    @property
    def top(self) -> float:
        return min(y for y, _ in (*self.leaving, *self.arriving))

    @property
    def bottom(self) -> float:
        return max(y for y, _ in (*self.leaving, *self.arriving))

    def draw(self, look: Look, share: float) -> list[FilledShape]:
        """The stroke as far as it has come: from where the parts leave, through the line, to where they arrive."""
        bands = self._bands(share)
        drawn = []
        for width, colour in ((look.width_post + 2 * look.edge, look.ground), (look.width_post, look.ink)):
            outlines = self._outlines(width)
            shown = [part for top, bottom in bands for part in clip_between(outlines, top, bottom)]
            if shown:
                drawn.append(draw(colour, *shown))
        return [*drawn, *self._disc(look, share)]

    def _outlines(self, width: float) -> list[Contour]:
        outlines = []
        for side, rows in ((-1, self.leaving), (1, self.arriving)):
            for y, reach in rows:
                toward = 1 if y < self.line else -1
                radius = min(RADIUS, reach, abs(self.line - y))
                outlines.append(elbow(self.x, y, side, toward, reach, radius, width))
        half = width / 2
        top = self.top + RADIUS if self.top < self.line else self.line
        bottom = self.bottom - RADIUS if self.bottom > self.line else self.line
        return [*outlines, rectangle(self.x - half, top, self.x + half, bottom)]

    def _bands(self, share: float) -> list[tuple[float, float]]:
        """What is drawn, between level lines: from one end on, or from both if parts leave on both sides."""
        top, bottom = self.top - 20, self.bottom + 20
        if share >= 1:
            return [(top, bottom)]
        down = any(y < self.line for y, _ in self.leaving)
        up = any(y > self.line for y, _ in self.leaving)
        if down and up:
            return [
                (top, top + (self.line - top) * share),
                (bottom - (bottom - self.line) * share, bottom),
            ]
        length = (bottom - top) * share
        return [(top, top + length)] if down else [(bottom - length, bottom)]

    def _disc(self, look: Look, share: float) -> list[FilledShape]:
        """The disc on the line, once the stroke is through; it tells how many change where it is more than one."""
        opacity = max(0.0, min(1.0, (share - 0.6) / 0.4))
        if not opacity:
            return []
        radius = DISC if self.count == 1 else COUNTED_DISC
        drawn = [
            draw(look.ground, disc(self.x, self.line, radius + look.edge), opacity=opacity),
            draw(look.ink, disc(self.x, self.line, radius), opacity=opacity),
        ]
        if self.count > 1:
            baseline = self.line + look.size_least * CAPITAL / 2
            drawn.append(
                draw_text(str(self.count), self.x, baseline, look.size_least, look.ground, BOLD, 0.5, opacity)
            )
        return drawn
