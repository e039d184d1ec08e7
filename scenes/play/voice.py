"""One voice of `play` in a row: its vessels, lit up to the playhead, and their marks, lit when they are reached."""

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from itertools import pairwise
from math import inf
from typing import NamedTuple

from renderer.schedule.play import PlaySchedule
from renderer.schedule.wording import number_text
from renderer.timeline.model import Repetition
from scenes.draw.look import BOLD, CAPITAL, Look, arrive
from scenes.draw.paths import Contour, clip_all, disc, hull_between, lozenge, rectangle, ring, sail_between
from scenes.draw.segment import Picture, Segment, marks_of
from scenes.draw.shapes import FilledShape, draw, place
from scenes.draw.text import letter, text_width
from scenes.frame.counted import most_digits
from scenes.row.line import (
    VESSEL_GAP,
    Row,
    draw_rests,
    draw_soft_vessel,
    draw_vessel,
    hull_contours,
    number_left,
)
from scenes.row.marks import hull_notes

OVERLAP = 2.0
"""Pixels by which what lights up reaches back under what is lit."""


class Mark(NamedTuple):
    """What lights up when its tick is reached, in the order of painting."""

    at: int
    kind: str
    number: int
    """The repetition's index in its voice."""
    height: int = 0
    """For what stands at a masthead: the length of the group, in ticks."""
    full: bool = False


class PlayVoice:
    """The repetitions of one voice; `segment` keeps what does not change."""

    def __init__(self, segment: Segment, schedule: PlaySchedule, name: str) -> None:
        timeline = segment.timeline
        self.segment, self.schedule, self.name = segment, schedule, name
        self.repetitions = [r for r in timeline.repetitions if r.voice == name]
        self.digits = most_digits(self.repetitions, schedule.numbers)
        self._starts = [r.at for r in self.repetitions]
        self._ends = [r.end for r in self.repetitions]
        self._masts = sorted(
            {
                (r.at + group.at, number)
                for number, r in enumerate(self.repetitions)
                for group in r.statement.groups
                if group.at in r.statement.accents
            }
        )
        self._closest = min((b - a for (a, _), (b, _) in pairwise(self._masts) if a < b), default=inf)
        self.crossings, self.landings, self.realignments = marks_of(schedule, name)

    def sounding(self, now: int) -> Repetition | None:
        """The repetition that sounds at a tick."""
        index = bisect_right(self._starts, now) - 1
        return self.repetitions[index] if index >= 0 and now < self.repetitions[index].end else None

    def in_row(self, row: Row) -> range:
        """The repetitions that sound in a row, as indices."""
        return range(bisect_right(self._ends, row.start), bisect_left(self._starts, row.end))

    # Vessels

    def draw_soft(self, row: Row) -> Picture:
        """All of the row's vessels as they are before they sound, and the rests between them."""
        inside = self.in_row(row)
        drawn = draw_rests(row, self.repetitions[max(0, inside.start - 1) : inside.stop + 1])
        for number in inside:
            drawn += draw_soft_vessel(row, self.repetitions[number])
        return drawn

    def lit_vessels(self, row: Row, now: int, x: float, begins: int) -> Picture:
        """What has sounded since tick `begins`: whole vessels, and the one that sounds up to the playhead at pixel
        `x`."""
        inside = self.in_row(row)
        first = max(inside.start, bisect_right(self._ends, begins))
        done = max(first, min(inside.stop, bisect_right(self._ends, now)))
        drawn: Picture = []
        if (
            row.start < begins and first < inside.stop and self._starts[first] < begins
        ):  # runs in from what is unlit
            colour, entering = self._colour(first), self.repetitions[first]
            drawn += draw_vessel(row, entering, colour, until=x, since=row.x(begins))
            first += 1
        for number in range(first, done):
            drawn += self.segment.keep(self._draw_lit, row, number)
        if first <= done < inside.stop and self._starts[done] <= now:
            drawn += self._sounding_vessel(row, done, now, x)
        return drawn

    def pointed(self, row: Row, repetition: Repetition, now: int, x: float, begins: int) -> Picture:
        """One repetition by itself, as it stands in the row: lit up to pixel `x`, with its marks and its number."""
        number = self.repetitions.index(repetition)
        drawn = [*draw_soft_vessel(row, repetition)]
        if repetition.at <= now:
            since = row.x(begins) if row.start < begins and repetition.at < begins else None
            drawn += draw_vessel(row, repetition, self._colour(number), until=x, since=since)
        own = [mark for mark in self.marks(row) if mark.number == number]
        for mark in own:
            lit = begins <= mark.at <= now
            drawn += draw_landing_stroke(row, mark, lit) if mark.kind == "landing" else []
            drawn += draw_mark(row, mark, lit)
        for text, left, right in self._find_places(row, number):
            drawn += self._draw_number(row, number, text, left, right <= x)
        return drawn

    def _sounding_vessel(self, row: Row, number: int, now: int, x: float) -> Picture:
        """What is lit of the repetition that sounds: its finished pulses, each kept, and the rest up to pixel `x`. Each
        reaches back under the one before, so that there is no seam."""
        repetition = self.repetitions[number]
        if repetition.statement.kind == "tail":
            return draw_vessel(row, repetition, self._colour(number), until=x)
        pulse = repetition.statement.pulse
        pulses = (now - repetition.at) // pulse
        edge = min(x, row.x(repetition.at + pulses * pulse))
        drawn: Picture = []
        for finished in range(max(0, (row.start - repetition.at) // pulse), pulses):
            drawn += self.segment.keep(self._draw_pulse, row, number, finished)
        return drawn + self._draw_between(row, number, edge, x)

    def _draw_pulse(self, row: Row, number: int, pulse: int) -> Picture:
        """One pulse of a repetition, lit."""
        repetition = self.repetitions[number]
        edges = (row.x(repetition.at + n * repetition.statement.pulse) for n in (pulse, pulse + 1))
        return self._draw_between(row, number, *edges)

    def _draw_between(self, row: Row, number: int, edge: float, x: float) -> Picture:
        """A repetition's body from a little before `edge` up to `x`, both in pixels, lit."""
        repetition, statement = self.repetitions[number], self.repetitions[number].statement
        left, x = max(row.left, edge - OVERLAP), min(x, row.right)
        contours: list[Contour] = []
        for group in statement.groups:
            start = row.x(repetition.at + group.at)
            if start >= x:
                break
            if row.x(repetition.at + group.at + group.length) > left:
                width, height = group.written * row.scale - row.look.gap, row.base - row.mast(group.written)
                part = sail_between(start, row.base, width, height, left, x) if width > 3 else None
                contours += [] if part is None else [part]
        body = self.segment.keep(hull_contours, row, repetition)
        if body and not statement.cut and row.x(repetition.at) + 0.3 * row.style.hull < left:
            part = hull_between(body[0], left, x)
            contours += [] if part is None else [part]
        else:
            contours += clip_all(body, left, x)
        return [draw(self._colour(number), *contours)] if contours else []

    def _draw_lit(self, row: Row, number: int) -> Picture:
        return draw_vessel(row, self.repetitions[number], self._colour(number))

    def _colour(self, number: int) -> str:
        return self.segment.look.sail(self.repetitions[number].number)

    # Marks

    def marks(self, row: Row) -> list[Mark]:
        """All marks of the voice in a row."""
        marks: list[Mark] = []
        for number in self.in_row(row):
            repetition = self.repetitions[number]
            landed = {m.at for m in self.landings.get(repetition.number, []) if m.sounds}
            homes = {m.at: m.full for m in self.realignments.get(repetition.number, [])}
            if self.has_mastheads(row):
                for group in repetition.statement.groups:
                    at = repetition.at + group.at
                    if group.at in repetition.statement.accents and at not in landed:
                        marks.append(Mark(at, "masthead", number, group.written))
            for at in sorted(landed):
                height = repetition.statement.group_at(at - repetition.at).written
                marks.append(Mark(at, "landing", number, height))
            for at, full in homes.items():
                marks.append(Mark(at, "realignment", number, 0, full))
            marks += [Mark(m.at, "crossing", number) for m in self.crossings.get(repetition.number, [])]
        return [mark for mark in marks if row.holds(mark.at)]

    def has_mastheads(self, row: Row) -> bool:
        """Whether accents are marked: not where their discs would stand in each other's way; landings always are."""
        apart = self._closest * row.scale >= 2 * (row.style.disc + row.look.edge)
        return bool(apart and row.style.disc and "accents" not in self.schedule.without)

    def swelling(self, row: Row, now: int, since: Sequence[tuple[int, float]]) -> Picture:
        """The mastheads that have just sounded, larger than they are: they swell by a third. `since` has the ticks of
        the last moments with the seconds that have passed."""
        if not self.has_mastheads(row):
            return []
        passed = dict(since)
        drawn: Picture = []
        for at, number in self._masts[bisect_left(self._masts, (min(passed, default=now + 1), -1)) :]:
            if at > now:
                break
            if at in passed and row.holds(at):
                repetition = self.repetitions[number]
                height = repetition.statement.group_at(at - repetition.at).written
                more = (1 - arrive(passed[at] / self.segment.look.swell)) / 3
                drawn += _disc(
                    row.look, row.x(at), row.mast(height), row.style.disc * (1 + more), row.look.ink
                )
        return drawn

    # Numbers

    def numbers(self, row: Row, now: int | None, x: float, begins: int) -> Picture:
        """The numbers in the hulls: cut at the playhead at pixel `x` into what stands on lit hulls and what does
        not. What begins before tick `begins` is not lit."""
        if "numbers" in self.schedule.without or row.style.hull < row.style.number * CAPITAL + 4:
            return []
        places = self.segment.keep(self._row_places, row)
        unlit = sum(left < row.x(begins) for _, _, left, _ in places) if row.start < begins else 0
        passed = 0 if now is None else sum(right <= x for _, _, _, right in places)
        if now is None or not any(left < x < right for _, _, left, right in places):
            return self.segment.keep(self._draw_numbers, row, range(unlit, passed))
        drawn: Picture = []
        for order, (number, text, left, right) in enumerate(places):
            if order < unlit or not left < x < right:
                on = order >= unlit and right <= x
                drawn += self.segment.keep(self._draw_number, row, number, text, left, on)
                continue
            for on in (True, False):
                bounds = (row.left, x) if on else (x, row.right)
                drawn += self._draw_number(row, number, text, left, on, bounds)
        return drawn

    def _draw_numbers(self, row: Row, lit: range) -> Picture:
        """All texts in the hulls of a row, those in `lit`, by their order, on lit hulls."""
        drawn: Picture = []
        for order, (number, text, left, _) in enumerate(self.segment.keep(self._row_places, row)):
            drawn += self.segment.keep(self._draw_number, row, number, text, left, order in lit)
        return drawn

    def _row_places(self, row: Row) -> list[tuple[int, str, float, float]]:
        """All texts in the hulls of a row from left to right: the repetition's index, the text, its left and right
        end."""
        return [
            (number, text, left, right)
            for number in self.in_row(row)
            for text, left, right in self._find_places(row, number)
        ]

    def _find_places(self, row: Row, number: int) -> list[tuple[str, float, float]]:
        """A repetition's number and what stands beside it in its hull, with their left and right ends."""
        repetition = self.repetitions[number]
        own = number_text(repetition, self.schedule.numbers)
        inset = min(12.0, max(5.0, row.style.hull / 4))
        left = number_left(row, repetition, inset, text_width(own or "0", row.style.number, BOLD))
        if left is None:
            return []
        stands = [m.at for m in self.crossings.get(repetition.number, [])]
        stands += [m.at for m in self.landings.get(repetition.number, []) if m.sounds]
        limit = min(row.x(repetition.end) - VESSEL_GAP - row.style.hull * 0.2, row.look.canvas.right)
        x = left
        found: list[tuple[str, float, float]] = []
        notes = tuple(map(row.look.words.say, hull_notes(repetition)))
        for texts in filter(None, ((own,) if own else (), notes)):
            widths = [(text, text_width(text, row.style.number, BOLD)) for text in texts]
            places = [(text, _clear_of(row, stands, repetition.at, x, w), w) for text, w in widths]
            fits = next(((text, left, left + w) for text, left, w in places if left + w <= limit), None)
            if fits is None:
                break
            found.append(fits)
            x = fits[2] + 22
        return found

    def _draw_number(
        self,
        row: Row,
        number: int,
        text: str,
        left: float,
        on: bool,
        bounds: tuple[float, float] | None = None,
    ) -> Picture:
        look, size = row.look, row.style.number
        tail = self.repetitions[number].statement.kind == "tail"
        colour = look.ink if tail else look.on_sail if on else look.on_soft
        baseline = row.hull_bottom - (row.style.hull - size * CAPITAL) / 2
        contours = place(letter(text, size, BOLD), left, baseline)
        if bounds is None:
            return [FilledShape(contours, colour, 1.0, text, size)]
        clipped = clip_all(contours, *bounds)
        return [FilledShape(clipped, colour, 1.0, text if on else None, size)] if clipped else []


def _clear_of(row: Row, stands: Sequence[int], start: int, x: float, width: float) -> float:
    """Where a text of that width begins in the hull that starts at tick `start`: at `x`, or right of the marks that
    stand there."""
    for mark in sorted(stands):
        seam = row.x(mark)
        if seam - 16 < x + width and seam + 16 > x and seam > row.x(start) - 1:
            x = seam + 18
    return x


def draw_landing_stroke(row: Row, mark: Mark, lit: bool) -> Picture:
    """An accent on a downbeat: one stroke from the masthead through the line down the post."""
    look, x, top = row.look, row.x(mark.at), row.mast(mark.height)
    colour = look.ink if lit else look.line
    half = look.width_post / 2
    return [
        draw(look.ground, rectangle(x - half - look.edge, top, x + half + look.edge, row.hull_bottom)),
        draw(colour, rectangle(x - half, top, x + half, row.feet)),
    ]


def draw_mark(row: Row, mark: Mark, lit: bool) -> Picture:
    """A mark before its tick is reached, or lit."""
    look, x = row.look, row.x(mark.at)
    colour = look.ink if lit else look.line
    foot = row.hull_bottom + look.gap + look.width_line / 2
    if mark.kind == "masthead":
        return _disc(look, x, row.mast(mark.height), row.style.disc * (1.0 if lit else 0.9), colour)
    if mark.kind == "crossing":
        middle, size = (row.hull_top + row.hull_bottom) / 2, min(19.0, row.style.hull * 0.42)
        return [
            draw(look.ground, lozenge(x, middle, size * 0.78 + 3, size + 4)),
            draw(colour, lozenge(x, middle, size * 0.78, size)),
        ]
    radius = max(7.0, min(11.0, row.style.hull * 0.22))
    if mark.kind == "landing":
        drawn = _disc(look, x, foot, radius, colour)
        return drawn + (
            _disc(look, x, row.mast(mark.height), row.style.disc, colour) if row.style.disc else []
        )
    rings = [*ring(x, foot, radius + 10, 4), *(ring(x, foot, radius + 18, 4) if mark.full else ())]
    edge = disc(x, foot, radius + (21 if mark.full else 13))
    return [draw(look.ground, edge), draw(colour, *rings), draw(colour, disc(x, foot, radius))]


def _disc(look: Look, x: float, y: float, radius: float, colour: str) -> Picture:
    return [draw(look.ground, disc(x, y, radius + look.edge)), draw(colour, disc(x, y, radius))]
