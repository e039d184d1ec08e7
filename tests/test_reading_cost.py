"""What reading costs grows no faster than the text: counted in calls, in the answer's length and in memory."""

import sys
import time
import tracemalloc
from collections.abc import Callable
from types import FrameType

import pytest

from renderer.core import limits
from renderer.core.errors import SpecError
from renderer.reading.load import parse
from tests.awkward_texts import AWKWARD, PLAIN


def answer(text: str) -> str:
    """What is said of a text; nothing if it is fine."""
    try:
        parse(text, "x.yaml")
    except SpecError as error:
        return str(error)
    return ""


def calls(text: str) -> int:
    """How many functions are called, and generators gone on with, to read a text."""
    count = 0

    def see(frame: FrameType, event: str, argument: object) -> None:
        nonlocal count
        count += event in ("call", "c_call")

    sys.setprofile(see)
    try:
        answer(text)
    finally:
        sys.setprofile(None)
    return count


@pytest.mark.parametrize("make", AWKWARD.values(), ids=AWKWARD)
def test_a_text_of_twice_the_size_takes_twice_the_calls_at_most(make: Callable[[int], str]) -> None:
    answer(make(2_000))  # what is made once is made before
    once, twice = calls(make(15_000)), calls(make(30_000))
    assert twice < 2.5 * once + 2_000


@pytest.mark.parametrize("make", AWKWARD.values(), ids=AWKWARD)
def test_no_answer_is_longer_than_a_hundred_messages(make: Callable[[int], str]) -> None:
    assert len(answer(make(100_000))) < limits.PROBLEMS_SHOWN * 1_500


@pytest.mark.parametrize("make", AWKWARD.values(), ids=AWKWARD)
def test_a_text_takes_up_no_more_than_so_many_times_its_size(make: Callable[[int], str]) -> None:
    """300 MB for 2,000,000 characters are 150 bytes for each; small texts have a hundred messages besides."""
    text = make(30_000)
    tracemalloc.start()
    try:
        answer(text)
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert peak < 150 * len(text) + 1_000_000


def seconds(text: str) -> float:
    """The least processor time of three readings."""
    times = []
    for _ in range(3):
        began = time.process_time()
        answer(text)
        times.append(time.process_time() - began)
    return min(times)


@pytest.mark.parametrize(
    ("name", "size"),
    [
        ("keys given twice", 240_000),
        ("blanks after a key run into its value", 60_000),
        ("blanks before a key", 60_000),
        ("signs in a figure", 100_000),
        ("an error at the end", 100_000),
        ("directives", 400_000),
    ],
)
def test_what_no_call_shows_takes_no_longer_than_an_ordinary_spec_of_that_size(name: str, size: int) -> None:
    """Looking through a list or back through a text is no call: so the time is compared, in one run."""
    text = AWKWARD[name](size)
    ordinary = PLAIN + "harmony: [" + "Em, " * min(len(text) // 4 - 100, 50_000) + "G]\n"
    assert seconds(text) < 3 * seconds(ordinary)


def test_more_mistakes_than_anybody_reads_are_not_looked_for() -> None:
    text = PLAIN + "harmony:\n" + "".join(f"  x{number}: Em\n" for number in range(5_000))
    shown = answer(text).splitlines()
    heads = [line for line in shown if line.startswith("x.yaml:")]
    assert len(heads) == limits.PROBLEMS_SHOWN + 1
    assert heads[-1] == "x.yaml: and more."
