"""The built wheel holds all that the tool needs, and runs from where it is installed."""

import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    command = [
        sys.executable,
        "-m",
        "pip",
        "wheel",
        "--no-deps",
        "--no-build-isolation",
        "-q",
        "-w",
        str(folder),
        ".",
    ]
    subprocess.run(command, cwd=ROOT, check=True, capture_output=True)
    return next(folder.glob("barcross-*.whl"))


@pytest.mark.slow
def test_the_wheel_holds_every_module_and_asset(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        held = set(archive.namelist())
    wanted = {
        str(path.relative_to(ROOT))
        for folder in ("renderer", "scenes", "assets")
        for path in (ROOT / folder).rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }
    assert wanted <= held
    assert not any(name.startswith(("tests/", "specs/")) for name in held)


@pytest.mark.slow
def test_what_the_wheel_installs_runs_from_another_folder(wheel: Path, tmp_path: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(tmp_path / "installed")
    code = (
        f"import sys; sys.path.insert(0, {str(tmp_path / 'installed')!r})\n"
        "from renderer.command import main\n"
        "main(sys.argv[1:])"
    )

    def run(*arguments: str) -> str:
        command = [sys.executable, "-c", code, *arguments]
        return subprocess.run(command, cwd=tmp_path, check=True, capture_output=True, text=True).stdout

    run("new", "mill-race")
    assert "Theme" in run("check", "mill-race.yaml")
    assert "figure" in run("still", "mill-race.yaml", "figure@end", "--size", "320x180")
    assert (tmp_path / "out" / "mill-race" / "01-figure@end-320x180.png").exists()
