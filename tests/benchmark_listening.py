"""How well figures are found: random forms written as files and read back, and tunes that have none.

    python -m tests.benchmark_listening --forms 500
    python -m tests.benchmark_listening --scores 500
    python -m tests.benchmark_listening --noise 150 --first 20000
    python -m tests.benchmark_listening --tunes 300
    python -m tests.benchmark_listening --notes 20000

Prints figures, checks nothing. Forms are held out: seeds from 5000 on. No file carries its spec here.
"""

import argparse
import resource
import time
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from random import Random
from typing import Any, NamedTuple

import numpy as np

from renderer.core.errors import SpecError
from renderer.export.midi import make_midi
from renderer.export.score import make_score
from renderer.lesson.lesson import Lesson
from renderer.listening.listen import Heard, listen_to
from renderer.listening.midi_file import read_midi
from renderer.listening.musicxml_file import read_musicxml
from renderer.listening.reading import row_of
from renderer.listening.score import Onset, Score, TempoChange
from renderer.listening.sections import lay_sections
from renderer.listening.telling import Symbols, tell
from renderer.listening.words import SURE
from renderer.reading.load import parse_spec
from renderer.timeline.build import build_timeline
from renderer.timeline.model import Timeline
from tests.lessons import make_lesson
from tests.listening_forms import form_text

HELD_OUT = 5000
COLLECTIONS = ("essenFolksong", "oneills1850", "airdsAirs", "ryansMammoth")
EACH = 40
"""Tunes of one file, at most."""


class Verdict(NamedTuple):
    """A form and what was read of it."""

    notes: bool
    """All notes and accents as in the file, by the spec's own timeline."""
    said: bool
    """If not, the comment names the bars."""
    main: bool
    """The main figure: its length, its notes, its beginning."""
    same: bool
    """Every repetition of every figure starts where it did."""
    short: bool
    """No longer than the telling with the true figures."""
    hinted: bool
    """The comment is not sure."""


def lessons(first: int, count: int) -> Iterable[tuple[int, Lesson]]:
    """Forms that are right as specs, from a seed on."""
    seed = first
    while count:
        seed += 1
        try:
            lesson = make_lesson(form_text(seed))
        except SpecError:
            continue
        count -= 1
        yield seed, lesson


def score_of(lesson: Lesson) -> Score:
    """The lesson's own MIDI file, read back: its notes alone, not its spec."""
    (made,) = make_midi(lesson, Fraction(60), notes_only=True)
    return read_midi(made.content, "x")


def hear(score: Score) -> Heard:
    return listen_to(score, Path("form.mid"), "main").heard()


def placed(timeline: Timeline) -> list[tuple[Fraction, bool]]:
    return [(timeline.whole(hit.at), hit.accented) for hit in timeline.hits]


def starts(timeline: Timeline) -> list[tuple[Fraction, Fraction]]:
    """Where statements of figures begin, and how long the figure is."""
    rows = [row for row in timeline.repetitions if row.statement.figure is not None]
    return [(timeline.whole(row.at), timeline.whole(row.statement.length)) for row in rows]


def judge(lesson: Lesson, score: Score, heard: Heard) -> Verdict:
    truth = lesson.timeline
    read = build_timeline(parse_spec(heard.text, "read.yaml"))
    notes = placed(truth) == placed(read)
    said = any("Not as in" in line for line in heard.findings)
    same = starts(truth) == starts(read)
    hinted = not any(SURE in line for line in heard.findings)
    reading = heard.reading
    if reading is None or not reading.figures:
        return Verdict(notes, said, False, same, False, hinted)
    step = reading.laid.pulse
    true = main_figures(truth, step)
    row = row_of(reading.laid, lay_sections(score)[0])
    short = tell(row, [*reading.figures]).bits <= tell(row, [*true.values()]).bits + 1e-6
    used: Counter[str] = Counter()
    for repetition in truth.repetitions:
        used[repetition.statement.figure or ""] += repetition.statement.sounding_length
    (most, _), *_ = ((name, count) for name, count in used.most_common() if name in true)
    main = any(np.array_equal(true[most], figure) for figure in reading.figures)
    return Verdict(notes, said, main, same, short, hinted)


def main_figures(timeline: Timeline, step: Fraction) -> dict[str, Symbols]:
    """The true figures that are played, in pulses of `step`; in pulses that are too coarse, none."""
    found: dict[str, Symbols] = {}
    for row in timeline.repetitions:
        statement = row.statement
        if statement.figure is None or statement.figure in found:
            continue
        figure = timeline.figure(statement.figure)
        pulse = figure.pulse / step
        if (figure.pulses * pulse).denominator != 1:
            continue
        pattern = np.zeros(int(figure.pulses * pulse), np.uint8)
        marked = len({hit.accented for hit in timeline.hits}) > 1
        for hit in figure.hits:
            place = (hit - 1) * pulse
            if place.denominator == 1:
                pattern[int(place)] = 2 if hit in figure.accents or not marked else 1
        found[statement.figure] = pattern
    return found


def score_in_musicxml(lesson: Lesson) -> Score:
    """The lesson's own MusicXML, read back: its notes alone, not its spec. Its voice is called main, as in MIDI."""
    (made,) = make_score(lesson, Fraction(60), notes_only=True)
    score = read_musicxml(made.content, "x")
    named = [part._replace(name="main") if part.name == "figure" else part for part in score.parts]
    return replace(score, parts=tuple(named))


def measure_forms(first: int, count: int, read: Callable[[Lesson], Score]) -> None:
    sums: Counter[str] = Counter()
    begun = time.process_time()
    spent = 0.0
    for seed, lesson in lessons(first, count):
        score = read(lesson)
        start = time.process_time()
        heard = hear(score)
        spent += time.process_time() - start
        verdict = judge(lesson, score, heard)
        sums["notes"] += verdict.notes
        sums["notes or said"] += verdict.notes or verdict.said
        sums["main figure"] += verdict.main
        sums["same"] += verdict.same
        sums["same or as short"] += verdict.same or verdict.short
        bad = not verdict.same and not verdict.short and not verdict.hinted
        sums["different without a hint"] += bad
        sums["hinted"] += verdict.hinted
        sums["no hint, meant otherwise"] += not verdict.hinted and not verdict.same
        if not (verdict.notes or verdict.said) or not (verdict.same or verdict.short):
            print(seed, verdict)
    print(f"{count} forms: {dict(sums)}")
    print(f"{spent / count * 1000:.0f} ms a form to find, {time.process_time() - begun:.0f} s in all")


def spoilt(score: Score, random: Random, dropped: float, seconds: float) -> Score:
    """As somebody might play it: notes left out, each off its place by some seconds (one standard deviation)."""
    whole = 240 / float(score.tempo[0].quarters)
    parts = []
    for part in score.parts:
        moved: dict[int, bool] = {}
        for at, accented in part.onsets:
            if random.random() >= dropped:
                moved[max(0, at + round(random.gauss(0, seconds / whole) * score.grid))] = accented
        onsets = tuple(Onset(at, moved[at]) for at in sorted(moved))
        parts.append(part._replace(onsets=onsets))
    return Score(
        **{**{key: getattr(score, key) for key in score.__dataclass_fields__}, "parts": tuple(parts)}
    )


def tune_score(stream: Any) -> Score:
    """A tune of music21's as a score, by way of its MusicXML, at a tempo if it names none; its ABC reader leaves ties
    without ends."""
    from music21.musicxml.m21ToXml import GeneralObjectExporter

    score = read_musicxml(GeneralObjectExporter(stream).parse(), "x")
    score = replace(score, parts=tuple(part._replace(endless_tie=None) for part in score.parts))
    return score if score.tempo else replace(score, tempo=(TempoChange(score.bars[0].at, Fraction(100)),))


def tunes(count: int) -> Iterable[Score]:
    """Tunes of the collections in music21's corpus, in an order of chance."""
    from music21 import converter, corpus

    paths = [path for path in corpus.getCorePaths() if any(name in str(path) for name in COLLECTIONS)]
    Random(1).shuffle(paths)
    for path in paths:
        found = converter.parse(path)
        for tune in [*found.scores][:EACH] if "Opus" in found.classes else [found]:
            try:
                score = tune_score(tune)
            except Exception as error:
                print("not read:", path.name, error)
                continue
            if any(part.onsets for part in score.parts):
                yield score
                count -= 1
            if not count:
                return


def measure_tunes(count: int, dropped: float) -> None:
    """How often a figure is claimed in tunes, whole and with some notes left out or put in."""
    kinds: Counter[str] = Counter()
    random = Random(2)
    for score in tunes(count):
        for name, heard_score in (("whole", score), ("spoilt", changed(score, random, dropped))):
            heard = listen_to(heard_score, Path("tune.abc"), heard_score.parts[0].name).heard()
            kind = heard.reading.kind if heard.reading else "none"
            kinds[f"{name} {kind}"] += 1
            if kind == "figure":
                print(name, score.title, heard.findings[0])
    print(f"{count} tunes: {dict(kinds)}")


def changed(score: Score, random: Random, share: float) -> Score:
    """Some notes left out, as many put in on places of the grid where there is none."""
    part = score.parts[0]
    step = max(1, score.grid // 16)
    kept = {onset.at: onset.accented for onset in part.onsets if random.random() >= share / 2}
    for _ in range(round(len(part.onsets) * share / 2)):
        kept.setdefault(random.randrange(0, score.end, step), True)
    onsets = tuple(Onset(at, kept[at]) for at in sorted(kept))
    return replace(score, parts=(part._replace(onsets=onsets), *score.parts[1:]))


FIGURES = (
    *("X.xxX.xx.Xx", "X.xX.x.Xx", "Xx.X.xxX.xX.x", "X.xxxX.", "Xxx.X", "X.x.xXx", "XxX.x"),
    *("Xx.xX.x.x", "X.xX.", "X.xx.xXx.", "XxxX.xX.x.x"),
)


def measure_time(notes: int, figures: int) -> None:
    """Reading and finding in ten minutes with so many notes in one part, as MIDI and as a score."""
    names = "abcdefghijk"[:figures]
    text = "\n".join(
        [
            f"title: Long\ntempo: {min(1000, notes // 28)}\nmeter: 4/4\npulse: 1/16\nfigures:",
            *(f"  {name}: {FIGURES[index]}" for index, name in enumerate(names)),
            "form:",
            *(
                f"  - {{section: S{index}, bars: 30, plays: {names[index % figures]}}}"
                for index in range(notes // 336)
            ),
        ]
    )
    lesson = make_lesson(text)
    timeline = lesson.timeline
    print(
        f"{len(timeline.hits)} notes, {figures} figures, {float(timeline.seconds(timeline.end)) / 60:.1f} minutes"
    )
    for kind, make, read in (("MIDI", make_midi, read_midi), ("MusicXML", make_score, read_musicxml)):
        (made,) = make(lesson, Fraction(60), notes_only=True)
        begun = time.process_time()
        score = read(made.content, "x")
        done = time.process_time()
        heard = listen_to(score, Path("long.mid")).heard()
        found = len(heard.reading.figures) if heard.reading else 0
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000
        spent = time.process_time() - done
        print(
            f"{kind}: read in {done - begun:.2f} s, {found} figures found in {spent:.2f} s, {peak:.0f} MB at most"
        )
        print(*(line[:200] for line in heard.findings), sep="\n  ")


def measure_noise(first: int, count: int) -> None:
    found = 0
    for seed, lesson in lessons(first, count):
        score = score_of(lesson)
        heard = hear(spoilt(score, Random(seed), 0.1, 0.02))
        reading = heard.reading
        true = main_figures(lesson.timeline, reading.laid.pulse) if reading else {}
        figures = reading.figures if reading else ()
        right = any(np.array_equal(figures[0], pattern) for pattern in true.values()) if figures else False
        found += right
        if not right:
            print(seed, heard.findings[:2])
    print(f"{count} played forms: main figure found in {found}")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    for kind in ("forms", "scores", "noise", "tunes", "notes"):
        parser.add_argument(f"--{kind}", type=int)
    parser.add_argument("--first", type=int, default=HELD_OUT)
    parser.add_argument("--figures", type=int, default=6)
    options = parser.parse_args()
    if options.forms:
        measure_forms(options.first, options.forms, score_of)
    if options.scores:
        measure_forms(options.first, options.scores, score_in_musicxml)
    if options.noise:
        measure_noise(options.first, options.noise)
    if options.tunes:
        measure_tunes(options.tunes, 0.1)
    if options.notes:
        measure_time(options.notes, options.figures)
