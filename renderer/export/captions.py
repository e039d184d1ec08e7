"""The words said as captions: SRT, which most programs read, and WebVTT, which browsers read, one of each for every
film in which anything is said, and for the joined one.

A line belongs to a step and is shown as long as the step stands, as in the picture. One that is too long for two rows
of 42 characters (common practice for captions) comes in several turns, each as long as its share of the words.
"""

from collections.abc import Iterable, Iterator, Sequence
from datetime import timedelta
from fractions import Fraction
from itertools import pairwise
from textwrap import wrap

import srt

from renderer.core.time_grid import nearest
from renderer.export.characters import held, is_text
from renderer.export.kinds import Made, NothingThereError
from renderer.lesson.lesson import Lesson
from renderer.schedule.model import Caption
from renderer.video.reel import Reel, lay_reels

ROWS, ROW_CHARACTERS = 2, 42
NOTHING_SAID = "No captions: nothing is said in this lesson. Give a segment say: lines."
JOINED = "lesson"


def make_captions(lesson: Lesson, frames_per_second: Fraction) -> list[Made]:
    """Captions of each film in which something is said, and of the joined one. Raises NothingThereError without."""
    reels = lay_reels(lesson.segments(), frames_per_second)
    made = [*film_captions(reels), *joined_captions(reels)]
    if not made:
        raise NothingThereError(NOTHING_SAID)
    return made


def film_captions(reels: Iterable[Reel]) -> Iterator[Made]:
    """Captions for each film by itself."""
    for reel in reels:
        yield from _files(reel.planned.name, reel.planned.schedule.captions)


def joined_captions(reels: Sequence[Reel]) -> Iterator[Made]:
    """Captions for all films as one."""
    joined = [
        Caption(reel.start + caption.start, reel.start + caption.end, caption.text)
        for reel in reels
        for caption in reel.planned.schedule.captions
    ]
    return _files(JOINED, joined)


def _files(name: str, captions: Sequence[Caption]) -> Iterator[Made]:
    turns = [turn for caption in captions for turn in take_turns(caption)]
    if turns:
        yield Made(f"{name}.srt", srt_text(turns).encode())
        yield Made(f"{name}.vtt", vtt_text(turns).encode())


def take_turns(caption: Caption) -> list[Caption]:
    """A caption in as few turns of two rows as hold it, of about as many words each; each text with its rows' break.

    A word that is longer than a row is broken.
    """
    words = [part for word in caption.text.split() for part in wrap(word, ROW_CHARACTERS)]
    for count in range(1, len(words) + 1):
        edges = [round(len(words) * number / count) for number in range(count + 1)]
        texts = [_rows(" ".join(words[first:last])) for first, last in pairwise(edges)]
        if all(len(rows) <= ROWS for rows in texts):
            break
    else:
        return []
    length = caption.end - caption.start
    times = [caption.start + length * Fraction(edge, len(words)) for edge in edges]
    return [
        Caption(start, end, "\n".join(rows))
        for (start, end), rows in zip(pairwise(times), texts, strict=True)
    ]


def _rows(text: str) -> list[str]:
    """A text in as few rows as hold it, of about the same length."""
    rows = wrap(text, ROW_CHARACTERS, break_on_hyphens=False)
    while True:
        width = max(map(len, rows)) - 1
        tried = wrap(text, width, break_on_hyphens=False, break_long_words=False) if width else rows
        if len(tried) > len(rows) or max(map(len, tried)) > width:
            return rows
        rows = tried


def _milliseconds(seconds: Fraction) -> int:
    return nearest(seconds * 1000)


def srt_text(turns: Iterable[Caption]) -> str:
    """Captions as SRT, in which `<` and `>` would mark styles and `-->` times."""
    text: str = srt.compose(
        srt.Subtitle(
            number,
            timedelta(milliseconds=_milliseconds(turn.start)),
            timedelta(milliseconds=_milliseconds(turn.end)),
            "\n".join(held(row, _held_by_srt) for row in turn.text.split("\n")),
        )
        for number, turn in enumerate(turns, start=1)
    )
    return text


def _held_by_srt(mark: str) -> bool:
    return is_text(mark) and mark not in "<>"


def vtt_text(turns: Iterable[Caption]) -> str:
    """Captions as WebVTT (W3C, section 4), in which `&`, `<` and `>` are written as references."""
    blocks = ["WEBVTT"]
    for number, turn in enumerate(turns, start=1):
        rows = "\n".join(_escaped(held(row, is_text)) for row in turn.text.split("\n"))
        blocks.append(f"{number}\n{_vtt_time(turn.start)} --> {_vtt_time(turn.end)}\n{rows}")
    return "\n\n".join(blocks) + "\n"


def _escaped(text: str) -> str:
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def _vtt_time(seconds: Fraction) -> str:
    whole, thousandths = divmod(_milliseconds(seconds), 1000)
    return f"{whole // 3600:02}:{whole // 60 % 60:02}:{whole % 60:02}.{thousandths:03}"
