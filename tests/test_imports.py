"""The folders are the architecture: one way through the house, and nothing imports upwards."""

import ast
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PACKAGES = ("renderer", "scenes")

FLOORS: tuple[tuple[str, ...], ...] = (
    ("renderer.core",),
    ("renderer.spec",),
    ("renderer.reading.scalars", "renderer.timeline", "renderer.audio"),
    ("renderer.reading.yaml", "renderer.hearing", "renderer.report", "renderer.schedule"),
    ("renderer.reading.schema", "scenes.draw"),
    ("renderer.reading", "scenes.row"),
    ("renderer.lesson", "renderer.listening", "scenes.frame"),
    ("renderer.mix", "renderer.paper"),
    (
        "scenes.card",
        "scenes.compare",
        "scenes.crossings",
        "scenes.figure",
        "scenes.fit",
        "scenes.form",
        "scenes.handover",
        "scenes.parts",
        "scenes.play",
        "scenes.spread",
        "scenes.thumbnail",
        "scenes.wheel",
    ),
    ("scenes.catalogue", "scenes.paper"),
    ("renderer.video", "scenes.stage"),
    ("renderer.export",),
    ("renderer.page",),
    ("renderer.options", "renderer.results"),
    ("renderer.commands",),
    ("renderer.command",),
)
"""From the ground up: folders, and the few files that lie loose. What stands on a floor may use what stands on lower
floors, and the files in its own folder."""
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
    "starlette",
    "uvicorn",
    "watchfiles",
    "anyio",
}
"""What reading a spec and laying it out do without, so that `check` and `timeline` answer at once."""
LIGHT = ("core", "spec", "reading", "timeline", "report", "schedule", "lesson")
"""Folders of `renderer` that need nothing heavy."""
LOOSE = {"renderer": 4, "scenes": 16}
"""How many files lie loose in a package at most."""

FLOOR_OF = {place: number for number, floor in enumerate(FLOORS) for place in floor}


def modules() -> dict[str, Path]:
    """Every module by its name, in folders too; a folder's own `__init__` says what it is for, no more."""
    return {
        ".".join(path.relative_to(ROOT).with_suffix("").parts): path
        for package in PACKAGES
        for path in sorted((ROOT / package).rglob("*.py"))
        if path.stem != "__init__"
    }


MODULES = modules()


def imports(path: Path) -> Iterator[str]:
    """All modules that a file imports, inside functions too."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (name.name for name in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert not node.level, f"{path}: an import names its module in full"
            yield node.module or ""
            yield from (f"{node.module}.{name.name}" for name in node.names)


def place_of(module: str) -> str:
    """The folder in which a module lies; itself where it lies loose."""
    folder = module.rpartition(".")[0]
    return module if folder in PACKAGES else folder


def description(place: Path) -> str:
    """What a folder or a file says it is for: its docstring's first line."""
    path = place / "__init__.py" if place.is_dir() else place
    return (ast.get_docstring(ast.parse(path.read_text(encoding="utf-8"))) or "").partition("\n")[0]


def tree() -> str:
    """The folders and loose files from the ground up, a line each; the segments, which are all alike, share one."""
    lines = []
    for package in PACKAGES:
        lines.append((f"{package}/", description(ROOT / package)))
        rooms: dict[str, list[str]] = {}
        for place in sorted(FLOOR_OF, key=lambda place: FLOOR_OF[place]):
            _, room, *inner = place.split(".") if place.startswith(f"{package}.") else ("", "")
            path = ROOT / package / room
            if room and not inner:
                name = f"{room}/" if path.is_dir() else f"{room}.py"
                said = description(path if path.is_dir() else path.with_suffix(".py"))
                rooms.setdefault(said.replace(f" `{room}`", ""), []).append(name)
                for folder in sorted(path.glob("*/__init__.py")):
                    rooms[description(folder.parent)] = [f"  {folder.parent.name}/"]
        lines += [(f"  {' '.join(names)}", said) for said, names in rooms.items()]
    width = max(len(name) for name, _ in lines if len(name) < 20) + 2
    return "\n".join(
        f"{name:{width}}{said}" if len(name) < width else f"{name}\n{'':{width}}{said}"
        for name, said in lines
    )


def used_modules(module: str) -> set[str]:
    return {name for name in imports(MODULES[module]) if name in MODULES}


@pytest.mark.parametrize("module", MODULES)
def test_a_module_imports_only_from_its_folder_and_lower_floors(module: str) -> None:
    here = place_of(module)
    wrong = [
        name
        for name in used_modules(module)
        if place_of(name) != here and FLOOR_OF[place_of(name)] >= FLOOR_OF[here]
    ]
    assert not wrong, f"{module} imports {wrong}, which do not stand below it"


def test_every_folder_has_a_floor_and_every_floor_a_folder() -> None:
    assert {place_of(module) for module in MODULES} == set(FLOOR_OF)


def test_every_folder_says_what_it_is_for_and_nothing_else() -> None:
    folders = {path.parent for path in MODULES.values()} | {ROOT / package for package in PACKAGES}
    for folder in folders:
        tree = ast.parse((folder / "__init__.py").read_text(encoding="utf-8"))
        assert ast.get_docstring(tree), folder
        assert len(tree.body) == 1, folder


def test_developers_are_shown_the_house_as_it_is() -> None:
    shown = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    assert f"```\n{tree()}\n```" in shown, f"DEVELOPERS.md, The house, shows:\n{tree()}"


@pytest.mark.parametrize("package", PACKAGES)
def test_few_files_lie_loose(package: str) -> None:
    assert len(list((ROOT / package).glob("*.py"))) <= LOOSE[package]


@pytest.mark.parametrize(
    "module", [name for name in MODULES if name.split(".")[1] in LIGHT and name[0] == "r"]
)
def test_the_core_needs_nothing_heavy(module: str) -> None:
    used = {name.partition(".")[0] for name in imports(MODULES[module])}
    assert not used & HEAVY


def test_no_module_imports_itself_round_a_corner() -> None:
    done: set[str] = set()

    def visit(module: str, trail: tuple[str, ...]) -> None:
        assert module not in trail, " -> ".join([*trail, module])
        if module not in done:
            for other in used_modules(module):
                visit(other, (*trail, module))
            done.add(module)

    for module in MODULES:
        visit(module, ())


def test_only_the_stage_plays_scenes() -> None:
    """Manim rounds every play to whole frames: one place alone hands it any."""
    callers = []
    for name, path in MODULES.items():
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
