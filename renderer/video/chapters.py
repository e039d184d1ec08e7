"""A lesson's chapters: where each begins in the joined film, and what it is called.

A chapter lasts ten seconds at least, which is what players ask for. A film that is shorter opens the chapter of the
film after it, as a question does that is asked before its answer; the last one goes with the film before it.
"""

from collections.abc import Sequence
from fractions import Fraction
from typing import NamedTuple

from renderer.video.reel import Reel

LEAST = Fraction(10)
"""Seconds."""
MOST_CHARACTERS = 100
"""Of a title: more is cut off where it is listed."""


class Chapter(NamedTuple):
    """A stretch of the joined film, from one frame up to another."""

    start_frame: int
    end_frame: int
    title: str
    frames_per_second: Fraction

    @property
    def start(self) -> Fraction:
        """When it begins, in seconds."""
        return self.start_frame / self.frames_per_second


def lay_chapters(reels: Sequence[Reel]) -> list[Chapter]:
    """The chapters of a lesson's films, the first from its first frame on; at least one if there is a film."""
    chapters: list[Chapter] = []
    opens: int | None = None
    for reel in reels:
        opens = reel.start_frame if opens is None else opens
        end, rate = reel.start_frame + reel.frame_count, reel.frames_per_second
        if end - opens >= LEAST * rate:
            chapters.append(Chapter(opens, end, chapter_title(reel), rate))
            opens = None
    if reels and opens is not None:
        end = reels[-1].start_frame + reels[-1].frame_count
        if chapters:
            chapters[-1] = chapters[-1]._replace(end_frame=end)
        else:
            chapters = [Chapter(opens, end, chapter_title(reels[-1]), reels[-1].frames_per_second)]
    return chapters


def chapter_title(reel: Reel) -> str:
    """What a film comes to, without the full stop; else what it shows."""
    schedule = reel.planned.schedule
    found = schedule.timeline.words.say(schedule.finding())
    text = " ".join(found.split()).removesuffix(".") or reel.planned.show.capitalize()
    if len(text) <= MOST_CHARACTERS:
        return text
    return text[:MOST_CHARACTERS].rpartition(" ")[0].rstrip(",;:") + "…"
