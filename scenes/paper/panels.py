"""Figures one by one: groups with their counts over the bar, what a bar leaves over, and the notes."""

from collections.abc import Iterator
from fractions import Fraction
from importlib.util import find_spec
from typing import NamedTuple

import numpy as np

from renderer.core import limits
from renderer.core.note_values import pulse_word
from renderer.paper.counting import syllables
from renderer.paper.facts import groups_text
from renderer.schedule.notation import write_groups
from renderer.schedule.staffs import ENGRAVER
from renderer.schedule.wording import mixed
from renderer.timeline.model import Bar, Figure, Timeline
from scenes.draw.look import BOLD, CAPITAL, REGULAR
from scenes.draw.paths import disc, hull, sail
from scenes.draw.text import fit_size, text_width
from scenes.paper.print_look import FIGURE, FINE, METER, PEN
from scenes.paper.sheet import (
    BLACK,
    HEAD,
    POINT,
    SMALLEST,
    TINY,
    WHITE,
    Mark,
    Paper,
    drawn_round,
    filled,
    fitted,
    label,
    rule,
)
from scenes.paper.vessels import bracket

SAIL, HULL, POSTS = 330.0, 84.0, 96.0
WIDEST, GAP = 74.0, 90.0
"""Units to a pulse at most, and between two panels."""
COUNT_LEAST, CLOSE = 30.0, 38.0
FEW_TIMES = 6
"""A bar that is more times as long as the figure is not shown whole."""
STAFF = 200.0
SPACE, SPACE_LEAST = 19.0, 10.0
"""A staff space, 1.7 mm, and the least at which notes are read."""
HEIGHT = 40 + SAIL + HULL + POSTS + 130


class Panel(NamedTuple):
    """One figure: how many pulses it shows, at how many units a pulse, over which bar."""

    figure: Figure
    bar: Bar
    pulses: Fraction
    scale: float
    sail: float

    @property
    def width(self) -> float:
        return float(self.pulses) * self.scale


def lay_panels(
    timeline: Timeline, figures: tuple[Figure, ...], paper: Paper, share: float = 1.0
) -> list[list[Panel]]:
    """The figures in rows; each shows the whole bar, or the whole figure if it is longer, at one scale where they all
    fit. `share` makes them lower."""
    bar = next(bar for bar in timeline.bars if bar.number >= 1)
    width = paper.right - paper.left
    spans = [_span(timeline, figure, bar) for figure in figures]
    scale = min(WIDEST * share, *(width / float(span) for span in spans)) if spans else WIDEST
    if len(spans) == 2 and sum(spans) * 40 < width:
        scale = min(scale, (width - GAP) / float(sum(spans)))
    elif len(spans) > 2:
        scale = min(scale, CLOSE)
    rows: list[list[Panel]] = []
    for figure, span in zip(figures, spans, strict=True):
        own = min(WIDEST * share, width / float(span)) if scale < COUNT_LEAST else scale
        panel = Panel(figure, bar, span, own, SAIL * share)
        taken = sum(each.width + GAP for each in rows[-1]) if rows else width
        if taken + panel.width <= width + 1 and rows:
            rows[-1].append(panel)
        else:
            rows.append([panel])
    return rows


def _span(timeline: Timeline, figure: Figure, bar: Bar) -> Fraction:
    """How many pulses a panel shows: the whole bar, or of one that is many times as long only some beats of it."""
    whole = timeline.whole(bar.end - bar.at) / figure.pulse
    if whole > FEW_TIMES * figure.pulses:
        for beat in timeline.beats_in(bar):
            pulses = timeline.whole(beat.end - bar.at) / figure.pulse
            if pulses >= 2 * figure.pulses:
                return pulses
    return max(Fraction(figure.pulses), whole)


def row_height(row: list[Panel]) -> float:
    """How tall a row of panels is."""
    return row[0].sail - SAIL + HEIGHT + (STAFF if any(has_staff(panel.figure) for panel in row) else 0) + 40


def has_staff(figure: Figure) -> bool:
    """Whether the figure's notes can be drawn."""
    counts = [len(group.signs) for group in write_groups(figure)]
    few = sum(counts) <= limits.STAFF_SIGNS / 2 and max(counts) <= limits.STAFF_GROUP_SIGNS / 2
    return few and find_spec(ENGRAVER) is not None and find_spec("svgelements") is not None


def draw_panels(timeline: Timeline, row: list[Panel], paper: Paper, top: float) -> list[Mark]:
    """A row of panels from their top on."""
    x, found = paper.left, []
    for panel in row:
        found += [*draw_panel(timeline, panel, x, top, paper)]
        x += panel.width + GAP
    return found


def draw_panel(
    timeline: Timeline, panel: Panel, left: float, top: float, paper: Paper, sums: bool = True
) -> Iterator[Mark]:
    """One figure."""
    figure, scale = panel.figure, panel.scale
    base = top + 40 + panel.sail
    line = base + HULL + 6
    room = max(panel.width, 420.0)
    if sums:
        yield fitted(figure.name, left, top + 8, SMALLEST * 1.1, min(room, paper.right - left), BOLD)
    yield from _vessel(panel, left, base)
    yield rule(left - 2, line, left + panel.width + 2, line, POINT)
    yield from _beats(timeline, panel, left, line)
    yield from _next(timeline, panel, left, base)
    if not sums:
        return
    y = line + POSTS + 40
    end = left + figure.pulses * scale
    yield from bracket(left, end, y, PEN, FIGURE)
    text = f"{groups_text(figure)} = {figure.pulses}" if 1 < len(figure.groups) <= 12 else str(figure.pulses)
    size = fit_size(text, HEAD, TINY, max(panel.width, end - left), BOLD)
    yield label(text, max(left, (left + end - text_width(text, size, BOLD)) / 2), y + 62, size, BOLD)
    rest, whole = panel.pulses - figure.pulses, timeline.whole(panel.bar.end - panel.bar.at) / figure.pulse
    if (
        rest > 0
        and panel.pulses == whole
        and (sum_end := max(end, left + text_width(text, size, BOLD))) < left + panel.width
    ):
        text = f"{mixed(whole)} − {figure.pulses} = {mixed(rest)}"
        yield from bracket(end + 8, left + panel.width, y, PEN, METER)
        middle = (end + left + panel.width) / 2
        wide = text_width(text, SMALLEST)
        start = max(sum_end + 24, middle - wide / 2)
        if start + wide <= min(paper.right, left + panel.width + GAP * 0.7):
            yield label(text, start, y + 60, SMALLEST)
    if has_staff(figure):
        yield from _notes(panel, left, y + 190)


def _vessel(panel: Panel, left: float, base: float) -> Iterator[Mark]:
    figure, scale = panel.figure, panel.scale
    longest, at, contours, groups = max(figure.groups), 0, [], []
    for group in figure.groups:
        height = panel.sail * (0.30 + 0.70 * group / longest)
        contours.append(sail(left + at * scale, base, group * scale - 3, height))
        groups.append((at, group, height))
        at += group
    yield drawn_round(contours, PEN * 1.2, FIGURE, WHITE)
    body = hull(
        left, left + at * scale - 4, base + 3, base + HULL, min(HULL * 0.8, scale * 0.5, at * scale * 0.3)
    )
    yield drawn_round([body], PEN * 1.2, FIGURE, WHITE)
    number = min(fit_size(str(longest), 120, TINY, min(figure.groups) * scale * 0.6, BOLD), panel.sail * 0.28)
    if number >= TINY:
        for start, group, _ in groups:
            yield label(str(group), left + start * scale + 14, base - 22, number, BOLD)
    middle = base + 3 + HULL / 2 + SMALLEST * CAPITAL / 2
    taken = left
    for start, group, _ in groups:
        for count in range(1, group + 1):
            x = left + (start + count - 1) * scale
            if count > 1 and scale >= 8:
                yield rule(x, base + 3, x, base + 20, FINE)
            text, weight = str(count), BOLD if count == 1 else REGULAR
            width = text_width(text, SMALLEST, weight)
            if (
                (scale >= COUNT_LEAST or count == 1)
                and x + 8 >= taken
                and x + 8 + width < left + at * scale - 6
            ):
                yield label(text, x + min(scale * 0.3, 16), middle, SMALLEST, weight)
                taken = x + width + 14
    if len(groups) > 1:
        for start, _, _ in groups[1:]:
            yield rule(left + start * scale, base, left + start * scale, base + HULL, PEN, FIGURE)
    starts = {start: height for start, _, height in groups}
    for accent in figure.accents:
        x = left + (accent - 1) * scale
        if accent - 1 in starts:
            yield filled(BLACK, disc(x, base - starts[accent - 1], min(11.0, max(5.0, scale * 0.3))))
        else:
            yield filled(BLACK, disc(x, base + 3, min(10.0, scale * 0.3)))
    for hit in figure.hits:
        if hit - 1 not in starts and hit not in figure.accents:
            yield drawn_round(
                [disc(left + (hit - 1) * scale, base + 3, min(7.0, scale * 0.22))], PEN, BLACK, WHITE
            )


def _next(timeline: Timeline, panel: Panel, left: float, base: float) -> Iterator[Mark]:
    """Where the next one starts, dashed."""
    figure, scale = panel.figure, panel.scale
    start, stop = left + figure.pulses * scale, left + panel.width
    if stop - start < 3 * scale:
        return
    group = min(Fraction(figure.groups[0]), panel.pulses - figure.pulses)
    height = panel.sail * (0.30 + 0.70 * figure.groups[0] / max(figure.groups))
    if group == figure.groups[0]:
        yield drawn_round([sail(start + 4, base, float(group) * scale - 6, height)], FINE, BLACK, dashed=True)
    else:
        yield rule(start + 4, base, start + 4, base - height, FINE, dashed=True)
        yield rule(start + 4, base, stop, base, FINE, dashed=True)
    yield rule(start + 4, base + HULL, stop, base + HULL, FINE, dashed=True)
    if text_width("next", SMALLEST) + 24 < stop - start:
        yield label("next", start + 22, base - 26, SMALLEST)


def _beats(timeline: Timeline, panel: Panel, left: float, line: float) -> Iterator[Mark]:
    """The beats under the line, counted where there is room."""
    grid = timeline.grid
    pulse = int(panel.figure.pulse * grid)
    unit = panel.scale / pulse
    end = left + panel.width + 1
    origin, bar = panel.bar.at, panel.bar
    while left + (bar.at - origin) * unit < end:
        x = left + (bar.at - origin) * unit
        yield rule(x, line, x, line + POSTS, 1.4 * POINT, METER)
        beats = {beat.at for beat in timeline.beats_in(bar)}
        for at, text in syllables(timeline, bar, pulse):
            x = left + (at - origin) * unit
            if x > end - 10:
                break
            strong = at in beats
            if strong and at > bar.at:
                yield rule(x, line, x, line + 60, 0.9 * POINT, METER)
            elif not strong and panel.scale >= 12:
                yield rule(x, line, x, line + 16, PEN, METER)
            beat_room = min(beat.end - beat.at for beat in timeline.beats_in(bar)) * unit
            roomy = panel.scale >= COUNT_LEAST + 6 if not strong else beat_room > 44
            if roomy:
                yield label(
                    text, x + min(panel.scale * 0.3, 16), line + 62, SMALLEST, BOLD if strong else REGULAR
                )
        later = next((each for each in timeline.bars if each.at >= bar.end), None)
        if later is None:
            break
        bar = later


def _notes(panel: Panel, left: float, line: float) -> Iterator[Mark]:
    """The groups as notes, each under its group where there is room."""
    from scenes.figure.engraving import engrave  # verovio takes its time to load

    engraving = engrave(panel.figure, 0.25, 0.6)
    total = sum(group.width for group in engraving.groups)
    wide = max(panel.width, panel.figure.pulses * panel.scale)
    space = min(SPACE, wide / max(total, 1e-6))
    if space < SPACE_LEAST:
        return
    x, at, contours, bars = left, 0, [], []
    widths = [group.width * space for group in engraving.groups]
    aligned = all(w <= g * panel.scale + 2 for w, g in zip(widths, panel.figure.groups, strict=True))
    for number, (group, width, pulses) in enumerate(
        zip(engraving.groups, widths, panel.figure.groups, strict=True)
    ):
        start = left + at * panel.scale if aligned else x
        if number:
            bars.append(start)
        origin = np.array([start + 8, line])
        contours += [contour * space + origin for contour in (*group.notes, *group.accents)]
        x, at = start + width, at + pulses
    end = left + panel.figure.pulses * panel.scale if aligned else x
    yield rule(left, line, end, line, FINE)
    for start in bars:
        yield rule(start, line - 46, start, line + 30, FINE * 0.7, dashed=True)
    yield filled(BLACK, *contours)


def figures_note(timeline: Timeline, figures: tuple[Figure, ...]) -> str:
    """What stands beside the head: what a count is."""
    pulses = {figure.pulse for figure in figures}
    what = f"one count in the hull is one {pulse_word(pulses.pop(), 1)}; " if len(pulses) == 1 else ""
    return f"{what}a longer group has a higher sail"
