"""Downbeats tapped to a recording: each moved to the attack next to it, told with what it does to the tempo, and
written as sync points. They come from the page, or from a text file of seconds.
"""

from bisect import bisect_left
from collections.abc import Sequence
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from pathlib import Path
from typing import NamedTuple

from renderer.audio.audio_file import Recording, read_recording
from renderer.audio.click_sounds import SAMPLES_PER_SECOND
from renderer.audio.decode import clock_text
from renderer.audio.slow_down import find_attacks
from renderer.core.errors import BarcrossError, FileError, ValueProblem
from renderer.core.names import quoted
from renderer.core.open_files import read_bytes
from renderer.lesson.lesson import Lesson
from renderer.reading.scalars.parse import parse_recording_seconds
from renderer.timeline.model import Timeline

NEAR = 0.060
"""Seconds within which an attack is taken for the downbeat's own."""
LONGER = 1.5
"""So many times as long as those beside it is a bar in which a tap seems to be missing."""
MOST_BYTES = 1_000_000
"""Of a file of taps."""
ONE_EACH = "Write one second a line, bar 1's first: 0.532."


class Tap(NamedTuple):
    """A downbeat as it was tapped: its bar's number and its second in the recording. `kept`: put there by hand."""

    bar: int
    seconds: float
    kept: bool = False


class TappedPoint(NamedTuple):
    """A downbeat where it is put, in whole milliseconds, and how far from the tap."""

    bar: int
    seconds: float
    moved: float | None
    """Seconds from the tap to the attack that was taken; None where none was near, or it was put there by hand."""
    tempo: float | None
    """Quarters a minute from here to the next point."""


def settle(taps: Sequence[Tap], attacks: Sequence[float], timeline: Timeline) -> list[TappedPoint]:
    """The points that taps become. Raises BarcrossError where a later bar would come earlier in the recording."""
    latest = {tap.bar: tap for tap in taps}
    found = []
    for tap in sorted(latest.values()):
        near = None if tap.kept else nearest_attack(tap.seconds, attacks)
        seconds = round(tap.seconds if near is None else near, 3)
        found.append((tap.bar, seconds, None if near is None else round(near - tap.seconds, 4)))
    for (_, before, _), (bar, after, _) in pairwise(found):
        if after <= before:
            raise BarcrossError(f"Bar {bar} would come before the bar before it. Take one of the two out.")
    starts = {bar.number: bar.at for bar in timeline.bars}
    points = []
    for index, (bar, seconds, moved) in enumerate(found):
        tempo = None
        if index + 1 < len(found):
            later, end, _ = found[index + 1]
            quarters = timeline.whole(starts[later] - starts[bar]) * 4
            tempo = round(float(quarters) * 60 / (end - seconds), 1)
        points.append(TappedPoint(bar, seconds, moved, tempo))
    return points


def nearest_attack(seconds: float, attacks: Sequence[float]) -> float | None:
    """The attack next to a moment, if it is near enough; attacks are in order.

    >>> nearest_attack(1.03, [0.5, 1.0, 1.08]), nearest_attack(2.0, [0.5, 1.0])
    (1.0, None)
    """
    index = bisect_left(attacks, seconds)
    near = min(attacks[max(0, index - 1) : index + 1], key=lambda at: abs(at - seconds), default=None)
    return near if near is not None and abs(near - seconds) <= NEAR else None


def sync_text(points: Sequence[TappedPoint]) -> str:
    """The points as a spec has them.

    >>> sync_text([TappedPoint(1, 0.524, None, None), TappedPoint(2, 3.0, None, None)])
    '{1: 0.524, 2: 3.000}'
    """
    return "{" + ", ".join(f"{point.bar}: {point.seconds:.3f}" for point in points) + "}"


def lesson_recording(lesson: Lesson) -> Recording:
    """The recording of a lesson, wherever its bars lie. Raises FileError, BarcrossError if the spec names none."""
    if lesson.spec.recording is None:
        raise BarcrossError(
            "The spec names no recording. Write recording: and the file's name, and sync: {1: 0}."
        )
    return read_recording(lesson.folder / lesson.spec.recording)


@lru_cache(maxsize=2)
def attacks_of(recording: Recording) -> tuple[float, ...]:
    """The seconds at which something begins in a recording."""
    return tuple(round(at / SAMPLES_PER_SECOND, 4) for at in find_attacks(recording))


def read_taps(path: Path, timeline: Timeline, seconds: Fraction) -> list[Tap]:
    """Taps from a text file: a second on each line, or m:ss.s, from bar 1 on; `9 21.3` is bar 9, and bars count on
    from there. Empty lines, and what follows a #, are passed over.

    `seconds` is the recording's length. Raises FileError, with the line.
    """
    data = read_bytes(path, MOST_BYTES + 1)
    if len(data) > MOST_BYTES or b"\0" in data:
        raise FileError(f"{path}: this is no file of taps. {ONE_EACH}")
    bars = {bar.number for bar in timeline.bars if bar.number >= 1}
    taps: list[Tap] = []
    for number, line in enumerate(data.decode("utf-8-sig", "replace").splitlines(), 1):
        place, words = f"{path}:{number}", line.partition("#")[0].split()
        if not words:
            continue
        bar = taps[-1].bar + 1 if taps else 1
        if len(words) == 2 and words[0].isascii() and words[0].isdecimal() and len(words[0]) < 7:
            bar = int(words.pop(0))
        if len(words) != 1:
            raise FileError(f"{place}: got {quoted(line)}. {ONE_EACH}")
        try:
            at = parse_recording_seconds(words[0])
        except ValueProblem as problem:
            raise FileError(f"{place}: {problem.text} {ONE_EACH}") from None
        if bar not in bars:
            raise FileError(
                f"{place}: there is no bar {bar}; the piece has bars 1 to {max(bars)}. Take this tap out; or are "
                "these beats? Tap bar lines only."
            )
        if at > seconds:
            raise FileError(
                f"{place}: {words[0]} is after the recording's end, {clock_text(seconds)}. Take this tap out."
            )
        if taps and (bar <= taps[-1].bar or at <= taps[-1].seconds):
            raise FileError(
                f"{place}: bar {bar} at {words[0]} comes before the tap above. Write taps in order."
            )
        taps.append(Tap(bar, float(at)))
    if not taps:
        raise FileError(f"{path}: there are no taps in it. {ONE_EACH}")
    return taps


def taps_table(taps: Sequence[Tap], points: Sequence[TappedPoint]) -> str:
    """What taps become, a line each: where each is put, how far from the tap, and the tempo from there on."""
    lines = ["bar   tapped at      put at    moved   quarters a minute"]
    for tap, point in zip(taps, points, strict=True):
        moved = "no attack" if point.moved is None else f"{point.moved * 1000:+.0f} ms"
        tempo = "" if point.tempo is None else f"{point.tempo:.1f}"
        lines.append(
            f"{tap.bar:>3} {tap.seconds:>11.3f} {point.seconds:>11.3f} {moved:>8}   {tempo:>17}".rstrip()
        )
    unmoved = sum(point.moved is None for point in points)
    stay = f"; {unmoved} with no attack within 60 ms: {'these stay' if unmoved > 1 else 'it stays'} as tapped"
    lines.append(f"{len(points)} point{'s' if len(points) > 1 else ''}{stay if unmoved else ''}.")
    return "\n".join([*lines, *long_bars(points)])


def long_bars(points: Sequence[TappedPoint]) -> list[str]:
    """Where a tap seems to be missing, a line each: bars much longer than both the one before and the one after."""
    tempos = [point.tempo for point in points if point.tempo is not None]
    if len(tempos) < 2:
        return []
    lines = []
    for index, (tempo, (point, later)) in enumerate(zip(tempos, pairwise(points), strict=True)):
        share = min(tempos[max(0, index - 1) : index] + tempos[index + 1 : index + 2]) / tempo
        room = round(share * (later.bar - point.bar))
        if share >= LONGER and room > later.bar - point.bar:
            place = f"Between bars {point.bar} and {later.bar}"
            lines.append(f"{place} there is room for {room} bars: is a tap missing?")
    return lines
