"""Faults that the builder finds by itself, for specs that are made in Python."""

from dataclasses import replace
from fractions import Fraction

import pytest

from renderer.core.errors import SpecError
from renderer.spec.model import Entry, FigureSpec, Item, Plays, Position, Spec, Tempo
from renderer.timeline.build import build_timeline
from tests.messages import in_one_voice
from tests.strategies import even_meter, section_text

KILN = FigureSpec("kiln", (5, 3, 3), (1, 6, 9), (1, 6, 9), None, None, ("figures", "kiln"))
RUN = {"main": Plays((Item("figure", (), "kiln"),), ())}
SPEC = Spec(
    title="A test",
    tempo=(Entry(Position(1), (Tempo(Fraction(132)),), ("tempo",)),),
    meter=(Entry(Position(1), (even_meter(4, 4),), ("meter",)),),
    harmony=(),
    parts={},
    pulse=Fraction(1, 16),
    pickup=Fraction(0),
    figures=(KILN,),
    form=(section_text("A", bar_count=4, plays=RUN),),
    fermata=(),
    sync=(),
    recording=None,
    click=None,
    segments=(),
)


def texts(spec: Spec) -> list[str]:
    with pytest.raises(SpecError) as caught:
        build_timeline(spec)
    return [
        f"{problem.text} {problem.mend or ''}".rstrip()
        for problem in in_one_voice(caught.value, str(spec)).problems
    ]


def sections(*keys: dict[str, object]) -> Spec:
    """SPEC with these form entries."""
    return replace(SPEC, form=tuple(section_text(**{"name": None, **each}) for each in keys))  # type: ignore[arg-type]


def test_the_spec_of_this_file_is_sound() -> None:
    assert build_timeline(SPEC).end == 64


@pytest.mark.parametrize(
    ("spec", "wrong"),
    [
        (replace(SPEC, form=()), "the form has no sections. Write - section: and a name, and its bars."),
        (replace(SPEC, meter=()), "there is no meter at bar 1. Write one, such as meter: 4/4."),
        (replace(SPEC, tempo=()), "there is no tempo at bar 1. Write one, such as tempo: 112."),
        (
            replace(SPEC, tempo=(Entry(Position(2), (Tempo(Fraction(90)),), ()),)),
            "there is no tempo at bar 1. Write one, such as tempo: 112.",
        ),
        (
            replace(SPEC, tempo=(Entry(Position(1), (Tempo(Fraction(90), moves=True),), ()),)),
            "the tempo has nothing to move from. Give a plain tempo before it.",
        ),
        (replace(SPEC, pulse=None), "kiln has no pulse. Write one at the top, such as pulse: 1/16."),
        (
            replace(SPEC, figures=(replace(KILN, origin="kilm"),)),
            "there is no figure kilm. There are none.",
        ),
        (sections({"bar_count": 4}), "this part of the form has no name. Write section: and a name."),
        (sections({"name": "A"}), "A has no bars. Say how many, such as bars: 8."),
        (sections({"name": "A", "bar_count": 0}), "A has 0 bars. Say how many, such as bars: 8."),
        (
            sections({"name": "Theme", "bar_count": 4}, {"again": "Thema"}),
            "there is no section Thema before this. Write Theme? There are: Theme.",
        ),
        (
            sections({"name": "A", "bar_count": 4}, {"name": "A", "bar_count": 4}),
            "there is a section A already. Write again: A, or give it a name of its own.",
        ),
        (
            sections({"name": "A", "bar_count": 10**9}),
            "the piece has more than 100,000 bars. Shorten it.",
        ),
        (
            sections(
                {"name": "A", "bar_count": 4, "plays": {"main": Plays((Item("figure", (), "kill"),), ())}}
            ),
            "there is no figure kill. Write kiln? There are: kiln.",
        ),
        (
            sections({"name": "A", "bar_count": 4, "plays": {"meter": RUN["main"]}}),
            "meter is a side, not a voice's name. Give the voice a name of its own.",
        ),
        (
            sections({"name": "A", "bar_count": 4, "plays": RUN, "starts": {"mane": "after"}}),
            "A has no voice mane. Write main? There are: main.",
        ),
        (
            sections(
                {"name": "A", "bar_count": 4, "plays": RUN},
                {"name": "B", "bar_count": 4, "plays": {"main": Plays(None, ())}, "starts": "after"},
            ),
            "starts says when a list takes over, but B gives none. "
            "Leave starts out, or write under plays what is to start.",
        ),
        (
            replace(
                sections({"name": "A", "bar_count": 4, "plays": {"high": RUN["main"], "low": RUN["main"]}}),
                parts={"drum": (Entry(Position(1), ("figure",), ()),)},
            ),
            "figure is clear with one voice only. Write high or low.",
        ),
        (
            replace(SPEC, parts={"drum": (Entry(Position(1), ("metre",), ()),)}),
            "there is no voice metre. Write meter? There are: main, figure, meter, tacet.",
        ),
        (
            replace(
                SPEC, figures=tuple(replace(KILN, name=f"f{n}", pulse=Fraction(1, n)) for n in range(90, 99))
            ),
            "the piece's pulses and beats have no common count that is not absurdly fine. "
            "Write pulses that fit each other, such as 1/8, 1/12 and 1/16.",
        ),
        (
            replace(
                sections({"name": "A", "bar_count": 90_000}),
                tempo=(Entry(Position(1), (Tempo(Fraction(20)),), ()),),
            ),
            "the piece lasts 300 hours; it may last a day. Write a faster tempo or fewer bars.",
        ),
        (
            replace(
                sections({"name": "A", "bar_count": 90_000, "plays": RUN}),
                figures=(FigureSpec("kiln", (1,), (1,), (1,), Fraction(1, 1024), None, ()),),
                tempo=(Entry(Position(1), (Tempo(Fraction(1000)),), ()),),
            ),
            "the piece plays more than three million repetitions. Write longer pulses, or fewer bars.",
        ),
        (
            sections(
                {"name": "A", "bar_count": 4, "plays": {"main": Plays((Item("rest", (), count=0),), ())}}
            ),
            "this rest has no pulses. Write at least 1.",
        ),
        (
            sections({"name": "A", "bar_count": 4, "plays": {"main": Plays((), ())}}),
            "this list is empty. Write a figure, or leave plays out for silence.",
        ),
    ],
)
def test_what_can_t_be_built_is_told_with_its_mend(spec: Spec, wrong: str) -> None:
    found = texts(spec)
    if wrong.startswith("there is no figure kill"):
        assert wrong in found
    else:
        assert found == [wrong]


def test_all_faults_are_told_in_one_go() -> None:
    spec = replace(
        sections(
            {
                "name": "A",
                "bar_count": 4,
                "plays": RUN,
                "harmony": (Entry(Position(9), ("Em",), ()), Entry(Position(2, 7), ("G",), ())),
            },
        ),
        parts={"drum": (Entry(Position(1), ("nobody",), ()),)},
    )
    assert len(texts(spec)) == 3
