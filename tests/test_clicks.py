"""Which clicks stand where: the meter's, the figure's, count-ins, sections without."""

from fractions import Fraction

import pytest

from renderer.lesson.lesson import Lesson
from renderer.schedule.clicks import click_places, count_in_seconds
from renderer.schedule.model import Schedule
from renderer.schedule.play import schedule_piece
from renderer.spec.click import Click
from tests.lessons import make_lesson

HEAD = "tempo: 120\nmeter: {meter}\npulse: 1/16\nfigures: {{kiln: [5, 3, 3]}}\n{more}form:\n"


def lesson(click: str, sections: str = "", meter: str = "4/4", more: str = "") -> Lesson:
    form = sections or "  - {section: A, bars: 2, plays: kiln}\n"
    return make_lesson(HEAD.format(meter=meter, more=more) + form + f"click: {click}\n")


def play(of: Lesson) -> Schedule:
    return schedule_piece(of.timeline, of.click)


def sixteenths(of: Lesson, *every: str) -> list[tuple[float, str]]:
    """The clicks with their places in sixteenths."""
    timeline = of.timeline
    places = click_places(timeline, timeline.start, timeline.end, every)  # type: ignore[arg-type]
    return [(float(timeline.whole(at) * 16), kind) for at, kind in places]


def test_a_figures_starts_and_groups_stand_beside_the_beats() -> None:
    kiln = lesson("beat")
    assert sixteenths(kiln, "figure") == [(0, "figure"), (11, "figure"), (22, "figure")]
    assert sixteenths(kiln, "group", "figure")[:5] == [
        (0, "figure"),
        (5, "group"),
        (8, "group"),
        (11, "figure"),
        (16, "group"),
    ]
    assert sixteenths(kiln, "beat", "figure")[:5] == [
        (0, "downbeat"),
        (0, "figure"),
        (4, "beat"),
        (8, "beat"),
        (11, "figure"),
    ]


def test_accents_follow_the_meters_own_grouping() -> None:
    seven = lesson("pulse", meter="7/8 in 2+2+3")
    found = sixteenths(seven, "pulse")[:14]
    assert [place for place, kind in found if kind == "downbeat"] == [0]
    assert [place for place, kind in found if kind == "beat"] == [4, 8]
    assert [place for place, kind in found] == list(range(14))
    assert sixteenths(seven, "bar") == [(0, "downbeat"), (14, "downbeat")]


def test_a_section_may_be_without() -> None:
    sections = "  - {section: A, bars: 1}\n  - {section: B, bars: 1, click: off}\n  - {section: C, bars: 1}\n"
    assert [place for place, _ in sixteenths(lesson("bar", sections), "bar")] == [0, 32]
    only = lesson("none", sections.replace("off", "on"))
    assert [click.seconds for click in play(only).clicks] == [2, Fraction(5, 2), 3, Fraction(7, 2)]


def test_no_click_at_all() -> None:
    assert play(lesson("none")).clicks == ()


@pytest.mark.parametrize(
    ("count_in", "meter", "seconds", "kinds"),
    [
        ("1", "4/4", [0, 0.5, 1, 1.5], "dbbb"),
        ("6 beats", "4/4", [0, 0.5, 1, 1.5, 2, 2.5], "bbdbbb"),
        ("2 beats", "7/8 in 2+2+3", [0, 0.5], "bb"),
        ("4 beats", "7/8 in 2+2+3", [0, 0.75, 1.25, 1.75], "bdbb"),
        ("2", "7/8 in 2+2+3", [0, 0.5, 1, 1.75, 2.25, 2.75], "dbbdbb"),
        ("0", "4/4", [], ""),
    ],
)
def test_a_count_in_of_any_length(count_in: str, meter: str, seconds: list[float], kinds: str) -> None:
    of = lesson(f"{{count_in: {count_in}}}", meter=meter)
    schedule = play(of)
    lead = schedule.steps[1].seconds if seconds else Fraction(0)
    before = [click for click in schedule.clicks if click.seconds < lead]
    assert [float(click.seconds) for click in before] == seconds
    assert "".join(click.kind[0] for click in before) == kinds
    assert schedule.clicks[len(before)] == Click(lead, "downbeat")


def test_a_pick_up_comes_inside_its_count_in() -> None:
    of = lesson("{count_in: 3 beats}", more="pickup: 1/4\n")
    schedule = play(of)
    assert [click.seconds for click in schedule.clicks[:4]] == [0, Fraction(1, 2), 1, Fraction(3, 2)]
    assert [click.kind for click in schedule.clicks[:4]] == ["beat", "beat", "beat", "downbeat"]


def test_half_speed_is_twice_as_long_to_the_sample() -> None:
    of = make_lesson(
        HEAD.format(meter="4/4", more="fermata: {1.3: 0.7}\n")
        + "  - {section: A, bars: 3, plays: kiln, tempo: {2: {to: 61}}}\nclick: [pulse, figure]\n"
    )
    half = of.timeline.slowed(Fraction(1, 2))
    slow = schedule_piece(half, of.click)
    assert [c.seconds for c in slow.clicks] == [2 * c.seconds for c in play(of).clicks]
    assert slow.seconds == 2 * play(of).seconds
    assert half.clock.position(2 * of.timeline.seconds(40)) == pytest.approx(40)


def test_a_count_in_lasts_as_long_as_its_bars() -> None:
    of = lesson("beat", meter="6/8 in 2")
    assert count_in_seconds(of.timeline, of.timeline.bars[0], 2, 0) == 3
    assert count_in_seconds(of.timeline, of.timeline.bars[0], 0, 3) == Fraction(9, 4)
