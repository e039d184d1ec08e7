"""What is kept is named by the code that makes it: by all of that, and by no other."""

import ast
import shutil
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

import pytest

from renderer.audio.aac import AAC_CODER
from renderer.audio.coded import name_sound
from renderer.core import used_code as used
from renderer.core.used_code import code_key, used_code
from renderer.mix.stems import segment_stems
from renderer.schedule.shows import SHOWS
from renderer.video.chunks import ChunkRenderer, Film, batch_code, makers
from renderer.video.drawing import ChunkDrawer
from renderer.video.render import Quality, build_film, sound_code
from tests.lessons import DARK, SHORT, make_lesson
from tests.test_chunks import Everything

ROOT = Path(__file__).parent.parent
LESSON = make_lesson(SHORT)
FILMS = {
    planned.show: build_film(planned, Quality(160, 90, Fraction(24)), DARK) for planned in LESSON.segments()
}

STEMS = segment_stems(LESSON, FILMS["play"].schedule)


def forget_code() -> None:
    """Read all code again when it is asked for."""
    for kept in (used_code, code_key, used._read, used._file, used._version):
        kept.cache_clear()


@pytest.fixture(name="house")
def copied_house(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A copy of the program's files, whose code names are made from."""
    for package in (*used.PACKAGES, "assets"):
        shutil.copytree(ROOT / package, tmp_path / package, ignore=shutil.ignore_patterns("__pycache__"))
    monkeypatch.setattr(used, "HOME", tmp_path)
    forget_code()
    yield tmp_path
    forget_code()


def edit(house: Path, name: str) -> None:
    path = house / name
    path.write_bytes(path.read_bytes() + b"\n# another word\n")
    forget_code()


def chunk_name(film: Film) -> str:
    return ChunkRenderer(film).make(0, Everything()).name


def all_names() -> dict[str, str]:
    """Of each kind of thing that is kept, one; and what workers compare."""
    return {
        "chunk": chunk_name(FILMS["play"]),
        "play": FILMS["play"].key(),
        "figure": FILMS["figure"].key(),
        "sound": name_sound(STEMS, *sound_code(AAC_CODER)),
        "workers": batch_code(FILMS.values()),
    }


def changed_by(house: Path, *names: str) -> set[str]:
    before = all_names()
    for name in names:
        edit(house, name)
    after = all_names()
    return {kind for kind in before if before[kind] != after[kind]}


def test_a_copy_of_the_same_code_has_the_same_names(house: Path) -> None:
    copied = all_names()
    shutil.rmtree(house / "renderer" / "report")
    forget_code()
    assert all_names() == copied


def test_an_edited_message_renames_nothing(house: Path) -> None:
    messages = [
        *("renderer/reading/schema/segments.py", "renderer/reading/yaml/parser_errors.py"),
        *("renderer/reading/references.py", "renderer/report/section_advice.py", "renderer/command.py"),
        *("renderer/video/progress.py", "assets/starter.yaml"),
    ]
    assert changed_by(house, *messages) == set()


@pytest.mark.parametrize(
    ("name", "kinds"),
    [
        ("renderer/video/planes.py", {"chunk", "play", "figure", "workers"}),
        ("renderer/video/h264.py", {"chunk", "play", "figure", "workers"}),
        ("renderer/video/rasterizer.py", {"chunk", "play", "figure", "workers"}),
        ("scenes/play/play.py", {"play", "workers"}),
        ("scenes/figure/staff.py", {"figure", "workers"}),
        ("scenes/frame/captions.py", {"play", "figure", "workers"}),
        ("renderer/audio/limiter.py", {"sound"}),
        ("renderer/audio/aac.py", {"sound"}),
        ("renderer/audio/click_room.py", {"sound"}),
        ("renderer/audio/placed.py", {"sound"}),
        ("renderer/audio/slow_down.py", {"sound"}),
    ],
)
def test_edited_code_renames_what_it_makes_and_nothing_else(house: Path, name: str, kinds: set[str]) -> None:
    assert changed_by(house, name) == kinds


def test_a_changed_font_is_looked_at(house: Path) -> None:
    assert {"play", "figure"} <= changed_by(house, "assets/fonts/SourceSans3.ttf")


@pytest.mark.parametrize("library", ["uharfbuzz", "cairo", "numba", "av", "numpy"])
def test_every_library_that_draws_is_in_the_name(library: str, monkeypatch: pytest.MonkeyPatch) -> None:
    before = chunk_name(FILMS["play"]), FILMS["play"].key()
    real = used._version
    monkeypatch.setattr(used, "_version", lambda name: "0.0.0" if name == library else real(name))
    code_key.cache_clear()
    try:
        after = chunk_name(FILMS["play"]), FILMS["play"].key()
        assert before[0] != after[0]
        assert before[1] != after[1]
    finally:
        code_key.cache_clear()


def test_what_engraves_a_staff_is_in_the_names_of_figure_alone() -> None:
    assert {"verovio", "svgelements"} <= set(used_code(*makers(FILMS["figure"].schedule)).libraries)
    assert "verovio" not in used_code(*makers(FILMS["play"].schedule)).libraries


@pytest.mark.parametrize("name", SHOWS)
def test_all_that_makes_a_shows_pictures_is_found(name: str) -> None:
    found = used_code(*makers(LESSON.schedule_show(name)))
    assert SHOWS[name].segment.partition(":")[0] in found.modules
    assert {"scenes.draw.shapes", "scenes.draw.look", "renderer.timeline.model"} <= set(found.modules)
    assert found.assets == ("fonts", "themes")
    assert "manim" not in found.libraries, "it takes long to load"
    assert not [
        module for module in found.modules if module.startswith(("renderer.reading", "renderer.report"))
    ]
    assert all(version for library, version in found.versions())


def test_what_draws_shapes_is_found_and_nothing_that_reads_or_speaks() -> None:
    found = used_code(ChunkDrawer.__module__)
    video = {module for module in found.modules if module.startswith("renderer.video.")}
    drawn = ("bt709", "drawing", "kernels", "pixels", "planes", "rasterizer", "straight")
    coded = ("codings", "h264", "prores", "vp9")
    assert video == {f"renderer.video.{name}" for name in (*drawn, *coded)}
    assert not [module for module in found.modules if module.startswith("renderer.schedule")]
    assert {"av", "cairo", "numba", "numpy", "uharfbuzz"} <= set(found.libraries)


def test_imports_inside_functions_count_and_those_for_types_do_not(house: Path) -> None:
    (house / "renderer" / "core" / "one.py").write_text(
        "from typing import TYPE_CHECKING\n"
        "if TYPE_CHECKING:\n    import scipy\n    from renderer.core import time_grid\n"
        "def run():\n    from renderer.core import errors, names\n    import rich.text, wave\n"
        'TEXT = ASSETS / "themes"\n',
        encoding="utf-8",
    )
    found = used_code("renderer.core.one")
    parts = ("errors", "limits", "names", "one")
    assert found.modules == tuple(f"renderer.core.{part}" for part in parts)
    assert "renderer.core.time_grid" not in found.modules
    assert found.libraries == ("rich",)
    assert found.assets == ("themes",)


def imports_by_parser(tree: ast.AST) -> Iterator[str]:
    """The modules that a file imports as Python's own parser finds them, those inside functions too."""
    types = {
        inner
        for node in ast.walk(tree)
        if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING"
        for inner in ast.walk(node)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (name.name for name in node.names)
        elif isinstance(node, ast.ImportFrom) and node not in types:
            yield str(node.module)
            yield from (f"{node.module}.{name.name}" for name in node.names)


def test_imports_are_found_as_pythons_parser_finds_them() -> None:
    paths = [path for package in used.PACKAGES for path in (ROOT / package).rglob("*.py")]
    assert len(paths) > 100
    for path in paths:
        text = path.read_text(encoding="utf-8")
        found = set(used._imported(used.FOR_TYPES.sub("", text)))
        assert found == set(imports_by_parser(ast.parse(text))), path


def test_a_maker_that_is_not_there_is_a_mistake() -> None:
    with pytest.raises(FileNotFoundError, match=r"there is no module renderer\.video\.nothing"):
        used_code("renderer.video.nothing")
