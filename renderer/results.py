"""What a command has written, and what it can be asked for, as text and as JSON."""

from collections.abc import Sequence
from fractions import Fraction
from typing import TYPE_CHECKING

from renderer.core.errors import BarcrossError
from renderer.core.names import briefly_listed
from renderer.core.terminal import json_text
from renderer.lesson.lesson import NO_SEGMENTS, Lesson

MOST_RANGES = 6
"""So many stretches of frames are told; more are counted."""
UNEVEN_LU = 1.0
"""Differences in loudness beyond that are noticed from one film to the next (chosen; no source)."""

if TYPE_CHECKING:
    from renderer.export.export import Exported
    from renderer.mix.soundtracks import Soundtrack
    from renderer.video.film_changes import FilmChange
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
            "lufs": row.lufs,
        }
        for row in written
    ]
    return json_text({"files": rows})


def films_text(written: Sequence["Rendered"]) -> str:
    """The same, a line a file, a film with its loudness; then how far the films of a joined one differ."""
    lines = [f"{row.path}  {clock_text(row.seconds)}{_film_loudness(row)}" for row in written]
    heard = sorted((row for row in written if row.lufs is not None), key=lambda row: row.lufs or 0)
    joined = any(row.segment is None and row.frames is not None for row in written)
    if joined and heard and (heard[-1].lufs or 0) - (heard[0].lufs or 0) > UNEVEN_LU:
        softest, loudest = heard[0], heard[-1]
        difference = (loudest.lufs or 0) - (softest.lufs or 0)
        lines.append(
            f"Not all segments are equally loud: {softest.path.name} is {difference:.1f} LU softer than "
            f"{loudest.path.name}."
        )
    return "\n".join(lines)


def _film_loudness(row: "Rendered") -> str:
    if row.lufs is None or row.aim is None:
        return ""
    return f"  {row.lufs:.1f} LUFS" + (softer_text(row.aim) if row.softer else "")


def softer_text(aim: float) -> str:
    """Behind a loudness that stays below what was aimed at, both in LUFS."""
    return f" (softer than {aim:g}: its peaks leave no more room)"


def changes_json(music: Sequence[str], films: Sequence["FilmChange"], frames_per_second: Fraction) -> str:
    """What a correction changes, as JSON: frames count from 0, `end` is the first one that is alike again."""
    rows = [
        {
            "film": f"{change.name}.mp4",
            "same": change.same,
            "frames_before": change.before,
            "frames": change.after,
            "pictures": [
                {
                    "first": frames.first,
                    "end": frames.end,
                    "from": float(frames.first / frames_per_second),
                    "to": float(frames.end / frames_per_second),
                }
                for frames in change.pictures
            ],
            "sound": change.sound,
        }
        for change in films
    ]
    return json_text({"music": [*music], "fps": str(frames_per_second), "films": rows})


def changes_text(
    music: Sequence[str], films: Sequence["FilmChange"] | None, frames_per_second: Fraction
) -> str:
    """The same in words; without films if none were looked at."""
    lines = list(music) or ["The music is the same."]
    for change in films or ():
        lines.append(f"{change.name}.mp4: {_film_change_text(change, frames_per_second)}")
    return "\n".join(lines)


def _film_change_text(change: "FilmChange", frames_per_second: Fraction) -> str:
    if change.before is None:
        return "new"
    if change.after is None:
        return "gone"
    if change.same:
        return "the same bytes"
    told = []
    if change.pictures:
        ranges = briefly_listed(
            change.pictures,
            MOST_RANGES,
            lambda frames: (
                f"{clock_text(frames.first / frames_per_second)} to "
                f"{clock_text(frames.end / frames_per_second)} (frames {frames.first} to {frames.end - 1})"
            ),
        )
        told.append(f"other pictures from {ranges}")
    if change.before != change.after:
        before, after = (clock_text(count / frames_per_second) for count in (change.before, change.after))
        told.append(f"lasts {after}, before {before}")
    if change.sound:
        told.append("other sound")
    return "; ".join(told)


def exports_json(written: Sequence["Exported"]) -> str:
    """Files for other programs as JSON."""
    return json_text({"files": [{"path": str(row.path), "kind": row.kind} for row in written]})


def exports_text(written: Sequence["Exported"]) -> str:
    """The same, a line a file."""
    return "\n".join(str(row.path) for row in written)


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
    return line + (softer_text(row.aim) if row.softer else "")


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
