"""One way through the house: spec, timeline, scenes and sound, frames, video, command line; nothing looks back."""

import ast
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent

# From first to last; a module imports from its own group and earlier ones only. What no later group names is
# the pure core: exact, no file, no picture, no sound.
LATER_GROUPS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("reading", ("renderer.load", "renderer.starter")),
    ("files", ("renderer.files",)),
    (
        "sound files",
        ("renderer.bursts", "renderer.loudness", "renderer.strokes", "renderer.sound", "renderer.recorded"),
    ),
    ("lessons", ("renderer.lesson",)),
    (
        "sound",
        (
            "renderer.limiter",
            "renderer.tones",
            "renderer.master",
            "renderer.sound_files",
            "renderer.stretch",
            "renderer.recording",
            "renderer.voice_over",
            "renderer.stems",
            "renderer.coded_sound",
            "renderer.soundtracks",
            "renderer.align",
        ),
    ),
    ("scenes", ("scenes.",)),
    ("frames", ("renderer.pixels", "renderer.planes", "renderer.frames", "renderer.stills")),
    (
        "video",
        (
            "renderer.video",
            "renderer.store",
            "renderer.chunks",
            "renderer.workers",
            "renderer.reels",
            "renderer.render",
            "renderer.progress",
        ),
    ),
    ("command line", ("renderer.command",)),
)
HEAVY = {
    "manim",
    "numpy",
    "scipy",
    "av",
    "pydub",
    "soxr",
    "rich",
    "cairo",
    "PIL",
    "librosa",
    "verovio",
    "numba",
}
"""What the pure core and the reading of a spec do without, so that `check` and `timeline` answer at once."""


def modules() -> dict[str, Path]:
    return {
        f"{path.parent.name}.{path.stem}": path
        for package in ("renderer", "scenes")
        for path in sorted((ROOT / package).glob("*.py"))
        if path.stem != "__init__"
    }


def imports(path: Path) -> Iterator[str]:
    """All modules that a file imports, inside functions too."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (name.name for name in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield node.module
            yield from (f"{node.module}.{name.name}" for name in node.names)


def group(module: str) -> int:
    """0 for the pure core, then the groups in turn."""
    for number, (_, names) in enumerate(LATER_GROUPS, start=1):
        if any(module == name or (name.endswith(".") and module.startswith(name)) for name in names):
            return number
    return 0


@pytest.mark.parametrize("module", list(modules()))
def test_a_module_imports_only_from_before_it(module: str) -> None:
    known = modules()
    back = [name for name in imports(known[module]) if name in known and group(name) > group(module)]
    assert not back, f"{module} imports {back}, which stand after it"


@pytest.mark.parametrize("module", [*(m for m in modules() if group(m) < 2), "renderer.lesson"])
def test_the_core_needs_nothing_heavy(module: str) -> None:
    used = {name.partition(".")[0] for name in imports(modules()[module])}
    assert not used & HEAVY


def test_every_module_that_is_named_exists() -> None:
    known = modules()
    for _, names in LATER_GROUPS:
        for name in names:
            assert name in known or any(module.startswith(name) for module in known)


def test_no_module_imports_itself_round_a_corner() -> None:
    known = modules()
    graph = {name: {other for other in imports(path) if other in known} for name, path in known.items()}
    done: set[str] = set()

    def visit(module: str, trail: tuple[str, ...]) -> None:
        assert module not in trail, " -> ".join([*trail, module])
        if module not in done:
            for other in graph[module]:
                visit(other, (*trail, module))
            done.add(module)

    for module in graph:
        visit(module, ())


def test_only_the_stage_plays_scenes() -> None:
    """Manim rounds every play to whole frames: one place alone hands it any."""
    callers = []
    for name, path in modules().items():
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if (
                isinstance(node, ast.Call)
                and isinstance(node.func, ast.Attribute)
                and node.func.attr in ("play", "wait", "add_sound")
            ):
                callers.append(name)
    assert callers == ["scenes.stage"]


def test_the_standard_library_is_not_shadowed() -> None:
    assert not {Path(path).stem for path in (ROOT / "assets").glob("*.py")} & set(sys.stdlib_module_names)
