"""A row of music: where it lies, and what stands on it.

The line runs across. Above it each repetition is a vessel: its groups are sails on one hull. Below it bars
and beats are posts. Harmony is the sky behind the sails. Everything is placed by ticks, clipped to the row
and a margin beyond its ends, into which a repetition that goes on in the next row runs out.
"""

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from renderer.timeline import Bar, Beat, Crossing, Harmony, Landing, Realignment, Repetition
from scenes.drawing import Drawn, draw, draw_text
from scenes.lettering import fit_size, musical, shorten, text_width
from scenes.look import (
    BOLD,
    CAPITAL,
    LEFT,
    MUSIC_LEFT,
    MUSIC_RIGHT,
    REGULAR,
    RIGHT,
    SEMIBOLD,
    Look,
    RowStyle,
)
from scenes.paths import Contour, clip_all, disc, hull, lozenge, rectangle, ring, sail, torn_hull

MARGIN = MUSIC_LEFT - LEFT
VESSEL_GAP = 4
NAME_GAP, NOTE_GAP, NAME_ROOM = 24, 22, 21
DASH, DECK_GAP = 14.0, 12.0


@dataclass(frozen=True)
class Row:
    """A row from tick `start` to `end`: `scale` pixels to a tick, its sky's top at `top`, measures by
    `style`."""

    start: int
    end: int
    scale: float
    top: float
    style: RowStyle
    look: Look
    longest: int
    """The longest group of the piece in ticks: its sail has the full height."""
    lift: float = 0.0
    """How far the hulls lie above the line, where other voices lie between."""

    def deck(self, number: int, count: int) -> "Row":
        """The same row for one of several voices, from the lowest up: its hulls stand over those before it."""
        if count == 1:
            return self
        style = self.style
        share = (style.sail + style.hull + DECK_GAP) / count - DECK_GAP
        body = min(style.hull, max(0.45 * share, min(share, 34.0)))
        smaller = replace(style, sail=max(0.0, share - body), hull=body, disc=min(style.disc, share / 9))
        number_size = min(style.number, max(self.look.size_least, body * 0.8))
        headroom = style.headroom + style.sail + style.hull - smaller.sail - smaller.hull
        return replace(
            self,
            style=replace(smaller, headroom=headroom, number=number_size),
            lift=number * (share + DECK_GAP),
        )

    def x(self, at: float) -> float:
        """Where a tick stands, in pixels."""
        return MUSIC_LEFT + (at - self.start) * self.scale

    @property
    def left(self) -> float:
        """Where the row's sky begins."""
        return LEFT

    @property
    def right(self) -> float:
        """Where the row's sky ends."""
        return min(RIGHT, self.x(self.end) + MARGIN)

    @property
    def line(self) -> float:
        """The middle of the line."""
        return self.top + self.style.line(self.look)

    @property
    def hull_bottom(self) -> float:
        return self.line - self.look.width_line / 2 - self.look.gap - self.lift

    @property
    def hull_top(self) -> float:
        return self.hull_bottom - self.style.hull

    @property
    def base(self) -> float:
        """Where the sails stand."""
        return self.hull_top - self.look.gap

    @property
    def feet(self) -> float:
        """Where the bars' posts end."""
        return self.line + self.style.post

    def mast(self, length: int) -> float:
        """The top of a group's sail."""
        return self.base - self.style.sail * (0.30 + 0.70 * length / self.longest)

    def shows(self, at: int, end: int) -> bool:
        """Whether anything between two ticks lies in the row."""
        return at < self.end and end > self.start

    def holds(self, at: int) -> bool:
        """Whether a tick begins in the row."""
        return self.start <= at < self.end


def make_rows(breaks: Sequence[tuple[int, int]], style: RowStyle, look: Look) -> list[Row]:
    """Rows with these starts and ends on one scale, the longest over the full width; all of them at the top."""
    scale = (MUSIC_RIGHT - MUSIC_LEFT) / max(end - start for start, end in breaks)
    return [Row(start, end, scale, 0.0, style, look, 1) for start, end in breaks]


def draw_sky(
    row: Row, harmony: Sequence[Harmony], end: float | None = None, seam_top: float | None = None
) -> list[Drawn]:
    """The harmonies as fields, taken in turn, with the seams between them; `end` is where the sky stops and
    `seam_top` where the seams begin, in pixels."""
    look = row.look
    right = row.right if end is None else min(end, row.right)
    if not harmony:
        return [draw(look.sky_one, rectangle(row.left, row.top, right, row.line))]
    fields, seams = [], []
    if row.shows(row.start, harmony[0].at):
        fields.append(draw(look.sky_one, rectangle(row.left, row.top, row.x(harmony[0].at), row.line)))
    for number, field in enumerate(harmony):
        if not row.shows(field.at, field.end):
            continue
        x = row.left if field.at < row.start else row.x(field.at)
        if field.at == row.start and number == 0:
            x = row.left
        stop = row.right if field.end >= row.end else row.x(field.end)
        colour = look.sky_two if number % 2 else look.sky_one
        if x < right:
            fields.append(draw(colour, rectangle(x, row.top, min(stop, right), row.line)))
        if number and row.holds(field.at) and row.x(field.at) < right:
            if field.at == row.start:
                before = look.sky_one if number % 2 else look.sky_two
                fields.append(draw(before, rectangle(row.left, row.top, x, row.line)))
            seam = row.x(field.at)
            top = row.top + (row.style.name * CAPITAL + 18 if has_two_lines(row.style) else 0)
            top = top if seam_top is None else seam_top
            seams.append(
                draw(
                    look.seam,
                    rectangle(seam - row.look.width_seam / 2, top, seam + row.look.width_seam / 2, row.line),
                )
            )
    return [*fields, *seams]


def draw_names(row: Row, harmony: Sequence[Harmony], sections: Iterable[tuple[str, int]]) -> list[Drawn]:
    """The harmonies' names, each at its field's top left, after its section's name if a section begins there.

    Where the row has room for two lines of names, the sections' stand on the first and the harmonies' on the
    second.
    """
    look, style = row.look, row.style
    starts = {at: name for name, at in sections if row.holds(at)}
    shown = [field for field in harmony if row.shows(field.at, field.end)]
    places = {max(field.at, row.start): field for field in shown}
    marks = sorted({*places, *starts})
    two_lines = has_two_lines(style)
    first = row.top + max(style.name * CAPITAL + 13, style.headroom * 0.72 if style.name > 80 else 0)
    second = first + style.name * CAPITAL + 15 if two_lines else first
    drawn: list[Drawn] = []
    for index, at in enumerate(marks):
        seam = at != row.start or any(field.at == at for field in harmony[1:])
        x = row.x(at) + (15 if seam else 0)
        limit = (row.x(marks[index + 1]) if index + 1 < len(marks) else row.right) - 6
        if at in starts:
            room = row.right - x if two_lines else limit - x
            size = fit_size(
                starts[at], min(style.name, row.look.size_sentence), row.look.size_least, room, SEMIBOLD
            )
            drawn.append(draw_text(starts[at], x, first, size, look.ink, SEMIBOLD))
            x += 0 if two_lines else text_width(starts[at], size, SEMIBOLD) + NAME_GAP
        if at in places:
            name = musical(places[at].name)
            size = fit_size(name, style.name, row.look.size_least, limit - x, SEMIBOLD)
            name = shorten(name, size, limit - x, SEMIBOLD)
            drawn.append(draw_text(name, x, second, size, look.harmony, SEMIBOLD))
    return drawn


def has_two_lines(style: RowStyle) -> bool:
    """Whether the room over the sails holds two lines of names."""
    return style.headroom >= 2 * (style.name * CAPITAL + 14)


def names_collide(row: Row, harmony: Sequence[Harmony], sections: Iterable[tuple[str, int]]) -> bool:
    """Whether a section's name and its first harmony's are too wide to stand side by side in the first
    field."""
    for name, at in sections:
        field = next((field for field in harmony if field.at <= at < field.end), None)
        if not row.holds(at) or field is None:
            continue
        width = (
            text_width(name, row.look.size_least, SEMIBOLD)
            + NAME_GAP
            + text_width(musical(field.name), row.look.size_least, SEMIBOLD)
        )
        if row.x(at) + 15 + width > row.x(min(field.end, row.end)) - 6:
            return True
    return False


def names_fit(row: Row, harmony: Sequence[Harmony]) -> bool:
    """Whether every harmony's name is at its least size narrower than its field in the row."""
    for field in harmony:
        if row.shows(field.at, field.end):
            start, end = max(field.at, row.start), min(field.end, row.end)
            stop = row.right if end == row.end else row.x(end)
            if (
                text_width(musical(field.name), row.look.size_least, SEMIBOLD)
                > stop - row.x(start) - NAME_ROOM
            ):
                return False
    return True


def vessel_contours(row: Row, repetition: Repetition, inset: float = 0.0) -> tuple[Contour, ...]:
    """A repetition's sails and hull, clipped to the row and its margins; `inset` draws all edges in by so much."""
    statement = repetition.statement
    left, end = row.x(repetition.at), row.x(repetition.end)
    right = end - VESSEL_GAP
    contours: list[Contour] = []
    for group in statement.groups:
        x, width = row.x(repetition.at + group.at), group.written * row.scale - row.look.gap
        height = row.base - row.mast(group.written)
        if width > 3 * inset and height > 3 * inset:
            whole = sail(x + inset, row.base - inset, width - 2.2 * inset, height - 2.2 * inset)
            contours += clip_all([whole], x, right if group.written > group.length else end)
    top, bottom = row.hull_top + inset, row.hull_bottom - inset
    if statement.cut:
        contours.append(torn_hull(left + inset, right - inset, top, bottom))
    elif right - left > 2 * inset:
        bow = min(1.15 * (bottom - top), 0.3 * (right - left))
        contours.append(hull(left + inset, right - inset, top, bottom, bow))
    return clip_all(contours, row.left, row.right)


def draw_vessel(
    row: Row,
    repetition: Repetition,
    colour: str,
    until: float | None = None,
    shift: float = 0.0,
    opacity: float = 1.0,
) -> list[Drawn]:
    """A repetition's body. With `until` only what lies left of that pixel; with `shift` that far to the right. A tail
    is an outline."""
    bodies = [(vessel_contours(row, repetition), colour)]
    if repetition.statement.kind == "tail":
        bodies.append((vessel_contours(row, repetition, row.look.width_line), row.look.ground))
    drawn = []
    for contours, paint in bodies:
        moved = [contour + np.array([shift, 0.0]) for contour in contours] if shift else contours
        clipped = clip_all(moved, row.left, row.right if until is None else until)
        if clipped:
            drawn.append(draw(paint, *clipped, opacity=opacity))
    return drawn


def draw_rests(row: Row, repetitions: Sequence[Repetition]) -> list[Drawn]:
    """A dashed line where a hull would lie, wherever nothing is played between two repetitions."""
    y = (row.hull_top + row.hull_bottom) / 2
    dashes: list[Contour] = []
    for before, after in pairwise(repetitions):
        if before.end < after.at and row.shows(before.end, after.at):
            x, stop = row.x(before.end) + DASH / 2, row.x(after.at) - DASH
            while x < stop:
                dashes.append(rectangle(x, y - 2, min(x + DASH, stop), y + 2))
                x += 2 * DASH
    clipped = clip_all(dashes, row.left, row.right)
    return [draw(row.look.line, *clipped)] if clipped else []


def draw_line(row: Row, from_x: float | None = None) -> Drawn:
    """The line that everything stands on or hangs from."""
    left = row.left if from_x is None else from_x
    return draw(
        row.look.line,
        rectangle(left, row.line - row.look.width_line / 2, row.right, row.line + row.look.width_line / 2),
    )


def draw_post(row: Row, at: float, length: float, width: float, colour: str, opacity: float = 1.0) -> Drawn:
    """A post under the line, `length` pixels long."""
    x = row.x(at)
    top = row.line + row.look.width_line / 2
    return draw(colour, rectangle(x - width / 2, top, x + width / 2, row.line + length), opacity=opacity)


def draw_posts(row: Row, bars: Iterable[Bar], beats: Iterable[Beat]) -> list[Drawn]:
    """Bars as long posts with their numbers at the foot, beats as short ones."""
    look, style = row.look, row.style
    drawn = [
        draw_post(row, beat.at, style.beat, row.look.width_beat, look.meter_line)
        for beat in beats
        if row.holds(beat.at) and beat.number > 1
    ]
    for bar in bars:
        if not row.holds(bar.at):
            continue
        drawn.append(draw_post(row, bar.at, style.post, row.look.width_post, look.meter_line))
        drawn.append(draw_bar_number(row, bar, look.meter_text))
    return drawn


def draw_ground(row: Row, bars: Iterable[Bar], beats: Iterable[Beat]) -> list[Drawn]:
    """The line with the posts under it."""
    return [draw_line(row), *draw_posts(row, bars, beats)]


def draw_bar_number(row: Row, bar: Bar, colour: str) -> Drawn:
    """A bar's number at its post's foot, right of it."""
    return draw_text(str(bar.number), row.x(bar.at) + 12, row.feet - 1, row.style.bar, colour, SEMIBOLD)


def number_place(row: Row, repetition: Repetition, marks: Sequence[int]) -> float | None:
    """Where a repetition's number begins in its hull: at its left, or right of the marks that stand there;
    None if it begins in another row or there is no room."""
    if not row.holds(repetition.at):
        return None
    text = str(repetition.number)
    width = text_width(text, row.style.number, BOLD)
    x = row.x(repetition.at) + min(12.0, max(3.0, row.style.hull / 4))
    for mark in sorted(marks):
        place = row.x(mark)
        if place - 14 < x + width and place + 16 > x and place > row.x(repetition.at):
            x = place + 18
    limit = min(row.x(repetition.end), row.right) - VESSEL_GAP
    return x if x + width <= limit else None


def draw_number(
    row: Row, repetition: Repetition, marks: Sequence[int], colour: str, voice: str = ""
) -> list[Drawn]:
    """A repetition's number in its hull, after the voice's name if one is given and there is room; then a tail's word
    and groups, or what was left of a cut."""
    x = number_place(row, repetition, marks)
    if x is None or row.style.hull < row.style.number * CAPITAL + 4:
        return []
    style, statement, least = row.style, repetition.statement, row.look.size_least
    baseline = row.hull_bottom - (style.hull - style.number * CAPITAL) / 2
    number = str(repetition.number)
    named = f"{voice}  {number}"
    if voice and x + text_width(named, style.number, BOLD) < row.x(repetition.end) - VESSEL_GAP - 10:
        number = named
    if statement.kind == "tail":
        colour = row.look.ink
    drawn = [draw_text(number, x, baseline, style.number, colour, BOLD)]
    x += text_width(number, style.number, BOLD) + NOTE_GAP
    note = hull_note(repetition)
    stop = min(row.right, row.x(repetition.end) - VESSEL_GAP - 10)
    covered = [
        row.x(mark) for mark in marks if x - 12 < row.x(mark) < x + text_width(note, least, SEMIBOLD) + 12
    ]
    if note and not covered and x + text_width(note, least, SEMIBOLD) <= stop:
        drawn.append(draw_text(note, x, baseline, least, colour, SEMIBOLD))
    return drawn


def hull_note(repetition: Repetition) -> str:
    """What a hull says beside its number: `7 of 11`, `tail 4 + 2`, or nothing."""
    statement = repetition.statement
    if statement.kind == "tail":
        return "tail " + " + ".join(str(group.length // statement.pulse) for group in statement.groups)
    if statement.cut:
        return f"{statement.played // statement.pulse} of {statement.length // statement.pulse}"
    return ""


def draw_accents(row: Row, repetition: Repetition, opacity: float = 1.0) -> list[Drawn]:
    """A disc at the masthead of each accent that begins a group."""
    drawn: list[Drawn] = []
    if not row.style.disc:
        return drawn
    accents = set(repetition.statement.accents)
    for group in repetition.statement.groups:
        if group.at in accents and row.left <= row.x(repetition.at + group.at) <= row.right:
            drawn += draw_masthead(row, repetition, group.at, group.written, 1.0, opacity)
    return drawn


def draw_masthead(
    row: Row, repetition: Repetition, at: int, length: int, swell: float = 1.0, opacity: float = 1.0
) -> list[Drawn]:
    """One accent's disc with its edge, clipped to the row."""
    x, y, radius = row.x(repetition.at + at), row.mast(length), row.style.disc * swell
    look = row.look
    edge = clip_all([disc(x, y, radius + row.look.edge)], row.left, row.right)
    core = clip_all([disc(x, y, radius)], row.left, row.right)
    return [draw(look.ground, *edge, opacity=opacity), draw(look.ink, *core, opacity=opacity)]


def draw_crossing(row: Row, crossing: Crossing, opacity: float = 1.0, drop: float = 0.0) -> list[Drawn]:
    """A lozenge in the hull where the harmony turns; `drop` lifts it by so many pixels."""
    x, y = row.x(crossing.at), (row.hull_top + row.hull_bottom) / 2 - drop
    size = min(17.0, row.style.hull * 0.36)
    return [
        draw(
            row.look.ground,
            lozenge(x, y, size * 0.78 + row.look.edge * 1.3, size + row.look.edge * 1.3),
            opacity=opacity,
        ),
        draw(row.look.ink, lozenge(x, y, size * 0.78, size), opacity=opacity),
    ]


def draw_landing(row: Row, landing: Landing, mast_length: int, opacity: float = 1.0) -> list[Drawn]:
    """An accent on a downbeat: one stroke from the masthead through the line down the post, a disc on the
    line."""
    look, x = row.look, row.x(landing.at)
    top, width = row.mast(mast_length), row.look.width_post / 2
    upper = rectangle(x - width - row.look.edge, top, x + width + row.look.edge, row.line)
    stroke = rectangle(x - width, top, x + width, row.feet)
    radius = max(9.0, min(14.0, row.style.hull * 0.26))
    edge = clip_all([disc(x, row.line, radius + row.look.edge)], row.left, row.right)
    core = clip_all([disc(x, row.line, radius)], row.left, row.right)
    drawn = [draw(look.ground, upper, opacity=opacity), draw(look.ink, stroke, opacity=opacity)]
    if row.style.disc:
        drawn += [
            draw(look.ground, disc(x, top, row.style.disc + row.look.edge), opacity=opacity),
            draw(look.ink, disc(x, top, row.style.disc), opacity=opacity),
        ]
    return [*drawn, draw(look.ground, *edge, opacity=opacity), draw(look.ink, *core, opacity=opacity)]


def draw_realignment(row: Row, realignment: Realignment, opacity: float = 1.0) -> list[Drawn]:
    """A ring round the landing's disc, two when it is full."""
    x, radius = row.x(realignment.at), max(9.0, min(14.0, row.style.hull * 0.26)) + row.look.edge
    contours: list[Contour] = []
    for number in range(2 if realignment.full else 1):
        contours += ring(x, row.line, radius + 6 + 6 * number, 3)
    return [draw(row.look.ink, *contours, opacity=opacity)]


def draw_offset_mark(row: Row, at: int, downbeat: int, opacity: float = 1.0) -> list[Drawn]:
    """A tick under the line where a repetition starts; where there is room, a rule to it from its
    downbeat."""
    look, x, y = row.look, row.x(at), row.line + 12
    tick = draw(
        look.ink, rectangle(x - 2, row.line + row.look.width_line / 2 + 1, x + 2, y + 9), opacity=opacity
    )
    if row.style.disc == 0:
        return [tick]
    return [draw(look.ink, rectangle(row.x(downbeat), y - 1.5, x, y + 1.5), opacity=opacity), tick]


class OffsetLabel(NamedTuple):
    """How far after its downbeat a repetition starts, in pulses, as text and where it stands."""

    text: str
    x: float


def place_offsets(
    row: Row, repetitions: Sequence[Repetition], posts: Sequence[int]
) -> dict[int, OffsetLabel]:
    """The offsets' labels of a row by repetition number: right of their tick, or left of it where the next
    post or label would be hit; a label that fits on neither side is left out, its tick stays."""
    labels: dict[int, OffsetLabel] = {}
    taken = float("-inf")
    starts = [r for r in repetitions if row.holds(r.at) and r.offset]
    for index, repetition in enumerate(starts):
        text = f"+{Fraction(repetition.offset, repetition.statement.pulse)}"
        width, x = text_width(text, row.look.size_least, _offset_weight(row)), row.x(repetition.at)
        post = row.x(posts[bisect_right(posts, repetition.at)]) if repetition.at < posts[-1] else row.right
        tick = row.x(starts[index + 1].at) if index + 1 < len(starts) else row.right
        left_free = x - 5 - width >= max(taken + 8, row.x(posts[bisect_right(posts, repetition.at) - 1]) + 6)
        right_free = x + 5 >= taken + 8 and x + 5 + width <= min(post, tick) - 5
        if right_free or left_free:
            place = x + 5 if right_free else x - 5 - width
            labels[repetition.number] = OffsetLabel(text, place)
            taken = place + width
    return labels


def draw_offset_label(row: Row, label: OffsetLabel, opacity: float = 1.0) -> Drawn:
    """An offset's label under the line."""
    baseline = row.line + (52 if row.style.disc else 40)
    return draw_text(
        label.text, label.x, baseline, row.look.size_least, row.look.ink, _offset_weight(row), opacity=opacity
    )


def _offset_weight(row: Row) -> int:
    return SEMIBOLD if row.style.disc else REGULAR


def draw_side_sign(side: str, x: float, baseline: float, look: Look) -> list[Drawn]:
    """The sign of a side, 50 pixels wide: two sails on a hull for the figure, three posts for the meter."""
    if side == "meter":
        beam = rectangle(x, baseline - 24, x + 50, baseline - 20)
        posts = [
            rectangle(x + left, baseline - 22, x + left + w, baseline - 22 + h) for left, w, h in _SIGN_POSTS
        ]
        return [draw(look.meter_line, beam, *posts)]
    base = baseline - 10
    sails = [sail(x, base, 29, 26), sail(x + 31, base, 19, 20)]
    body = hull(x, x + 50, base + 3, baseline + 2, 11)
    return [draw(look.sail_one, *sails, body)]


_SIGN_POSTS = ((2, 5, 25), (24, 4, 14), (44, 4, 14))
