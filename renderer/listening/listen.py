"""A file to the text of a spec."""

from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path
from typing import NamedTuple

from renderer.core import limits
from renderer.core.errors import FileError
from renderer.core.names import counted, listed, nearest_mend
from renderer.listening.read_score import read_score
from renderer.listening.score import Score, ScorePart
from renderer.listening.sections import lay_sections
from renderer.listening.spec_text import Played, write_spec


class Heard(NamedTuple):
    """The text of a spec, and what to say of it, in sentences."""

    text: str
    findings: tuple[str, ...]


def spec_from_file(path: Path, part: str | None = None, tempo: Fraction | None = None) -> Heard:
    """The spec of the piece in a MIDI or MusicXML file; the figure is that of `part`. Raises FileError."""
    score = read_score(path, tempo)
    chosen = (
        choose_part(score, part, path) if part is not None else max(score.parts, key=lambda p: len(p.onsets))
    )
    if chosen.endless_tie is not None:
        where = f"in bar {chosen.endless_tie} a tie of {chosen.name} begins and never ends"
        raise FileError(f"{path}: {where}. Mend it, and save the file again.")
    sections, astray = lay_sections(score)
    findings = [*score.remarks, *astray, *_left_out(score.parts)]
    sides = {each.name: "meter" for each in score.parts[: limits.PARTS]}
    comment = [f"Read from {path.name}.", *findings]
    text = write_spec(score, sections, Played(None, sides=sides), comment)
    return Heard(text, tuple(findings))


def choose_part(score: Score, name: str, path: Path) -> ScorePart:
    """The part of that name. Raises FileError."""
    for part in score.parts:
        if part.name.casefold() == name.strip().casefold():
            return part
    raise FileError(
        f"{path}: there is no part {name}. {nearest_mend(name, [part.name for part in score.parts])}"
    )


def _left_out(parts: Sequence[ScorePart]) -> list[str]:
    more = [part.name for part in parts[limits.PARTS :]]
    if not more:
        return []
    names = f"{counted(len(more), 'part')}, {listed(more[:3], 'and')}"
    return [f"A piece has at most {limits.PARTS} parts; left out: {names}."]
