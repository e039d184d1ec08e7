"""A script to rehearse from: each film's steps with their times, the words said, and the facts that hold there."""

import re
from collections.abc import Callable, Sequence
from fractions import Fraction
from textwrap import fill

from renderer.export.characters import held, is_text
from renderer.export.facts import StepFacts, step_facts, tenths_text
from renderer.export.kinds import Made, NothingThereError
from renderer.lesson.lesson import Lesson
from renderer.video.chapters import chapter_title
from renderer.video.reel import Reel, lay_reels

NO_FILMS = "No script: the spec asks for no segments."
NOTE = "Times are those of the joined film, in minutes and seconds; behind a step, in its own film."
WIDTH = 96


def make_script(lesson: Lesson, frames_per_second: Fraction) -> list[Made]:
    """The script as Markdown and as plain text. Raises NothingThereError for a lesson without segments."""
    reels = lay_reels(lesson.segments(), frames_per_second)
    if not reels:
        raise NothingThereError(NO_FILMS)
    films = [(reel, step_facts(reel)) for reel in reels]
    title = lesson.timeline.title
    return [
        Made("lesson-script.md", _whole(title, films, markdown_film, markdown_title).encode()),
        Made("lesson-script.txt", _whole(title, films, plain_film, str).encode()),
    ]


def _whole(
    title: str,
    films: Sequence[tuple[Reel, Sequence[StepFacts]]],
    film: Callable[[Reel, Sequence[StepFacts]], list[str]],
    heading: Callable[[str], str],
) -> str:
    blocks = [heading(_clean(title)), NOTE]
    for reel, steps in films:
        blocks += film(reel, steps)
    return "\n\n".join(blocks) + "\n"


def markdown_title(title: str) -> str:
    """The title as Markdown's first heading."""
    return f"# {escaped(title)}"


def markdown_film(reel: Reel, steps: Sequence[StepFacts]) -> list[str]:
    """A film as Markdown: a heading, then for each step its time and name, the words, the facts."""
    blocks = [f"## {escaped(_film_heading(reel))}"]
    for row in steps:
        blocks.append(f"### {escaped(_step_heading(reel, row))}")
        if row.said:
            blocks.append(f"> {escaped(_clean(row.said))}")
        if row.facts:
            blocks.append("\n".join(f"- {escaped(_clean(fact))}" for fact in row.facts))
    return blocks


def plain_film(reel: Reel, steps: Sequence[StepFacts]) -> list[str]:
    """The same without marks, in rows that fit a page."""
    blocks = [_film_heading(reel).upper()]
    for row in steps:
        lines = [f"{_step_heading(reel, row)}"]
        if row.said:
            lines.append(_indented(f'"{_clean(row.said)}"', "    "))
        lines += [_indented(_clean(fact), "  - ", "    ") for fact in row.facts]
        blocks.append("\n".join(lines))
    return blocks


def _film_heading(reel: Reel) -> str:
    planned = reel.planned
    times = f"{tenths_text(reel.start)} to {tenths_text(reel.end)}"
    return _clean(f"{planned.number} {planned.show}, {times}: {chapter_title(reel)}")


def _step_heading(reel: Reel, row: StepFacts) -> str:
    step = row.step
    return _clean(f"{tenths_text(reel.start + step.seconds)} {step.name} ({tenths_text(step.seconds)})")


def _clean(text: str) -> str:
    return held(" ".join(text.split()), is_text)


def _indented(text: str, first: str, rest: str | None = None) -> str:
    return fill(text, WIDTH, initial_indent=first, subsequent_indent=first if rest is None else rest)


def escaped(text: str) -> str:
    """A text in which Markdown finds no marks (CommonMark 0.31, backslash escapes).

    >>> escaped("5 * 11 [bar 9]")
    '5 \\\\* 11 \\\\[bar 9\\\\]'
    """
    text = re.sub(r"([\\`*_\[\]<>#&|~!])", r"\\\1", text)
    return re.sub(r"^(\d+)([.)])|^([-+=])", lambda m: f"{m[1]}\\{m[2]}" if m[1] else f"\\{m[3]}", text)
