"""How well a recording fits an expected course of beats and chords, laid at any tempo that changes little.

The course is a row of stretches, each with a chord. It is laid into the recording from its known beginning on so that
stretches which are beats begin where something begins, and the chords sound that are expected (Viterbi; how fast the
recording runs is a state of its own, as in `beats`). The scores of two courses through the same recording can be
compared: their difference is in nats, more or less.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, TypeVar, cast

import numpy as np
from numba import njit
from numpy.typing import NDArray

Function = TypeVar("Function", bound=Callable[..., Any])
Scores = NDArray[np.float32]
Curve = tuple[NDArray[np.int64], Scores]
"""Moments, and a course's best score up to each."""

STEP = 0.02
TEMPOS = np.exp(STEP * np.arange(-17, 18))
"""How long a stretch may be beside what is expected: 0.71 to 1.40 times."""
WIDTH = 600
"""Moments round the best course that are looked at: 12.8 s."""
STRAY = 0.01
"""What a second costs that runs a step faster or slower than usual; at twice as many steps four times that."""
CHANGE = 0.8
"""What it costs to change the tempo by a step."""
FIRST = 0.15
"""What each step costs by which the first tempo differs from what is expected."""
BEAM = 50.0
"""Courses that are worse than the best one by so much are given up."""
NARROW_BEAM = 25.0
"""The same for a course that is compared with one that was laid."""
NEVER = np.float32(-1e30)


def compiled(function: Function) -> Function:
    """Compiled when first called, and kept for later runs where Python's own compiled files can be."""
    try:
        return cast(Function, njit(cache=True)(function))
    except RuntimeError:  # neither the install nor a home can be written
        return cast(Function, njit(function))


@dataclass(frozen=True, eq=False)
class Evidence:
    """A recording as it is judged, moment by moment."""

    moments_per_second: float
    strength: Scores
    """How much stronger than round about something begins at each moment."""
    chords: Scores
    """What speaks for each chord up to each moment, summed: shape (chords, moments + 1). The first is no chord."""

    def until(self, moment: int) -> "Evidence":
        """The same with nothing to be heard from a moment on."""
        strength, chords = self.strength.copy(), self.chords.copy()
        strength[moment:] = 0
        chords[:, moment + 1 :] = chords[:, moment : moment + 1]
        return Evidence(self.moments_per_second, strength, chords)


@dataclass(frozen=True, eq=False)
class Expected:
    """A course: stretches that follow each other."""

    seconds: NDArray[np.float64]
    """How long each is expected to be."""
    chords: NDArray[np.int64]
    """The chord of each, as an index into the evidence's."""
    beats: NDArray[np.float32]
    """How much it counts whether something begins with it: 1 for a beat, 0 for none."""


@dataclass(frozen=True, eq=False)
class Laid:
    """A course as it was laid, with all that shorter looks from the middle of it on need."""

    score: float
    moments: NDArray[np.int64]
    """Where each stretch begins, and where the last one ends."""
    bests: Scores
    """The best score up to each of `moments`."""
    tempo: int
    """How fast it runs beside what is expected, mostly: an index of TEMPOS."""
    lows: NDArray[np.int64]
    states: Scores
    """For each stretch the scores of all tempos, WIDTH moments from its low on."""


def lay(evidence: Evidence, expected: Expected, start: float, usual: int | None = None) -> Laid:
    """Lay a whole course, which begins `start` seconds into the recording.

    `usual` is how fast the recording mostly runs beside what is expected, as an index of TEMPOS, if that is known.
    """
    count = len(expected.seconds)
    states = np.full((count + 1, len(TEMPOS), WIDTH), NEVER, np.float32)
    lows = np.zeros(count + 1, np.int64)
    moment = round(start * evidence.moments_per_second)
    lows[0] = moment - WIDTH // 2
    middle = len(TEMPOS) // 2 if usual is None else usual
    states[0, :, WIDTH // 2] = -FIRST * np.abs(np.arange(len(TEMPOS)) - middle)
    came = np.zeros(states.shape, np.int8)
    lengths = expected.seconds * evidence.moments_per_second
    run = (evidence.strength, evidence.chords, lengths, expected.chords, expected.beats, TEMPOS)
    strays = _strays(evidence, usual)
    bests, places = np.zeros(count + 1, np.float32), np.zeros(count + 1, np.int64)
    _lay(*run, strays, 0, lows, states, came, np.zeros(0, np.float32), BEAM, bests, places)
    moments = _path(lengths, TEMPOS, lows, states, came)
    return Laid(
        float(bests[-1]), moments, bests, _usual(lengths, moments) if usual is None else usual, lows, states
    )


def _usual(lengths: NDArray[np.float64], moments: NDArray[np.int64]) -> int:
    """The tempo, as an index, at which half of the time runs slower and half of it faster."""
    longer = np.log(np.maximum(np.diff(moments), 1) / lengths)
    order = np.argsort(longer)
    half = int(np.searchsorted(np.cumsum(lengths[order]), lengths.sum() / 2))
    return int(np.argmin(np.abs(np.log(TEMPOS) - longer[order[min(half, len(order) - 1)]])))


def _strays(evidence: Evidence, usual: int | None) -> NDArray[np.float64]:
    """What a moment costs at each tempo."""
    if usual is None:
        return np.zeros(len(TEMPOS))
    steps = np.arange(len(TEMPOS), dtype=np.float64) - usual
    return np.asarray(STRAY * steps**2 / evidence.moments_per_second, np.float64)


def lay_from(
    evidence: Evidence, expected: Expected, other: Laid, same: int, beside: Curve, hopeless: float
) -> tuple[float, Curve]:
    """The score of a course whose first `same` stretches are those of one that was laid, and how it came to it.

    It is given up, with a score of -inf, where it falls so far behind another course's curve.
    """
    count = len(expected.seconds)
    if same >= count:
        return float(other.bests[count]), (other.moments, other.bests)
    lows = np.zeros(2, np.int64)
    states = np.full((2, len(TEMPOS), WIDTH), NEVER, np.float32)
    lows[same % 2], states[same % 2] = other.lows[same], other.states[same]
    lengths = expected.seconds * evidence.moments_per_second
    run = (evidence.strength, evidence.chords, lengths, expected.chords, expected.beats, TEMPOS)
    ends = np.arange(len(evidence.strength) + 1)
    limit = (np.interp(ends, *beside) - hopeless).astype(np.float32)
    bests, places = np.full(count + 1, NEVER, np.float32), np.zeros(count + 1, np.int64)
    bests[: same + 1], places[: same + 1] = other.bests[: same + 1], other.moments[: same + 1]
    strays = _strays(evidence, other.tempo)
    alive = _lay(
        *run, strays, same, lows, states, np.zeros((0, 0, 0), np.int8), limit, NARROW_BEAM, bests, places
    )
    return (float(bests[-1]) if alive else -np.inf), (places, bests)


@compiled
def _lay(
    strength: Scores,
    chords: Scores,
    lengths: NDArray[np.float64],
    names: NDArray[np.int64],
    beats: Scores,
    tempos: NDArray[np.float64],
    strays: NDArray[np.float64],
    first: int,
    lows: NDArray[np.int64],
    states: Scores,
    came: NDArray[np.int8],
    limit: Scores,
    beam: float,
    bests: Scores,
    places: NDArray[np.int64],
) -> bool:
    """Fill in the states of each stretch from `first` on, in turn in as many rows as there are, and for each the best
    score so far and where that is; False where it falls below the `limit` for a moment."""
    rows, tempo_count, width = states.shape
    moments = len(strength)
    changed = np.empty((tempo_count, width), np.float32)
    origin = np.zeros((tempo_count, width), np.int8)
    gone = 0.0
    for index in range(first):
        gone += lengths[index]
    best, place, left, right = np.float32(-1e30), 0, width, 0
    for tempo in range(tempo_count):
        for column in range(width):
            value = states[first % rows, tempo, column]
            if value > -1e29:
                left, right = min(left, column), max(right, column + 1)
            if value > best:
                best, place = value, column
    for index in range(first, len(lengths)):
        here, there = states[index % rows], states[(index + 1) % rows]
        low = lows[index % rows]
        if len(limit) and best < limit[min(max(low + place, 0), len(limit) - 1)]:
            return False
        for column in range(left, right):
            for tempo in range(tempo_count):
                changed[tempo, column], origin[tempo, column] = here[tempo, column], tempo
            for tempo in range(1, tempo_count):
                if changed[tempo - 1, column] - CHANGE > changed[tempo, column]:
                    changed[tempo, column] = changed[tempo - 1, column] - CHANGE
                    origin[tempo, column] = origin[tempo - 1, column]
            for tempo in range(tempo_count - 2, -1, -1):
                if changed[tempo + 1, column] - CHANGE > changed[tempo, column]:
                    changed[tempo, column] = changed[tempo + 1, column] - CHANGE
                    origin[tempo, column] = origin[tempo + 1, column]
        middle = tempo_count // 2
        best_tempo = middle
        for tempo in range(tempo_count):
            if changed[tempo, place] >= best - 1e-6:
                best_tempo = tempo
        further = round((gone + lengths[index]) * tempos[best_tempo]) - round(gone * tempos[best_tempo])
        next_low = low + place + further - width // 2
        lows[(index + 1) % rows] = next_low
        there[:, :] = -1e30
        chord = chords[names[index]]
        next_best, next_place, next_left, next_right = np.float32(-1e30), 0, width, 0
        for tempo in range(tempo_count):
            step = round((gone + lengths[index]) * tempos[tempo]) - round(gone * tempos[tempo])
            for column in range(left, right):
                value = changed[tempo, column]
                if value < best - beam:
                    continue
                at = low + column
                to = at + step
                next_column = to - next_low
                if next_column < 0 or next_column >= width:
                    continue
                value -= strays[tempo] * lengths[index]
                value += chord[min(max(to, 0), moments)] - chord[min(max(at, 0), moments)]
                if index + 1 < len(lengths) and 0 <= to < moments:
                    value += beats[index + 1] * strength[to]
                there[tempo, next_column] = value
                next_left, next_right = min(next_left, next_column), max(next_right, next_column + 1)
                if value > next_best:
                    next_best, next_place = np.float32(value), next_column
                if len(came):
                    came[index + 1, tempo, next_column] = origin[tempo, column]
        gone += lengths[index]
        best, place, left, right = next_best, next_place, next_left, next_right
        bests[index + 1], places[index + 1] = best, next_low + place
    return True


@compiled
def _path(
    lengths: NDArray[np.float64],
    tempos: NDArray[np.float64],
    lows: NDArray[np.int64],
    states: Scores,
    came: NDArray[np.int8],
) -> NDArray[np.int64]:
    """Where the best course's stretches begin, from its end back to its beginning."""
    count = len(lengths)
    found = np.zeros(count + 1, np.int64)
    tempo, column, best = 0, 0, np.float32(-1e30)
    for each in range(len(tempos)):
        for place in range(states.shape[2]):
            if states[count, each, place] > best:
                tempo, column, best = each, place, states[count, each, place]
    found[count] = lows[count] + column
    gone = 0.0
    for index in range(count):
        gone += lengths[index]
    for index in range(count - 1, -1, -1):
        before = gone - lengths[index]
        step = round(gone * tempos[tempo]) - round(before * tempos[tempo])
        came_from = came[index + 1, tempo, found[index + 1] - lows[index + 1]]
        found[index] = found[index + 1] - step
        tempo = came_from
        gone = before
    return found
