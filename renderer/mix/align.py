"""Sync points proposed for a recording: the piece's beats followed in it from bar 1 on.

Where beats fall is found in `renderer/hearing/beats.py`; here are the piece's own beats, what is expected inside them,
how sure each section is, and the points that are proposed. Each beat is moved onto the attack next to it, if there is
one.
"""

import math
from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from renderer.audio.audio_file import Recording
from renderer.audio.click_sounds import SAMPLES_PER_SECOND
from renderer.audio.decode import clock_text
from renderer.audio.slow_down import find_attacks
from renderer.core.errors import FileError
from renderer.core.names import bars_from
from renderer.hearing.attacks import MOMENTS_PER_SECOND, Progress, beginnings
from renderer.hearing.beats import HALVES, Course, Strength, follow
from renderer.lesson.lesson import Lesson
from renderer.mix.recording import open_recording
from renderer.timeline.model import Beat, Section, Timeline

SNAP = 0.045
"""Seconds within which an attack is taken for the beat's own."""
WITHIN = Fraction(1, 100)
"""How near, in seconds, every downbeat stays to where it was heard when points are left out."""
NEAR = 0.03
"""Seconds by which bar 1 may lie beside the given one without being another one."""
REACH, REACH_SHARE, OTHER = 0.2, 0.4, 0.05
"""A better bar 1 is sought within so many seconds of the given one, or such a share of a beat if that is less, so that
music off the beat can't draw it away. It is told if it lies further away than `OTHER`."""
CLEAR = 6.0
"""By how much the course from a better bar 1 is the stronger one."""
FIRST_BEATS = 40
"""Beats that show which bar 1 is the better one."""
FEWER = 2
"""By how many attacks on those beats a better bar 1 may have fewer than the given one: music off the beat can be the
stronger, but a beat is where something begins."""
UNEVEN = 0.03
"""By what share of it the first bar, begun at a better bar 1, may differ from the second: more, and bar 1 was only
drawn towards beats that lie out of reach."""
UNPROPOSED = ("not followed", "not reached")
NO_ATTACKS = "not sure, for most of its downbeats have no attack. Is bar 1 right?"
THIRDS = (1 / 3, 2 / 3)
Sureness = Literal["sure", "fairly sure", "not sure", "not followed", "not reached"]
LEADS: tuple[tuple[float, Sureness], ...] = ((14.0, "sure"), (8.0, "fairly sure"), (4.0, "not sure"))
"""At least so much better than any other is the course, wherever in a section (measured on made performances)."""


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
class HeardSection:
    """A section as far as the recording goes, and how sure it is that its beats are where they were heard. If the
    recording ends before it: all of it.
    """

    name: str
    first_bar: int
    last_bar: int
    sureness: Sureness
    """`not followed`, `not reached`: nothing of it is proposed."""
    lead: float
    """How much stronger the beats are, at the least, than on any other course (in standard deviations, added up)."""
    attacks: bool = True
    """Whether most of its downbeats have an attack: else it is never sure, however clear its tempo is."""


@dataclass(frozen=True, slots=True)
class Alignment:
    """What was heard, and the points that say it."""

    bars: tuple[HeardBar, ...]
    """Of the sections that could be followed."""
    points: tuple[HeardBar, ...]
    residuals: tuple[Fraction, ...]
    """For each of `bars`: where it was heard less where the points put it, in seconds."""
    sections: tuple[HeardSection, ...] = ()
    moved: Fraction | None = None
    """By how many seconds bar 1 begins later than it was said to, where that is clear."""
    ends: tuple[int, int] | None = None
    """The bar in which the recording ends and the piece's last one, if it ends before that one begins."""

    def sync_text(self) -> str:
        """The points as a line of a spec."""
        return "sync: {" + ", ".join(f"{p.bar}: {float(p.heard):.3f}" for p in self.points) + "}"


class Heard(NamedTuple):
    """What has been heard of a recording."""

    strength: Strength
    attacks: NDArray[np.float64]
    """Seconds, in order."""


def listen(recording: Recording, progress: Progress | None = None) -> Heard:
    """Listen to all of a recording, piece by piece."""
    return Heard(
        beginnings(recording, progress), np.array(find_attacks(recording), float) / SAMPLES_PER_SECOND
    )


def align(
    recording: Recording,
    timeline: Timeline,
    first: Fraction | None = None,
    within: Fraction = WITHIN,
    heard: Heard | None = None,
) -> Alignment:
    """Follow the recording's beats from bar 1 (at `first` seconds in it; None: where the spec's sync says).

    `heard`, if given, is what `listen` has heard in it; `within` says how near every downbeat stays to where it was
    heard when points are left out. Raises FileError if the recording ends before bar 2, or nothing in it can be
    followed.
    """
    start = first if first is not None else timeline.clock.file_start
    if start is None or not 0 <= start < recording.seconds:
        where = "before the recording begins" if start is not None and start < 0 else "outside the recording"
        raise FileError(f"{recording.path}: bar 1 lies {where}. Write where it is: --bar-one 0.532.")
    beats = [beat for beat in timeline.beats if beat.at >= 0]
    heard = heard or listen(recording)
    course, moved = _follow(heard, timeline, beats, float(start))
    snapped, found = _snap(course.seconds, heard.attacks)
    count = int(np.count_nonzero(snapped < float(recording.seconds)))
    snapped, found = snapped[:count], found[:count]
    ticks = [*(beat.at for beat in beats), timeline.end][:count]
    downbeats = {bar.at: bar.number for bar in timeline.bars if bar.number >= 1}
    if sum(at in downbeats for at in ticks) < 2:
        raise FileError(
            f"{recording.path}: it ends before bar 2 begins. Name the right file, or correct bar 1."
        )
    if first is None and not moved:
        snapped[0], found[0] = float(start), True
    sections = tuple(_heard_sections(timeline, ticks, course.leads[:count], found))
    followed = [(each.first_bar, each.last_bar) for each in sections if each.sureness not in UNPROPOSED]
    bars = tuple(
        HeardBar(downbeats[at], at, Fraction(round(seconds * 1000), 1000), bool(attack))
        for at, seconds, attack in zip(ticks, snapped, found, strict=True)
        if at in downbeats and any(low <= downbeats[at] <= high for low, high in followed)
    )
    if len(bars) < 2:
        raise FileError(
            f"{recording.path}: no beats can be followed in it from {clock_text(start)} on. Name the right file, "
            "correct bar 1 or the tempo, or tap the downbeats: --taps FILE."
        )
    own = [timeline.seconds(bar.at) for bar in bars]
    kept = _fewest([bar.heard for bar in bars], own, within)
    points = tuple(bars[index] for index in kept)
    residuals = tuple(
        bar.heard - _between([own[i] for i in kept], [p.heard for p in points], seconds)
        for bar, seconds in zip(bars, own, strict=True)
    )
    later = bars[0].heard - start if moved and bars[0].bar == 1 else None
    final = timeline.bars[-1]
    ends = (timeline.bar_at(ticks[-1]).number, final.number) if ticks[-1] < final.at else None
    return Alignment(bars, points, residuals, sections, later, ends)


def align_lesson(
    lesson: Lesson, first: Fraction | None = None, within: Fraction = WITHIN, progress: Progress | None = None
) -> Alignment:
    """Align a lesson's recording. Raises FileError, also where the spec names none."""
    recording = open_recording(lesson)
    if recording is None:
        raise FileError("The spec names no recording. Write recording: take.flac and sync: {1: 0.532}.")
    return align(recording, lesson.timeline, first, within, listen(recording, progress))


def alignment_table(found: Alignment) -> str:
    """What was heard, a line each: the bars with residuals and which are points, then the sections and how sure."""
    lines = ["bar    heard at   point   off by"]
    points = {point.bar for point in found.points}
    for bar, residual in zip(found.bars, found.residuals, strict=True):
        mark = "point" if bar.bar in points else ""
        unheard = "" if bar.attack else "  no attack here: between its neighbours"
        off = f"{round(residual * 1000):+} ms" if round(residual * 1000) else "0 ms"
        lines.append(f"{bar.bar:>3} {float(bar.heard):>10.3f} s   {mark:<5} {off:>8}{unheard}")
    lines += section_lines(found)
    largest = max(abs(residual) for residual in found.residuals)
    missing = sum(not bar.attack for bar in found.bars)
    lines.append(
        f"{len(found.points)} points for {len(found.bars)} bars; no bar is further off than "
        f"{float(largest) * 1000:.0f} ms."
    )
    if missing > len(found.bars) / 3:
        lines.append(
            f"{missing} downbeats have no attack near them: listen to the result before you trust it."
        )
    if found.ends is not None:
        lines.append("The recording ends in bar {} of {}: is it the right file?".format(*found.ends))
    if found.moved is not None:
        way = "later" if found.moved > 0 else "earlier"
        lines.append(
            f"Bar 1 seems to begin {abs(float(found.moved)) * 1000:.0f} ms {way} than you say, at "
            f"{float(found.bars[0].heard):.3f} s: from there on the beats are clearly stronger."
        )
    return "\n".join(lines)


def section_lines(found: Alignment) -> list[str]:
    """How sure it is that each section was followed, a line each."""
    told = {
        "sure": "sure.",
        "fairly sure": "fairly sure.",
        "not sure": "not sure: listen before you trust it.",
        "not followed": "can't be followed: no points proposed.",
        "not reached": "the recording ends before.",
    }
    return [
        f"{each.name}, {bars_from(each.first_bar, each.last_bar)}: "
        f"{told[each.sureness] if each.attacks else NO_ATTACKS}"
        for each in found.sections
    ]


def _follow(sound: Heard, timeline: Timeline, beats: Sequence[Beat], start: float) -> tuple[Course, bool]:
    """The course of the beats, and whether it begins at a better bar 1 than the given one."""
    lengths = [float(timeline.seconds(beat.end) - timeline.seconds(beat.at)) for beat in beats]
    inside = _inside(timeline, beats)

    def course(begin: float, end: float, count: int | None = None) -> Course:
        heard = sound.strength if count is None else sound.strength[:shown]
        return follow(
            heard,
            MOMENTS_PER_SECOND,
            lengths[:count],
            (begin, end),
            inside=inside[:count],
            sure=count is None,
        )

    shown = round((start + 2 * sum(lengths[:FIRST_BEATS])) * MOMENTS_PER_SECOND)
    given = course(start - NEAR, start + NEAR, FIRST_BEATS)
    reach = min(REACH, REACH_SHARE * lengths[0])
    better = course(start - reach, start + reach, FIRST_BEATS)
    off = float(better.seconds[0]) - start if len(better.seconds) else 0.0
    least = int(_snap(given.seconds, sound.attacks)[1].sum()) - FEWER

    def likely(other: Course) -> bool:
        found = _snap(other.seconds, sound.attacks)[1]
        if not len(found) or int(found.sum()) < least or not _even(other, beats, timeline):
            return False
        # Where bar 1 itself has no attack, the beats alone must be clearly stronger.
        return bool(found[0]) or float(other.strengths.sum() - given.strengths.sum()) > CLEAR

    if abs(off) <= OTHER or better.score - given.score <= CLEAR:
        return course(start - NEAR, start + NEAR), False
    # Off the beat is about as good a place. Where one is on either side, the beats alone must tell.
    low, high = sorted((start - math.copysign(OTHER, off), start - math.copysign(max(reach, 2 * OTHER), off)))
    other = course(low, high, FIRST_BEATS)
    rivals = [better, *([other] if other.score > better.score - CLEAR else [])]
    rivals = sorted(filter(likely, rivals), key=lambda each: -each.strengths.sum())
    if not rivals or (len(rivals) > 1 and rivals[0].strengths.sum() - rivals[1].strengths.sum() <= CLEAR):
        return course(start - NEAR, start + NEAR), False
    better = rivals[0]
    start = float(better.seconds[0])
    return course(start - NEAR, start + NEAR), True


def _even(course: Course, beats: Sequence[Beat], timeline: Timeline) -> bool:
    """Whether a course's first two bars last about as long beside what is expected; True if it has no two."""
    downbeats = {bar.at for bar in timeline.bars}
    places = [index for index, beat in enumerate(beats) if beat.at in downbeats][:3]
    if len(places) < 3 or places[2] >= len(course.seconds):
        return True
    begun = course.seconds[places]
    own = [float(timeline.seconds(beats[place].at)) for place in places]
    first, second = (begun[1] - begun[0]) / (own[1] - own[0]), (begun[2] - begun[1]) / (own[2] - own[1])
    return abs(float(first / second) - 1) <= UNEVEN


def _inside(timeline: Timeline, beats: Sequence[Beat]) -> list[tuple[float, ...]]:
    """For each beat the shares of it at which something may begin: its halves or thirds, and what the figure plays."""
    hits = sorted({hit.at for hit in timeline.hits})
    found = []
    for beat in beats:
        parts = THIRDS if timeline.whole(beat.end - beat.at).numerator % 3 == 0 else HALVES
        own = hits[bisect_right(hits, beat.at) : bisect_left(hits, beat.end)]
        found.append(tuple({*parts, *((at - beat.at) / (beat.end - beat.at) for at in own)}))
    return found


def _heard_sections(
    timeline: Timeline, ticks: Sequence[int], leads: NDArray[np.float64], attacks: NDArray[np.bool_]
) -> list[HeardSection]:
    """Each section, as far as its beats were heard. The last beat of all has nothing after it, so it says little."""
    downbeats = {bar.at for bar in timeline.bars}
    found: list[HeardSection] = []
    for section in timeline.sections:
        first, end = bisect_left(ticks, section.at), bisect_left(ticks, section.end)
        name, bar = _name(timeline, section), section.first_bar_number
        own = leads[first : min(end, max(first + 1, len(ticks) - 1))]
        if len(own):
            lead = float(own.min())
            sureness: Sureness = next((word for least, word in LEADS if lead >= least), "not followed")
            heard = [bool(attacks[index]) for index in range(first, end) if ticks[index] in downbeats]
            most = sureness == "not followed" or not heard or 2 * sum(heard) > len(heard)
            if not most:
                sureness = "not sure"
            elif sureness == "sure" and not all(each.attacks for each in found):
                sureness = "fairly sure"  # the course may have slipped where nothing said so
            last = timeline.bar_at(ticks[end - 1]).number
            found.append(HeardSection(name, bar, last, sureness, lead, most))
        else:
            last = timeline.bar_at(section.end - 1).number
            found.append(HeardSection(name, bar, last, "not reached", 0.0))
    return found


def _name(timeline: Timeline, section: Section) -> str:
    passes = sum(each.name == section.name for each in timeline.sections)
    return section.name if passes == 1 else f"{section.name} (pass {section.pass_number})"


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
