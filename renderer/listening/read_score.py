"""A file to a score: which kind it is, and a clear word for what can't be read."""

from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import TypeVar

from renderer.core import limits
from renderer.core.errors import FileError
from renderer.core.names import counted
from renderer.core.open_files import read_bytes
from renderer.listening.drawable import drawable
from renderer.listening.lay_bars import UnusableError
from renderer.listening.score import Score, TempoChange, as_label
from renderer.reading.coverage import missing_characters
from renderer.timeline.plan import LONGEST_SECONDS

Result = TypeVar("Result")


class UntimedError(FileError):
    """A file that says no tempo."""


FILE_BYTES = 32_000_000
PARTS = 100
MIDI_BYTES = 4_000_000
"""Room for more than twice as many notes as are read."""
NO_TEMPO = "it says no tempo. Say it with --tempo, in quarter notes a minute: --tempo 112"


def read_score(path: Path, tempo: Fraction | None = None) -> Score:
    """What a MIDI or MusicXML file says. `tempo` is the piece's, in quarters a minute, for a file that says none.

    What kind of file it is follows from what is in it, not from its name. Raises FileError.
    """
    return score_in(read_bytes(path, FILE_BYTES + 1), path, tempo)


def score_in(data: bytes, path: Path, tempo: Fraction | None = None) -> Score:
    """What the bytes of a file say that is called `path`. Raises FileError."""
    if len(data) > FILE_BYTES:
        raise FileError(
            f"{path}: it is larger than {FILE_BYTES // 1_000_000} MB. Save the part that you need alone."
        )
    title = _title(path)
    try:
        return drawable(_checked(_read(data, title), tempo), title)
    except UnusableError as error:
        kind = UntimedError if error.args == (NO_TEMPO,) else FileError
        raise kind(f"{path}: {error}") from None


def _title(path: Path) -> str:
    """A piece's title from its file's name."""
    name = path.stem.replace("-", " ").replace("_", " ").title()
    plain = "".join(mark for mark in name if not missing_characters(mark))
    return as_label(plain, limits.TITLE_CHARACTERS) or "New Piece"


def _read(data: bytes, title: str) -> Score:
    if data.startswith(b"MThd"):
        from renderer.listening.midi_file import read_midi

        if len(data) > MIDI_BYTES:
            raise UnusableError(
                f"it is larger than {MIDI_BYTES // 1_000_000} MB. Save the part that you need alone."
            )
        return _whole("mido", "MIDI", lambda: read_midi(data, title))
    is_score = None
    from renderer.listening.musicxml_file import MARK, decoded, read_musicxml, unpacked

    if data.startswith(b"PK"):
        inner = _whole(None, "MusicXML", lambda: unpacked(data))
        return _whole("lxml", "MusicXML", lambda: read_musicxml(inner, title))
    with suppress(UnicodeError, LookupError):
        is_score = MARK.search(decoded(data)[:100_000])
    if is_score:
        return _whole("lxml", "MusicXML", lambda: read_musicxml(data, title))
    raise UnusableError("this is neither a MIDI file nor MusicXML.")


def _whole(library: str | None, kind: str, read: Callable[[], Result]) -> Result:
    """What a library reads, or that the file is damaged: libraries raise whatever they stumble on."""
    if library:
        from importlib.util import find_spec

        if find_spec(library) is None:
            raise UnusableError(
                f"{kind} needs the library {library}. Install: pip install 'barcross[listen]'"
            )
    try:
        return read()
    except (UnusableError, MemoryError):
        raise
    except Exception:
        raise UnusableError(f"this {kind} file is damaged, or not whole. Save it again.") from None


def _checked(score: Score, tempo: Fraction | None) -> Score:
    """The score, if a spec can hold it. Raises UnusableError."""
    if not any(part.onsets for part in score.parts):
        raise UnusableError("there are no notes in it.")
    if len(score.parts) > PARTS:
        raise UnusableError(
            f"it has {len(score.parts)} parts; at most {PARTS} are read. Save those that you need."
        )
    if len(score.bars) > limits.BARS:
        raise UnusableError(f"it has {counted(len(score.bars), 'bar')}; a piece has at most {limits.BARS:,}.")
    first = score.bars[0].at
    if tempo is not None:
        score = replace(score, tempo=(TempoChange(first, tempo),), carried="")
    if not score.tempo:
        raise UnusableError(NO_TEMPO)
    if score.tempo[0].at > first:
        score = replace(score, tempo=(score.tempo[0]._replace(at=first), *score.tempo[1:]))
    for _, quarters in score.tempo:
        if not limits.TEMPO_LEAST <= quarters <= limits.TEMPO_MOST:
            rule = f"a tempo is {limits.TEMPO_LEAST} to {limits.TEMPO_MOST:,}"
            raise UnusableError(f"it has a tempo of {float(quarters):.6g} quarter notes a minute; {rule}.")
    if score.seconds([score.end])[0] > LONGEST_SECONDS:
        raise UnusableError("it is longer than a day, the most that a piece can be.")
    return score
