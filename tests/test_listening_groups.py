"""Where a figure's groups begin when a file accents some of its notes. The files are made by mido."""

from fractions import Fraction
from itertools import accumulate
from pathlib import Path

import pytest

from renderer.listening.listen import Listened, listen_to
from renderer.listening.midi_file import read_midi
from renderer.reading.load import parse_spec
from renderer.timeline.build import build_timeline
from tests.midi_files import QUARTER, heading, meta, midi_bytes, notes

SIXTEENTH = QUARTER // 4
PULSES = 256
"""16 bars of 4/4 in sixteenths."""


def played(gaps: tuple[int, ...], accents: tuple[int, ...]) -> list[tuple[Fraction, bool]]:
    """Pulses and whether they are accented: notes so far apart, over and over. `accents` count a figure's notes."""
    starts = [*accumulate(gaps, initial=0)]
    turns = range(0, PULSES, starts.pop())
    every = [(turn + at, number in accents) for turn in turns for number, at in enumerate(starts, 1)]
    return [(Fraction(at), accented) for at, accented in every if at < PULSES]


def listened_to(gaps: tuple[int, ...], accents: tuple[int, ...]) -> Listened:
    """A kit that plays them, read from a MIDI file."""
    events = [
        event
        for at, accented in played(gaps, accents)
        for event in notes([int(at * SIXTEENTH)], velocity=115 if accented else 65)
    ]
    data = midi_bytes(heading(), [(0, meta("track_name", name="Kit")), *events])
    return listen_to(read_midi(data, "Weir"), Path("weir.mid"))


@pytest.mark.parametrize(
    ("gaps", "accents", "figures"),
    [
        ((5, 3, 3), (1,), ["{groups: [5, 3, 3], accents: [1]}"]),
        ((3, 3, 3, 2), (1,), ["{groups: [3, 3, 3, 2], accents: [1]}"]),
        ((4, 4, 3), (1,), ["{groups: [4, 4, 3], accents: [1]}"]),
        ((9, 4), (1,), ["{groups: [9, 4], accents: [1]}"]),
        ((5, 3, 3), (1, 2), ["{groups: [5, 3, 3], accents: [1, 6]}", "X.... X..x.."]),
        ((5, 3, 3), (1, 2, 3), ["[5, 3, 3]", "[3, 3, 5]", "[3, 5, 3]"]),
        ((2, 1, 2, 1, 2, 3), (1, 4), ["X.xx. Xx.x..", "{groups: [2, 1, 2, 1, 2, 3], accents: [1, 6]}"]),
    ],
)
def test_groups_begin_with_notes_that_lie_apart_and_with_accents_where_notes_lie_close(
    gaps: tuple[int, ...], accents: tuple[int, ...], figures: list[str]
) -> None:
    listened = listened_to(gaps, accents)
    for number, figure in enumerate(figures, 1):
        heard = listened.heard(number)
        assert f"  figure A: {figure}\n" in heard.text
        timeline = build_timeline(parse_spec(heard.text, "weir.yaml"))
        hits = [(16 * timeline.whole(hit.at), hit.accented) for hit in timeline.hits]
        assert sorted(hits) == played(gaps, accents)


def test_what_else_the_groups_may_be_is_said() -> None:
    apart, close, alone = (
        listened_to(*each)
        for each in (((5, 3, 3), (1, 2)), ((2, 1, 2, 1, 2, 3), (1, 4)), ((2, 1, 2, 1, 2, 3), (1,)))
    )
    assert apart.labels[:2] == ["5+3+3", "5+6"]
    assert apart.heard().findings[1:3] == (
        "How sure: look at what follows.",
        "Each note begins a group. From accent to accent they are 5+6.",
    )
    assert (
        "How sure: the notes are those of 5+3+3, in groups from accent to accent." in apart.heard(2).findings
    )
    assert close.labels[:2] == ["5+6", "2+1+2+1+2+3"]
    assert "How sure: the notes are those of 5+6, in groups from note to note." in close.heard(2).findings
    assert alone.labels[:2] == ["11", "2+1+2+1+2+3"]
    assert "No accent parts it into groups. From note to note they are 2+1+2+1+2+3." in alone.heard().findings


def test_figures_have_names_that_sentences_can_use_and_that_nothing_else_has() -> None:
    """A part is called figure B already. The main figure is figure A, here from bar 9 on."""
    first, second = played((5, 3, 3), (1, 2, 3))[:35], played((5, 3), (1, 2))
    ticks = [int(at) * SIXTEENTH for at, _ in [*first, *((at + 128, loud) for at, loud in second)]]
    head = heading((0, meta("marker", text="Bank")), (128 * SIXTEENTH, meta("marker", text="Mill")))
    data = midi_bytes(head, [(0, meta("track_name", name="Figure B")), *notes(ticks)])
    text = listen_to(read_midi(data, "Weir"), Path("weir.mid")).heard().text
    assert "figures:\n  figure A: [5, 3]\n  figure C: {groups: [5, 3, 3], from: figure A}\n" in text
    assert "    plays: figure C\n" in text
