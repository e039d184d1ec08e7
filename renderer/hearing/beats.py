"""Beats followed in a recording: the course of the steadiest tempo over the strongest beginnings.

How fast the recording runs beside what is expected is a state of its own, in steps of 1 %, and what costs is to
change it, not to differ (bar-pointer models: N. Whiteley, A. T. Cemgil and S. Godsill, ISMIR 2006, from memory;
F. Krebs, S. Böck and G. Widmer, ISMIR 2015). The best course is found beat by beat (Viterbi), over those moments and
tempos alone that may still become the best.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Strength = NDArray[np.float64]
"""How strongly something begins at each moment, in standard deviations."""
_Grid = NDArray[np.float32]
"""Scores, shape (tempos, moments)."""

TEMPOS = np.exp(np.arange(-27, 28) / 100)
"""How long a beat may be beside what is expected: 0.76 to 1.31 times, which is less than three for four."""
CHANGE = 2.0
"""What it costs to change the tempo by a step, beside the strength of a beginning."""
OFF = 0.2
"""What each step costs by which the first tempo differs from what is expected."""
BEAM, FAR = 24.0, 100.0
"""Courses that are worse by so much than the best one of their tempo, and of all, are given up: a rhythm of three for
four can sound like another tempo for some bars."""
HALVES = (0.5,)
"""Most music is in halves of beats. They are listened to like the beats, so that music off the beat, as loud as it may
be, draws no course onto itself."""
MOST_STATES = 12_000
"""Kept at a beat, twice what music needs: in silence all courses are alike, and would fill the memory."""
STRAY_SECONDS = 6.0
"""A course that lies so far from the best one is given up."""
BLUR_SECONDS = 0.012
"""How far from a beginning a beat may lie, about: nobody plays more evenly."""
AROUND_SECONDS = 4.0
"""What is beside the mean of so much before and after is strong or weak."""
ELSEWHERE_SECONDS = 0.07
"""A course that lies so far away is another one."""


@dataclass(frozen=True, slots=True)
class Course:
    """Beats as they were followed."""

    seconds: NDArray[np.float64]
    """Where each beat begins, and where the last one ends unless the sound ends before."""
    score: float
    """The strength on them, less what changes of tempo cost. Courses of the same beats can be compared."""
    strengths: NDArray[np.float64]
    """For each of `seconds` how much stronger than round about something begins there, in standard deviations."""
    leads: NDArray[np.float64]
    """For each of `seconds` by how much the course is better than the best that lies elsewhere then; at most FAR."""


def follow(
    strength: Strength,
    moments_per_second: float,
    lengths: Sequence[float],
    starts: tuple[float, float],
    *,
    inside: Sequence[Sequence[float]] = (HALVES,),
    to_the_end: bool = False,
    sure: bool = True,
) -> Course:
    """Follow beats from the first one on, which begins at or between two `starts`, in seconds.

    `lengths` are those of the beats as they are expected, in seconds, one or more, above 0. `inside` has for each beat
    the shares of it, between 0 and 1, at which something else may well begin; the last holds for all that follow. With
    `to_the_end` beats of the last length follow until the sound ends. What lies beyond its end is neither strong nor
    weak: beats that would begin there are left out. How sure it is, `leads`, is worked out unless `sure` is false.

    >>> strength = np.zeros(1000)
    >>> strength[[100, 152, 204, 256, 308]] = 3
    >>> follow(strength, 100, [0.5] * 4, (0.98, 1.02)).seconds.round(2).tolist()
    [1.0, 1.52, 2.04, 2.56, 3.08]
    """
    heard = contrast(strength, moments_per_second)
    path = _Path(heard, moments_per_second, lengths, inside, to_the_end)
    low, high = (round(start * moments_per_second) for start in starts)
    path.begin(low, max(low, high))
    while path.goes_on():
        path.step()
    moments, score = path.best()
    elsewhere = ELSEWHERE_SECONDS * moments_per_second
    leads = path.leads(moments, elsewhere) if sure else np.zeros(len(moments))
    within = moments < len(heard)
    moments = moments[within]
    return Course(moments / moments_per_second, score, heard[moments].astype(float), leads[within])


def contrast(strength: Strength, moments_per_second: float) -> NDArray[np.float32]:
    """How much stronger something begins at each moment, or within a few milliseconds of it, than round about."""
    if not len(strength):
        return np.zeros(0, np.float32)
    reach = max(1, round(3 * BLUR_SECONDS * moments_per_second))
    bell = np.exp(-0.5 * (np.arange(-reach, reach + 1) / (BLUR_SECONDS * moments_per_second)) ** 2)
    blurred = np.convolve(strength, bell, "full")[reach : reach + len(strength)]
    around = max(1, round(AROUND_SECONDS * moments_per_second))
    sums = np.concatenate([[0.0], np.cumsum(blurred)])
    left = np.maximum(0, np.arange(len(blurred)) - around)
    right = np.minimum(len(blurred), np.arange(len(blurred)) + around + 1)
    return np.asarray(blurred - (sums[right] - sums[left]) / (right - left), np.float32)


@dataclass(frozen=True, slots=True)
class _Kept:
    """The states at a beat that may still become the best."""

    low: int
    """The moment of the first column."""
    width: int
    where: NDArray[np.int32]
    """Places in a grid of `width` columns, in order."""
    scores: NDArray[np.float32]
    before: NDArray[np.uint8]
    """The tempo, as an index, of the beat before the one that leads here."""


class _Path:
    """All courses that may still become the best, beat by beat."""

    def __init__(
        self,
        heard: NDArray[np.float32],
        moments_per_second: float,
        lengths: Sequence[float],
        inside: Sequence[Sequence[float]],
        to_the_end: bool,
    ) -> None:
        self._heard, self._to_the_end = heard, to_the_end
        self._lengths = np.asarray(lengths, float) * moments_per_second
        self._inside = inside
        self._widest = round(STRAY_SECONDS * moments_per_second)
        self._kept: list[_Kept] = []
        self._steps: list[NDArray[np.int64]] = []
        self._gone = 0.0
        """Expected moments up to the beat that is reached."""

    def begin(self, low: int, high: int) -> None:
        low = max(0, low)
        steps = np.abs(np.log(TEMPOS)) * 100
        grid = -OFF * steps[:, np.newaxis] + self._at(low, high - low + 1)
        self._keep(low, grid.astype(np.float32), np.zeros(grid.shape, np.uint8))

    def goes_on(self) -> bool:
        beats = len(self._steps)
        last = self._kept[-1]
        if self._to_the_end and beats >= len(self._lengths):
            return last.low + int(last.where[last.scores.argmax()]) % last.width < len(self._heard)
        return beats < len(self._lengths) and last.low < len(self._heard)

    def step(self) -> None:
        """On to the next beat."""
        beat = len(self._steps)
        length = self._lengths[min(beat, len(self._lengths) - 1)]
        # Rounded as a sum, so that a steady tempo stays one.
        steps = np.round((self._gone + length) * TEMPOS) - np.round(self._gone * TEMPOS)
        self._gone += length
        self._steps.append(np.maximum(1, steps).astype(np.int64))
        kept = self._kept[-1]
        grid, before = _changed(_grid(kept, kept.scores))
        least = self._steps[-1].min()
        low = kept.low + int(least)
        width = kept.width + int(self._steps[-1].max() - least)
        moved = np.full((len(TEMPOS), width), -np.inf, np.float32)
        came = np.zeros(moved.shape, np.uint8)
        for tempo, further in enumerate(self._steps[-1] - least):
            part = slice(int(further), int(further) + kept.width)
            moved[tempo, part] = grid[tempo] + self._within(beat, tempo, kept)
            came[tempo, part] = before[tempo]
        self._keep(low, moved + self._at(low, width), came)

    def _within(self, beat: int, tempo: int, kept: _Kept) -> NDArray[np.float32] | float:
        """What begins inside a beat, for each moment at which it may begin."""
        length = int(self._steps[beat][tempo])
        shares = self._inside[min(beat, len(self._inside) - 1)]
        return sum((self._at(kept.low + round(share * length), kept.width) for share in shares), 0.0)

    def _at(self, low: int, width: int) -> NDArray[np.float32]:
        part = self._heard[min(low, len(self._heard)) : low + width]
        if len(part) == width:
            return part
        return np.pad(part, (0, width - len(part)))

    def _keep(self, low: int, grid: _Grid, before: NDArray[np.uint8]) -> None:
        alive = grid >= np.maximum(grid.max(axis=1, keepdims=True) - BEAM, grid.max() - FAR)
        best = int(grid.argmax()) % grid.shape[1]
        alive[:, : max(0, best - self._widest)] = False
        alive[:, best + self._widest + 1 :] = False
        if np.count_nonzero(alive) > MOST_STATES:
            alive &= grid > np.partition(grid, -MOST_STATES, axis=None)[-MOST_STATES]
            alive.flat[grid.argmax()] = True
        columns = np.flatnonzero(alive.any(axis=0))
        part = slice(columns[0], columns[-1] + 1)
        where = np.flatnonzero(alive[:, part])
        self._kept.append(
            _Kept(
                low + int(columns[0]),
                int(columns[-1] - columns[0]) + 1,
                where.astype(np.int32),
                grid[:, part].ravel()[where],
                before[:, part].ravel()[where],
            )
        )

    def best(self) -> tuple[NDArray[np.int64], float]:
        """The moments of the best course, and its score."""
        last = self._kept[-1]
        index = int(last.scores.argmax())
        score = float(last.scores[index])
        tempo, column = divmod(int(last.where[index]), last.width)
        moments = [last.low + column]
        for beat in range(len(self._steps) - 1, -1, -1):
            kept, earlier = self._kept[beat + 1], self._kept[beat]
            index = int(np.searchsorted(kept.where, tempo * kept.width + moments[-1] - kept.low))
            moments.append(moments[-1] - int(self._steps[beat][tempo]))
            tempo = int(kept.before[index])
            assert 0 <= moments[-1] - earlier.low < earlier.width
        return np.array(moments[::-1]), score

    def leads(self, moments: NDArray[np.int64], elsewhere: float) -> NDArray[np.float64]:
        """For each beat how much worse the best course is that lies elsewhere then."""
        last = self._kept[-1]
        after = np.zeros(last.where.shape, np.float32)
        found = []
        for beat in range(len(self._steps), -1, -1):
            kept = self._kept[beat]
            total = kept.scores + after
            away = np.abs(kept.low + kept.where % kept.width - moments[beat]) >= elsewhere
            best = total.max()
            found.append(min(FAR, float(best - total[away].max(initial=-np.inf))))
            if beat:
                after = self._before(beat - 1, kept, after)
        return np.array(found[::-1])

    def _before(self, beat: int, kept: _Kept, after: NDArray[np.float32]) -> NDArray[np.float32]:
        """What the best course brings from a beat on to the end, for each state that was kept."""
        earlier = self._kept[beat]
        grid = _grid(kept, after) + self._at(kept.low, kept.width)
        moved = np.full((len(TEMPOS), earlier.width), -np.inf, np.float32)
        for tempo, step in enumerate(self._steps[beat]):
            first = earlier.low + int(step) - kept.low
            begin, end = max(0, -first), min(earlier.width, kept.width - first)
            if begin < end:
                moved[tempo, begin:end] = grid[tempo, first + begin : first + end]
            moved[tempo] += self._within(beat, tempo, earlier)
        return _changed(moved)[0].ravel()[earlier.where]


def _grid(kept: _Kept, scores: NDArray[np.float32]) -> _Grid:
    grid = np.full(len(TEMPOS) * kept.width, -np.inf, np.float32)
    grid[kept.where] = scores
    return grid.reshape(len(TEMPOS), kept.width)


def _changed(grid: _Grid) -> tuple[_Grid, NDArray[np.uint8]]:
    """The best that a change of tempo makes of each state, and from which tempo."""
    cost = (CHANGE * np.arange(len(grid), dtype=np.float32))[:, np.newaxis]
    slower, from_faster = _best_before(grid + cost)
    faster, from_slower = _best_before(grid[::-1] + cost)
    slower, faster = slower - cost, (faster - cost)[::-1]
    last = np.uint8(len(grid) - 1)
    return np.maximum(slower, faster), np.where(slower >= faster, from_faster, last - from_slower[::-1])


def _best_before(grid: _Grid) -> tuple[_Grid, NDArray[np.uint8]]:
    """The largest value up to each row, and in which row it is."""
    best = np.maximum.accumulate(grid, axis=0)
    rows = np.arange(len(grid), dtype=np.uint8)[:, np.newaxis]
    return best, np.maximum.accumulate(np.where(grid >= best, rows, np.uint8(0)), axis=0)
