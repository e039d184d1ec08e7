"""Sound slowed down with its pitch kept, and with its attacks where they belong.

A spectral stretch smears what happens at once: at a quarter of the speed an attack begins 50 ms early. So
the sound is parted at its attacks, each attack is copied as it is to its exact place, and only what rings
between them is stretched.
"""

from collections.abc import Iterator
from fractions import Fraction
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from python_stretch import Signalsmith

from renderer.audio.click_sounds import SAMPLES_PER_SECOND
from renderer.audio.loudness import Samples, Sound
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
LONGEST = 30_000 * MILLISECOND
"""A stretch without an attack that is longer is parted at its quietest moment."""
LISTENED = 10_000 * MILLISECOND
"""Samples in which attacks are sought in one go."""
RISEN = 60_000
"""Milliseconds that are compared with those before them in one go."""
SEED = 0
"""The stretch turns phases at random; from one seed the same sound comes out every time."""


def slow_down(sound: Sound, speed: Fraction) -> Iterator[Samples]:
    """A sound, shape (n, 2), at a share of its speed: blocks of nearest(n / speed) samples in all. Pitches stay.

    What stands at sample k stands at k / speed afterwards; attacks are within a millisecond of it.
    """
    count = sound.shape[0]
    starts = [0, *(at for at in _joints(sound) if LEAD < at < count - LEAD)]
    edges = [nearest(at / speed) for at in [*starts, count]]
    machine = Signalsmith.Stretch(SEED)
    machine.configure(2, BLOCK, BLOCK // 8)
    held: Samples | None = None
    for (start, end), (place, next_place) in zip(pairwise([*starts, count]), pairwise(edges), strict=True):
        slowed = _slow_part(machine, sound[start:end], next_place - place)
        if held is not None:
            _lead_up(held, sound[start - LEAD : start])
            yield held
        held = slowed
    assert held is not None
    yield held


def slow_part(sound: Sound, start: int, end: int, length: int) -> Samples:
    """A part of a sound, from one attack (or its beginning) up to the next (or its end), in so many samples: what
    `slow_down` makes of it by itself, but for the phases that it turns at random."""
    machine = Signalsmith.Stretch(SEED)
    machine.configure(2, BLOCK, BLOCK // 8)
    slowed = _slow_part(machine, sound[start:end], length)
    if end < sound.shape[0] and min(length, end - start) > LEAD:
        slowed = np.array(slowed)
        _lead_up(slowed, sound[end - LEAD : end])
    return slowed


def _lead_up(slowed: Samples, lead: Samples) -> None:
    """Let what rings at the end of a slowed part make way for what leads up to the next attack."""
    fade = np.ones((LEAD, 1), np.float32)
    fade[:-STILL, 0] = np.sin(np.linspace(0, np.pi / 2, LEAD - STILL)) ** 2
    slowed[-LEAD:] *= 1 - fade
    slowed[-LEAD:] += fade * lead


def _joints(sound: Sound) -> list[int]:
    """The attacks, and where none comes for long, the quietest moment: so that no part is too long to be held."""
    energies = _attack_energies(sound)
    joints = find_attacks(sound, energies)
    for begin, end in pairwise([0, *joints, sound.shape[0]]):
        at = begin
        while end - at > LONGEST:
            low, high = (at + LONGEST * 3 // 4) // MILLISECOND, (at + LONGEST) // MILLISECOND
            at = (low + int(np.argmin(energies[low:high]))) * MILLISECOND
            joints.append(at)
    return sorted(joints)


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


def find_attacks(sound: Sound, energies: NDArray[np.float32] | None = None) -> list[int]:
    """The samples at which something is struck, plucked or begins at once, in order.

    A millisecond counts in which high frequencies become four times as strong as in all of the 25 before; of
    two that are too near, the far stronger one, else the first.
    """
    energy = _attack_energies(sound) if energies is None else energies
    quiet = QUIET_SHARE * float(energy.max(initial=0))
    found: list[int] = []
    for start in range(0, len(energy), RISEN):
        for at in (start + _rises(energy[max(0, start - BEFORE) : start + RISEN], start, quiet)).tolist():
            if not found or at - found[-1] >= SPACING:
                found.append(at)
            elif energy[at : at + 3].max() > RISE * energy[found[-1] : found[-1] + 3].max():
                found[-1] = at
    return [_first_sample(sound, at) for at in found]


def _rises(energy: NDArray[np.float32], start: int, quiet: float) -> NDArray[np.int64]:
    """The milliseconds, counted from `start`, that are RISE times as strong as all of the BEFORE before them.

    `energy` begins so many before `start`, or with the sound; before it is silence.
    """
    padded = np.pad(energy, (max(0, BEFORE - start), 0))
    before = np.lib.stride_tricks.sliding_window_view(padded, BEFORE)[:-1].max(axis=1)
    now = padded[BEFORE:]
    return np.flatnonzero((now > RISE * before) & (now > quiet))


def _attack_energies(sound: Sound) -> NDArray[np.float32]:
    """The energy of what bends sharply, for each whole millisecond."""
    energies = np.zeros(sound.shape[0] // MILLISECOND, np.float32)
    whole = len(energies) * MILLISECOND
    for start in range(0, whole, LISTENED):
        steep = _steepness(sound, start, min(whole, start + LISTENED))
        parts = np.square(steep, dtype=np.float64).reshape(-1, MILLISECOND).sum(axis=1)
        energies[start // MILLISECOND : start // MILLISECOND + len(parts)] = parts
    return energies


def _steepness(sound: Sound, start: int, end: int) -> NDArray[np.float32]:
    """How sharply the sound bends at samples `start` to `end`, both channels together: its attacks stand out."""
    samples = sound[max(0, start - 2) : end]
    if start < 2:
        samples = np.concatenate([np.zeros((2 - start, samples.shape[1]), np.float32), samples])
    return np.asarray(np.abs(np.diff(samples, n=2, axis=0)).sum(axis=1), np.float32)


def _first_sample(sound: Sound, millisecond: int) -> int:
    """The sample at which the rise found in a millisecond begins."""
    start = max(0, (millisecond - 1) * MILLISECOND)
    begin = max(0, start - BEFORE * MILLISECOND)
    steep = _steepness(sound, begin, min(sound.shape[0], start + 4 * MILLISECOND))
    quiet, window = steep[: start - begin], steep[start - begin :]
    threshold = max(float(quiet.max(initial=0)), 0.3 * float(window.max()))
    return start + int(np.argmax(window >= threshold))
