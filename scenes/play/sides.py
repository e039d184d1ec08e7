"""The foot of `play`: which parts keep the figure and which the meter, and how a part changes sides."""

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from renderer.schedule.play import PlaySchedule
from renderer.timeline.model import Timeline
from scenes.draw.kept import Kept
from scenes.draw.look import BOLD, SEMIBOLD, Look, glide
from scenes.draw.paths import rectangle
from scenes.draw.segment import Moment, Picture, move_seconds
from scenes.draw.shapes import draw, draw_text
from scenes.draw.text import shorten, text_width
from scenes.row.line import draw_side_sign

SIGN, SIDE_GAP = 62.0, 60.0
SIDE_WORDS = ("figure", "meter")
MOST_GLIDING = 2
"""So many names glide past each other at most; more fade over."""
LOUD, LOUD_SECONDS = 56.0, Fraction(3)
"""Type size of the news that nobody keeps a side, and how long it stands so large."""
STACK_PITCH = 60.0


class Place(NamedTuple):
    """One text of the foot: where it stands, what it says, how large."""

    x: float
    baseline: float
    text: str
    size: float
    weight: int = SEMIBOLD


class SidesFoot:
    """The parts' names beside the signs of the two sides, as a function of time; `stacked`: one under the other."""

    def __init__(self, schedule: PlaySchedule, look: Look, stacked: bool = False) -> None:
        self.look = look
        self.stacked = stacked
        self.parts = list(dict.fromkeys(side.part for side in schedule.timeline.sides))
        self.states = find_states(schedule)
        self.times = [seconds for seconds, _ in self.states]
        move = move_seconds(look, schedule.beat)
        self.leaves = [seconds - move for seconds in self.times]
        """When the move to each state begins, and when it is told no more, in seconds."""
        self.told = [seconds + LOUD_SECONDS for seconds in self.times]
        self.size = self._choose_size()
        self.keep = Kept()

    def picture(self, moment: Moment) -> Picture:
        """The names where they stand, or on their way: a move ends when the change sounds."""
        if not self.parts:
            return []
        index = max(0, bisect_right(self.times, moment.end) - 1)
        following = index + 1
        share = 0.0
        if following < len(self.states):
            leaves = self.leaves[following]
            share = glide(moment.share(leaves, self.times[following])) if leaves < moment.seconds else 0.0
        loud = bool(index) and moment.seconds < self.told[index]
        if share:
            return self._draw(index, following, share, loud)
        return self.keep(self._draw, index, index, 0.0, loud)

    def _draw(self, index: int, following: int, share: float, loud: bool) -> Picture:
        look = self.look
        before = self._places(self.states[index][1], loud)
        after = self._places(self.states[following][1], index != following)
        fades = self._many(index, following)
        drawn: Picture = []
        for key in dict.fromkeys([*before, *after]):
            start, end = before.get(key), after.get(key)
            place, opacity = _on_the_way(start, end, share, fades)
            if key in SIDE_WORDS:
                nobody = not self._keepers(self.states[following if share > 0.5 else index][1])[key]
                drawn += _sign(look, key, place, nobody)
            elif place.text:
                drawn.append(
                    draw_text(
                        place.text,
                        place.x,
                        place.baseline,
                        place.size,
                        look.ink,
                        place.weight,
                        opacity=opacity,
                    )
                )
        return drawn

    def _many(self, index: int, following: int) -> bool:
        """Whether so many parts change sides at once that their names would cross each other."""
        before, after = self.states[index][1], self.states[following][1]
        return self.stacked or sum(before.get(part) != after.get(part) for part in self.parts) > MOST_GLIDING

    def _keepers(self, sides: Mapping[str, str]) -> dict[str, list[str]]:
        return {side: [part for part in self.parts if sides.get(part) == side] for side in SIDE_WORDS}

    def _places(self, sides: Mapping[str, str], loud: bool) -> dict[str, Place]:
        """Where the signs and the names of both sides stand."""
        canvas, places = self.look.canvas, {}
        x, baseline = canvas.left, canvas.sides
        if canvas.tall:
            baseline += STACK_PITCH
        keepers = self._keepers(sides)
        for side in SIDE_WORDS:
            places[side] = Place(x, baseline, "", self.size)
            x += SIGN
            names = keepers[side]
            if not names:
                size, weight = (LOUD, BOLD) if loud else (self.size, BOLD)
                text = self._nobody(side)
                if x + text_width(text, size, weight) > canvas.right:
                    size = self.size
                text = shorten(text, size, canvas.right - x, weight)
                places[f"nobody {side}"] = Place(x, baseline, text, size, weight)
                x += text_width(text, size, weight)
            for key, text in self._fitting(side, names, self._room(side, keepers)):
                places[key] = Place(x, baseline, text, self.size)
                x += text_width(text + " ", self.size, SEMIBOLD)
            x += SIDE_GAP
            if self.stacked:
                x, baseline = canvas.left, baseline + STACK_PITCH
        return places

    def _nobody(self, side: str) -> str:
        return self.look.words.say(f"nobody keeps the {side}")

    def _room(self, side: str, keepers: Mapping[str, Sequence[str]]) -> float:
        """Pixels for a side's names: a side that needs less than half of the room leaves the rest to the other."""
        canvas = self.look.canvas
        if self.stacked:
            return canvas.right - canvas.left - SIGN
        room = canvas.right - canvas.left - 2 * SIGN - SIDE_GAP
        other = SIDE_WORDS[1 - SIDE_WORDS.index(side)]
        need = self._width(keepers[other]) if keepers[other] else text_width(self._nobody(other), LOUD, BOLD)
        return max(room / 2, room - need)

    def _fitting(self, side: str, names: Sequence[str], room: float) -> list[tuple[str, str]]:
        """The names that fit, as (part, text), and how many more there are."""
        for count in range(len(names), 0, -1):
            more = len(names) - count
            texts = _with_commas([*names[:count], *([f"{more} more"] if more else [])])
            if self._width(texts) <= room:
                return list(zip([*names[:count], f"more {side}"], texts, strict=False))
        if len(names) > 1:
            return [(f"more {side}", self.look.words.say(f"{len(names)} parts"))]
        return [(name, shorten(name, self.size, room, SEMIBOLD)) for name in names]

    def _width(self, names: Sequence[str]) -> float:
        return sum(text_width(name + " ", self.size, SEMIBOLD) for name in _with_commas(names))

    def _choose_size(self) -> float:
        """As large as lets every name stand whole, else the least."""
        for size in (self.look.size_sentence, 38.0, self.look.size_least):
            self.size = size
            if all(self._whole(sides) for _, sides in self.states):
                break
        return self.size

    def _whole(self, sides: Mapping[str, str]) -> bool:
        keepers = self._keepers(sides)
        return all(
            [text.rstrip(",") for _, text in self._fitting(side, names, self._room(side, keepers))]
            == list(names)
            for side, names in keepers.items()
        )


def _with_commas(names: Sequence[str]) -> list[str]:
    bare = [name.rstrip(",") for name in names]
    return [*(name + "," for name in bare[:-1]), *bare[-1:]]


def _sign(look: Look, side: str, place: Place, nobody: bool) -> Picture:
    if side == "meter" and nobody:
        x, top = place.x, place.baseline - 24
        beam = [rectangle(x + dash, top, x + dash + 6, top + 4) for dash in range(0, 50, 10)]
        posts = [
            rectangle(x + left, top + 4 + drop, x + left + 4, top + 8 + drop)
            for left in (2, 24, 44)
            for drop in (3, 11)
        ]
        return [draw(look.meter_line, *beam, *posts)]
    return draw_side_sign(side, place.x, place.baseline, look)


def _on_the_way(start: Place | None, end: Place | None, share: float, fades: bool) -> tuple[Place, float]:
    """Where a text stands while sides change, and its opacity: it glides, or fades over."""
    if start is not None and start == end:
        return start, 1.0
    if fades or start is None or end is None:
        shown = end if share > 0.5 else start
        return (shown or Place(0, 0, "", 1)), abs(2 * share - 1)
    nearer = end if share > 0.5 else start
    x = start.x + (end.x - start.x) * share
    return nearer._replace(x=x, baseline=start.baseline + (end.baseline - start.baseline) * share), 1.0


def find_states(schedule: PlaySchedule) -> list[tuple[Fraction, dict[str, str]]]:
    """Who keeps which side from when on, in the segment's seconds: `figure` (any voice) or `meter`; tacet is
    absent."""
    timeline = schedule.timeline
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
                seconds = schedule.seconds_of(span, at)
                states.append((seconds if states else Fraction(0), sides))
    return states


def without_meter(timeline: Timeline) -> list[tuple[int, int]]:
    """The stretches in which parts play and none of them keeps the meter, in ticks; none in a piece without parts."""
    if not timeline.sides:
        return []
    edges = sorted({timeline.start, timeline.end, *(side.at for side in timeline.sides)})
    found = []
    for start, end in pairwise(edges):
        sides = [side.side for side in timeline.sides if side.at <= start < side.end]
        if sides and "meter" not in sides:
            found.append((start, end))
    return found
