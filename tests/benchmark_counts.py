"""How well a wrong bar count is heard: held-out performances of invented pieces, compared with specs right and wrong.

    python -m tests.benchmark_counts --pieces 100
    python -m tests.benchmark_counts --pieces 50 --figure none
    python -m tests.benchmark_counts --pieces 50 --changing
    python -m tests.benchmark_counts --minutes 10

Prints figures, checks nothing. `--figure none` leaves out the figure and plays 4.5 % faster than written, `--changing`
changes meter and tempo from section to section. `--minutes` says how long one long recording takes, and in how much
memory. Pieces are held out: seeds from 5000 on.

Measured, seeds from 5000 on; drift of 5 %, noise, up to 40 cents out of tune, one count wrong by one or two bars:

                                 pieces   section and direction   can't tell   another   false alarms, right count
    outside the last section         61                      57            4         0                           0
    a fifth of the names wrong       61                      48           12         1                           3
    no figure, 4.5 % faster          14                      14            0         0                           0
    changing meter and tempo         16                      16            0         0                           0

In the last section 19 of 61 were named and none wrongly: mostly nothing in the harmony tells. Ten minutes, 35 sections
and one wrong count: 27 s of processor time, 410 MB in all. No recording of real players was measured.
"""

import argparse
import resource
import time
from collections import Counter
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from renderer.core.errors import SpecError
from renderer.mix.count_verdict import Verdict, judge
from renderer.mix.counts import Heard, compare
from renderer.reading.load import parse_spec
from tests.counted_pieces import CountedPiece, Take, invented_piece, miscounted, misnamed, play

HELD_OUT = 5000
DRIFT = 0.05


class Truth(NamedTuple):
    """The section whose count is wrong, and how many bars it really has more."""

    section: int
    more: int


def told(verdict: Verdict, truth: Truth | None) -> str:
    """What a verdict is worth."""
    if verdict.found != "wrong":
        return {"right": "nothing wrong", "doubtful": "can't tell which"}.get(verdict.found, "can't tell")
    (other,) = verdict.wrong
    if truth is None:
        return f"false alarm, {verdict.sureness}"
    if other.sections != (truth.section,) or (other.more > 0) != (truth.more > 0):
        return f"another section or direction, {verdict.sureness}"
    return "section and direction" + ("" if other.more == truth.more else ", another number of bars")


def cases(seed: int, piece: CountedPiece) -> list[tuple[str, CountedPiece, Truth | None]]:
    """A piece's specs: right, with a wrong count, and the same with a fifth of the chords' names wrong."""
    found: list[tuple[str, CountedPiece, Truth | None]] = [("right spec", piece, None)]
    found.append(("right spec, a fifth of the names wrong", misnamed(piece, seed), None))
    for name, last in (("wrong count", False), ("wrong count in the last section", True)):
        wrong = miscounted(piece, seed, last)
        if wrong:
            spec, section, more = wrong
            found.append((name, spec, Truth(section, more)))
            if not last:
                named = misnamed(spec, seed)
                found.append((f"{name}, a fifth of the names wrong", named, Truth(section, more)))
    return found


def measure(first: int, pieces: int, changing: bool, figure: bool) -> None:
    sums: dict[str, Counter[str]] = {}
    begun = time.process_time()
    for seed in range(first, first + pieces):
        piece = invented_piece(seed, changing)
        take = play(piece, seed, DRIFT, 1.0 if figure else 1.045, figure)
        heard = Heard(take.sound)
        for name, spec, truth in cases(seed, piece):
            try:
                compared = compare(heard, parse_spec(spec.text(), "piece.yaml"), take.bar_one)
            except SpecError:
                continue  # a count that the written positions don't allow
            word = told(judge(compared), truth)
            sums.setdefault(name, Counter())[word] += 1
    for name, counts in sums.items():
        print(f"{name}, {counts.total()}:")
        for word, count in counts.most_common():
            print(f"  {count:4} {word}")
    print(f"{(time.process_time() - begun) / pieces:.1f} s of processor time a piece, playing it with it")


def measure_time(minutes: float) -> None:
    """A long recording: pieces one after another, in one spec."""
    pieces = [invented_piece(seed) for seed in range(HELD_OUT, HELD_OUT + 40)]
    same = [piece for piece in pieces if piece.meter == pieces[0].meter]
    sections = [section for piece in same for section in piece.sections]
    long, seconds = pieces[0], 0.0
    for count in range(1, len(sections) + 1):
        named = tuple(replace(section, name=f"S{index}") for index, section in enumerate(sections[:count]))
        long = CountedPiece(pieces[0].tempo, pieces[0].meter, named)
        timeline = long.timeline()
        seconds = float(timeline.seconds(timeline.end))
        if seconds >= 60 * minutes:
            break
    take: Take = play(long, 1)
    sound = np.ascontiguousarray(take.sound)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    begun, wall = time.process_time(), time.monotonic()
    heard = Heard(sound)
    listened = time.process_time() - begun
    compared = compare(heard, parse_spec(long.text(), "piece.yaml"), take.bar_one)
    spent, passed = time.process_time() - begun, time.monotonic() - wall
    after = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    print(f"{seconds / 60:.1f} minutes, {len(long.sections)} sections, {len(timeline.bars)} bars:")
    print(f"{spent:.1f} s of processor time, {listened:.1f} of it listening; {passed:.1f} s passed")
    print(f"{(after - before) / 1024:.0f} MB more than before; {judge(compared).found}")


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--pieces", type=int, default=0)
    parser.add_argument("--from", dest="first", type=int, default=HELD_OUT)
    parser.add_argument("--changing", action="store_true")
    parser.add_argument("--figure", choices=("played", "none"), default="played")
    parser.add_argument("--minutes", type=float, default=0)
    options = parser.parse_args()
    if options.pieces:
        measure(options.first, options.pieces, options.changing, options.figure == "played")
    if options.minutes:
        measure_time(options.minutes)


if __name__ == "__main__":
    main()
