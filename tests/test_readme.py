"""What README shows works as it is written there; DEVELOPERS names every slow test."""

import re
import shlex
import tomllib
from fractions import Fraction
from pathlib import Path
from unittest.mock import create_autospec

import click
import pytest

from renderer.command import main
from renderer.lesson.lesson import open_lesson
from renderer.video.render import render_lesson

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
COMMANDS = [line.strip() for line in README.splitlines() if re.match(r" {4}barcross \w", line)]


def test_it_opens_with_the_job_and_two_commands() -> None:
    title, job, *_ = (part.strip() for part in README.split("\n\n"))
    assert title == "# barcross"
    assert job.startswith("barcross is for people who teach rhythm by video.")
    assert len(re.findall(r"^ {4}bash \.ci/setup", README, flags=re.MULTILINE)) == 2


def test_its_spec_can_be_used(tmp_path: Path) -> None:
    blocks = re.findall(r"```yaml\n(.*?)```", README, flags=re.DOTALL)
    assert blocks
    for block in blocks:
        spec = tmp_path / "mill-race.yaml"
        spec.write_text(block, encoding="utf-8")
        assert open_lesson(spec).timeline.repetitions


@pytest.mark.parametrize("line", COMMANDS)
def test_its_commands_are_taken_as_written(line: str) -> None:
    """Everything up to two blanks is the command, the rest says what it is for."""
    _, name, *arguments = shlex.split(re.split(r" {2,}| > ", line)[0])
    command = main.get_command(click.Context(main), name)
    assert command is not None
    command.make_context(name, arguments)


def test_its_python_runs(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """All but the drawing, which other tests do."""
    render = create_autospec(render_lesson)
    monkeypatch.setattr("renderer.video.render.render_lesson", render)
    monkeypatch.chdir(ROOT)
    (block,) = re.findall(r"```python\n(.*?)```", README, flags=re.DOTALL)
    exec(compile(block, "README.md", "exec"), {"__name__": "__main__"})
    # The example's figure lasts 11 sixteenths, its tempo is 112 quarters a minute.
    starts = [(1 + n * 11 // 16, float(Fraction(n * 11 * 60, 4 * 112))) for n in range(3)]
    expected = [f"{n + 1} {bar} {seconds}" for n, (bar, seconds) in enumerate(starts)]
    assert capsys.readouterr().out.splitlines() == expected
    render.assert_called_once()


def test_its_links_lead_somewhere() -> None:
    links = re.findall(r"\]\(([^)#]+)\)", README)
    assert links
    assert [link for link in links if not (ROOT / link).exists()] == []


def test_all_names_every_extra() -> None:
    """README promises all extras; `check` is for the tests."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = project["optional-dependencies"]
    used = sorted(set(extras) - {"all", "check"})
    assert extras["all"] == [f"barcross[{','.join(used)}]"]
    assert "barcross[all]" in extras["check"]
    for name in used:
        assert f"`{name}`" in README


def test_developers_are_told_what_each_slow_test_proves() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| (`test_.*?) \|", text, flags=re.MULTILINE)
    files = (ROOT / "tests").glob("test_*.py")
    slow = {path.name for path in files if "pytest.mark" + ".slow" in path.read_text(encoding="utf-8")}
    assert {name for row in rows for name in re.findall(r"`(test_\w+\.py)`", row)} == slow
