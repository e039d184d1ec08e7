"""The wheel, installed where other things are called `renderer`, `scenes` and `assets`, too."""

import base64
import hashlib
import os
import site
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from tests.films import describe_film
from tests.lessons import SHORT

pytestmark = pytest.mark.slow
ROOT = Path(__file__).parent.parent
PIP = [sys.executable, "-m", "pip", "--disable-pip-version-check", "--quiet"]
RENDER = ("render", "weir.yaml", "figure", "--size", "64x64", "--fps", "4", "--jobs", "2")
ALARM = "import pathlib; pathlib.Path({mark!r}).write_text(__name__)\nraise SystemExit('somebody else was imported')\n"
TAKEN = ("renderer", "scenes", "assets")


def python_of(environment: Path) -> Path:
    return environment / ("Scripts/python.exe" if os.name == "nt" else "bin/python")


def command_of(environment: Path) -> Path:
    return environment / ("Scripts/barcross.exe" if os.name == "nt" else "bin/barcross")


def site_of(environment: Path) -> Path:
    return next(environment.glob("[Ll]ib/**/site-packages"))


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    build = [*PIP, "wheel", "--no-deps", "--no-build-isolation", "--wheel-dir", str(folder), str(ROOT)]
    subprocess.run(build, check=True)
    return next(folder.glob("*.whl"))


def install(environment: Path, *wheels: Path) -> None:
    options = ["--no-deps", "--no-index", "--no-compile"]
    subprocess.run(
        [*PIP, "--python", str(python_of(environment)), "install", *options, *map(str, wheels)], check=True
    )


@pytest.fixture
def environment(tmp_path: Path, wheel: Path) -> Path:
    """barcross by itself; the libraries that it needs are those that the tests run with."""
    place = tmp_path / "environment"
    subprocess.run([sys.executable, "-m", "venv", "--without-pip", str(place)], check=True)
    (site_of(place) / "libraries.pth").write_text("\n".join(site.getsitepackages()) + "\n")
    install(place, wheel)
    return place


@pytest.fixture
def lessons(tmp_path: Path) -> Path:
    folder = tmp_path / "lessons"
    folder.mkdir()
    (folder / "weir.yaml").write_text(SHORT, encoding="utf-8")
    return folder


def run(
    environment: Path, folder: Path, *arguments: str, **variables: str
) -> subprocess.CompletedProcess[str]:
    """The installed command, in a folder."""
    own = {name: value for name, value in os.environ.items() if name != "PYTHONPATH"}
    command = [str(command_of(environment)), *arguments]
    return subprocess.run(
        command, cwd=folder, env=own | variables, capture_output=True, text=True, check=False
    )


def check_film(done: subprocess.CompletedProcess[str], folder: Path) -> None:
    assert done.returncode == 0, done.stderr
    assert (
        describe_film(folder / "out/weir/01-figure.mp4").frame_count > 8
    )  # more than one chunk, so workers draw


def occupy(folder: Path, mark: Path) -> None:
    """A user's files of the program's names, as modules and as packages, and of Python's own modules."""
    alarm = ALARM.format(mark=str(mark))
    for name in ("scenes", "assets", "multiprocessing", "signal", "random", "struct"):
        (folder / f"{name}.py").write_text(alarm)
    (folder / "renderer").mkdir()
    (folder / "renderer" / "__init__.py").write_text(alarm)


def test_it_runs_where_it_is_installed(environment: Path, lessons: Path) -> None:
    for arguments in (
        ("new", "mill-race"),
        ("check", "mill-race.yaml"),
        ("timeline", "mill-race.yaml", "--json"),
        ("still", "mill-race.yaml", "figure@end", "--size", "320x180"),
    ):
        done = run(environment, lessons, *arguments)
        assert (done.returncode, done.stderr) == (0, "")
        assert done.stdout
    assert (lessons / "out/mill-race/01-figure@end-320x180.png").exists()


def test_files_of_its_names_beside_the_spec_are_not_taken_for_its_own(
    environment: Path, lessons: Path
) -> None:
    mark = lessons.parent / "mark"
    occupy(lessons, mark)
    check_film(run(environment, lessons, *RENDER), lessons)
    assert not mark.exists(), mark.read_text()


def test_nor_where_python_is_told_to_look_first(environment: Path, lessons: Path) -> None:
    mark = lessons.parent / "mark"
    elsewhere = lessons.parent / "elsewhere"
    elsewhere.mkdir()
    for name in TAKEN:
        (elsewhere / f"{name}.py").write_text(ALARM.format(mark=str(mark)))
    check_film(run(environment, lessons, *RENDER, PYTHONPATH=str(elsewhere)), lessons)
    done = run(
        environment, lessons, "still", "weir.yaml", "figure@end", "--size", "64x64", PYTHONPATH=str(elsewhere)
    )
    assert done.returncode == 0, done.stderr
    module = [str(python_of(environment)), "-m", "barcross", "check", "weir.yaml"]
    own = os.environ | {"PYTHONPATH": str(elsewhere)}
    subprocess.run(module, cwd=lessons, env=own, check=True, capture_output=True)
    assert not mark.exists(), mark.read_text()


def make_wheel(folder: Path, files: dict[str, str]) -> Path:
    """A package that somebody else has published: stagekit."""
    record = "stagekit-1.0.dist-info/RECORD"
    files = files | {
        "stagekit-1.0.dist-info/METADATA": "Metadata-Version: 2.1\nName: stagekit\nVersion: 1.0\n",
        "stagekit-1.0.dist-info/WHEEL": "Wheel-Version: 1.0\nRoot-Is-Purelib: true\nTag: py3-none-any\n",
    }
    lines = []
    path = folder / "stagekit-1.0-py3-none-any.whl"
    with zipfile.ZipFile(path, "w") as archive:
        for name, content in files.items():
            archive.writestr(name, content)
            digest = base64.urlsafe_b64encode(hashlib.sha256(content.encode()).digest()).rstrip(b"=").decode()
            lines.append(f"{name},sha256={digest},{len(content.encode())}")
        archive.writestr(record, "\n".join([*lines, f"{record},,"]) + "\n")
    return path


@pytest.mark.parametrize("kind", ["modules", "packages"])
def test_another_package_with_the_same_folders_does_no_harm(
    environment: Path, lessons: Path, wheel: Path, kind: str
) -> None:
    """Modules stand behind packages of their name; a package's files land among the program's own."""
    ending = ".py" if kind == "modules" else "/stagekit.py"
    other = make_wheel(
        lessons.parent, {f"{name}{ending}": "raise SystemExit('not ours')\n" for name in TAKEN}
    )
    install(environment, other)
    check_film(run(environment, lessons, *RENDER), lessons)


def test_assets_of_another_package_are_never_imported(environment: Path, lessons: Path) -> None:
    install(environment, make_wheel(lessons.parent, {"assets/__init__.py": "raise SystemExit('not ours')\n"}))
    check_film(run(environment, lessons, *RENDER), lessons)


def test_a_package_that_replaces_the_programs_own_files_is_named(environment: Path, lessons: Path) -> None:
    install(environment, make_wheel(lessons.parent, {"renderer/command.py": "import renderer.stagekit\n"}))
    done = run(environment, lessons, "check", "weir.yaml")
    assert done.returncode == 1
    assert done.stderr == (
        "barcross is damaged: No module named 'renderer.stagekit'. stagekit is installed into the same folders. "
        "Install barcross by itself, with pipx or uv.\n"
    )


def test_the_wheel_holds_the_program_and_nothing_else(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        tops = {name.partition("/")[0] for name in archive.namelist()}
        assert {top for top in tops if not top.endswith(".dist-info")} == {
            "barcross",
            "renderer",
            "scenes",
            "assets",
        }
        packed = {name for name in archive.namelist() if ".dist-info" not in name}
    files = {
        path.relative_to(ROOT).as_posix().removeprefix("assets/entry/")
        for package in ("renderer", "scenes", "assets")
        for path in (ROOT / package).rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }
    assert packed == files
