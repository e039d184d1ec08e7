"""A panel of `compare`: one figure over its line, in pulses from its left edge, name and total at its left."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import accumulate

from renderer.timeline.model import Figure
from scenes.draw.look import BOLD, CAPITAL, REGULAR, SEMIBOLD, Look, RowStyle
from scenes.draw.paths import Contour, clip_all, disc, hull, polygon, rectangle, sail, sail_height
from scenes.draw.shapes import FilledShape, draw, draw_text
from scenes.draw.text import fit_size, shorten, text_width

BESIDE = 170.0
"""Pixels left of the figures for names and totals, on a wide canvas."""
TALL_STRETCH, TALL_NAME = 1.35, 64.0
"""How much taller a panel is on a tall canvas, and what it has over its sails for its name."""
HEADLINE = 50.0
"""What a name takes that is too long for the left."""
EVERY_COUNT, EVERY_LONG_COUNT = 26.0, 46.0
"""Pixels a pulse needs at least for every count to be written, and where counts have two digits."""
HATCH = 22.0


@dataclass(frozen=True, slots=True)
class Panel:
    """Where and how large: `scale` pixels to a pulse, the longest group in pulses, `top` of its sky."""

    top: float
    scale: float
    longest: int
    headline: bool
    look: Look

    @property
    def style(self) -> RowStyle:
        style = self.look.row_compare
        if wide(self.look):
            return style.squeezed(self.look.canvas.low)
        canvas = self.look.canvas
        stretch = TALL_STRETCH if canvas.tall else min(TALL_STRETCH, canvas.height / 1080)
        upright = {name: getattr(style, name) * stretch for name in ("sail", "hull")}
        return replace(style, headroom=style.headroom + TALL_NAME, **upright)

    @property
    def left(self) -> float:
        """Where the figure begins."""
        return figure_left(self.look)

    def x(self, at: float) -> float:
        return self.left + at * self.scale

    @property
    def line(self) -> float:
        return self.top + self.style.line(self.look)

    @property
    def hull_bottom(self) -> float:
        return self.line - self.look.width_line / 2 - self.look.gap

    @property
    def hull_top(self) -> float:
        return self.hull_bottom - self.style.hull

    @property
    def base(self) -> float:
        return self.hull_top - self.look.gap

    def height(self, length: float) -> float:
        """How high the sail of a group stands."""
        tallest = self.style.sail - (HEADLINE if self.headline and wide(self.look) else 0)
        return tallest * (0.30 + 0.70 * length / self.longest)

    def sail(self, start: float, length: float, inset: float = 0.0) -> Contour:
        """A group's sail; `inset` draws its edges in."""
        width, height = max(1.0, length * self.scale - self.look.gap), self.height(length)
        return sail(
            self.x(start) + inset,
            self.base - inset,
            max(0.5, width - 2.2 * inset),
            max(0.5, height - 2.2 * inset),
        )

    def hull(self, length: float) -> Contour:
        """The hull of a figure of that length."""
        right = self.x(length) - self.look.gap - 1
        bow = min(1.15 * self.style.hull, 0.3 * (right - self.left), 0.5 * self.scale + 40)
        return hull(self.left, right, self.hull_top, self.hull_bottom, bow)

    def part(self, contour: Contour, start: float, end: float) -> tuple[Contour, ...]:
        """What lies of an outline between two places."""
        return clip_all([contour], self.x(start), self.x(end))


def wide(look: Look) -> bool:
    """Whether names and totals stand left of the figures; on other canvases they stand over them."""
    return look.canvas.width > 1.25 * look.canvas.height


def figure_left(look: Look) -> float:
    """Where figures begin."""
    return look.canvas.music_left + (BESIDE if wide(look) else 0)


class Counts:
    """The pulses of a figure and what is written at each."""

    def __init__(self, figure: Figure) -> None:
        self.figure = figure
        self.starts = [0, *accumulate(figure.groups)][:-1]

    def pulses(self, start: float, end: float) -> Iterator[tuple[int, int, int]]:
        """The pulses from place `start` up to `end`: place, count, length of its group."""
        for at, length in zip(self.starts, self.figure.groups, strict=True):
            for count in range(1, length + 1):
                if start <= at + count - 1 < end:
                    yield at + count - 1, count, length


def draw_frame(panel: Panel) -> list[FilledShape]:
    """A panel's sky and line."""
    look, half = panel.look, panel.look.width_line / 2
    return [
        draw(look.sky_one, rectangle(look.canvas.sky_left, panel.top, look.canvas.sky_right, panel.line)),
        draw(
            look.line,
            rectangle(look.canvas.sky_left, panel.line - half, look.canvas.sky_right, panel.line + half),
        ),
    ]


def needs_headline(look: Look, names: tuple[str, ...]) -> bool:
    """Whether a name is too long to stand left of the figures."""
    room = BESIDE - 16
    return not wide(look) or any(text_width(name, look.size_least, SEMIBOLD) > room for name in names)


def draw_name(panel: Panel, name: str) -> list[FilledShape]:
    """A figure's name, at the left or over its sails."""
    look = panel.look
    if panel.headline:
        room = look.canvas.right - look.canvas.music_left - (0 if wide(look) else BESIDE)
        size = fit_size(name, look.size_sentence, look.size_least, room, SEMIBOLD)
        text, x = shorten(name, size, room, SEMIBOLD), look.canvas.music_left + (0 if wide(look) else 6)
        return [draw_text(text, x, panel.top + 44, size, look.figure_text, SEMIBOLD)]
    beside = BESIDE - 16
    size = fit_size(name, look.size_title, look.size_least, beside, SEMIBOLD)
    return [draw_text(name, look.canvas.music_left, panel.line - 124, size, look.figure_text, SEMIBOLD)]


def draw_total(panel: Panel, total: int, opacity: float = 1.0) -> list[FilledShape]:
    """How many pulses it has, under its name, or at the right of it."""
    look, size = panel.look, panel.look.size_counter
    if not wide(look):
        x, baseline = look.canvas.right, panel.top + 66
        return [draw_text(str(total), x, baseline, size, look.ink, BOLD, anchor=1, opacity=opacity)]
    return [
        draw_text(str(total), look.canvas.music_left, panel.line - 24, size, look.ink, BOLD, opacity=opacity)
    ]


def draw_counts(
    panel: Panel, counts: Counts, start: float, end: float, shift: float, colour: str, opacity: float = 1.0
) -> list[FilledShape]:
    """Counts and notches of the pulses between two places, moved right by `shift` pulses."""
    step = panel.scale
    every = step >= (EVERY_LONG_COUNT if max(counts.figure.groups) > 9 else EVERY_COUNT)
    size = panel.style.number
    baseline = panel.hull_bottom - (panel.style.hull - 10 - size * CAPITAL) / 2
    drawn: list[FilledShape] = []
    notches: list[Contour] = []
    for place, count, length in counts.pulses(start, end):
        x = panel.x(place + shift)
        if count > 1 and step >= 12:
            height = 15 if step > EVERY_COUNT else 9
            notches.append(rectangle(x - 1.5, panel.hull_top, x + 1.5, panel.hull_top + height))
        weight = BOLD if count == 1 else REGULAR
        gap = max(5.0, min(18.0, step * 0.15))
        room = step if every else length * step
        if (every or count == 1) and gap + text_width(str(count), size, weight) <= room + 1:
            drawn.append(draw_text(str(count), x + gap, baseline, size, colour, weight, opacity=opacity))
    if notches:
        drawn.insert(0, draw(colour, *notches, opacity=opacity))
    return drawn


def draw_length(
    panel: Panel,
    start: float,
    length: float,
    pulses: int,
    colour: str,
    opacity: float = 1.0,
    plate: bool = False,
) -> list[FilledShape]:
    """A group's number in its sail, where there is room."""
    width, height = length * panel.scale - panel.look.gap, panel.height(length)
    gap, lift = min(26.0, 0.1 * width + 6), min(26.0, 0.14 * height)
    size = float(panel.look.size_counter)
    while not _fits_sail(str(pulses), size, width, height - panel.style.disc - 6, gap, lift):
        size -= 2
        if size < panel.look.size_least:
            return []
    x, baseline = panel.x(start) + gap, panel.base - lift
    drawn: list[FilledShape] = []
    if plate:
        right = x + text_width(str(pulses), size, BOLD)
        box = rectangle(x - 8, baseline - size * CAPITAL - 8, right + 8, baseline + 8)
        drawn.append(draw(panel.look.ground, box, opacity=opacity))
    return [*drawn, draw_text(str(pulses), x, baseline, size, colour, BOLD, opacity=opacity)]


def _fits_sail(text: str, size: float, width: float, height: float, gap: float, lift: float) -> bool:
    """Whether a number stands in a sail and clear of its masthead."""
    across = gap + text_width(text, size, BOLD) + 4
    return across < width and lift + size * CAPITAL + 4 <= min(height, sail_height(width, height, across))


def draw_accent(panel: Panel, start: float, length: float, opacity: float = 1.0) -> list[FilledShape]:
    """The disc at the masthead of a group that begins with an accent."""
    radius = max(5.0, min(panel.style.disc, length * panel.scale / 2 - 4))
    x, y, look = panel.x(start), panel.base - panel.height(length), panel.look
    return [
        draw(look.ground, disc(x, y, radius + look.edge), opacity=opacity),
        draw(look.ink, disc(x, y, radius), opacity=opacity),
    ]


def draw_inner_hits(
    panel: Panel, counts: Counts, start: float, end: float, shift: float, colour: str
) -> list[FilledShape]:
    """A dot in the hull for each hit inside a group, larger for an accent."""
    dots = []
    for place, count, _ in counts.pulses(start, end):
        if count > 1 and place + 1 in counts.figure.hits:
            radius = 10.0 if place + 1 in counts.figure.accents else 6.0
            dots.append(disc(panel.x(place + shift), panel.hull_top + 12, radius))
    return [draw(colour, *dots)] if dots else []


def hollow(
    panel: Panel, group: tuple[float, float], part: tuple[float, float], opacity: float
) -> list[FilledShape]:
    """A part (from, to) of a group (start, length) as an outline, sail and hull."""
    look, inset = panel.look, panel.look.width_line + 1
    outer = panel.part(panel.sail(*group), *part)
    inner = clip_all([panel.sail(*group, inset)], panel.x(part[0]) + inset, panel.x(part[1]))
    x, end = panel.x(part[0]), panel.x(part[1])
    drawn = [draw(look.sail_one, *outer, opacity=opacity)] if outer else []
    drawn += [draw(look.ground, *inner, opacity=opacity)] if inner else []
    box = rectangle(x, panel.hull_top - look.gap, end, panel.hull_bottom + 1)
    return [*drawn, draw(look.ground, box, opacity=opacity)]


def draw_hatch(
    panel: Panel, group: tuple[float, float], part: tuple[float, float], opacity: float
) -> list[FilledShape]:
    """Slanted strokes in a part of a group's sail."""
    start, length = group
    width, height = length * panel.scale - panel.look.gap, panel.height(length)
    left, right = panel.x(part[0]) + 2, min(panel.x(part[1]), panel.x(start) + width) - 2
    strokes: list[Contour] = []
    foot = left - height
    while foot < right:
        first = max(left, foot)
        last = first
        while last < right and last - foot < sail_height(width, height, last - panel.x(start)) - 6:
            last += 3.0
        if last - first > 4:
            strokes.append(_slanted(foot, first, last, panel.base))
        foot += HATCH
    return [draw(panel.look.sail_one, *strokes, opacity=opacity)] if strokes else []


def _slanted(foot: float, first: float, last: float, base: float) -> Contour:
    """A stroke that rises one to one from `foot` on the base, seen from x `first` to `last`."""
    low, high = base - (first - foot), base - (last - foot)
    return _stroke((first, low), (last, high), 4.0)


def _stroke(start: tuple[float, float], end: tuple[float, float], width: float) -> Contour:
    """A straight stroke."""
    (x0, y0), (x1, y1) = start, end
    length = max(1e-6, ((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5)
    dx, dy = (y1 - y0) / length * width / 2, -(x1 - x0) / length * width / 2
    return polygon([(x0 + dx, y0 + dy), (x1 + dx, y1 + dy), (x1 - dx, y1 - dy), (x0 - dx, y0 - dy)])
