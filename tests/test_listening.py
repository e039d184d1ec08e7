"""Finding the figure: the search against a plain recursion, forms that are written as files and read back, and tunes
from music21's corpus in which there is none.

Forms are held out (see `listening_forms`); `python -m tests.benchmark_listening` measures many more.
"""

from dataclasses import replace
from fractions import Fraction
from functools import cache
from math import log2
from pathlib import Path
from random import Random

import music21
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from renderer.export.score import make_score
from renderer.listening.grouping import groups_of, heads_of, hits_text
from renderer.listening.listen import listen_to
from renderer.listening.musicxml_file import read_musicxml
from renderer.listening.reading import are_even_notes
from renderer.listening.repetitions import candidates, is_multiple
from renderer.listening.score import Onset, Score, ScorePart
from renderer.listening.telling import Row, alone_bits, figure_bits, tell, telling_bits
from renderer.reading.load import parse_spec
from renderer.timeline.build import build_timeline
from tests.benchmark_listening import (
    HELD_OUT,
    hear,
    judge,
    lessons,
    placed,
    score_of,
    spoilt,
    tune_score,
)
from tests.lessons import make_lesson

FORMS = 12


def row_from(symbols: list[int], lines: list[int]) -> Row:
    array = np.array(symbols, np.uint8)
    marks = np.zeros(len(array) + 1, np.bool_)
    marks[[0, len(array), *lines]] = True
    return Row(array, alone_bits(array), marks)


def plain_bits(row: Row, figures: list[tuple[int, ...]]) -> float:
    """The cheapest telling by trying all: each statement in turn, from every place and after every figure."""
    symbols, count = row.symbols.tolist(), len(row.symbols)
    start = 3 + log2(max(1, len(figures)))

    @cache
    def rest(at: int, runs: int) -> float:
        # What ran on to here stops here, unless it goes on.
        over = runs >= 0 and bool(np.any(row.lines[max(0, at - len(figures[runs])) + 1 : at]))
        stopped = 0.0 if runs < 0 or row.lines[at] else 1.0 if over else 3.0
        if at == count:
            return stopped
        best = 1e9
        for index, figure in enumerate(figures):
            begin = 0.0 if index == runs else stopped + start
            wrong = 0.0
            for played in range(1, len(figure) + 1):
                if at + played > count:
                    break
                wrong += 16 * (symbols[at + played - 1] != figure[played - 1])
                if played == len(figure):
                    best = min(best, begin + wrong + rest(at + played, index))
                else:
                    part = 0.0 if row.lines[at + played] else 3 + log2(len(figure))
                    best = min(best, begin + wrong + part + rest(at + played, -1))
        if symbols[at]:
            for end in range(at + 1, count + 1):
                best = min(best, stopped + 6 + float(sum(row.alone[at:end])) + rest(end, -1))
        else:
            end = at
            while end < count and not symbols[end]:
                end += 1
                best = min(best, stopped + 3 + rest(end, -1))
        return best

    return rest(0, -1) + sum(figure_bits(np.array(figure, np.uint8)) for figure in figures)


FIGURES = st.lists(st.sampled_from(((2, 0, 1), (2, 0, 0, 2, 0), (2, 1))), max_size=2, unique=True)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.sampled_from((0, 0, 1, 2)), min_size=1, max_size=14), st.sets(st.integers(1, 12)), FIGURES)
def test_the_search_finds_what_trying_all_finds(
    symbols: list[int], lines: set[int], figures: list[tuple[int, ...]]
) -> None:
    row = row_from(symbols, [line for line in lines if line < len(symbols)])
    patterns = [np.array(figure, np.uint8) for figure in figures]
    assert telling_bits(row, patterns) == pytest.approx(plain_bits(row, figures))
    told = tell(row, patterns)
    assert [each.at for each in told.statements] == [0, *(each.end for each in told.statements[:-1])]
    assert told.statements[-1].end == len(symbols)


def test_what_repeats_is_offered_by_its_shortest_length() -> None:
    """The figure four times between other notes, by hand."""
    figure = [2, 0, 0, 0, 2, 0, 0]
    row = row_from([1, 1, *figure * 4, 1, 1, 1], [2])
    best = candidates(row.symbols, row.alone, row.lines)[0]
    assert bytes(figure) in best.beginnings
    assert is_multiple(bytes(figure * 3))
    assert not is_multiple(bytes(figure))


def test_groups_and_hits_are_read_from_accents() -> None:
    pattern = np.array([2, 0, 1, 1, 0, 2, 0, 1, 2, 1, 0], np.uint8)
    assert heads_of(pattern) == "accents"
    assert groups_of(pattern, "accents") == (5, 3, 3)
    assert hits_text(pattern, marked=True) == "X.xx. X.x Xx."
    assert hits_text(np.minimum(pattern * 2, 2), marked=False) == "X.XX.X.XXX."


@pytest.fixture(scope="module", params=range(FORMS))
def form(request: pytest.FixtureRequest) -> tuple[int, Score, object]:
    first = HELD_OUT + 100 * int(request.param)
    (seed, lesson), *_ = [*lessons(first, 1)]
    return seed, score_of(lesson), lesson


def test_a_form_that_was_written_as_midi_comes_back(form: tuple[int, Score, object]) -> None:
    seed, score, lesson = form
    heard = hear(score)
    verdict = judge(lesson, score, heard)  # type: ignore[arg-type]
    assert verdict.notes, seed
    assert verdict.main, seed
    assert verdict.same or verdict.short, seed


@pytest.mark.parametrize("first", [HELD_OUT + 2000, HELD_OUT + 2100, HELD_OUT + 2200])
def test_a_form_that_was_written_as_a_score_comes_back(first: int) -> None:
    """With its ties over bar lines, chord symbols and rehearsal marks."""
    (_, lesson), *_ = [*lessons(first, 1)]
    content = make_score(lesson, Fraction(60))[0].content
    heard = listen_to(read_musicxml(content, "x"), Path("form.musicxml")).heard()
    read = build_timeline(parse_spec(heard.text, "read.yaml"))
    assert placed(read) == placed(lesson.timeline)
    assert [(row.name, row.at) for row in read.sections] == [
        (row.name, row.at * read.grid // lesson.timeline.grid) for row in lesson.timeline.sections
    ]
    assert [(row.name, read.whole(row.at)) for row in read.harmony] == [
        (row.name, lesson.timeline.whole(row.at)) for row in lesson.timeline.harmony
    ]


FERRY = """
title: Ferry Song
tempo: 112
meter: 4/4
pulse: 1/16
figures: {kiln: [5, 3, 3], brief: {groups: [3, 3, 2], from: kiln}}
form:
  - {section: Bank, bars: 12, plays: kiln}
  - {section: Mill, bars: 12, plays: on}
  - {section: Weir, bars: 8, plays: [{figure: brief, times: 5}, {tail: [4, 4]}, {rest: 4}, kiln], starts: after}
"""


def test_what_was_found_is_said_and_written() -> None:
    heard = hear(score_of(make_lesson(FERRY)))
    assert heard.findings == (
        "A figure was found in main that crosses the bars: 11 sixteenths, 5+3+3, 41 times whole.",
        "How sure: look at what follows.",
        "Notes that belong to no figure are tails of their own: bar 27.",
        "All notes of main are as in the file.",
    )
    assert heard.text.endswith(
        """
title: Ferry Song
tempo: 112
meter: 4/4
pulse: 1/16

figures:
  figure A: [5, 3, 3]
  figure B: [3, 3, 2]

parts: {main: figure}

form:
  - section: Bank
    bars: 12
    plays: figure A
  - section: Mill
    bars: 12
    plays: on
  - section: Weir
    bars: 8
    plays: [{figure: figure B, times: 5}, {tail: [4, 8]}, figure A]
    starts: after

click: {every: beat, count_in: 1}
segments: [figure, spread, play]
"""
    )


def test_the_part_that_shows_a_figure_is_chosen_and_who_keeps_it_is_told() -> None:
    score = score_of(make_lesson(FERRY))
    (main,) = (part for part in score.parts if part.name == "main")
    beats = tuple(Onset(at, True) for at in range(0, score.end, score.grid // 4))
    parts = (ScorePart("Bass", beats, False), main, main._replace(name="Horn"))
    heard = listen_to(replace(score, parts=parts), Path("ferry.mid")).heard()
    assert heard.part.name == "main"
    assert "parts: {Bass: meter, main: figure, Horn: figure}" in heard.text
    named = listen_to(replace(score, parts=parts), Path("ferry.mid"), "Horn").heard()
    assert named.part.name == "Horn"


def test_each_reading_plays_the_notes_of_the_file_and_the_surest_is_first() -> None:
    """Each has the main figure from another note. Where it is written as it was, the notes are those of the file."""
    several = 0
    for _, lesson in lessons(HELD_OUT + 4000, 6):
        score = score_of(lesson)
        listened = listen_to(score, Path("form.mid"), "main")
        assert listened.choices[0].longer == 0
        rest = [choice.longer for choice in listened.choices[1:]]
        assert rest == sorted(rest)
        main = [np.concatenate([each.reading.figures[0]] * 2) for each in listened.choices[:1]]
        for number, choice in enumerate(listened.choices, 1):
            heard = listened.heard(number)
            figure = choice.reading.figures[0].tobytes()
            assert figure in main[0].tobytes()
            if any("All notes" in line for line in heard.findings):
                timeline = build_timeline(parse_spec(heard.text, "form.yaml"))
                played = sorted({timeline.whole(hit.at) for hit in timeline.hits})
                assert played == [Fraction(onset.at, score.grid) for onset in listened.part.onsets]
        several += len(listened.choices) > 1
    assert several >= 3


def test_a_played_form_shows_its_figure() -> None:
    """One note in ten left out, the others off their places by 20 ms (standard deviation)."""
    right = 0
    for seed, lesson in lessons(HELD_OUT + 3000, 5):
        score = score_of(lesson)
        reading = hear(spoilt(score, Random(seed), 0.1, 0.02)).reading
        clean = hear(score).reading
        assert reading is not None
        assert clean is not None
        lengths = [len(each.figures[0]) * each.laid.pulse for each in (reading, clean) if each.figures]
        right += len(lengths) == 2 and lengths[0] == lengths[1]
    assert right >= 4


TUNES = (
    *(("essenFolksong/han1", number) for number in (1, 5, 9, 14, 22)),
    *(("airdsAirs/book1", number) for number in (1, 3, 8, 12)),
    *(("oneills1850/0001-0050", number) for number in (2, 6, 17, 23)),
)


@pytest.mark.parametrize(("name", "number"), TUNES)
def test_no_figure_is_claimed_in_a_tune_that_keeps_to_its_bars(name: str, number: int) -> None:
    """Tunes of music21's corpus (Essen, Aird, O'Neill)."""
    score = tune_score(music21.corpus.parse(name, number=number))
    heard = listen_to(score, Path("tune.abc")).heard()
    assert heard.reading is not None
    assert heard.reading.kind != "figure"


def test_a_prelude_in_step_with_its_bars_is_an_ostinato() -> None:
    """Bach's BWV 846, from music21's corpus: half a bar, played nearly throughout; the upper staff."""
    score = tune_score(music21.corpus.parse("bach/bwv846"))
    heard = listen_to(score, Path("prelude.mxl"), score.parts[0].name).heard()
    assert heard.reading is not None
    assert heard.reading.kind == "ostinato"
    assert len(heard.reading.figures[0]) * heard.reading.laid.pulse == Fraction(1, 2)
    assert "in step with the bar" in heard.findings[0]


def test_even_notes_are_no_figure() -> None:
    score = score_of(make_lesson(FERRY))
    even = tuple(Onset(at, True) for at in range(0, score.end, score.grid // 8))
    heard = listen_to(replace(score, parts=(ScorePart("Reed", even, False),)), Path("x.mid")).heard()
    assert heard.reading is not None
    assert heard.reading.kind == "none"
    assert heard.findings[0].startswith("No figure was found in Reed: nothing comes 3 times on end")


def test_one_note_that_divides_every_bar_is_even_notes() -> None:
    one = np.array([2, 0, 0, 0, 0, 0], np.uint8)
    assert are_even_notes(one, {48, 36})
    assert not are_even_notes(one, {48, 32})
    assert not are_even_notes(np.array([2, 0, 1, 0, 0, 0], np.uint8), {48})
