"""compare: a figure and its variant on one scale, left edges in line: what was taken out, what was added.

The figure stands above. Its copy glides down; what the variant lacks is hatched above and fades below; what follows
glides left to close the gap, or right to open one; what is added comes in as an outline. Then curves join the groups'
beginnings, and the difference and the new total are told.
"""

from dataclasses import replace
from fractions import Fraction

import numpy as np

from renderer.schedule.compare import CompareSchedule
from renderer.schedule.compare_words import difference_text, step_text
from renderer.timeline.variant import VariantPiece
from scenes.compare.panel import (
    Counts,
    Panel,
    draw_accent,
    draw_counts,
    draw_frame,
    draw_hatch,
    draw_inner_hits,
    draw_length,
    draw_name,
    draw_total,
    figure_left,
    hollow,
    needs_headline,
)
from scenes.draw.look import BOLD, CAPITAL, SEMIBOLD, Look, glide
from scenes.draw.paths import Contour, polygon, rectangle
from scenes.draw.segment import Moment, Picture
from scenes.draw.shapes import FilledShape, Words, draw, draw_text
from scenes.draw.text import text_width
from scenes.frame.foot import draw_veil
from scenes.frame.headed import HeadedSegment, Sentence

ROOM_ABOVE, BETWEEN, TALL_BETWEEN = 12.0, 132.0, 150.0
"""Pixels from the stage's top to the upper panel, and from its line to the lower one."""
MOVE, DIM = Fraction(9, 10), Fraction(2, 5)
"""Seconds that a move takes, and in which all but what has changed steps back."""
POST_BELOW = 0.4
"""Opacity of the lines that go on down from the groups' beginnings in a tall picture."""
CLEAR = 0.45
"""The share of its way down from which the copy is clear of the figure and may have marks of its own."""
CURVE_STEPS = 24


class CompareSegment(HeadedSegment):
    """One figure and one variant of it."""

    schedule: CompareSchedule

    def __init__(self, schedule: CompareSchedule, look: Look) -> None:
        super().__init__(schedule, look)
        found = schedule.comparison
        self.found = found
        self.lengths = (sum(found.figure), sum(found.variant))
        self.starts = tuple(
            [sum(groups[:index]) for index in range(len(groups) + 1)]
            for groups in (found.figure, found.variant)
        )
        figures = (schedule.figure, schedule.variant)
        whole = (min(look.canvas.music_right, look.canvas.right) - figure_left(look)) / max(
            float(f.pulses * f.pulse) for f in figures
        )
        scales = [whole * float(figure.pulse) for figure in figures]
        longest = max(*found.figure, *found.variant)
        headline = needs_headline(look, (schedule.figure.name, schedule.variant.name))
        self.upper = Panel(look.canvas.stage_top + ROOM_ABOVE, scales[0], longest, headline, look)
        between = TALL_BETWEEN if look.canvas.tall else BETWEEN * look.canvas.low
        self.lower = Panel(self.upper.line + between, scales[1], longest, headline, look)
        self.pulse_counts = tuple(Counts(figure) for figure in figures)

    # What is seen when

    def music(self, moment: Moment) -> Picture:
        schedule = self.schedule
        taken = self._coming(moment, schedule.taken) if self.found.taken else 0.0
        drawn = [*self.keep(self._frames), *self.keep(self._figure)]
        drawn += self.keep(self._taken_out, taken)
        drawn += self.keep(self._figure_marks)
        difference = self._faded(moment, schedule.difference)
        if difference:
            drawn += self.keep(self._curves, difference)
        copied, moved = self._coming(moment, schedule.copied), self._coming(moment, schedule.moved)
        if copied:
            added = self._coming(moment, schedule.added) if self.found.added else 0.0
            drawn += self.keep(self._variant, copied, taken, moved, added)
        total = self._faded(moment, schedule.total)
        if total:
            drawn += self.keep(draw_total, self.lower, schedule.variant.pulses, total)
        dim = moment.share(schedule.total, schedule.total + DIM)
        return drawn + (self.keep(self._proof, dim) if dim and self.found.changes else [])

    def _proof(self, dim: float) -> Picture:
        """All but what has changed steps back."""
        drawn: Picture = [draw_veil(self.look, dim), *self._taken_out(1.0 if self.found.taken else 0.0)]
        for piece in self.found.added:
            drawn += self._added(piece, 1.0)
        drawn += self._labels(1.0)
        for panel, figure in ((self.upper, self.schedule.figure), (self.lower, self.schedule.variant)):
            drawn += [*draw_name(panel, figure.name), *draw_total(panel, figure.pulses)]
        return drawn

    def sentence(self, moment: Moment) -> Sentence:
        schedule, look = self.schedule, self.look
        steps = [step for step in schedule.steps if moment.reached(step.seconds)] or [schedule.steps[0]]
        text = step_text(steps[-1].name, schedule.figure, schedule.variant, self.found)
        since = schedule.difference if steps[-1].name == "total" else steps[-1].seconds
        colours = (look.ink, look.figure_text)
        words = tuple(Words(stretch, colours[meant], SEMIBOLD) for stretch, meant in text)
        return Sentence(self.timeline.title, words, since)

    def _coming(self, moment: Moment, complete: Fraction) -> float:
        """How far a move has come that is complete at a moment."""
        return glide(moment.share(complete - MOVE, complete))

    def _faded(self, moment: Moment, since: Fraction) -> float:
        """How far in something is that begins to come at a moment."""
        return min(1.0, max(0.0, moment.since(since) / self.look.fade)) if moment.reached(since) else 0.0

    # What stays

    def _frames(self) -> Picture:
        return [
            *draw_frame(self.upper),
            *draw_frame(self.lower),
            *(self._posts() if self.canvas.tall else []),
            *draw_name(self.upper, self.schedule.figure.name),
            *draw_total(self.upper, self.schedule.figure.pulses),
        ]

    def _posts(self) -> Picture:
        """In a tall picture lines go on down from where the variant's groups begin."""
        posts = [
            rectangle(self.lower.x(at) - 2, self.lower.line + 24, self.lower.x(at) + 2, self.canvas.height)
            for at in self.starts[1]
        ]
        return [draw(self.look.line, *posts, opacity=POST_BELOW)]

    def _figure(self) -> Picture:
        return [draw(self.look.sail_one, *self._whole_body(self.upper))]

    def _whole_body(self, panel: Panel) -> list[Contour]:
        """All sails of the figure and its hull."""
        groups = zip(self.starts[0], self.found.figure, strict=False)
        return [*(panel.sail(at, length) for at, length in groups), panel.hull(self.lengths[0])]

    def _figure_marks(self) -> Picture:
        """Counts, numbers and mastheads of what the variant keeps."""
        drawn: Picture = []
        for piece in self.found.pieces:
            if piece.kind == "kept":
                drawn += self._piece_marks(self.upper, piece, 0, 0.0, 1.0)
        return drawn

    def _taken_out(self, share: float) -> Picture:
        """What the variant lacks: first as it stands in the figure, then hatched, its counts in the colour of
        titles."""
        panel, counts = self.upper, self.pulse_counts[0]
        drawn: Picture = []
        for piece in self.found.taken:
            index = piece.figure_group or 0
            group = (self.starts[0][index], self.found.figure[index])
            part = (piece.figure_at, piece.figure_at + piece.length)
            if share:
                drawn += hollow(panel, group, part, share)
                drawn += draw_hatch(panel, group, part, share)
            if share <= 0.5:
                drawn += self._piece_marks(panel, piece, 0, 0.0, 1 - 2 * share)
                continue
            opacity = 2 * share - 1
            drawn += draw_counts(panel, counts, *part, 0, self.look.ink, opacity)
            if piece.figure_at == group[0]:
                pulses = counts.figure.groups[index]
                drawn += draw_length(panel, *group, pulses, self.look.ink, opacity, plate=True)
                if counts.starts[index] + 1 in counts.figure.accents:
                    drawn += draw_accent(panel, *group, opacity)
        return drawn

    # The copy that becomes the variant

    def _variant(self, copied: float, taken: float, moved: float, added: float) -> Picture:
        """The copy: on its way down, losing what is taken out, closing up, gaining what is added."""
        scale = self.upper.scale + (self.lower.scale - self.upper.scale) * moved
        top = self.upper.top + (self.lower.top - self.upper.top) * copied
        panel = replace(self.lower, top=top, scale=scale)
        parts = [(self._kept_body(panel, moved), 1.0), (self._taken_body(panel), 1 - taken)]
        if not taken and not moved:
            parts = [(self._whole_body(panel), 1.0)]
        bodies = [
            draw(self.look.sail_two, *contours, opacity=opacity)
            for contours, opacity in parts
            if contours and opacity
        ]
        marks: list[FilledShape] = []
        shown = min(1.0, max(0.0, (copied - CLEAR) / (1 - CLEAR)))
        for piece in self.found.pieces if shown else ():
            if piece.kind == "kept":
                marks += self._kept_marks(panel, piece, moved, shown)
            elif piece.kind == "out" and taken < 1:
                marks += self._piece_marks(panel, piece, 0, 0.0, shown * (1 - taken))
        drawn: Picture = [*bodies, *marks]
        if added:
            for piece in self.found.added:
                drawn += self._added(piece, added)
        if copied == 1:
            drawn += draw_name(self.lower, self.schedule.variant.name)
        return drawn

    def _place(self, piece: VariantPiece, moved: float) -> float:
        return piece.figure_at + (piece.variant_at - piece.figure_at) * moved

    def _kept_body(self, panel: Panel, moved: float) -> list[Contour]:
        """Sails and hull of what both have, part of the way from the figure's groups to the variant's."""
        length = self.lengths[0] + (self.lengths[1] - self.lengths[0]) * moved
        hull = panel.hull(length)
        contours: list[Contour] = []
        spans: list[tuple[float, float]] = []
        for piece in self.found.pieces:
            if piece.kind != "kept":
                continue
            start, size = self._group(piece, moved)
            at = self._place(piece, moved)
            contours += panel.part(panel.sail(start, size), at, at + piece.length)
            if spans and abs(spans[-1][1] - at) < 1e-9:
                spans[-1] = (spans[-1][0], at + piece.length)
            else:
                spans.append((at, at + piece.length))
        for span in spans:
            contours += panel.part(hull, *span)
        return contours

    def _group(self, piece: VariantPiece, moved: float) -> tuple[float, float]:
        """Start and length of the group that a kept piece is in, on its way."""
        one, other = piece.figure_group or 0, piece.variant_group or 0
        start, end = self.starts[0][one], self.starts[1][other]
        size, size_end = self.found.figure[one], self.found.variant[other]
        return start + (end - start) * moved, size + (size_end - size) * moved

    def _taken_body(self, panel: Panel) -> list[Contour]:
        """Sails and hull of what the variant lacks."""
        hull = panel.hull(self.lengths[0])
        contours: list[Contour] = []
        for piece in self.found.taken:
            index = piece.figure_group or 0
            part = (piece.figure_at, piece.figure_at + piece.length)
            contours += panel.part(panel.sail(self.starts[0][index], self.found.figure[index]), *part)
            contours += panel.part(hull, *part)
        return contours

    def _kept_marks(self, panel: Panel, piece: VariantPiece, moved: float, opacity: float) -> Picture:
        """Counts, number and masthead of a kept piece: the figure's up to half of the way, then the variant's."""
        side = 0 if moved < 0.5 else 1
        own = piece.figure_at if side == 0 else piece.variant_at
        return self._piece_marks(panel, piece, side, self._place(piece, moved) - own, opacity, moved)

    def _piece_marks(
        self, panel: Panel, piece: VariantPiece, side: int, shift: float, opacity: float, moved: float = 0.0
    ) -> Picture:
        counts, look = self.pulse_counts[side], self.look
        own = piece.figure_at if side == 0 else piece.variant_at
        index = (piece.figure_group if side == 0 else piece.variant_group) or 0
        drawn: Picture = [
            *draw_counts(panel, counts, own, own + piece.length, shift, look.on_sail, opacity),
            *draw_inner_hits(panel, counts, own, own + piece.length, shift, look.on_sail),
        ]
        if own == self.starts[side][index]:
            size = (self.found.figure, self.found.variant)[side][index]
            if piece.kind == "kept":
                _, size_now = self._group(piece, moved)
                height_of: float = size_now
            else:
                height_of = size
            pulses = counts.figure.groups[index]
            drawn += draw_length(panel, own + shift, min(size, height_of), pulses, look.on_sail, opacity)
            if counts.starts[index] + 1 in counts.figure.accents:
                drawn += draw_accent(panel, own + shift, height_of, opacity)
        return drawn

    def _added(self, piece: VariantPiece, opacity: float) -> Picture:
        """What the variant has more: an outline with a plus, its counts in the colour of titles."""
        panel, look, counts = self.lower, self.look, self.pulse_counts[1]
        index = piece.variant_group or 0
        group = (self.starts[1][index], self.found.variant[index])
        part = (piece.variant_at, piece.variant_at + piece.length)
        drawn: Picture = [*hollow(panel, group, part, opacity)]
        drawn += draw_counts(panel, counts, *part, 0, look.ink, opacity)
        whole = piece.variant_at == group[0]
        if whole:
            drawn += draw_length(panel, *group, counts.figure.groups[index], look.ink, opacity)
            if counts.starts[index] + 1 in counts.figure.accents:
                drawn += draw_accent(panel, *group, opacity)
        size = min(15.0, piece.length * panel.scale * 0.16)
        x = panel.x(part[0]) + piece.length * panel.scale * (0.62 if whole else 0.36)
        y = panel.base - size - 12
        if size >= 6:
            plus = (rectangle(x - size, y - 3, x + size, y + 3), rectangle(x - 3, y - size, x + 3, y + size))
            drawn.append(draw(look.ink, *plus, opacity=opacity))
        return drawn

    # The difference

    def _curves(self, opacity: float) -> Picture:
        """Thin curves from each group's beginning above to its place below, those round a change in ink; and by how
        many pulses."""
        look, pairs = self.look, self._pairs()
        drawn: Picture = []
        for colour, wanted in ((look.line, False), (look.ink, True)):
            curves = [self._curve(*pair) for pair, changed in pairs.items() if changed == wanted]
            if curves:
                drawn.append(draw(colour, *curves, opacity=opacity))
        return [*drawn, *self._labels(opacity)]

    def _pairs(self) -> dict[tuple[int, int], bool]:
        """Which place above belongs to which below, and whether something changes there."""
        pairs: dict[tuple[int, int], bool] = {}
        for piece in self.found.pieces:
            if piece.kind == "kept":
                pairs.setdefault((piece.figure_at, piece.variant_at), False)
        for piece in self.found.changes:
            pairs[piece.figure_at, piece.variant_at] = True
            above = piece.figure_at + (piece.length if piece.kind == "out" else 0)
            pairs[above, piece.variant_at + (piece.length if piece.kind == "added" else 0)] = True
        pairs.setdefault(self.lengths, False)
        return pairs

    def _curve(self, above: int, below: int) -> Contour:
        """A curve that leaves and arrives upright, as the outline of a thin stroke."""
        x0, y0, x1, y1 = self.upper.x(above), self.upper.line + 7, self.lower.x(below), self.lower.top - 4
        t = np.linspace(0, 1, CURVE_STEPS + 1 if x0 != x1 else 2)
        turn = 3 * t**2 - 2 * t**3
        points = np.stack([x0 + (x1 - x0) * turn, y0 + (y1 - y0) * t], axis=1)
        along = np.gradient(points, axis=0)
        normal = np.stack([-along[:, 1], along[:, 0]], axis=1)
        normal *= 1.5 / np.maximum(1e-9, np.linalg.norm(normal, axis=1))[:, None]
        outline = [*(points + normal), *(points - normal)[::-1]]
        return polygon([(float(x), float(y)) for x, y in outline])

    def _labels(self, opacity: float) -> Picture:
        """By how many pulses, at each change, as long as there is room."""
        look, size, taken = self.look, self.look.size_title, [(0.0, 0.0)]
        drawn: Picture = []
        for piece in self.found.changes:
            text = difference_text(piece)
            width = text_width(text, size, BOLD)
            out = piece.kind == "out"
            panel, at = (self.upper, piece.figure_at) if out else (self.lower, piece.variant_at)
            middle = (panel.x(at) + panel.x(at + piece.length)) / 2
            x = max(look.canvas.left, min(middle - width / 2, look.canvas.right - width))
            if any(x < right + 16 and left - 16 < x + width for left, right in taken):
                continue
            taken.append((x, x + width))
            baseline = self.upper.line + 56 if out else self.lower.top - 22
            box = rectangle(x - 8, baseline - size * CAPITAL - 8, x + width + 8, baseline + 10)
            drawn.append(draw(look.ground, box, opacity=opacity))
            drawn.append(draw_text(text, x, baseline, size, look.ink, BOLD, opacity=opacity))
        return drawn
