"""Parts of pictures are made once: kept by what made them and all that they were made from."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from scenes.draw.kept import Kept
from tests.lessons import DARK


class Bench:
    """Makes things, and counts how often."""

    def __init__(self) -> None:
        self.count = 0

    def make(self, *arguments: object, **options: object) -> list[object]:
        self.count += 1
        return [*arguments, *options.items()]

    def other(self, *arguments: object) -> list[object]:
        return self.make(*arguments)


def test_what_is_made_from_the_same_is_the_same_object() -> None:
    keep, bench = Kept(), Bench()
    first = keep(bench.make, 1, (2, "three"), lit=True)
    assert keep(bench.make, 1, (2, "three"), lit=True) is first
    assert bench.count == 1


def test_each_argument_option_maker_and_owner_tells_parts_apart() -> None:
    keep, bench, another = Kept(), Bench(), Bench()
    ways: list[Callable[[], object]] = [
        lambda: keep(bench.make, 1, 2),
        lambda: keep(bench.make, 2, 1),
        lambda: keep(bench.make, 1),
        lambda: keep(bench.make, 1, two=2),
        lambda: keep(bench.make, (1, 2)),
        lambda: keep(bench.other, 1, 2),
        lambda: keep(another.make, 1, 2),
    ]
    made = [way() for way in ways]
    assert len({id(part) for part in made}) == len(ways)
    assert all(way() is part for way, part in zip(ways, made, strict=True))


def test_values_that_are_equal_count_as_the_same_and_looks_that_differ_do_not() -> None:
    keep, bench = Kept(), Bench()
    first = keep(bench.make, DARK)
    assert keep(bench.make, replace(DARK)) is first
    assert keep(bench.make, replace(DARK, gap=DARK.gap + 1)) is not first


def test_what_can_change_is_refused() -> None:
    with pytest.raises(TypeError, match="unhashable"):
        Kept()(Bench().make, [1, 2])


def test_nothing_is_a_part_too() -> None:
    keep, calls = Kept(), []
    for _ in range(2):
        assert keep(lambda: calls.append(1)) is None
    keep, none = Kept(), calls.append
    assert keep(none, 2) is None
    assert keep(none, 2) is None
    assert calls == [1, 1, 2]


def test_what_was_asked_for_lately_stays_and_the_rest_goes() -> None:
    keep, bench = Kept(limit=3), Bench()
    first = keep(bench.make, 0)
    for number in range(1, 20):
        keep(bench.make, number)
        assert keep(bench.make, 0) is first
    assert bench.count == 20
    keep(bench.make, 1)
    assert bench.count == 21
    assert len(keep._new) + len(keep._old) <= 6
