"""Names of a file with the characters alone that the fonts have, so that the spec can be drawn."""

from collections.abc import Iterator
from dataclasses import replace

from renderer.core import limits
from renderer.core.names import briefly_listed
from renderer.listening.score import Named, Score, as_label, told_apart
from renderer.reading.coverage import missing_characters


def drawable(score: Score, title: str) -> Score:
    """The score with names that can be drawn, and what was left out of them. `title` is taken where none is left."""
    names = [*(mark.name for mark in (*score.sections, *score.chords)), *(part.name for part in score.parts)]
    missing = missing_characters("".join([score.title, *names]))
    if not missing:
        return score
    remark = f"Left out of names, because the fonts don't have them: {briefly_listed(missing)}."
    parts = told_apart(
        (_kept(part.name) or f"Part {number}" for number, part in enumerate(score.parts, 1)),
        limits.LABEL_CHARACTERS,
    )
    return replace(
        score,
        title=_kept(score.title) or title,
        sections=tuple(_named(score.sections, "Section")),
        chords=tuple(mark for mark in _named(score.chords, "") if mark.name),
        parts=tuple(part._replace(name=name) for part, name in zip(score.parts, parts, strict=True)),
        remarks=(*score.remarks, remark),
    )


def _named(marks: tuple[Named, ...], otherwise: str) -> Iterator[Named]:
    for number, mark in enumerate(marks, 1):
        yield mark._replace(name=_kept(mark.name) or (otherwise and f"{otherwise} {number}"))


def _kept(name: str) -> str:
    missing = missing_characters(name)
    return as_label("".join(mark for mark in name if mark not in missing), limits.TITLE_CHARACTERS)
