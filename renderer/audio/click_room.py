"""Room for the click: for a moment at each one, all else steps back at the click's own pitch, as far as it has to.

So a click is heard through any voice and recording, and what steps back keeps its level and its other pitches. The
filters are causal: nothing sounds earlier than it did.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from renderer.audio.click_sounds import KIND_SOUNDS, SAMPLES_PER_SECOND, Track
from renderer.audio.digest import digest_of
from renderer.audio.loudness import Samples
from renderer.spec.click import ClickKind

CLEAR_DB = 10.0
"""So far above all else a click lies in its band, an octave around its pitch."""
HEARD = SAMPLES_PER_SECOND // 50
"""Samples from a click's first one on in which that holds: 20 ms."""
DEEPEST_DB = 30.0
"""All else steps back by so much at most."""
CUT_WIDTH, BAND_WIDTH = 1.0, 1.41
"""Quality factors: the cut reaches about an octave to each side of the pitch, the band half of one."""
BEFORE, HELD, AFTER = (SAMPLES_PER_SECOND * share // 1000 for share in (3, 22, 20))
"""Samples in which all else steps back before a click, stays back from the click on, and comes again."""
MEMORY = 1024
"""Samples after which nothing is left of a filter's response."""

Part = Callable[[int, int], Track | Samples]
"""A track's samples from one index up to another."""
Response = NDArray[np.float64]
"""What a filter makes of a single 1, shape (MEMORY,)."""


class Sounding(Protocol):
    """A stem before it makes room."""

    def placed(self, start: int, end: int) -> Samples:
        """Its samples from one index up to another, left and right, shape (n, 2)."""

    def digest(self) -> bytes:
        """The same for what sounds the same alone."""


@dataclass(frozen=True, eq=False)
class ClickRoom:
    """Where clicks stand, in order, with the pitches of each; the click itself and all else that sounds."""

    sample_count: int
    """Of the track."""
    onsets: Sequence[int]
    pitches: Sequence[tuple[float, ...]]
    click: Sounding
    others: Sequence[Sounding]

    @cached_property
    def shares(self) -> NDArray[np.float64]:
        """How far all else steps back at each click: 0 not at all, 1 by DEEPEST_DB at its pitch."""
        return np.array(
            [self._share(onset, pitches) for onset, pitches in zip(self.onsets, self.pitches, strict=True)]
        )

    def _share(self, onset: int, pitches: tuple[float, ...]) -> float:
        """The least share at which the click is clear of all else in the band of each of its pitches."""
        begin, end = max(0, onset - 2 * MEMORY), min(self.sample_count, onset + HEARD)
        click = self.click.placed(begin, end)
        rest = np.sum([other.placed(begin, end) for other in self.others], axis=0)
        change = filtered(rest, cut_response(pitches)) - rest
        share = 0.0
        for pitch in pitches:
            own, all_else, changed = (
                filtered(sound, band_response(pitch))[onset - begin :] for sound in (click, rest, change)
            )
            most = np.sum(own**2) / 10 ** (CLEAR_DB / 10)
            # The energy that is left is a parabola over the share.
            constant, slope, bend = np.sum(all_else**2) - most, np.sum(all_else * changed), np.sum(changed**2)
            if constant <= 0 or not bend:
                continue
            root = slope**2 - bend * constant
            needed = (-slope - np.sqrt(root)) / bend if root >= 0 else -slope / bend
            share = max(share, min(1.0, float(needed)))
        return share

    def applied(self, part: Part, start: int, end: int) -> Track | Samples:
        """A track's samples from one index up to another, stepping back."""
        samples = part(start, end).copy()
        first = bisect_right(self.onsets, start - HELD - AFTER)
        last = bisect_left(self.onsets, end + BEFORE)
        for index in range(first, last):
            begin = max(0, self.onsets[index] - BEFORE)
            stop = min(self.sample_count, self.onsets[index] + HELD + AFTER)
            if index + 1 < len(self.onsets):
                stop = min(stop, self.onsets[index + 1] - BEFORE)
            low, high = max(start, begin), min(end, stop)
            if low < high and self.shares[max(0, index - 1) : index + 2].any():
                # Worked out for all of the click's own stretch, so that it is the same in any part.
                change = self._change(part, index, begin, stop)
                samples[low - start : high - start] += change[low - begin : high - begin]
        return samples

    def _change(self, part: Part, index: int, begin: int, stop: int) -> Track | Samples:
        """What is added to a click's own stretch so that it steps back."""
        depths = self._depths(begin, stop)
        early = max(0, begin - MEMORY)
        heard = part(early, stop)
        change = (filtered(heard, cut_response(self.pitches[index])) - heard)[begin - early :]
        return np.asarray(change * (depths if heard.ndim == 1 else depths[:, np.newaxis]), np.float32)

    def _depths(self, begin: int, stop: int) -> NDArray[np.float64]:
        """How far all else has stepped back at each sample."""
        first = bisect_right(self.onsets, begin - HELD - AFTER)
        last = bisect_left(self.onsets, stop + BEFORE)
        away = np.arange(begin, stop) - np.array(self.onsets[first:last])[:, np.newaxis]
        shape = np.interp(away, [-BEFORE, 0, HELD, HELD + AFTER], [0, 1, 1, 0])
        smooth = np.sin(shape * (np.pi / 2)) ** 2
        return np.asarray((smooth * self.shares[first:last, np.newaxis]).max(axis=0), np.float64)

    def digest(self) -> bytes:
        """The same for the same room alone."""
        places = repr((tuple(self.onsets), tuple(self.pitches))).encode()
        return digest_of([places, self.click.digest(), *(other.digest() for other in self.others)])


def click_room(
    sample_count: int, clicks: Iterable[tuple[int, ClickKind]], click: Sounding, others: Sequence[Sounding]
) -> ClickRoom | None:
    """Room for clicks, each a sample and a kind; None without clicks, or where they are alone."""
    pitches: dict[int, set[float]] = {}
    for onset, kind in clicks:
        if 0 <= onset < sample_count:
            pitches.setdefault(onset, set()).add(KIND_SOUNDS[kind].hertz)
    if not pitches or not others:
        return None
    places = sorted(pitches)
    return ClickRoom(sample_count, places, [tuple(sorted(pitches[place])) for place in places], click, others)


def filtered(samples: Track | Samples, response: Response) -> NDArray[np.float64]:
    """Samples, shape (n,) or (n, channels), through a filter."""
    size = 1 << (len(samples) + MEMORY - 1).bit_length()
    spectrum = np.fft.rfft(response, size)
    if samples.ndim == 2:
        spectrum = spectrum[:, np.newaxis]
    exact = np.asarray(samples, np.float64)
    return np.fft.irfft(np.fft.rfft(exact, size, axis=0) * spectrum, size, axis=0)[: len(samples)]


@lru_cache(maxsize=32)
def cut_response(pitches: tuple[float, ...]) -> Response:
    """Cuts of DEEPEST_DB at some pitches, one after the other: peaking filters."""
    response = _impulse()
    for pitch in pitches:
        amplitude = 10 ** (-DEEPEST_DB / 40)
        turn, alpha = _turn(pitch, CUT_WIDTH)
        above = (1 + alpha * amplitude, turn, 1 - alpha * amplitude)
        below = (1 + alpha / amplitude, turn, 1 - alpha / amplitude)
        response = _biquad(response, above, below)
    return response


@lru_cache(maxsize=32)
def band_response(pitch: float) -> Response:
    """An octave around a pitch: a band-pass filter, twice."""
    turn, alpha = _turn(pitch, BAND_WIDTH)
    band = (alpha, 0.0, -alpha), (1 + alpha, turn, 1 - alpha)
    return _biquad(_biquad(_impulse(), *band), *band)


def _impulse() -> Response:
    response = np.zeros(MEMORY)
    response[0] = 1
    return response


def _turn(pitch: float, width: float) -> tuple[float, float]:
    """What the filters of R. Bristow-Johnson's "Cookbook formulae for audio EQ biquad filter coefficients" share:
    their coefficient -2 cos w, and alpha."""
    angle = 2 * np.pi * pitch / SAMPLES_PER_SECOND
    return float(-2 * np.cos(angle)), float(np.sin(angle) / (2 * width))


def _biquad(wave: Response, above: tuple[float, float, float], below: tuple[float, float, float]) -> Response:
    """A wave through a filter of second order: its coefficients above and below the fraction line."""
    (b0, b1, b2), (a0, a1, a2) = above, below
    out = np.zeros_like(wave)
    x1 = x2 = y1 = y2 = 0.0
    for index, x in enumerate(wave.tolist()):
        y = (b0 * x + b1 * x1 + b2 * x2 - a1 * y1 - a2 * y2) / a0
        x1, x2, y1, y2 = x, x1, y, y1
        out[index] = y
    return out
