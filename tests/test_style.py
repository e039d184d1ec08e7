"""Types, lint, format, and what no file may name, are part of the one command that checks everything."""

import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent


@pytest.mark.parametrize(
    "arguments",
    [
        ("ruff", "check", "."),
        ("ruff", "format", "--check", "."),
        pytest.param(("mypy",), marks=pytest.mark.slow),
    ],
    ids=["lint", "format", "types"],
)
def test_the_code_is_clean(arguments: tuple[str, ...]) -> None:
    run = subprocess.run(
        [sys.executable, "-m", *arguments], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert run.returncode == 0, run.stdout + run.stderr


FOREIGN = {
    "a path of one machine": r"(?<![\w.<])/(?:work|root|home/\w+|Users/\w+|tmp/wt|tmp/base)\b",
    "the host of a package registry": r"(?:pypi|pythonhosted|npmjs|jsdelivr|unpkg|anaconda)\.(?:org|com|net)",
}


def tracked_files() -> list[Path]:
    listed = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=True)
    return [ROOT / name for name in listed.stdout.split("\0") if name]


@pytest.mark.skipif(not (ROOT / ".git").exists(), reason="only a checkout knows its files")
@pytest.mark.parametrize(("what", "pattern"), FOREIGN.items(), ids=FOREIGN)
def test_no_file_names_what_only_one_machine_has(what: str, pattern: str) -> None:
    files = tracked_files()
    assert Path(__file__) in files
    found = [
        f"{path.relative_to(ROOT)}: {match[0].decode()}"
        for path in files
        for match in re.finditer(pattern.encode(), path.read_bytes())
    ]
    assert not found, f"{what}: {found}"
