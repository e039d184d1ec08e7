"""Sync points proposed for a recording: the piece's beats and hits followed in it from bar 1 on.

The beats of the piece and the hits of its figures are laid through it so that they fall on strong beginnings and stay
as far apart as the spec's tempo says (dynamic programming, after D. Ellis, Journal of New Music Research 36, 2007,
pages 51 to 60; here with the piece's own times in place of one period). Each is then moved onto the attack next to it,
if there is one.
"""

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from renderer.audio.audio_file import Recording
from renderer.audio.click_sounds import SAMPLES_PER_SECOND
from renderer.audio.slow_down import find_attacks
from renderer.core.errors import FileError
from renderer.hearing.attacks import MOMENTS_PER_SECOND, beginnings
from renderer.lesson.lesson import Lesson
from renderer.mix.recording import open_recording
from renderer.timeline.model import Timeline

MOMENT = 1 / MOMENTS_PER_SECOND
WANDER_SECONDS, WANDER_SHARE = 0.5, 0.08
"""How far a beat may lie from where the spec's tempo puts it: so much, and so much of the time gone by."""
SHORTEST, LONGEST = 0.7, 1.4
"""How long a beat may be, as a share of the spec's."""
EVENNESS = 330.0
"""What it costs to be uneven for a second, beside the strength of a beginning in standard deviations."""
BEAM = 12.0
"""A course that is worse than the best one by so much is given up: else it could slip to the off-beats for what
they bring later on."""
SNAP = 0.045
"""Seconds within which an attack is taken for the beat's own."""
WITHIN = Fraction(1, 100)
"""How near, in seconds, every downbeat stays to where it was heard when points are left out."""


@dataclass(frozen=True, slots=True)
class HeardBar:
    """A downbeat as it was heard."""

    bar: int
    at: int
    heard: Fraction
    """Its place in the recording, in seconds (whole milliseconds)."""
    attack: bool
    """Whether an attack is there; else it lies between its neighbours'."""


@dataclass(frozen=True, slots=True)
class Alignment:
    """What was heard, and the points that say it."""

    bars: tuple[HeardBar, ...]
    points: tuple[HeardBar, ...]
    residuals: tuple[Fraction, ...]
    """For each of `bars`: where it was heard less where the points put it, in seconds."""

    def sync_text(self) -> str:
        """The points as a line of a spec."""
        return "sync: {" + ", ".join(f"{p.bar}: {float(p.heard):.3f}" for p in self.points) + "}"


def align(
    recording: Recording, timeline: Timeline, first: Fraction | None = None, within: Fraction = WITHIN
) -> Alignment:
    """Follow the recording's beats from bar 1 (at `first` seconds in it; None: where the spec's sync says).

    `within` says how near every downbeat stays to where it was heard when points are left out. Raises FileError
    if the recording ends before bar 2.
    """
    start = first if first is not None else timeline.clock.file_start
    if start is None or not 0 <= start < recording.seconds:
        where = "before the recording begins" if start is not None and start < 0 else "outside the recording"
        raise FileError(f"{recording.path}: bar 1 lies {where}. Write where it is: --bar-one 0.532.")
    played = {beat.at for beat in timeline.beats} | {hit.at for hit in timeline.hits} | {timeline.end}
    ticks = sorted(at for at in played if at >= 0)
    written = np.array([float(timeline.seconds(at)) for at in ticks])
    inside = int(np.searchsorted(written + float(start), float(recording.seconds) - 0.05))
    downbeats = {bar.at: bar.number for bar in timeline.bars if bar.number >= 1}
    if inside < 2 or sum(at in downbeats for at in ticks[:inside]) < 2:
        raise FileError(
            f"{recording.path}: it ends before bar 2 begins. Name the right file, or correct bar 1."
        )
    heard = _follow(beginnings(recording), written[:inside] - written[0], float(start))
    snapped, found = _snap(heard, np.array(find_attacks(recording)) / SAMPLES_PER_SECOND)
    snapped[0], found[0] = float(start) if first is None else snapped[0], True
    bars = tuple(
        HeardBar(downbeats[at], at, Fraction(round(seconds * 1000), 1000), bool(attack))
        for at, seconds, attack in zip(ticks, snapped, found, strict=False)
        if at in downbeats
    )
    own = [timeline.seconds(bar.at) for bar in bars]
    kept = _fewest([bar.heard for bar in bars], own, within)
    points = tuple(bars[index] for index in kept)
    residuals = tuple(
        bar.heard - _between([own[i] for i in kept], [p.heard for p in points], seconds)
        for bar, seconds in zip(bars, own, strict=True)
    )
    return Alignment(bars, points, residuals)


def align_lesson(lesson: Lesson, first: Fraction | None = None, within: Fraction = WITHIN) -> Alignment:
    """Align a lesson's recording. Raises FileError, also where the spec names none."""
    recording = open_recording(lesson)
    if recording is None:
        raise FileError("The spec names no recording. Write recording: take.flac and sync: {1: 0.532}.")
    return align(recording, lesson.timeline, first, within)


def alignment_table(found: Alignment) -> str:
    """The bars as they were heard, a line each: place, residual, and which are points."""
    lines = ["bar    heard at   point   off by"]
    points = {point.bar for point in found.points}
    for bar, residual in zip(found.bars, found.residuals, strict=True):
        mark = "point" if bar.bar in points else ""
        unheard = "" if bar.attack else "  no attack here: between its neighbours"
        off = f"{float(residual) * 1000:+.0f} ms"
        lines.append(f"{bar.bar:>3} {float(bar.heard):>10.3f} s   {mark:<5} {off:>8}{unheard}")
    largest = max(abs(residual) for residual in found.residuals)
    missing = sum(not bar.attack for bar in found.bars)
    lines.append(
        f"{len(found.points)} points for {len(found.bars)} bars; largest residual {float(largest) * 1000:.0f} ms."
    )
    if missing > len(found.bars) / 3:
        lines.append(
            f"{missing} downbeats have no attack near them: listen to the result before you trust it."
        )
    return "\n".join(lines)


def _follow(strength: NDArray[np.float64], written: NDArray[np.float64], start: float) -> NDArray[np.float64]:
    """When each beat is heard, in seconds: the course of least unevenness over the strongest beginnings.

    `written` are the beats' own seconds from bar 1, which is heard at `start`.
    """
    reach = [round((WANDER_SECONDS + WANDER_SHARE * seconds) / MOMENT) for seconds in written]
    centres = [round((start + seconds) / MOMENT) for seconds in written]
    best = np.zeros(1)
    low = centres[0]
    lows, choices = [low], [np.zeros(1, int)]
    for beat in range(1, len(written)):
        period = (written[beat] - written[beat - 1]) / MOMENT
        steps = np.arange(max(1, round(SHORTEST * period)), round(LONGEST * period) + 1)
        weight = EVENNESS * (written[beat] - written[beat - 1])
        cost = weight * np.log(steps / period) ** 2
        new_low = max(centres[beat] - reach[beat], lows[-1] + int(steps[0]))
        new_high = min(centres[beat] + reach[beat], lows[-1] + len(best) - 1 + int(steps[-1]))
        places = np.arange(new_low, max(new_low, new_high) + 1)
        before = places[:, np.newaxis] - steps - lows[-1]
        valid = (before >= 0) & (before < len(best))
        scores = np.where(valid, best[np.clip(before, 0, len(best) - 1)] - cost, -np.inf)
        choice = scores.argmax(axis=1)
        strengths = strength[np.clip(places, 0, len(strength) - 1)] * (places < len(strength))
        best = scores[np.arange(len(places)), choice] + strengths
        best[best < best.max() - BEAM] = -np.inf
        followed = np.flatnonzero(best > -np.inf)
        kept = slice(followed[0], followed[-1] + 1)
        choices.append(np.clip(before[np.arange(len(places)), choice], 0, None)[kept])
        best = best[kept]
        lows.append(new_low + int(followed[0]))
    index = int(best.argmax())
    moments = []
    for low, choice in zip(reversed(lows), reversed(choices), strict=True):
        moments.append(low + index)
        index = int(choice[index])
    return np.array(moments[::-1]) * MOMENT


def _snap(
    heard: NDArray[np.float64], attacks: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Each beat on the attack nearest to it, and whether there is one; the others between their neighbours."""
    if not len(attacks):
        return heard.copy(), np.zeros(len(heard), bool)
    right = np.clip(np.searchsorted(attacks, heard), 1, max(1, len(attacks) - 1))
    left = right - 1
    right = np.minimum(right, len(attacks) - 1)
    nearest = np.where(
        np.abs(attacks[left] - heard) <= np.abs(attacks[right] - heard), attacks[left], attacks[right]
    )
    found = np.abs(nearest - heard) <= SNAP
    moved = np.where(found, nearest, heard)
    if found.any():
        offsets = np.interp(np.arange(len(heard)), np.flatnonzero(found), (nearest - heard)[found])
        moved = np.where(found, nearest, heard + offsets)
    return moved, found


def _fewest(heard: Sequence[Fraction], own: Sequence[Fraction], within: Fraction) -> list[int]:
    """The fewest of the points, by halving, between which all others lie `within` of a straight line."""
    kept = {0, len(heard) - 1}
    stretches = [(0, len(heard) - 1)]
    while stretches:
        first, last = stretches.pop()
        if last - first < 2:
            continue
        ends = [own[first], own[last]], [heard[first], heard[last]]
        errors = [abs(heard[i] - _between(*ends, own[i])) for i in range(first + 1, last)]
        worst = max(range(len(errors)), key=errors.__getitem__)
        if errors[worst] > within:
            middle = first + 1 + worst
            kept.add(middle)
            stretches += [(first, middle), (middle, last)]
    return sorted(kept)


def _between(own: Sequence[Fraction], heard: Sequence[Fraction], seconds: Fraction) -> Fraction:
    """Where the points put a moment of the piece's own seconds."""
    index = min(max(1, bisect_left(own, seconds)), len(own) - 1)
    share = (seconds - own[index - 1]) / (own[index] - own[index - 1])
    return heard[index - 1] + share * (heard[index] - heard[index - 1])
