"""Whether a recording has as many bars as a spec counts: every other count laid out and compared with what is heard.

All counts are laid through the recording's beats and chords. One that fits so much better than the spec, and than
all that change another section, that it can hardly be chance is told.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from renderer.audio.loudness import Sound
from renderer.audio.pitch import Chord, read_chord
from renderer.hearing.attacks import MOMENTS_PER_SECOND, beginnings
from renderer.hearing.beats import contrast
from renderer.hearing.chords import evidence, likeness
from renderer.hearing.chroma import MOMENT, hear_chroma
from renderer.hearing.fit import Evidence, Expected, lay, lay_from
from renderer.mix.recounts import Course, Recount, course_of, recounts
from renderer.spec.model import Spec
from renderer.timeline.plan import plan_spec
from renderer.timeline.recount import bars_alone

COARSER = 4
"""Moments of beginnings to one that is judged: 21 ms."""
CHORD_WEIGHT = 2.0
"""How much a second of chords counts, beside the strength of a beginning: neighbouring moments say the same."""
HOPELESS = 30.0
"""A course is given up where it is so much worse than the best one up to the same moment."""

Progress = Callable[[float], None]
"""Told what share is done, from 0 to 1."""


class Other(NamedTuple):
    """Another count, and how well it fits."""

    sections: tuple[int, ...]
    """The passes that have it, as indices."""
    more: int
    """How many bars each of them has more; below zero, fewer."""
    bar: int
    """The first bar that is not as in the spec."""
    second: float
    """Where that bar begins in the recording."""
    gain: float
    """How much better it fits than the spec, in nats; below zero, worse."""


@dataclass(frozen=True, eq=False)
class Comparison:
    """What the other counts came to."""

    others: tuple[Other, ...]
    """The best of each section and number of bars, best first; those that fit far worse are left out."""
    counts: tuple[int, ...]
    """The bars of each pass, as the spec counts them."""
    fit: float
    """How much speaks for the chords of the best course, in nats a second."""
    chords: int
    """How many chords the spec names."""


class Heard:
    """What is heard in a recording, whatever the spec says: listened to once."""

    def __init__(self, sound: Sound, progress: Progress = lambda share: None) -> None:
        strength = contrast(beginnings(sound, lambda share: progress(0.8 * share)), MOMENTS_PER_SECOND)
        padded = np.pad(strength, (COARSER // 2, COARSER - (len(strength) + COARSER // 2) % COARSER))
        coarse = padded.reshape(-1, COARSER).max(axis=1)
        near = np.maximum.reduce([coarse, np.roll(coarse, 1), np.roll(coarse, -1)])
        self._strength = near - near.mean()
        self._chroma = hear_chroma(sound, lambda share: progress(0.8 + 0.2 * share))

    def judged_by(self, course: Course, more: Iterable[str] = ()) -> tuple[Evidence, Mapping[str, int]]:
        """The recording as it is judged for a piece, and which of its rows each harmony's name is; `more` are names
        that are not in its course."""
        chords: dict[tuple[Chord, int], int] = {}
        names: dict[str, int] = {}
        for name in dict.fromkeys([*(row.chord for row in course), *sorted(more)]):
            chord = chord_and_bass(name)
            names[name] = 0 if chord is None else chords.setdefault(chord, len(chords) + 1)
        per_second, count = MOMENTS_PER_SECOND / COARSER, len(self._strength)
        sums = np.zeros((len(chords) + 1, count + 1), np.float32)
        if len(chords) > 1:
            seconds = np.zeros(len(chords) + 1)
            for row in course:
                seconds[names[row.chord]] += row.seconds
            shares = 0.5 * seconds[1:] / seconds[1:].sum() + 0.5 / len(chords)
            places = np.arange(count) / per_second / MOMENT
            for index, row in enumerate(evidence(likeness(self._chroma, [*chords]), shares), start=1):
                each = np.interp(places, np.arange(len(row)), row)
                sums[index, 1:] = np.cumsum(each) * CHORD_WEIGHT / per_second
        return Evidence(per_second, self._strength, sums), names


def chord_and_bass(name: str) -> tuple[Chord, int] | None:
    """The chord that a harmony's name names, and the pitch class of its bass; None if it names none.

    >>> chord_and_bass("Am7/G"), chord_and_bass("N.C.")
    ((Chord(root=9, third=3, fifth=7), 7), None)
    """
    chord = read_chord(name)
    if chord is None:
        return None
    above, _, bass = name.rpartition("/")
    low = read_chord(bass) if above else None
    return chord, low.root if low else chord.root


def compare(heard: Heard, spec: Spec, start: float, progress: Progress = lambda share: None) -> Comparison:
    """Compare all other counts of a right spec with a recording in which bar 1 begins after `start` seconds."""
    alone = bars_alone(spec)
    plan = plan_spec(alone)
    course = course_of(plan)
    chosen = recounts(alone, plan.layout.passes, course)
    judged, names = heard.judged_by(course, {row.chord for each in chosen for row in each.course})
    own = _expected(course, names)
    # What comes after the spec's last bar is a bad witness: music that goes on, applause, the last chord's echo.
    first = lay(judged, own, start)
    end = min(int(first.moments[-1]), len(judged.strength))
    judged = judged.until(end)
    laid = lay(judged, own, start, first.tempo)
    best, curve = laid.score, (laid.moments, laid.bests)
    found: dict[tuple[tuple[int, ...], int], tuple[float, Recount]] = {}
    for number, each in enumerate(chosen):
        progress(number / len(chosen))
        same, score = _same(course, each.course), laid.score
        if same < min(len(course), len(each.course)):
            score, own_curve = lay_from(judged, _expected(each.course, names), laid, same, curve, HOPELESS)
            if score > best:
                best, curve = score, own_curve
        gain, key = score - laid.score - each.price, (each.sections, each.more)
        if gain > -np.inf and (key not in found or gain > found[key][0]):
            found[key] = gain, each
    ranked = sorted(found.values(), key=lambda row: -row[0])
    others = [_placed(gain, each, course, laid.moments / judged.moments_per_second) for gain, each in ranked]
    moments = laid.moments
    if others and others[0].gain > 0:  # it says best where it departs
        gain, each = ranked[0]
        own = _expected(each.course, names)
        moments = lay(judged, own, start, laid.tempo).moments
        others[0] = _placed(gain, each, course, moments / judged.moments_per_second)
    counts = tuple(one.bar_count for one in plan.layout.passes)
    chords = len({names[row.chord] for row in course} - {0})
    return Comparison(tuple(others), counts, _fit(judged, own, moments), chords)


def _fit(judged: Evidence, course: Expected, moments: NDArray[np.int64]) -> float:
    """How much speaks for the chords of a course that was laid, in nats a second."""
    places = np.clip(moments, 0, len(judged.strength))
    speaks = judged.chords[course.chords, places[1:]] - judged.chords[course.chords, places[:-1]]
    seconds = (places[-1] - places[0]) / judged.moments_per_second
    return float(speaks.sum()) / (CHORD_WEIGHT * max(1.0, float(seconds)))


def _placed(gain: float, recount: Recount, course: Course, seconds: NDArray[np.float64]) -> Other:
    """Another count, with the bar from which on it is not as the spec; `seconds` say where its stretches begin."""
    bar = course[min(_same(course, recount.course), len(course) - 1)].bar
    begins = next(index for index, row in enumerate(course) if row.bar == bar)
    return Other(recount.sections, recount.more, bar, float(seconds[begins]), gain)


def _expected(course: Course, names: Mapping[str, int]) -> Expected:
    return Expected(
        np.array([row.seconds for row in course]),
        np.array([names[row.chord] for row in course]),
        np.array([row.is_beat for row in course], np.float32),
    )


def _same(one: Course, other: Course) -> int:
    """How many stretches two courses begin with that are the same but for their bars' numbers."""
    for index, (left, right) in enumerate(zip(one, other, strict=False)):
        if left[1:] != right[1:]:
            return index
    return min(len(one), len(other))
