"""What a command has written, and what it can be asked for, as text and as JSON."""

from collections.abc import Sequence
from fractions import Fraction
from typing import TYPE_CHECKING

from renderer.core.errors import BarcrossError
from renderer.core.terminal import json_text
from renderer.lesson.lesson import NO_SEGMENTS, Lesson

if TYPE_CHECKING:
    from renderer.mix.soundtracks import Soundtrack
    from renderer.video.render import Rendered


def films_json(written: Sequence["Rendered"]) -> str:
    """Films, and the click beside them, as JSON."""
    rows = [
        {
            "path": str(row.path),
            "segment": row.segment,
            "show": row.show,
            "frames": row.frames,
            "fps": None if row.frames_per_second is None else str(row.frames_per_second),
            "seconds": float(row.seconds),
            "reused": row.reused,
        }
        for row in written
    ]
    return json_text({"files": rows})


def films_text(written: Sequence["Rendered"]) -> str:
    """The same, a line a file."""
    return "\n".join(f"{row.path}  {clock_text(row.seconds)}" for row in written)


def soundtracks_json(written: Sequence["Soundtrack"]) -> str:
    """Sound files as JSON."""
    rows = [
        {
            "path": str(row.path),
            "section": row.section,
            "stem": row.stem,
            "seconds": float(row.seconds),
            "lufs": row.lufs,
            "true_peak_db": row.true_peak_db,
        }
        for row in written
    ]
    return json_text({"files": rows})


def soundtracks_text(written: Sequence["Soundtrack"]) -> str:
    """The same, a line a file, a mix with its loudness."""
    return "\n".join(map(_soundtrack_text, written))


def _soundtrack_text(row: "Soundtrack") -> str:
    line = f"{row.path}  {clock_text(row.seconds)}"
    if row.lufs is None or row.true_peak_db is None:
        return line
    line += f"  {row.lufs:.1f} LUFS, true peak {row.true_peak_db:.1f} dBTP"
    return line + (f" (softer than {row.aim:g}: its peaks leave no more room)" if row.softer else "")


def clock_text(seconds: Fraction) -> str:
    """Seconds as minutes and seconds.

    >>> clock_text(Fraction(141, 2))
    '1:10.50'
    """
    minutes, rest = divmod(round(seconds * 100), 6000)
    return f"{minutes}:{rest // 100:02}.{rest % 100:02}"


def stills_listing(lesson: Lesson) -> list[str]:
    """What stills can be asked for, a line a segment: its steps and its length. Raises BarcrossError."""
    planned = lesson.segments()
    if not planned:
        raise BarcrossError(NO_SEGMENTS)
    first = planned[0]
    lines = [
        f"Write SEGMENT@TIME, such as {first.show}@{first.schedule.steps[0].name}. "
        "TIME is seconds (12.5s), a position (9.3), or one of these:"
    ]
    for each in planned:
        steps = ", ".join([*(step.name for step in each.schedule.steps), "end"])
        lines.append(f"{each.number} {each.show}, {float(each.schedule.seconds):.1f} s: {steps}")
    return lines
