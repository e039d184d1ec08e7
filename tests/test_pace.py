"""How long a sentence stands, how long an explaining segment counts in, and the words for numbers."""

from fractions import Fraction

import pytest

from renderer.schedule.pace import MOST_LEAD, STILL_LEAD, reading_seconds, short_lead
from renderer.spec.sound import ClickSpec


@pytest.mark.parametrize(("words", "seconds"), [(1, "2"), (3, "2"), (4, "12/5"), (10, "24/5")])
def test_a_sentence_stands_for_its_words_and_a_moment(words: int, seconds: str) -> None:
    """Two and a half words a second, about 150 a minute: unhurried speech."""
    assert reading_seconds(" ".join(["word"] * words)) == Fraction(seconds)


@pytest.mark.parametrize(
    ("beats", "click", "lead"),
    [
        ([Fraction(1, 2)] * 4, ClickSpec(count_in=1), Fraction(2)),
        ([Fraction(1, 2)] * 4, ClickSpec(count_in=2), Fraction(5, 2)),
        ([Fraction(1, 2)] * 4, ClickSpec(count_in=0), Fraction(2)),
        ([Fraction(1, 2)] * 4, ClickSpec(count_in_beats=3), Fraction(3, 2)),
        ([Fraction(4, 5), Fraction(4, 5), Fraction(6, 5)], None, Fraction(2)),
        ([Fraction(3)] * 4, ClickSpec(count_in=1), STILL_LEAD),
    ],
)
def test_a_count_in_is_whole_beats_and_short(
    beats: list[Fraction], click: ClickSpec | None, lead: Fraction
) -> None:
    assert short_lead(beats, click) == lead <= MOST_LEAD
