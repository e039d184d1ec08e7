"""Chapters as the text that goes into a video's description: a line each, its time and its title."""

from fractions import Fraction

from renderer.export.characters import held, is_text
from renderer.export.kinds import Made, NothingThereError
from renderer.lesson.lesson import Lesson
from renderer.video.chapters import LEAST, lay_chapters
from renderer.video.reel import lay_reels

NO_FILMS = "No chapters: the spec asks for no segments."
TOO_SHORT = f"No chapters: all segments together are shorter than {LEAST} seconds."


def make_chapters(lesson: Lesson, frames_per_second: Fraction) -> list[Made]:
    """The chapters of the joined film. Raises NothingThereError for a lesson without segments, or too short a one."""
    reels = lay_reels(lesson.segments(), frames_per_second)
    if not reels:
        raise NothingThereError(NO_FILMS)
    if reels[-1].end < LEAST:
        raise NothingThereError(TOO_SHORT)
    lines = [
        f"{clock_text(chapter.start)} {held(chapter.title, is_text)}\n" for chapter in lay_chapters(reels)
    ]
    return [Made("lesson-chapters.txt", "".join(lines).encode())]


def clock_text(seconds: Fraction) -> str:
    """Whole seconds that have passed, as `m:ss` or `h:mm:ss`.

    >>> clock_text(Fraction(1199, 20)), clock_text(Fraction(3661))
    ('0:59', '1:01:01')
    """
    whole = int(seconds)
    hours, minutes = divmod(whole // 60, 60)
    return f"{hours}:{minutes:02}:{whole % 60:02}" if hours else f"{minutes}:{whole % 60:02}"
