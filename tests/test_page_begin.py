"""A lesson that begins on the page: one sentence becomes a spec, and nothing that is there is written over."""

from math import gcd
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from renderer.lesson.lesson import open_lesson
from renderer.page.begin import PULSES, Beginning, against, begun_text, groups_text, wrong_fields
from renderer.page.editions import read_edition
from tests.page_client import page_client

PATH = Path("new.yaml")
ASKED = {**Beginning()._asdict(), "write": False}


def test_its_sentence_as_it_stands_is_a_lesson() -> None:
    edition = read_edition(begun_text(Beginning()), PATH)
    assert edition.sound
    assert edition.laid is not None
    lesson = edition.laid.lesson
    assert lesson.timeline.title == "Kettle Weir"
    assert lesson.timeline.figures[0].groups == (5, 3, 3)
    assert against(lesson.spec, lesson.timeline) == (
        "11 against 16: each kettle starts 5 earlier in its bar.",
        "It is back on a downbeat after 11 bars and 16 repetitions.",
    )


@settings(max_examples=30, deadline=None)
@given(
    st.lists(st.integers(1, 9), min_size=1, max_size=6),
    st.sampled_from([" ", "+", ", ", " + "]),
    st.sampled_from([*PULSES]),
    st.sampled_from(["4/4", "3/4", "5/4", "7/8", "12/8"]),
)
def test_what_it_says_of_figure_and_bar_is_arithmetic(
    groups: list[int], sign: str, pulse: str, meter: str
) -> None:
    """Both come round together after lcm(a, b) = a b / gcd(a, b) pulses."""
    begun = Beginning(groups=sign.join(map(str, groups)), pulse=pulse, meter=meter)
    edition = read_edition(begun_text(begun), PATH)
    assert edition.sound, [mistake.problem for mistake in edition.mistakes]
    assert edition.laid is not None
    words = against(edition.laid.lesson.spec, edition.laid.lesson.timeline)
    above, below = map(int, meter.split("/"))
    length = above * int(PULSES[pulse].removeprefix("1/")) / below
    figure = sum(groups)
    if length != int(length):
        assert "no whole number" in words[0]
    elif figure % int(length):
        common = figure * int(length) // gcd(figure, int(length))
        assert words[1].endswith(f"after {common // int(length)} bars and {common // figure} repetitions.")
    else:
        assert words[0].endswith("starts on a downbeat.")


@settings(max_examples=60, deadline=None)
@given(*[st.text(max_size=30)] * 4)
def test_whatever_is_typed_stays_in_its_place(groups: str, tempo: str, name: str, title: str) -> None:
    """It is read as a lesson or told as mistakes; no word of it becomes a key or a line of the spec."""
    text = begun_text(Beginning(groups=groups, tempo=tempo, name=name, title=title))
    edition = read_edition(text, PATH)
    if edition.sound and edition.laid is not None:
        assert len(edition.laid.lesson.spec.form) == 3
        assert len(edition.laid.lesson.spec.segments) == 3
    assert len(text.split("\n")) == len(begun_text(Beginning()).split("\n"))


@pytest.mark.parametrize(
    ("field", "typed", "told"),
    [
        (
            "groups",
            "5 + x",
            "Groups: got 5 + x; groups are numbers, or hits drawn with x and points. Write 5 + 3 + 3, or X....x..x..",
        ),
        ("groups", "0 3", "Groups: got 0; a group has 1 to 200 pulses. Write 5 + 3 + 3, or X....x..x.."),
        ("tempo", "fast", "Tempo: got fast; a tempo is 1 to 1,000 quarter notes a minute. Write 96."),
        ("tempo", "", "Tempo: nothing is written. Write 96."),
        ("name", "", "Name: nothing is written. Write kettle."),
        ("name", "on", "Name: a figure can't be called on; plays: on has its own meaning. Write kettle."),
        ("title", " ", "Title: nothing is written. Write Kettle Weir."),
    ],
)
def test_what_is_wrong_is_told_as_the_sentence_has_it(field: str, typed: str, told: str) -> None:
    begun = Beginning()._replace(**{field: typed})
    assert [*wrong_fields(begun, read_edition(begun_text(begun), PATH).mistakes)] == [(field, told)]


def test_what_is_right_is_not_told_as_wrong() -> None:
    assert [*wrong_fields(Beginning(), read_edition(begun_text(Beginning()), PATH).mistakes)] == []


@pytest.mark.parametrize("typed", ["X....x..x..", "5 3 3", "5+3+3", "5,3,3"])
def test_groups_may_be_typed_in_several_ways(typed: str) -> None:
    edition = read_edition(begun_text(Beginning(groups=typed)), PATH)
    assert edition.laid is not None
    assert edition.laid.lesson.timeline.figures[0].hits == (1, 6, 9)
    assert groups_text(typed)


def test_a_new_file_has_its_titles_name_and_is_followed(tmp_path: Path) -> None:
    with page_client(tmp_path / "new.yaml", named=False) as client:
        assert client.get("state").json()["begins"]
        draft = client.post("begin", json={**ASKED, "title": "Slow Lock"}).json()
        assert draft["name"] == "slow-lock.yaml"
        assert [*tmp_path.iterdir()] == []
        written = client.post("begin", json={**ASKED, "title": "Slow Lock", "write": True})
        assert written.status_code == 200
        path = tmp_path / "slow-lock.yaml"
        assert path.read_text(encoding="utf-8") == draft["text"]
        state = client.get("state").json()
        assert not state["begins"]
        assert state["name"] == "slow-lock.yaml"
        assert open_lesson(path).timeline.title == "Slow Lock"
        again = client.post("begin", json={**ASKED, "write": True})
        assert again.status_code == 422


def test_a_name_that_was_given_stays_and_no_file_is_written_over(tmp_path: Path) -> None:
    with page_client(tmp_path / "mine.yaml") as client:
        assert client.post("begin", json=ASKED).json()["name"] == "mine.yaml"
    (tmp_path / "kettle-weir.yaml").write_text("mine", encoding="utf-8")
    with page_client(tmp_path / "new.yaml", named=False) as client:
        refused = client.post("begin", json={**ASKED, "write": True})
        assert refused.status_code == 422
        assert refused.json()["problem"] == (
            "kettle-weir.yaml is there already; not overwritten. Give the piece another title."
        )
    assert (tmp_path / "kettle-weir.yaml").read_text(encoding="utf-8") == "mine"


def test_wrong_words_are_told(tmp_path: Path) -> None:
    with page_client(tmp_path / "new.yaml", named=False) as client:
        told = client.post("begin", json={**ASKED, "meter": "four"}).json()
        assert told["wrong"] == [
            ["meter", "Meter: got four; a meter is two numbers, and the beats felt in it. Write 4/4, or 7/8."]
        ]
        assert told["mistakes"][0]["line"] == 3
        assert told["words"] == []
