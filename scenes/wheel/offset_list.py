"""The offsets that a figure visits, in order, as a list beside the wheel."""

from typing import NamedTuple

from renderer.schedule.wheel import WheelSchedule
from scenes.draw.look import BOLD, SEMIBOLD, Look
from scenes.draw.shapes import FilledShape, Words, draw_text, draw_words
from scenes.draw.text import text_width
from scenes.draw.wording import count_of, mixed

LIST_LEFT, LIST_TOP = 1010.0, 236.0
FIRST, LAST = 318.0, 672.0
"""Baselines of the first row and of the last, which is the return's."""
LARGE, SMALL = 88.0, 59.0
"""From one row to the next."""
MOST_COLUMNS = 5


class OffsetPlace(NamedTuple):
    """A repetition's number and its offset, and where they begin."""

    number: str
    offset: str
    x: float
    baseline: float


class OffsetList(NamedTuple):
    """As many offsets as have room, then dots if there are more, then a row for the return."""

    places: tuple[OffsetPlace, ...]
    size: float
    indent: float
    """From a number's left to its offset's."""
    home: float
    """The return's baseline."""


def lay_offsets(look: Look, schedule: WheelSchedule) -> OffsetList:
    """The list, large where all of it fits so, else small, else without its middle."""
    entries = [
        (str(schedule.first_number + number), f"+{mixed(offset)}")
        for number, offset in enumerate(schedule.offsets[:-1])
    ]
    for size, pitch in ((look.size_title, LARGE), (look.size_sentence, SMALL)):
        laid = _lay(look, entries, size, pitch)
        if len(laid.places) == len(entries):
            return laid
    last = laid.places[-1]
    return laid._replace(places=(*laid.places[:-1], OffsetPlace("", "…", last.x, last.baseline)))


def _lay(look: Look, entries: list[tuple[str, str]], size: float, pitch: float) -> OffsetList:
    indent = max(text_width(number, look.size_least, BOLD) for number, _ in entries) + 16
    width = indent + max(text_width(offset, size, SEMIBOLD) for _, offset in entries) + 34
    columns = max(
        1,
        min(
            MOST_COLUMNS if size < look.size_title else 4, int((look.canvas.right - LIST_LEFT + 34) // width)
        ),
    )
    step = (look.canvas.right - LIST_LEFT) / columns
    rows = int((LAST - FIRST) // pitch)
    places = tuple(
        OffsetPlace(number, offset, LIST_LEFT + index % columns * step, FIRST + index // columns * pitch)
        for index, (number, offset) in enumerate(entries[: rows * columns])
    )
    return OffsetList(places, size, indent, places[-1].baseline + pitch)


def draw_list_head(look: Look) -> list[FilledShape]:
    """What the list tells."""
    words = [Words("repetition", look.sail_one), Words(" starts at offset", look.ink)]
    return draw_words(words, LIST_LEFT, LIST_TOP, look.size_least)


def draw_offset(look: Look, layout: OffsetList, number: int, opacity: float) -> list[FilledShape]:
    """One repetition's number and offset."""
    place = layout.places[number]
    return [
        draw_text(
            place.number, place.x, place.baseline, look.size_least, look.sail_one, BOLD, opacity=opacity
        ),
        draw_text(
            place.offset,
            place.x + layout.indent,
            place.baseline,
            layout.size,
            look.ink,
            SEMIBOLD,
            opacity=opacity,
        ),
    ]


def draw_home(look: Look, schedule: WheelSchedule, layout: OffsetList, opacity: float) -> list[FilledShape]:
    """The repetition that starts on the downbeat again, or how many more it takes."""
    x, y = LIST_LEFT, layout.home
    if not schedule.complete:
        text = f"home after {schedule.count} repetitions"
        return [draw_text(text, x, y, look.size_sentence, look.ink, opacity=opacity)]
    if not schedule.comes_home:
        text = f"home {count_of(schedule.turns, 'bar')} later, if it ran on"
        return [draw_text(text, x, y, look.size_sentence, look.ink, opacity=opacity)]
    number = str(schedule.first_number + schedule.count)
    bar = schedule.bar.number + schedule.turns
    drawn = [
        draw_text(number, x, y, look.size_least, look.sail_one, BOLD, opacity=opacity),
        draw_text("+0", x + layout.indent, y, layout.size, look.ink, SEMIBOLD, opacity=opacity),
    ]
    x += layout.indent + text_width("+0", layout.size, SEMIBOLD) + 40
    return [
        *drawn,
        draw_text(f"on the downbeat of bar {bar}", x, y, look.size_sentence, look.ink, opacity=opacity),
    ]
