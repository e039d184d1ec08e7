"""What is told beside the results."""

from collections.abc import Iterable

from renderer.core.terminal import report
from renderer.lesson.lesson import Lesson


def sound_remarks(lesson: Lesson) -> list[str]:
    """What is worth knowing of the sound files that the spec names. Raises FileError if one can't be used."""
    remarks: list[str] = []
    if lesson.spec.recording is not None:
        from renderer.mix.recording import recording_remarks

        remarks += recording_remarks(lesson)
    if lesson.files:
        from renderer.mix.narration import narration_remarks

        remarks += narration_remarks(lesson)
    return remarks


def report_all(texts: Iterable[str]) -> None:
    """Report each of them."""
    for text in texts:
        report(text)
