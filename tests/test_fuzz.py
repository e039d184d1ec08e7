"""A handful of the damaged specs that `python -m tests.fuzz` makes by the thousand."""

from itertools import islice
from pathlib import Path

from tests.fuzz import fault, specs


def test_a_damaged_spec_has_an_answer_and_every_mistake_its_place(tmp_path: Path) -> None:
    for content in islice(specs(7), 300):
        found = fault(content, tmp_path)
        assert found is None or found.endswith(" s"), f"{found}\n{content!r}"
