"""A show is one record: what is said of it nowhere else, and that what it names is there."""

import ast
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import get_type_hints

import pytest

from renderer.reading.schema.segments import FIELDS
from renderer.schedule.model import Schedule
from renderer.schedule.shows import SHOWS, load_named, show_of
from scenes.draw.segment import Segment
from scenes.stage import STAGES
from tests.lessons import make_lesson

ROOT = Path(__file__).parent.parent
OF_ITS_OWN = ("card", "spread", "fit", "wheel")
"""Shows whose names mean nothing else in the program, so that they can be looked for as texts."""
USED_ELSEWHERE = {
    "figure": {"scenes/paper/panels.py"},
    "spread": {"renderer/listening/listen.py"},
    "play": {
        "renderer/schedule/say.py",
        "renderer/export/edit.py",
        "renderer/mix/practice.py",
        "renderer/mix/recording.py",
        "renderer/mix/soundtracks.py",
        "renderer/page/facts.py",
        "renderer/mix/stems.py",
        "renderer/video/render.py",
    },
}
"""What asks for real time: the piece's own sound, its recording, lines that do not wait, the sides as they sound, the
cut, what is practised; and what a handout prints of a figure."""


@pytest.mark.parametrize("name", SHOWS)
def test_what_a_record_names_is_there(name: str) -> None:
    show = SHOWS[name]
    assert show.name == name
    assert callable(load_named(show.schedule))
    assert show.check is None or callable(load_named(show.check))
    draws = load_named(show.segment)
    assert issubclass(draws if isinstance(draws, type) else get_type_hints(draws)["return"], Segment)
    assert show.notes is None or callable(load_named(show.notes))
    assert STAGES[name].__name__ == name.capitalize()


@pytest.mark.parametrize("name", SHOWS)
def test_its_options_are_keys_of_the_format(name: str) -> None:
    options = SHOWS[name].options
    assert set(options) <= set(FIELDS)
    assert ("without" in options) == bool(SHOWS[name].leaves_out)


def test_every_key_of_a_segment_is_an_option_of_a_show() -> None:
    taken = {option for show in SHOWS.values() for option in show.options}
    assert taken | {"show", "say"} == set(FIELDS)


@pytest.mark.parametrize("name", SHOWS)
def test_a_schedule_is_of_the_show_that_makes_it(name: str) -> None:
    schedule = make_lesson().schedule_show(name)
    assert isinstance(schedule, Schedule)
    assert show_of(schedule) is SHOWS[name]


@cache
def code() -> Mapping[str, tuple[ast.AST, ...]]:
    """All nodes of every file of the program."""
    paths = (path for package in ("renderer", "scenes") for path in (ROOT / package).rglob("*.py"))
    return {
        path.relative_to(ROOT).as_posix(): tuple(ast.walk(ast.parse(path.read_text(encoding="utf-8"))))
        for path in paths
    }


def stands_in(node: ast.AST, name: str) -> bool:
    """Whether a node names a show's schedule, its scene or its modules, or is its name as a text of its own where that
    means nothing else."""
    modules = f"renderer.schedule.{name}", f"scenes.{name}."
    if isinstance(node, ast.Constant):
        named = isinstance(node.value, str) and node.value.startswith(modules)
        return named or (name in OF_ITS_OWN and node.value == name)
    if isinstance(node, ast.ImportFrom):
        module = node.module or ""
        return module == modules[0] or module.startswith(modules[1])
    words = {f"{name.capitalize()}Schedule", SHOWS[name].segment.partition(":")[2], f"schedule_{name}"}
    return bool(words & {getattr(node, key, "") for key in ("id", "name", "attr")})


@pytest.mark.parametrize("name", SHOWS)
def test_a_show_stands_in_its_schedule_its_scene_and_its_record_alone(name: str) -> None:
    expected = {f"renderer/schedule/{name}.py", "renderer/schedule/shows.py"}
    if SHOWS[name].notes:
        expected.add("renderer/mix/notes.py")
    found = {path for path, nodes in code().items() if any(stands_in(node, name) for node in nodes)}
    own = f"scenes/{name}/", f"renderer/schedule/{name}_"
    others = {path for path in found if not path.startswith(own)}
    assert others - expected == USED_ELSEWHERE.get(name, set())
    assert expected <= others
