"""How long a long piece takes: `python -m tests.benchmark_timeline [BARS ...]`. Prints figures, asserts nothing.

The piece: so many bars of 4/4, five voices with figures of unlike lengths, a harmony change every bar. The same
repetitions put into music21 as notes with their measures and beats are the yardstick, at few bars, as music21 takes
minutes for many; time is taken per bar.
"""

import resource
import sys
import time
import warnings
from fractions import Fraction
from itertools import pairwise

from renderer.reading.load import parse_spec
from renderer.report.section_advice import describe
from renderer.report.timeline_json import timeline_json
from renderer.timeline.build import build_timeline, plan_timeline
from renderer.timeline.model import Timeline
from renderer.timeline.plan import plan_spec

FIGURES = ([5, 3, 3], [4, 3], [5, 4, 4], [3, 3, 3], [5, 5, 5, 4])
MUSIC21_BARS = 50


def spec_text(bars: int) -> str:
    """The piece as a spec."""
    figures = "".join(f"  f{index}: {groups}\n" for index, groups in enumerate(FIGURES))
    voices = ", ".join(f"v{index}: f{index}" for index in range(len(FIGURES)))
    harmony = "".join(f"  {bar}: {('Em', 'G', 'Dm')[bar % 3]}\n" for bar in range(1, bars + 1))
    return (
        f"title: Long\ntempo: 300\nmeter: 4/4\npulse: 1/16\nfigures:\n{figures}harmony:\n{harmony}"
        f"form:\n  - {{section: A, bars: {bars}, voices: {{{voices}}}}}\n"
    )


def music21_seconds(timeline: Timeline) -> float:
    """How long music21 takes for the timeline's repetitions, with the bar and beat of each."""
    warnings.simplefilter("ignore")
    from music21 import duration, meter, note, stream

    start = time.perf_counter()
    for voice in timeline.voices:
        part = stream.Part()
        part.insert(0, meter.TimeSignature("4/4"))
        for row in timeline.repetitions:
            if row.voice == voice:
                length = duration.Duration(Fraction(row.statement.sounding_length * 4, timeline.grid))
                part.insert(Fraction(row.at * 4, timeline.grid), note.Note("C4", duration=length))
        measures = part.makeMeasures()
        measures.makeTies(inPlace=True)
        _ = [(sounding.measureNumber, sounding.beat) for sounding in measures.recurse().notes]
    return time.perf_counter() - start


def measure(bars: int) -> float:
    """Print one line; return the seconds that the timeline alone took."""
    text = spec_text(bars)
    times = [time.perf_counter()]
    spec = parse_spec(text, "long.yaml")
    times.append(time.perf_counter())
    timeline = build_timeline(spec)
    times.append(time.perf_counter())
    size = len(timeline_json(timeline))
    times.append(time.perf_counter())
    plan = plan_spec(spec)
    lines = len(describe(plan, plan_timeline(plan)))
    times.append(time.perf_counter())
    loading, building, writing, checking = (after - before for before, after in pairwise(times))
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
    print(
        f"{bars:>7,} bars  load {loading:6.3f} s  timeline {building:6.3f} s  JSON {writing:6.3f} s  "
        f"in all {times[3] - times[0]:6.3f} s  check {checking:6.3f} s, {checking / building:.1f} times the timeline  "
        f"{len(timeline.repetitions):>9,} repetitions  JSON {size / 1e6:6.1f} MB  {lines} lines  "
        f"peak so far {peak:,} MB",
        flush=True,
    )
    return building


def main() -> None:
    """Measure at each number of bars, then against music21."""
    sizes = [int(text) for text in sys.argv[1:]] or [1_000, 10_000, 100_000]
    per_bar = [measure(bars) / bars for bars in sizes][-1]
    reference = (
        music21_seconds(build_timeline(parse_spec(spec_text(MUSIC21_BARS), "short.yaml"))) / MUSIC21_BARS
    )
    print(
        f"timeline {per_bar * 1e6:.1f} us a bar, the same in music21 {reference * 1e6:,.0f} us: "
        f"{reference / per_bar:,.0f} times as long"
    )


if __name__ == "__main__":
    main()
