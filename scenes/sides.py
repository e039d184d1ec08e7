"""The foot of `play`: which parts keep the figure and which the meter, and how a part changes sides."""

from bisect import bisect_right
from fractions import Fraction

from renderer.schedule import PlaySchedule
from renderer.timeline import Timeline
from scenes.drawing import draw_text
from scenes.lettering import shorten, text_width
from scenes.look import FOOT_BASELINE, LEFT, RIGHT, SEMIBOLD, Look, glide
from scenes.row import draw_side_sign
from scenes.segment import Moment, Picture, move_seconds

SIGN, WORD_GAP, SIDE_GAP = 50 + 14, 18, 60

Places = dict[str, tuple[float, str]]
"""Where each shown part's name begins, in pixels, and the text that stands there."""


class SidesFoot:
    """The parts' names beside the signs of the two sides, as a function of time."""

    def __init__(self, timeline: Timeline, schedule: PlaySchedule, look: Look) -> None:
        self.look = look
        self.parts = list(dict.fromkeys(side.part for side in timeline.sides))
        self.states = _states(timeline, schedule)
        self.times = [seconds for seconds, _ in self.states]
        self.move = move_seconds(look, schedule.beat)
        self.size = self._choose_size()
        self._kept: dict[object, Picture] = {}

    def picture(self, moment: Moment) -> Picture:
        """The names where they stand, or on their way: a move ends when the change sounds."""
        index = max(0, bisect_right(self.times, moment.seconds + moment.frame / 2) - 1)
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
        for side, x, colour in (("figure", float(LEFT), look.sail_one), ("meter", meter, look.meter_text)):
            drawn += draw_side_sign(side, x, FOOT_BASELINE, look)
            drawn.append(draw_text(side, x + SIGN, FOOT_BASELINE, self.look.size_least, colour))
        for part in dict.fromkeys([*before, *after]):
            start, end = before.get(part), after.get(part)
            x = _between(start, end, share)
            text = (end if share > 0.5 and end else start or end or (0.0, ""))[1]
            opacity = 1.0 if start and end else (share if end else 1 - share)
            drawn.append(draw_text(text, x, FOOT_BASELINE, size, look.ink, SEMIBOLD, opacity=opacity))
        return drawn

    def _places(self, sides: dict[str, str]) -> tuple[Places, float]:
        """Where the names of both sides stand, and where the meter's sign does."""
        x = float(LEFT)
        places: Places = {}
        meter = x
        for side in ("figure", "meter"):
            if side == "meter":
                meter = x
            x += SIGN + text_width(side, self.look.size_least) + WORD_GAP
            names = [part for part in self.parts if sides.get(part) == side]
            for number, name in enumerate(names):
                text = name + ("," if number + 1 < len(names) else "")
                places[name] = (x, text)
                x += text_width(text + " ", self.size, SEMIBOLD)
            x += SIDE_GAP if names else SIDE_GAP / 2
        return places, meter

    def _choose_size(self) -> float:
        """As large as lets every state fit; names too long even then are shortened alike."""
        for size in (self.look.size_sentence, 38, self.look.size_least):
            self.size = size
            if all(self._end(sides) <= RIGHT for _, sides in self.states):
                return size
        room = 1200 / max(1, len(self.parts))
        short = {part: shorten(part, self.look.size_least, room, SEMIBOLD) for part in self.parts}
        self.parts = [short[part] for part in self.parts]
        self.states = [(at, {short[p]: side for p, side in sides.items()}) for at, sides in self.states]
        return self.look.size_least

    def _end(self, sides: dict[str, str]) -> float:
        places, _ = self._places(sides)
        return max((x + text_width(text, self.size, SEMIBOLD) for x, text in places.values()), default=0.0)


def _between(start: tuple[float, str] | None, end: tuple[float, str] | None, share: float) -> float:
    if start and end:
        return start[0] + (end[0] - start[0]) * share
    return (start or end or (0.0, ""))[0]


def _states(timeline: Timeline, schedule: PlaySchedule) -> list[tuple[Fraction, dict[str, str]]]:
    """Who keeps which side from when on, in the segment's seconds: `figure` (any voice) or `meter`; tacet is
    absent."""
    states: list[tuple[Fraction, dict[str, str]]] = []
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
                seconds = schedule.seconds_of(timeline, span, at)
                states.append((seconds if states else Fraction(0), sides))
    return states
