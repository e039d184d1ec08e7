"""Every example in a docstring comes out as it is written there."""

import doctest
from importlib import import_module
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
MODULES = [
    ".".join(path.relative_to(ROOT).with_suffix("").parts)
    for package in ("renderer", "scenes")
    for path in sorted((ROOT / package).rglob("*.py"))
    if ">>> " in path.read_text(encoding="utf-8")
]


@pytest.mark.parametrize("name", MODULES)
def test_its_examples_come_out(name: str) -> None:
    result = doctest.testmod(import_module(name))
    assert result.attempted
    assert not result.failed
