"""What README shows works as it is written there."""

import re
import shlex
from pathlib import Path

import pytest

from renderer.command import main
from renderer.lesson.lesson import open_lesson

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
    main.commands[name].make_context(name, arguments)


def test_its_python_compiles_and_its_links_lead_somewhere() -> None:
    for block in re.findall(r"```python\n(.*?)```", README, flags=re.DOTALL):
        compile(block, "README.md", "exec")
    links = re.findall(r"\]\(([^)#]+)\)", README)
    assert links
    assert [link for link in links if not (ROOT / link).exists()] == []
