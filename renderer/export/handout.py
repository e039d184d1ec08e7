"""Pages to print: the handout, the worksheet with its answers, the practice card, as PDF."""

from fractions import Fraction

from renderer.export.kinds import Made, NothingThereError
from renderer.export.pdf import write_pdf
from renderer.lesson.lesson import Lesson
from scenes.paper.handout import handout_sheets
from scenes.paper.practice import practice_sheets
from scenes.paper.sheet import PAPERS
from scenes.paper.worksheet import worksheet_sheets

NOTHING_PLAYED = "No handout: nothing is played in this piece."
PAGES = (
    ("handout", handout_sheets, "handout"),
    ("worksheet", worksheet_sheets, "worksheet with answers"),
    ("practice-card", practice_sheets, "practice card"),
)
"""What each file is called, what draws its pages, and what it is."""
USUAL = "a4"
"""The paper that files' names don't tell."""


def make_handout(lesson: Lesson, frames_per_second: Fraction, paper: str = USUAL) -> list[Made]:
    """All pages on that paper; what there is nothing for is left out. Raises NothingThereError."""
    timeline = lesson.timeline
    if not timeline.repetitions:
        raise NothingThereError(NOTHING_PLAYED)
    file = lesson.path.name if lesson.path else ""
    ending = "" if paper == USUAL else f"-{paper}"
    return [
        Made(f"{name}{ending}.pdf", write_pdf(sheets, timeline.title, subject))
        for name, draw, subject in PAGES
        if (sheets := draw(timeline, file, PAPERS[paper]))
    ]
