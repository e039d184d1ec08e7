"""What is drawn while nobody asks for anything: what `render --draft` needs, at the lowest priority, and no longer."""

import os
import time
from pathlib import Path
from urllib.request import urlopen

import pytest

from renderer.lesson.lesson import open_lesson
from renderer.video.render import DRAFT, render_lesson
from renderer.video.store import NAME
from tests.browsers import Served, served, until
from tests.lessons import SHORT
from tests.page_client import drawing

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(not Path("/proc").exists(), reason="processes are looked for in /proc"),
]
CARDS = SHORT.replace("[figure, spread, play]", "[{show: card}, play]")
LONG = SHORT.replace("[figure, spread, play]", "[play]").replace("bars: 3", "bars: 90")

PATIENCE = 120.0
"""Seconds: on a machine that is busy with other tests, what has the lowest priority may have to wait."""


@pytest.fixture
def spec(tmp_path: Path) -> Path:
    return tmp_path / "weir.yaml"


def kept(spec: Path) -> list[Path]:
    """The chunks that are there."""
    return [
        path for path in (spec.parent / "out" / "weir" / ".chunks").glob("*") if NAME.fullmatch(path.name)
    ]


def ask(server: Served) -> None:
    urlopen(f"{server.address}state").close()


def gone(patience: float) -> None:
    until(lambda: not drawing("ahead"), "no process is left", patience)


def begun(spec: Path, more_than: int = 0) -> list[int]:
    """Wait until something has been drawn; who draws it."""
    until(lambda: len(kept(spec)) > more_than, "a chunk", PATIENCE)
    return drawing("ahead")


def test_a_draft_finds_what_was_drawn_and_then_no_more_is(spec: Path) -> None:
    """Its pictures are not even looked at: it would need workers, and has none."""
    spec.write_text(CARDS, encoding="utf-8")
    with served(str(spec), folder=spec.parent):
        begun(spec)
        gone(PATIENCE)
        time.sleep(8)
        assert drawing("ahead") == [], "nothing is missing"
    lesson = open_lesson(spec)

    def none(batch: object) -> None:
        raise AssertionError("something is drawn")

    films = render_lesson(lesson, spec.parent / "out" / "weir", lesson.segments(), DRAFT, workers=none)  # type: ignore[arg-type]
    assert [film.reused for film in films if film.frames] == [True, True]


def test_it_ends_as_soon_as_anything_is_asked_or_changed_and_goes_on_when_all_is_quiet(spec: Path) -> None:
    spec.write_text(LONG, encoding="utf-8")
    with served(str(spec), folder=spec.parent) as server:
        (process,) = begun(spec)
        assert os.getpriority(os.PRIO_PROCESS, process) == 19
        if hasattr(os, "SCHED_IDLE"):
            assert os.sched_getscheduler(process) == os.SCHED_IDLE
        ask(server)
        gone(0.5)
        before = len(kept(spec))
        (process,) = begun(spec, before)
        spec.write_text(LONG.replace("title: Weir", "title: Wide Weir"), encoding="utf-8")
        gone(1.0)
        begun(spec, len(kept(spec)))
        assert server.interrupt() < 1.0
    gone(0.5)


def test_when_the_page_is_killed_it_ends_too(spec: Path) -> None:
    spec.write_text(LONG, encoding="utf-8")
    with served(str(spec), folder=spec.parent) as server:
        begun(spec)
        server.process.kill()
        gone(1.0)


def test_mistakes_are_not_drawn(spec: Path) -> None:
    spec.write_text(CARDS.replace("plays: weir", "plays: wier"), encoding="utf-8")
    with served(str(spec), folder=spec.parent):
        time.sleep(8)
        assert drawing("ahead") == []
    assert not (spec.parent / "out").exists()
