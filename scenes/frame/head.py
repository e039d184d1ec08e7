"""The head of a picture: a small line and the sentence under it, or a longer sentence alone, and the counter."""

import re
from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import NamedTuple

from scenes.draw.look import BOLD, SEMIBOLD, Canvas, Look
from scenes.draw.shapes import FilledShape, Words, across, draw_text, draw_words, moved, words_width
from scenes.draw.text import fit_size, shorten, text_width

LEAST_SENTENCE = 42.0
"""A sentence that is too long for its lines at the canvas's size gets smaller down to this."""
SIGNS, LONG_SUM = {"+", "−", "×", "="}, 16
"""A sum in a sentence is not broken before so many letters."""
EVEN_STEPS = 24
"""Lines are made even in steps of so small a share of their room."""
COUNTER_SIZE, COUNTER_GAP, ENTRY_GAP, BESIDE = 48.0, 12.0, 36.0, 48.0
"""Type size of the counter's numbers; pixels between a word and its number, between two entries, and from the head's
texts to the counter."""


class Count(NamedTuple):
    """One number of the counter: the word before it, the number (empty for a word alone), the most digits that it gets,
    and its colour."""

    word: str
    number: str
    digits: int
    colour: str


def draw_head(
    look: Look, small: str, words: Sequence[Words], beside: float = 0.0, opacity: float = 1.0
) -> list[FilledShape]:
    """The small line with the sentence under it; where the sentence needs more lines than one, it stands alone.

    `beside` is the width of what stands at the right of the upper line (`counter_width`).
    """
    canvas = look.canvas
    room = canvas.right - canvas.left
    if words_width(words, canvas.size_sentence) <= room:
        drawn = draw_small(look, small, beside)
        return drawn + _inside(
            look, draw_words(words, canvas.left, canvas.sentence, canvas.size_sentence, opacity)
        )
    size, lines = _lay_lines(words, canvas, beside)
    return [
        shape
        for line, baseline in zip(lines, canvas.lines, strict=False)
        for shape in _inside(look, draw_words(line, canvas.left, baseline, size, opacity))
    ]


def draw_small(look: Look, text: str, beside: float = 0.0) -> list[FilledShape]:
    """The small line over the sentence: where in the piece this is."""
    canvas = look.canvas
    if not text:
        return []
    shown = shorten(text, look.size_least, canvas.right - canvas.left - beside)
    return _inside(look, [draw_text(shown, canvas.left, canvas.small, look.size_least, look.mute)])


def _lay_lines(words: Sequence[Words], canvas: Canvas, beside: float) -> tuple[float, list[list[Words]]]:
    """A sentence on the canvas's lines, as large as lets it stand whole; at the least size what is left over is cut
    off with an ellipsis. The first line leaves room for the counter."""
    room, most = canvas.right - canvas.left, len(canvas.lines)
    size = canvas.size_sentence
    while True:
        lines = break_words(words, size, room, most, room - beside)
        if not _cut_off(lines):
            parted = _parted(words, size, room, beside) if canvas.low < 1 and len(lines) == 2 else None
            return size, parted or _evened(words, size, lines, room, beside)
        if size <= LEAST_SENTENCE:
            return size, lines
        size = max(LEAST_SENTENCE, size - 2)


def _cut_off(lines: Sequence[Sequence[Words]]) -> bool:
    return lines[-1][-1].text.endswith("…")


def _parted(words: Sequence[Words], size: float, room: float, beside: float) -> list[list[Words]] | None:
    """Two sentences on a line each, if they have room."""
    units = list(_unbroken(words))
    ends = [n for n, unit in enumerate(units[:-1], start=1) if unit[-1].text.rstrip().endswith((".", "?"))]
    if len(ends) != 1:
        return None
    lines = []
    for part in (units[: ends[0]], units[ends[0] :]):
        first, *rest = (stretch for unit in part for stretch in unit)
        line = [first._replace(text=first.text.lstrip()), *rest]
        lines.append([*_joined([*line[:-1], line[-1]._replace(text=line[-1].text.rstrip())])])
    fit = words_width(lines[0], size) <= room - beside and words_width(lines[1], size) <= room
    return lines if fit else None


def _evened(
    words: Sequence[Words], size: float, lines: list[list[Words]], room: float, beside: float
) -> list[list[Words]]:
    """The same sentence on as many lines, but as even as they can be, so that no word stands alone on the last one."""
    for share in range(EVEN_STEPS // 2, EVEN_STEPS):
        narrow = room * share / EVEN_STEPS
        even = break_words(words, size, narrow, len(lines), min(narrow, room - beside))
        if not _cut_off(even) and all(words_width(line, size) <= narrow for line in even):
            return even
    return lines


def fits_head(look: Look, text: str, beside: float = 0.0) -> bool:
    """Whether a text stands whole in the head, at a size that can be read."""
    canvas = look.canvas
    if words_width(sentence_of(look, text), canvas.size_sentence) <= canvas.right - canvas.left:
        return True
    _, lines = _lay_lines(sentence_of(look, text), canvas, beside)
    return not lines[-1][-1].text.endswith("…")


def sentence_of(look: Look, text: str) -> list[Words]:
    """A plain text as a sentence: a title, or what a teacher says."""
    return [Words(text, look.ink, SEMIBOLD)]


def draw_counter(look: Look, counts: Sequence[Count], opacity: float = 1.0) -> list[FilledShape]:
    """Numbers in boxes of fixed width at the top right, from left to right, each after its word."""
    canvas, drawn = look.canvas, []
    x = canvas.right
    digit = text_width("0", COUNTER_SIZE, BOLD)
    for count in reversed(counts):
        box = digit * max(count.digits, len(count.number))
        if count.number:
            number = draw_text(
                count.number, x, canvas.small, COUNTER_SIZE, count.colour, BOLD, anchor=1, opacity=opacity
            )
            drawn.append(number)
        x -= box + COUNTER_GAP
        word = draw_text(count.word, x, canvas.small, look.size_least, look.mute, anchor=1, opacity=opacity)
        drawn.append(word)
        x -= text_width(count.word, look.size_least) + ENTRY_GAP
    return drawn


def counter_width(look: Look, counts: Sequence[Count]) -> float:
    """How much of the upper line the counter takes, with the room before it."""
    if not counts:
        return 0.0
    digit = text_width("0", COUNTER_SIZE, BOLD)
    words = sum(text_width(count.word, look.size_least) for count in counts)
    boxes = sum(digit * max(count.digits, len(count.number)) for count in counts)
    return words + boxes + len(counts) * COUNTER_GAP + (len(counts) - 1) * ENTRY_GAP + BESIDE


def fit_name(
    look: Look, text: str, size: float, room: float, weight: int = SEMIBOLD, lines: int = 1
) -> tuple[float, list[str]]:
    """A name that may be too long: smaller, then on several lines, then cut off with an ellipsis; its size and its
    lines."""
    fitted = fit_size(text, size, look.size_least, room, weight)
    if text_width(text, fitted, weight) <= room:
        return fitted, [text]
    broken = break_words([Words(text, look.ink, weight)], look.size_least, room, lines)
    return look.size_least, ["".join(part.text for part in line).strip() for line in broken]


def _inside(look: Look, line: list[FilledShape]) -> list[FilledShape]:
    """A line of text, moved right by what its first letter (a j) reaches out over the left edge."""
    over = look.canvas.left - across(line[0])[0] if line and len(line[0].points) else 0.0
    return [moved(shape, over) for shape in line] if over > 0 else line


def break_words(
    words: Sequence[Words], size: float, room: float, most: int = 2, first_room: float | None = None
) -> list[list[Words]]:
    """A sentence on at most so many lines, broken between words; what is left over then is cut off with an ellipsis.
    The first line may have less room than the others."""
    lines: list[list[Words]] = [[]]
    rooms = [room if first_room is None else first_room, *[room] * (most - 1)]
    for unit in _unbroken(words):
        bare = [*unit[:-1], unit[-1]._replace(text=unit[-1].text.rstrip())]
        if lines[-1] and len(lines) < most and words_width([*lines[-1], *bare], size) > rooms[len(lines) - 1]:
            lines.append([])
            unit = [unit[0]._replace(text=unit[0].text.lstrip()), *unit[1:]]
        lines[-1] += unit
    last, room = lines[-1], rooms[len(lines) - 1]
    if words_width(last, size) > room:
        while len(last) > 1 and words_width(last, size) + text_width(" …", size) > room:
            last.pop()
        last[-1] = last[-1]._replace(text=shorten(last[-1].text.rstrip() + " …", size, room, last[-1].weight))
    return [[*_joined(line)] for line in lines]


def _unbroken(words: Sequence[Words]) -> Iterator[list[Words]]:
    """What stays together, with the blank after it: a word, also where its end or a point after it is another
    stretch; a short sum."""
    unit: list[Words] = []
    for stretch in words:
        for piece in re.findall(r"\s*\S+\s*|\s+", stretch.text):
            summed = bool(unit) and SIGNS & {unit[-1].text.strip(), piece.strip()}
            if summed and sum(len(each.text) for each in unit) < LONG_SUM:
                unit.append(stretch._replace(text=piece))
                continue
            if unit and (unit[-1].text[-1].isspace() or piece[0].isspace()):
                yield unit
                unit = []
            unit.append(stretch._replace(text=piece))
    if unit:
        yield unit


def _joined(words: Sequence[Words]) -> Iterator[Words]:
    """Neighbours of one colour and weight as one stretch."""
    for _, run in groupby(words, key=lambda stretch: (stretch.colour, stretch.weight)):
        same = list(run)
        yield same[0]._replace(text="".join(stretch.text for stretch in same))
