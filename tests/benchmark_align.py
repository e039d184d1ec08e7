"""How many performances `align` follows: `python -m tests.benchmark_align [first seed]`. Checks nothing.

Made by lot (tests/ensembles.py): chords, a bass, perhaps drums, 48 bars, a tempo that wanders by 3 %; all 4.5 % off the
spec's. The spec has a figure that nobody plays. Seeds of the tests are others.
"""

import sys
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from tempfile import TemporaryDirectory
from time import perf_counter

import numpy as np

from renderer.audio.audio_file import read_recording
from renderer.core.errors import FileError
from renderer.lesson.lesson import open_lesson
from renderer.mix.align import WITHIN, Alignment, align, listen
from tests.ensembles import Ensemble, wandering_bars
from tests.performances import write_take

PERFORMANCES, BARS = 24, 48
WRONG = (0.0, 0.02, -0.02, 0.07, -0.07, 0.11, -0.11, 0.15, -0.15)
"""Seconds by which the given bar 1 is wrong."""


def spec_of(tempo: float, start: Fraction, bars: int = BARS) -> str:
    """A piece in 4/4 with a figure of eleven, in sections of eight bars."""
    names = [chr(ord("A") + number) for number in range(-(-bars // 8))]
    form = "".join(
        f"  - {{section: {name}, bars: {min(8, bars - 8 * number)}}}\n" for number, name in enumerate(names)
    )
    form = (
        form.replace("}", ", plays: kiln}", 1).replace("}", ", plays: on}").replace("kiln, plays: on", "kiln")
    )
    return (
        f"tempo: {tempo}\nmeter: 4/4\npulse: 1/16\nfigures: {{kiln: [5, 3, 3]}}\n"
        f"recording: take.wav\nsync: {{1: {float(start):.3f}}}\nform:\n{form}"
    )


def lay(seed: int, bars: int = BARS) -> tuple[int, float, list[Fraction]]:
    """The spec's tempo, how much longer a bar lasts in the performance, and where its bars begin."""
    random = np.random.default_rng(seed + 1000)
    tempo, off = int(random.integers(76, 168)), 1.045 if seed % 2 else 1 / 1.045
    start = 0.5 + float(random.uniform(0, 2))
    return tempo, off, wandering_bars(bars, 240 / tempo * off, start, seed)


def worst(found: Alignment, bars: list[Fraction]) -> float:
    """How far from the truth a bar was heard at most, in seconds."""
    return max(abs(float(bar.heard - bars[bar.bar - 1])) for bar in found.bars)


def followed(first: int) -> Iterator[str]:
    whole, right, moved, better, slipped = 0, 0, 0, 0, []
    with TemporaryDirectory() as folder:
        for seed in range(first, first + PERFORMANCES):
            tempo, _, bars = lay(seed)
            write_take(Path(folder) / "take.wav", Ensemble(seed).play(bars))
            recording = read_recording(Path(folder) / "take.wav")
            heard = listen(recording)
            piece = Path(folder) / "piece.yaml"
            for tempos, name in ((1.0, "as it is"), (1.12, "spec a further 12 % slow"), (1 / 1.12, "fast")):
                piece.write_text(spec_of(round(tempo / tempos, 2), bars[0]), encoding="utf-8")
                began = perf_counter()
                try:
                    found = align(recording, open_lesson(piece).timeline, heard=heard)
                    error, sure = worst(found, bars), ", ".join(each.sureness for each in found.sections)
                except FileError:
                    error, sure = 0.0, "not followed"
                slip = error > 0.25 * 60 / tempo
                slipped += [f"{seed}, {name}"] if slip else []
                whole += not slip and "not followed" not in sure
                yield f"{seed} {name}: {error * 1000:.0f} ms at most; {sure}; {perf_counter() - began:.1f} s"
            piece.write_text(spec_of(tempo, bars[0]), encoding="utf-8")
            timeline = open_lesson(piece).timeline
            for wrong in WRONG:
                given = bars[0] + Fraction(round(wrong * 1000), 1000)
                found = align(recording, timeline, given, WITHIN, heard)
                off = float(found.bars[0].heard - bars[0])
                if abs(wrong) < 0.05:
                    right += 1
                    moved += found.moved is not None
                else:
                    better += abs(off) <= 0.05
                if found.moved is not None or abs(wrong) >= 0.05:
                    yield f"{seed} bar 1 {wrong * 1000:+.0f} ms wrong: answered with {off * 1000:+.0f} ms"
    yield f"followed to the end: {whole} of {3 * PERFORMANCES}; slipped: {len(slipped)} {slipped}"
    yield f"bar 1 wrong by 70 to 150 ms, answered within 50 ms: {better} of {PERFORMANCES * 6}"
    yield f"bar 1 right to 20 ms, moved: {moved} of {right}"


if __name__ == "__main__":
    for line in followed(int(sys.argv[1]) if len(sys.argv) > 1 else 100):
        print(line, flush=True)
