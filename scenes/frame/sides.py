"""The foot of `play`: which parts keep the figure and which the meter, and how a part changes sides."""

from bisect import bisect_right
from fractions import Fraction

from renderer.schedule.play import PlaySchedule
from scenes.draw.look import SEMIBOLD, Look, glide
from scenes.draw.segment import Moment, Picture, move_seconds
from scenes.draw.shapes import draw_text
from scenes.draw.text import shorten, text_width
from scenes.row.line import draw_side_sign

SIGN, WORD_GAP, SIDE_GAP = 50 + 14, 18, 60
SIDE_WORDS = ("figure", "meter")
MOST_GLIDING = 2
"""So many names glide past each other at most; more fade over."""

Places = dict[str, tuple[float, str]]
"""Where each shown part's name begins, in pixels, and the text that stands there."""


class SidesFoot:
    """The parts' names beside the signs of the two sides, as a function of time."""

    def __init__(self, schedule: PlaySchedule, look: Look) -> None:
        self.look = look
        self.parts = list(dict.fromkeys(side.part for side in schedule.timeline.sides))
        self.states = _states(schedule)
        self.times = [seconds for seconds, _ in self.states]
        self.move = move_seconds(look, schedule.beat)
        self.size = self._choose_size()
        self._kept: dict[object, Picture] = {}

    def picture(self, moment: Moment) -> Picture:
        """The names where they stand, or on their way: a move ends when the change sounds."""
        index = max(0, bisect_right(self.times, moment.end) - 1)
        following = index + 1
        share = 0.0
        if following < len(self.states):
            share = glide(moment.share(self.times[following] - self.move, self.times[following]))
        key = (index, share)
        if key not in self._kept:
            if share:
                return self._draw(index, following, share)
            self._kept[key] = self._draw(index, index, 0.0)
        return self._kept[key]

    def _draw(self, index: int, following: int, share: float) -> Picture:
        look, size = self.look, self.size
        before, before_meter = self._places(self.states[index][1])
        after, after_meter = self._places(self.states[following][1])
        meter = before_meter + (after_meter - before_meter) * share
        drawn: Picture = []
        for side, x, colour in (
            ("figure", float(look.canvas.left), look.sail_one),
            ("meter", meter, look.meter_text),
        ):
            drawn += draw_side_sign(side, x, look.canvas.foot, look)
            drawn.append(draw_text(side, x + SIGN, look.canvas.foot, self.look.size_least, colour))
        for part in dict.fromkeys([*before, *after]):
            start, end = before.get(part), after.get(part)
            x, text, opacity = _on_the_way(start, end, share, self._many(index, following))
            drawn.append(draw_text(text, x, look.canvas.foot, size, look.ink, SEMIBOLD, opacity=opacity))
        return drawn

    def _many(self, index: int, following: int) -> bool:
        """Whether so many parts change sides at once that their names would cross each other."""
        before, after = self.states[index][1], self.states[following][1]
        return sum(before.get(part) != after.get(part) for part in self.parts) > MOST_GLIDING

    def _places(self, sides: dict[str, str]) -> tuple[Places, float]:
        """Where the names of both sides stand, and where the meter's sign does."""
        x, meter = float(self.look.canvas.left), float(self.look.canvas.left)
        places: Places = {}
        shown = self._shown(sides)
        for side in SIDE_WORDS:
            if side == "meter":
                meter = x
            x += SIGN + text_width(side, self.look.size_least) + WORD_GAP
            for number, (key, name) in enumerate(shown[side]):
                text = name + ("," if number + 1 < len(shown[side]) else "")
                places[key] = (x, text)
                x += text_width(text + " ", self.size, SEMIBOLD)
            x += SIDE_GAP if shown[side] else SIDE_GAP / 2
        return places, meter

    def _shown(self, sides: dict[str, str]) -> dict[str, list[tuple[str, str]]]:
        """Each side's names, as (part, text); where they do not all fit, the first ones and how many more there are.

        A side that needs less than half the room leaves the rest to the other.
        """
        names = {side: [part for part in self.parts if sides.get(part) == side] for side in SIDE_WORDS}
        words = sum(
            SIGN + text_width(side, self.look.size_least) + WORD_GAP + SIDE_GAP for side in SIDE_WORDS
        )
        room = self.look.canvas.right - self.look.canvas.left - words
        needs = {side: self._width(names[side]) for side in SIDE_WORDS}
        shown = {}
        for side, other in (SIDE_WORDS, SIDE_WORDS[::-1]):
            mine = room if sum(needs.values()) <= room else max(room / 2, room - needs[other])
            shown[side] = self._fitting(side, names[side], mine)
        return shown

    def _fitting(self, side: str, names: list[str], room: float) -> list[tuple[str, str]]:
        for count in range(len(names), 0, -1):
            more = len(names) - count
            texts = names[:count] + ([f"{more} more"] if more else [])
            if self._width(texts) <= room:
                return list(zip([*names[:count], side], texts, strict=False))
        first = (
            f"{len(names)} parts"
            if len(names) > 1
            else shorten(names[0], self.size, room, SEMIBOLD)
            if names
            else ""
        )
        return [(side, first)] if first else []

    def _width(self, names: list[str]) -> float:
        return sum(text_width(name + ", ", self.size, SEMIBOLD) for name in names)

    def _choose_size(self) -> float:
        """As large as lets every state fit whole, else the least."""
        for size in (self.look.size_sentence, 38, self.look.size_least):
            self.size = size
            if all(
                len(self._places(sides)[0]) == len(sides) and self._end(sides) <= self.look.canvas.right
                for _, sides in self.states
            ):
                break
        return self.size

    def _end(self, sides: dict[str, str]) -> float:
        places, _ = self._places(sides)
        return max((x + text_width(text, self.size, SEMIBOLD) for x, text in places.values()), default=0.0)


def _on_the_way(
    start: tuple[float, str] | None, end: tuple[float, str] | None, share: float, fades: bool
) -> tuple[float, str, float]:
    """Where a name stands while sides change, its text and its opacity: it glides, or fades over."""
    if start == end and start:
        return *start, 1.0
    if fades or not (start and end):
        x, text = (end if share > 0.5 else start) or (0.0, "")
        return x, text, abs(2 * share - 1)
    x = start[0] + (end[0] - start[0]) * share
    return x, (end if share > 0.5 else start)[1], 1.0


def _states(schedule: PlaySchedule) -> list[tuple[Fraction, dict[str, str]]]:
    """Who keeps which side from when on, in the segment's seconds: `figure` (any voice) or `meter`; tacet is
    absent."""
    states: list[tuple[Fraction, dict[str, str]]] = []
    timeline = schedule.timeline
    first = min((side.at for side in timeline.sides), default=0)
    for span in schedule.spans:
        changes = {span.start} | {side.at for side in timeline.sides if span.start < side.at < span.end}
        for at in sorted(changes):
            sides = {
                side.part: "meter" if side.side == "meter" else "figure"
                for side in timeline.sides
                if side.at <= max(at, first) < side.end and side.side != "tacet"
            }
            if not states or states[-1][1] != sides:
                seconds = schedule.seconds_of(span, at)
                states.append((seconds if states else Fraction(0), sides))
    return states
