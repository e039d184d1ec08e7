"""A figure's way round the bar: for few turns the repetitions along a spiral, innermost first; for many one sail a
place, where a repetition starts. What the piece does not play is an outline."""

from functools import cached_property
from itertools import accumulate
from math import pi

import numpy as np

from renderer.schedule.wheel import WheelSchedule
from scenes.draw.look import Look
from scenes.draw.paths import Contour, bend, clip_all, hull, sail
from scenes.draw.segment import Picture
from scenes.draw.shapes import draw
from scenes.wheel.layout import WheelLayout

FEW_TURNS = 8
"""So many turns at most are drawn as a spiral."""
RING, INNER, OUTER = 149.0, 166.0, 344.0
"""Radii of the line, and of where the spiral begins and ends, at scale 1."""
OUTERMOST = 0.8
"""How much of a turn's room the last one takes beyond where it ends."""
MORE_THAN, MORE_TURNS = 5.0, 10.0
"""For each turn beyond the first number the line's radius is less by the second."""
WIDE_RING, SAILS_FROM, SAILS_TO = 196.0, 203.0, 336.0
"""Radii of the line where each place has a sail, and of these."""
THICK, THICK_MOST, APART = 0.73, 50.0, 8.0
"""A hull's share of the way to the next turn, its height at most, and the room from its sails to the next turn."""
LEAST_SAIL, SAILED_TURNS = 16.0, 3.5
"""Sails are so high at least, and only stand on a spiral of fewer turns."""
EDGE = 3.0
"""Pixels of an outline."""
PIECE = 1 / 40
"""A curve is bent in pieces of so many turns."""
PLACE_SHARE, PLACE_MOST = 0.74, 0.075
"""How wide a place's sail is, by what the place has, and in turns at most."""


class WheelWay:
    """The repetitions round the circle, by number from 0; lengths across are turns, lengths up are pixels of radius."""

    def __init__(self, schedule: WheelSchedule, look: Look, layout: WheelLayout) -> None:
        self.schedule, self.look, self.layout = schedule, look, layout
        self.each = float(schedule.figure.pulses / schedule.bar_pulses)
        self.turns = self.each * schedule.way.shown
        self.spiral = self.turns <= FEW_TURNS
        self.starts = [0, *accumulate(schedule.figure.groups)][:-1]
        scale = layout.scale
        self._narrower = MORE_TURNS * max(0.0, self.turns - MORE_THAN)
        self.pitch = (OUTER - self._inner) * scale / (max(1.0, self.turns) + OUTERMOST)
        self.thick = min(THICK_MOST * scale, THICK * self.pitch)
        sails = self.pitch - self.thick - APART * scale
        self.high = sails if sails >= LEAST_SAIL * scale and self.turns < SAILED_TURNS else 0.0
        if self.spiral and not self.high:
            self.thick = min(0.8 * self.pitch, 24 * scale)

    @property
    def _inner(self) -> float:
        return INNER - self._narrower

    @property
    def ring(self) -> float:
        """The line's radius."""
        return (RING - self._narrower if self.spiral else WIDE_RING) * self.layout.scale

    def played(self, number: int) -> bool:
        """Whether the piece plays the repetition that starts there; of the return, whether it comes home."""
        return number < self.schedule.way.reached

    def radius(self, turns: float) -> float:
        """The inner edge of the spiral after so many turns; where there is none, the line's."""
        return self._inner * self.layout.scale + self.pitch * turns if self.spiral else self.ring

    def start(self, number: int) -> tuple[float, float]:
        """Where a repetition's disc stands."""
        turns = number * self.each
        if not self.spiral:
            return self.layout.point(turns, self.ring)
        return self.layout.point(turns, self.radius(turns) + self.thick / 2)

    @cached_property
    def disc(self) -> float:
        """How large the starts' discs are."""
        return max(5.0, min(11.0 * self.layout.scale, 0.42 * self.thick))

    def colour(self, number: int) -> str:
        """Neighbours differ."""
        return self.look.sail(number + 1)

    # Along a spiral

    def vessel(self, number: int, until: float) -> Picture:
        """A repetition on the spiral up to `until` pulses of its own: filled as far as the piece plays it, then an
        outline."""
        pulse = self.each / self.schedule.figure.pulses * self._across(number)
        sounds = float(self.schedule.sounding) - number * self.schedule.figure.pulses
        end, filled_to = until * pulse, min(sounds, until) * pulse
        body = self._flat(number, 0.0)
        contours = clip_all(body, -1.0, filled_to) if sounds > 0 else ()
        if sounds < until:
            inner = (contour[::-1, ::-1] for contour in self._flat(number, EDGE))
            contours = (*contours, *clip_all([*body, *inner], max(-1.0, filled_to), end))
        bent = [self._bend(contour, number) for contour in contours]
        return [draw(self.colour(number), *bent)] if bent else []

    def _across(self, number: int) -> float:
        """Pixels to a turn in the middle of a repetition."""
        return 2 * pi * (self.radius((number + 0.5) * self.each) + self.thick / 2)

    def _flat(self, number: int, inset: float) -> list[Contour]:
        """A repetition before it is bent: pixels from its start, and up from the spiral's inner edge (y down)."""
        length = self.each * self._across(number)
        gap = min(4.0, 0.1 * length)
        right, top = length - gap - inset, inset - self.thick
        if right <= 2 * inset:
            return []
        contours = [hull(inset, right, top, -inset, min(1.15 * (self.thick - 2 * inset), 0.3 * length))]
        if not self.high:
            return contours
        figure, base = self.schedule.figure, -self.thick - self.look.gap - inset
        for at, group in zip(self.starts, figure.groups, strict=True):
            x, width = at / figure.pulses * length, group / figure.pulses * length - gap
            tall = self.high * (0.30 + 0.70 * group / max(figure.groups))
            if width > 3 * inset and tall > 3 * inset:
                contours.append(sail(x + inset, base, width - 2.2 * inset, tall - 2.2 * inset))
        return contours

    def _bend(self, contour: Contour, number: int) -> Contour:
        first, across = number * self.each, self._across(number)

        def place(points: Contour) -> Contour:
            turns = first + points[:, 0] / across
            radius = self.radius(0.0) + self.pitch * turns - points[:, 1]
            return self.layout.bent(np.stack([turns, radius], axis=1))

        return bend(contour, place, PIECE * across)

    # A sail a place

    def place(self, number: int, opacity: float) -> Picture:
        """The sail where a repetition starts."""
        turns = number * self.each % 1
        base, high = SAILS_FROM * self.layout.scale, (SAILS_TO - SAILS_FROM) * self.layout.scale
        across = 2 * pi * base
        wide = min(PLACE_MOST, PLACE_SHARE / max(1, self.schedule.way.shown)) * across
        contours = [sail(0.0, 0.0, wide, high)]
        if not self.played(number) and wide > 4 * EDGE:
            inner = sail(EDGE, -EDGE, wide - 2.6 * EDGE, high - 3.2 * EDGE)
            contours.append(inner[::-1, ::-1])

        def laid(points: Contour) -> Contour:
            return self.layout.bent(np.stack([turns + points[:, 0] / across, base - points[:, 1]], axis=1))

        bent = [bend(contour, laid, PIECE * across) for contour in contours]
        return [draw(self.colour(number), *bent, opacity=opacity)]
