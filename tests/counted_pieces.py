"""Invented pieces with chords, their performances, and specs of them in which one section's bars are counted wrong.

All follows from a seed. The instruments are this file's own, unlike those of the product: a reed, a bell, a plucked
bass, brushes; with noise, a drifting tempo, and a tuning of their own. Seeds below 1000 were used while the comparison
was written; those from 5000 on only measure it.
"""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from random import Random

import numpy as np
import soxr
from numpy.typing import NDArray

from renderer.audio.pitch import read_chord
from renderer.reading.load import parse_spec
from renderer.timeline.build import build_timeline
from renderer.timeline.model import Timeline
from tests.performances import RATE

LOW_RATE = 12_000
"""Samples a second of what is played, before it is brought to those of a recording."""
NAMES = ("Alder", "Bramble", "Cobble", "Dune", "Ember", "Fennel")
SCALES = ((0, 2, 4, 5, 7, 9, 11), (0, 2, 3, 5, 7, 8, 10))
NOTES = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")


@dataclass(frozen=True)
class WrittenSection:
    """A section as its writer thinks of it: chords from bars on, counted from the front or (below 0) from the end."""

    name: str
    bars: int
    chords: tuple[tuple[str, tuple[str, ...]], ...]
    """(position, names): several names take turns, a bar each."""
    more: str = ""

    def text(self) -> str:
        """The form's entry in a spec."""
        entries = ", ".join(
            f"{at}: {row[0] if len(row) == 1 else '[' + ', '.join(row) + ']'}" for at, row in self.chords
        )
        harmony = f", harmony: {{{entries}}}" if entries else ""
        return f"  - {{section: {self.name}, bars: {self.bars}{harmony}{self.more}}}"


@dataclass(frozen=True)
class CountedPiece:
    """A piece; `changing` pieces have sections in other meters and tempi."""

    tempo: Fraction
    meter: str
    sections: tuple[WrittenSection, ...]

    def text(self, sync: float | None = None) -> str:
        """The piece as a spec, with a figure that runs over its bars."""
        lines = [
            f"tempo: {float(self.tempo):g}",
            f"meter: {self.meter}",
            "pulse: 1/16",
            "figures: {kiln: [5, 3, 3]}",
            "form:",
            *(section.text() for section in self.sections),
        ]
        if sync is not None:
            lines += ["recording: take.wav", f"sync: {{1: {sync:.3f}}}"]
        return "\n".join(lines) + "\n"

    def timeline(self) -> Timeline:
        return build_timeline(parse_spec(self.text(), "piece.yaml"))


def invented_piece(seed: int, changing: bool = False) -> CountedPiece:
    """Three to six sections of 6 to 16 bars over chords of one key, some borrowed; each has its own way of changing."""
    random = Random(seed)
    key, scale = random.randrange(12), random.choice(SCALES)
    meter = random.choice(("4/4", "4/4", "4/4", "3/4", "5/4", "7/8 in 2+2+3", "6/8 in 2"))
    tempo = Fraction(random.choice((84, 92, 100, 108, 116, 126, 138)))
    sections = []
    for index in range(random.randint(3, 6)):
        bars = random.randint(6, 16)
        more = ", plays: kiln" if index == 0 else ", plays: on"
        if changing and index and random.random() < 0.6:
            if random.random() < 0.6:
                other = random.choice(
                    [each for each in ("4/4", "3/4", "5/4", "7/8 in 2+2+3") if each != meter]
                )
                more += f", meter: {{1: {other}}}"
            if random.random() < 0.6:
                more += f", tempo: {round(float(tempo) * random.choice((0.75, 0.84, 1.15, 1.25)))}"
        sections.append(WrittenSection(NAMES[index], bars, _chords(random, key, scale, bars), more))
    return CountedPiece(tempo, meter, tuple(sections))


def _chord(random: Random, key: int, scale: Sequence[int]) -> str:
    degree = random.choice((0, 0, 1, 2, 3, 3, 4, 4, 5, 5, 6))
    root = (key + scale[degree]) % 12
    third = (scale[(degree + 2) % 7] - scale[degree]) % 12
    if random.random() < 0.1:
        third = 7 - third
    return NOTES[root] + ("m" if third == 3 else "") + random.choice(("", "", "", "7"))


def _row(random: Random, key: int, scale: Sequence[int], count: int) -> tuple[str, ...]:
    row: list[str] = []
    while len(row) < count:
        chord = _chord(random, key, scale)
        if not row or row[-1] != chord:
            row.append(chord)
    return tuple(row)


def _chords(
    random: Random, key: int, scale: Sequence[int], bars: int
) -> tuple[tuple[str, tuple[str, ...]], ...]:
    kind = random.random()
    if kind < 0.4:
        row = _row(random, key, scale, random.randint(2, 4))
        last = (str(-random.randint(1, 2)), (_chord(random, key, scale),))
        return (("1", row), last) if random.random() < 0.4 else (("1", row),)
    count = random.randint(2, 4)
    places = sorted(random.sample(range(2, bars), min(count - 1, bars - 2)))
    row = _row(random, key, scale, len(places) + 1)
    found = [("1", (row[0],))]
    for place, name in zip(places, row[1:], strict=True):
        if place >= bars - 3 and random.random() < 0.6:
            found.append((str(place - bars - 1), (name,)))
        else:
            found.append((f"{place}.2" if random.random() < 0.25 else str(place), (name,)))
    return tuple(found)


def miscounted(piece: CountedPiece, seed: int, last: bool = False) -> tuple[CountedPiece, int, int] | None:
    """The piece with one wrong count, the index of that section, and how many bars it really has more.

    The writer has either laid all out from the wrong count, or counted one chord too long or too short.
    """
    random = Random(seed * 7 + 3)
    index = len(piece.sections) - 1 if last else random.randrange(len(piece.sections) - 1)
    section = piece.sections[index]
    more = random.choice((-1, -1, 1, 1, -2, 2))
    wrong = section.bars - more
    chords = list(section.chords)
    positive = [at for at, (place, _) in enumerate(chords) if not place.startswith("-")]
    if len(positive) > 1 and random.random() < 0.5:
        turn = random.choice(positive[1:])
        for at in positive[positive.index(turn) :]:
            bar, _, beat = chords[at][0].partition(".")
            chords[at] = (f"{int(bar) - more}{'.' + beat if beat else ''}", chords[at][1])
    ends = [int(place.partition(".")[0]) for place, _ in chords]
    reached = [end if end > 0 else wrong + 1 + end for end in ends]
    if min(reached) < 1 or max(reached) > wrong or sorted({*reached}) != reached:
        return miscounted(piece, seed + 1_000_003, last) if seed < 10**8 else None
    changed = replace(section, bars=wrong, chords=tuple(chords))
    return replace(piece, sections=_with(piece.sections, index, changed)), index, more


def _with(
    sections: tuple[WrittenSection, ...], index: int, section: WrittenSection
) -> tuple[WrittenSection, ...]:
    return (*sections[:index], section, *sections[index + 1 :])


def misnamed(piece: CountedPiece, seed: int, share: float = 0.2) -> CountedPiece:
    """The piece with a share of its chord names wrong, each by itself."""
    random = Random(seed * 11 + 5)

    def wrong(name: str) -> str:
        if random.random() >= share:
            return name
        others = [each + kind for each in NOTES for kind in ("", "m")]
        return random.choice([each for each in others if read_chord(each) != read_chord(name)])

    sections = tuple(
        replace(each, chords=tuple((at, tuple(map(wrong, row))) for at, row in each.chords))
        for each in piece.sections
    )
    return replace(piece, sections=sections)


@dataclass(frozen=True)
class Take:
    """A performance: its sound at 48,000 samples a second, shape (n, 1), and where each tick-mark of bars lies."""

    sound: NDArray[np.float32]
    bar_one: float
    bars: tuple[float, ...]
    """Where each bar begins, in seconds."""


def play(piece: CountedPiece, seed: int, drift: float = 0.05, off: float = 1.0, figure: bool = True) -> Take:
    """A performance of a piece, `off` times as fast as written, whose tempo drifts by a share."""
    timeline, random = piece.timeline(), np.random.default_rng(seed)
    bars = [bar for bar in timeline.bars if bar.number >= 1]
    written = np.array(
        [float(timeline.seconds(bar.at)) for bar in bars] + [float(timeline.seconds(timeline.end))]
    )
    count = len(bars)
    phase, turn = random.uniform(0, 6.28), random.uniform(2, 5)
    wander = drift * np.sin(np.arange(count) / turn + phase) + random.normal(0, drift / 4, count)
    bar_one = float(random.uniform(0.4, 3.0))
    heard = bar_one + np.concatenate([[0], np.cumsum(np.diff(written) / off * (1 + wander))])

    def placed(at: int) -> float:
        return float(np.interp(float(timeline.seconds(at)), written, heard))

    seconds = float(heard[-1]) + float(random.uniform(0.5, 3.0))
    band = _Band(random, seconds)
    for field in timeline.harmony:
        edges = sorted({field.at, field.end, *(bar.at for bar in bars if field.at < bar.at < field.end)})
        for begin, end in itertools.pairwise(edges):
            band.chord(field.name, placed(begin), placed(end))
    for beat in timeline.beats:
        name = next((each.name for each in reversed(timeline.harmony) if each.at <= beat.at), "N.C.")
        band.beat(name, placed(beat.at), placed(beat.end), beat.number)
    if figure:
        for hit in timeline.hits:
            name = next((each.name for each in reversed(timeline.harmony) if each.at <= hit.at), "N.C.")
            band.hit(name, placed(hit.at), hit.accented)
    return Take(band.sound(), bar_one, tuple(map(float, heard)))


class _Band:
    """Instruments of one evening: chosen, tuned and mixed at random. Some add tones to the chords that are written,
    some come in early, and the melody has tones of its own."""

    def __init__(self, random: np.random.Generator, seconds: float) -> None:
        self._random = random
        self._track = np.zeros(round(seconds * LOW_RATE) + 1, np.float32)
        self._tuning = random.uniform(-0.4, 0.4)
        self._reed = random.random() < 0.5
        self._levels = 10 ** (-random.uniform(0, 12, 4) / 20)
        self._noise = 10 ** (-random.uniform(18, 34) / 20)
        self._early = random.uniform(0.05, 0.15) if random.random() < 0.3 else 0.0
        self._richer = random.random() < 0.4
        self._strums = int(random.integers(1, 3))
        self._walks = random.random() < 0.4
        self._sparse = random.random() < 0.5

    def chord(self, name: str, begin: float, end: float) -> None:
        """A chord, held or broken, from one second to another."""
        keys = self._keys(name, 55)
        if self._richer and keys and self._random.random() < 0.4:
            keys.append(keys[0] + int(self._random.choice((9, 10, 11, 14))))
        if self._early and self._random.random() < 0.5:
            begin, end = max(0.0, begin - self._early), end - self._early
        if self._reed:
            for key in keys:
                self._tone(key, begin, end - begin, 0.12 * self._levels[0], (1, 0.5, 0.35, 0.2, 0.15), 3.0)
            return
        step = (end - begin) / max(1, 2 * round((end - begin) * self._strums / 1.2))
        for index in range(max(1, round((end - begin) / step))):
            key = keys[index % len(keys)]
            self._tone(key, begin + index * step, 3 * step, 0.25 * self._levels[0], (1, 0.3, 0.1, 0.06), 0.5)

    def beat(self, name: str, begin: float, end: float, number: int) -> None:
        """Bass and brushes on a beat."""
        keys = self._keys(name, 33)
        if keys and (number == 1 or self._walks or self._random.random() < 0.3):
            key = keys[0] if number == 1 or self._random.random() < 0.5 else int(self._random.choice(keys))
            key += (
                int(self._random.choice((-2, -1, 1, 2))) if number > 1 and self._random.random() < 0.15 else 0
            )
            self._tone(key, begin, (end - begin) * 0.9, 0.4 * self._levels[1], (1, 0.6, 0.4, 0.2, 0.1), 0.7)
        if number == 1:
            self._brush(begin, 0.5 * self._levels[2], 0.06, 3)
        elif not self._sparse or self._random.random() < 0.6:
            self._brush(begin, 0.25 * self._levels[2], 0.03, 1)

    def hit(self, name: str, at: float, accented: bool) -> None:
        """A note of the figure: of the chord, or beside it."""
        keys = self._keys(name, 67)
        if not keys:
            return
        key = int(self._random.choice(keys))
        if self._random.random() < 0.3:
            key += int(self._random.choice((-2, 1, 2)))
        level = (0.3 if accented else 0.18) * self._levels[3]
        self._tone(key, at, 0.35, level, (1, 0.0, 0.3, 0.0, 0.12), 0.15, stretch=1.003)

    def sound(self) -> NDArray[np.float32]:
        """All of it, with the room's noise and echo, shape (n, 1) at RATE."""
        track = self._track
        for delay, level in ((0.031, 0.3), (0.047, 0.25), (0.083, 0.15)):
            late = round(delay * LOW_RATE)
            track[late:] += level * track[:-late]
        track += self._random.normal(0, self._noise * float(np.abs(track).max()) / 3, len(track)).astype(
            np.float32
        )
        loud = soxr.resample(track / (1.1 * float(np.abs(track).max())), LOW_RATE, RATE, "LQ")
        return np.asarray(loud, np.float32)[:, np.newaxis]

    def _keys(self, name: str, low: int) -> list[int]:
        chord = read_chord(name)
        if chord is None:
            return []
        root = low + (chord.root - low) % 12
        return [
            root,
            root + (chord.third or 7),
            root + chord.fifth,
            *([root + 10] if name.endswith("7") else []),
        ]

    def _tone(
        self,
        key: float,
        at: float,
        length: float,
        level: float,
        partials: Sequence[float],
        ring: float,
        stretch: float = 1.0,
    ) -> None:
        begin = round(at * LOW_RATE)
        count = min(round(length * LOW_RATE), len(self._track) - begin)
        if count < 60:
            return
        seconds = np.arange(count, dtype=np.float32) / np.float32(LOW_RATE)
        hertz = 440 * 2 ** ((key - 69 + self._tuning) / 12)
        wave = np.zeros(count, np.float32)
        for number, share in enumerate(partials, start=1):
            if share and hertz * number < LOW_RATE / 2.2:
                angle = np.float32(2 * np.pi * hertz * number * stretch ** (number - 1)) * seconds
                wave += np.float32(share) * np.sin(angle + np.float32(self._random.uniform(0, 6.28)))
        wave *= np.exp(-seconds / np.float32(ring))
        rise = min(count, 60)
        wave[:rise] *= np.linspace(0, 1, rise, dtype=np.float32)
        wave[-rise:] *= np.linspace(1, 0, rise, dtype=np.float32)
        self._track[begin : begin + count] += np.float32(level) * wave

    def _brush(self, at: float, level: float, decay: float, smooth: int) -> None:
        begin = round(at * LOW_RATE)
        count = min(round(5 * decay * LOW_RATE), len(self._track) - begin)
        if count < 10:
            return
        noise = self._random.normal(0, 0.5, count)
        noise = np.convolve(noise, np.ones(smooth) / smooth, "same")
        noise *= np.exp(-np.arange(count) / (decay * LOW_RATE))
        self._track[begin : begin + count] += (level * noise).astype(np.float32)
