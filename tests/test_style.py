"""Types, lint and format are part of the one command that checks everything."""

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
