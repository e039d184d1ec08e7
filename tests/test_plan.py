"""What a spec's music can be at fault with once its bars are laid out, told from its text; values checked at birth."""

from collections.abc import Callable
from fractions import Fraction

import pytest

from renderer.core.errors import SpecError
from renderer.spec.model import Entry, FigureSpec, Item, Plays, Point, Position, Tempo
from renderer.timeline.build import build_timeline
from tests.messages import in_one_voice
from tests.pieces import HEAD, spec_of
from tests.strategies import section_text

ONE_BAR = "form: [{section: A, bars: 1}]\n"


def problems_of(form: str, head: str = HEAD) -> list[str]:
    """What the text can be read as and not be built from: where, what, and what to write instead."""
    spec = spec_of(form, head)
    with pytest.raises(SpecError) as caught:
        build_timeline(spec)
    return [
        f"{'.'.join(map(str, problem.path))}: {problem.text} {problem.mend or ''}".rstrip()
        for problem in in_one_voice(caught.value, head + form).problems
    ]


def head_with(**keys: str) -> str:
    """The head with other values under some keys."""
    plain = {"tempo": "132", "meter": "4/4", "pulse": "1/16", "figures": "{kiln: [5, 3, 3]}"}
    return "".join(f"{key}: {value}\n" for key, value in {**plain, **keys}.items())


@pytest.mark.parametrize(
    ("keys", "wrong"),
    [
        (
            {"tempo": "{to: 80}"},
            "tempo: the tempo has nothing to move from. Give a plain tempo before it.",
        ),
        (
            {"tempo": "{0.4: {to: 80}, 1: 100}", "pickup": "1/4"},
            "tempo.0.4: the tempo has nothing to move from. Give a plain tempo before it.",
        ),
        (
            {"tempo": "{0: 90}"},
            "tempo.0: there is no 0: nothing comes before bar 1. "
            "Write a bar from 1, or give the piece a pickup.",
        ),
        (
            {"meter": "{0: 3/4, 1: 4/4}"},
            "meter.0: the meter can't change before bar 1: a pick-up is counted in bar 1's meter. Write 1.",
        ),
        (
            {"meter": "{0: 4/4}"},
            "meter.0: the meter can't change before bar 1: a pick-up is counted in bar 1's meter. Write 1.",
        ),
        (
            {
                "figures": "{"
                + ", ".join(f"f{n}: {{groups: [3], pulse: 1/{n}}}" for n in range(91, 100))
                + "}"
            },
            ": the piece's pulses and beats have no common count that is not absurdly fine. "
            "Write pulses that fit each other, such as 1/8, 1/12 and 1/16.",
        ),
    ],
)
def test_what_a_piece_can_t_begin_with(keys: dict[str, str], wrong: str) -> None:
    assert problems_of(ONE_BAR, head_with(**keys)) == [wrong]


def test_a_tempo_from_the_pick_up_on_is_known_from_bar_1() -> None:
    timeline = build_timeline(spec_of(ONE_BAR, head_with(tempo="{0.4: 120}", pickup="1/4")))
    assert timeline.seconds(timeline.start) == Fraction(-1, 2)


@pytest.mark.parametrize(
    ("form", "wrong"),
    [
        (
            "form: [{section: A, bars: 2, tempo: {to: 80}}]\n",
            "form.0.tempo: the tempo has nothing to move from. Give a plain tempo before it.",
        ),
        (
            "form:\n- {section: A, bars: 2, plays: kiln}\n- {section: B, bars: 2, plays: on, starts: after}\n",
            "form.1.starts: starts says when a list takes over, but B gives none. "
            "Leave starts out, or write under plays what is to start.",
        ),
        (
            "form: [{section: A, bars: 2, starts: after}]\n",
            "form.0.starts: starts says when a list takes over, but A gives none. "
            "Leave starts out, or write under plays what is to start.",
        ),
    ],
)
def test_what_a_section_can_t_say(form: str, wrong: str) -> None:
    if "starts" in form:
        with pytest.raises(SpecError) as caught:
            spec_of(form)
        (problem,) = in_one_voice(caught.value, form).problems
        assert f"{'.'.join(map(str, problem.path))}: {problem.text} {problem.mend}" == wrong
    else:
        assert problems_of(form) == [wrong]


@pytest.mark.parametrize("item", ["{rest: 4}", "{tail: [4]}"])
def test_what_counts_in_a_pulse_that_nobody_gives(item: str) -> None:
    head = "tempo: 60\nmeter: 4/4\nfigures: {kiln: {groups: [3], pulse: 1/8}}\n"
    kind = item[1:5]
    assert problems_of(f"form: [{{section: A, bars: 2, plays: [{item}, kiln]}}]\n", head) == [
        f"form.0.plays.0: this {kind} follows nothing whose pulse it could count in. "
        "Add its pulse, such as pulse: 1/16."
    ]
    assert spec_of(f"form: [{{section: A, bars: 2, plays: [kiln, {item}]}}]\n", head)


def test_a_piece_lasts_a_day_at_most() -> None:
    assert problems_of("form: [{section: A, bars: 90000}]\n", head_with(tempo="20")) == [
        "tempo: the piece lasts 300 hours; it may last a day. Write a faster tempo or fewer bars."
    ]


def test_a_slip_in_a_pulse_is_told_and_fills_no_memory() -> None:
    head = head_with(tempo="1000", figures="{kiln: {groups: [1], pulse: 1/1024}}")
    assert problems_of("form: [{section: A, bars: 90000, plays: kiln}]\n", head) == [
        "figures: the piece plays more than three million repetitions. Write longer pulses, or fewer bars."
    ]


def test_all_that_is_wrong_with_the_music_is_told_in_one_go() -> None:
    form = (
        "form:\n- {section: A, bars: 4, plays: kiln, harmony: {9: Em, 2.7: G}, fermata: {4: 1, -1: 2}}\n"
        "- {section: B, bars: 4, plays: {first: 12, of: kiln}}\n"
    )
    assert problems_of(form) == [
        "form.1.plays: kiln has 11 pulses, fewer than 12. Write a number from 1 to 11.",
        "form.0.harmony.9: there is no 9: A has 4 bars. Write a bar from 1 to 4, or -1 for the last one.",
        "form.0.harmony.2.7: there is no 2.7: bar 2 has 4 beats (4/4). Write a beat from 1 to 4.",
        "form.0.fermata.-1: -1 has a fermata already. Remove one of them.",
    ]


def figure(**keys: object) -> FigureSpec:
    good: dict[str, object] = {
        "name": "kiln",
        "groups": (5, 3),
        "hits": (1, 6),
        "accents": (1,),
        "pulse": Fraction(1, 16),
        "origin": None,
        "path": (),
    }
    return FigureSpec(**{**good, **keys})  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("make", "wrong"),
    [
        (lambda: Entry(Position(1), (), ()), "at least one value"),
        (lambda: Point(Position(1), Fraction(-1), ()), "at least 0"),
        (lambda: Tempo(Fraction(0)), "more than 0"),
        (lambda: figure(groups=()), "at least 1 pulse"),
        (lambda: figure(groups=(5, 0)), "at least 1 pulse"),
        (lambda: figure(hits=(6, 1)), "rise from 1 to 8"),
        (lambda: figure(hits=(1, 9)), "rise from 1 to 8"),
        (lambda: figure(accents=(3,)), "stand on hits"),
        (lambda: Item("tail", (), groups=(0,)), "at least 1 pulse"),
        (lambda: Item("rest", (), count=0), "at least 1"),
        (lambda: Item("first", (), count=3), "a first with the figure None"),
        (lambda: Item("rest", (), "kiln", count=3), "a rest with the figure kiln"),
        (lambda: Item("figure", (), "kiln", times=Fraction(0)), "more than 0"),
        (lambda: Plays((), ()), "at least one item"),
        (lambda: section_text(None, bar_count=4), "has a name"),
        (lambda: section_text("A"), "A has bars"),
        (lambda: section_text("A", bar_count=0), "at least 1 bar"),
        (lambda: section_text("A", bar_count=1, repeat=0), "at least once"),
    ],
)
def test_a_value_is_checked_when_it_is_made(make: Callable[[], object], wrong: str) -> None:
    with pytest.raises(ValueError, match=wrong):
        make()


@pytest.mark.parametrize(
    ("keys", "wrong"),
    [
        ({"form": ()}, "at least one section"),
        ({"tempo": ()}, "tempo is given from bar 1 on"),
        ({"meter": (Entry(Position(2), ("4/4",), ()),)}, "meter is given from bar 1 on"),
        ({"pulse": None}, "kiln has a pulse"),
    ],
)
def test_a_spec_is_checked_when_it_is_made(keys: dict[str, object], wrong: str) -> None:
    from dataclasses import replace

    with pytest.raises(ValueError, match=wrong):
        replace(spec_of(ONE_BAR), **keys)  # type: ignore[arg-type]
