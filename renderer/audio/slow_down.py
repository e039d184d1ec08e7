"""Sound slowed down with its pitch kept, and with its attacks where they belong.

A spectral stretch smears what happens at once: at a quarter of the speed an attack begins 50 ms early. So
the sound is parted at its attacks, each attack is copied as it is to its exact place, and only what rings
between them is stretched.
"""

from fractions import Fraction
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from python_stretch import Signalsmith

from renderer.audio.click_sounds import SAMPLES_PER_SECOND
from renderer.audio.loudness import Samples
from renderer.core.time_grid import nearest

MILLISECOND = SAMPLES_PER_SECOND // 1000
BLOCK = 120 * MILLISECOND
"""What is stretched at a time, eight blocks over each other: with four, a quarter of the speed flutters."""
LEAD = 2 * MILLISECOND
"""Before an attack, over which what rang until then makes way for what leads up to it."""
STILL = MILLISECOND // 2
"""Of that, copied as it is: the last of it, up to the attack itself."""
KEPT = 24 * MILLISECOND
"""Of an attack, copied as it is."""
JOIN = 8 * MILLISECOND
"""Over which a copied attack goes over into what is stretched."""
SPACING = 40
"""Milliseconds at least from one attack to the next."""
BEFORE = 25
"""Milliseconds that an attack is compared with: more than a period of the lowest bass."""
RISE = 4.0
"""How many times as strong as before (6 dB) an attack is."""
QUIET_SHARE = 1e-5
"""Of the strongest millisecond's energy (-50 dB): what is softer is no attack."""
SEED = 0
"""The stretch turns phases at random; from one seed the same sound comes out every time."""


def slow_down(samples: Samples, speed: Fraction) -> Samples:
    """`samples`, shape (n, 2), at a share of their speed: shape (nearest(n / speed), 2). Pitches stay.

    What stands at sample k stands at k / speed afterwards; attacks are within a millisecond of it.
    """
    count = len(samples)
    if speed == 1 or not count:
        return samples
    starts = [0, *(at for at in find_attacks(samples) if LEAD < at < count - LEAD)]
    places = [nearest(Fraction(at) / speed) for at in starts]
    slowed = np.zeros((nearest(Fraction(count) / speed), samples.shape[1]), np.float32)
    machine = Signalsmith.Stretch(SEED)
    machine.configure(samples.shape[1], BLOCK, BLOCK // 8)
    ends = list(zip([*starts, count], [*places, len(slowed)], strict=True))
    fade = np.ones((LEAD, 1), np.float32)
    fade[:-STILL, 0] = np.sin(np.linspace(0, np.pi / 2, LEAD - STILL)) ** 2
    for number, ((start, place), (end, next_place)) in enumerate(pairwise(ends)):
        length = next_place - place
        slowed[place:next_place] = _slow_part(machine, samples[start:end], length)
        if number:
            slowed[place - LEAD : place] *= 1 - fade
            slowed[place - LEAD : place] += fade * samples[start - LEAD : start]
    return slowed


def _slow_part(machine: Signalsmith.Stretch, part: Samples, length: int) -> Samples:
    """From one attack up to the next: its beginning as it is, the rest stretched to `length` in all."""
    if len(part) >= length:
        return part[:length]
    kept = min(KEPT, len(part) // 2)
    ratio = (length - kept) / (len(part) - kept)
    # What follows is made of the part's own end, mirrored: nothing of the next attack comes early.
    around = np.pad(part, ((0, min(len(part) - 1, 100 * MILLISECOND)), (0, 0)), mode="reflect")
    machine.reset()
    machine.setTimeFactor(1 / ratio)
    stretched = np.asarray(machine.process(np.ascontiguousarray(around.T)), np.float32).T
    slowed = np.zeros((length, part.shape[1]), np.float32)
    join = min(JOIN, kept)
    first = round(kept * ratio) - join
    rest = stretched[first : first + length - kept + join]
    slowed[kept - join : kept - join + len(rest)] = rest
    over = np.linspace(0, 1, join, dtype=np.float32)[:, np.newaxis]
    slowed[kept - join : kept] *= over
    slowed[kept - join : kept] += (1 - over) * part[kept - join : kept]
    slowed[: kept - join] = part[: kept - join]
    return slowed


def find_attacks(samples: Samples) -> list[int]:
    """The samples at which something is struck, plucked or begins at once, in order.

    A millisecond counts in which high frequencies become four times as strong as in all of the 25 before; of
    two that are too near, the far stronger one, else the first.
    """
    steep = _steep(samples)
    count = len(steep) // MILLISECOND
    energy = np.square(steep[: count * MILLISECOND], dtype=np.float64).reshape(count, MILLISECOND).sum(axis=1)
    if not energy.any():
        return []
    padded = np.concatenate([np.zeros(BEFORE), energy])
    before = np.lib.stride_tricks.sliding_window_view(padded, BEFORE)[:count].max(axis=1)
    rises = (energy > RISE * before) & (energy > QUIET_SHARE * energy.max())
    found: list[int] = []
    for at in np.flatnonzero(rises).tolist():
        if not found or at - found[-1] >= SPACING:
            found.append(at)
        elif energy[at : at + 3].max() > RISE * energy[found[-1] : found[-1] + 3].max():
            found[-1] = at
    return [_first_sample(steep, at) for at in found]


def _steep(samples: Samples) -> NDArray[np.float32]:
    """How sharply the sound bends at each sample, all channels together: its attacks stand out."""
    moves = np.abs(np.diff(samples, n=2, axis=0, prepend=np.zeros((2, samples.shape[1]), np.float32)))
    return np.asarray(moves.sum(axis=1), np.float32)


def _first_sample(steep: NDArray[np.float32], millisecond: int) -> int:
    """The sample at which the rise found in a millisecond begins."""
    start = max(0, (millisecond - 1) * MILLISECOND)
    window = steep[start : start + 4 * MILLISECOND]
    quiet = steep[max(0, start - BEFORE * MILLISECOND) : start]
    floor = float(quiet.max(initial=0))
    threshold = max(floor, 0.3 * float(window.max()))
    return start + int(np.argmax(window >= threshold))
