"""Downbeats tapped to a recording: on made performances whose bars are known, and as they are written."""

from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from renderer.audio.audio_file import read_recording
from renderer.audio.click_sounds import SAMPLES_PER_SECOND
from renderer.audio.slow_down import find_attacks
from renderer.core.errors import BarcrossError
from renderer.mix.taps import NEAR, Tap, nearest_attack, settle
from renderer.page.changes import with_top_value
from renderer.page.editions import read_edition
from renderer.page.taken import Taken
from tests.lessons import SHORT, make_lesson
from tests.page_client import page_client
from tests.performances import beats_between, drifting_bars, perform, write_take

BARS = 12
LONG = SHORT.replace("bars: 3", "bars: 8").replace("bars: 2", "bars: 5")
RECORDED = LONG + "recording: take.wav\nsync: {1: 0.5}    # heard from here\n"


@pytest.fixture(scope="module")
def take(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[Fraction]]:
    """A performance with a beginning on every beat, and where its bars begin."""
    folder = tmp_path_factory.mktemp("take")
    bars = drifting_bars(BARS, 4 * 60 / 137, 0.7)
    write_take(folder / "take.wav", perform(beats_between(bars, 4), float(bars[-1]) + 1))
    (folder / "weir.yaml").write_text(RECORDED, encoding="utf-8")
    return folder / "weir.yaml", bars


def test_taps_that_are_40_ms_off_become_points_that_are_right_to_10(
    take: tuple[Path, list[Fraction]],
) -> None:
    """The times of the performance are known: it was made from them."""
    path, bars = take
    off = np.random.default_rng(3).normal(0, 0.040, BARS).clip(-NEAR * 0.9, NEAR * 0.9)
    taps = [
        (number, float(bar) + miss, False)
        for number, bar, miss in zip(range(1, BARS + 1), bars, off, strict=False)
    ]
    with page_client(path) as client:
        state = client.get("state").json()
        facts = client.get(f"recording?laid={state['laid']['number']}").json()
        assert len(facts["attacks"]) == pytest.approx(4 * BARS, abs=2)
        body = {"laid": state["laid"]["number"], "text": state["text"], "taps": taps}
        answer = client.post("taps", json=body).json()
    points = answer["points"]
    for point, bar, miss in zip(points, bars, off, strict=False):
        assert abs(point["seconds"] - float(bar)) <= 0.010
        assert point["moved"] == pytest.approx(-miss, abs=0.010)
    for point, (left, right) in zip(points, pairwise(bars), strict=False):
        if point["tempo"] is not None:
            assert point["tempo"] == pytest.approx(4 * 60 / float(right - left), abs=2.5)
    edition = read_edition(answer["text"], path)
    assert edition.sound
    assert edition.laid is not None
    written = {point.position.bar: float(point.seconds) for point in edition.laid.lesson.spec.sync}
    assert written == {point["bar"]: point["seconds"] for point in points}
    assert answer["text"].count("sync:") == 1
    assert "# heard from here" in answer["text"]


def test_without_an_attack_near_a_tap_stays_where_it_was() -> None:
    timeline = make_lesson(LONG).timeline
    first, second, third = settle(
        [Tap(1, 1.0), Tap(2, 2.9), Tap(3, 5.0, kept=True)], [1.03, 3.0, 5.01], timeline
    )
    assert (first.seconds, first.moved) == (1.03, 0.03)
    assert (second.seconds, second.moved) == (2.9, None)
    assert (third.seconds, third.moved) == (5.0, None)


def test_the_last_tap_of_a_bar_counts_and_order_is_kept() -> None:
    timeline = make_lesson(LONG).timeline
    (only,) = settle([Tap(2, 1.0), Tap(2, 2.0)], [], timeline)
    assert only.seconds == 2.0
    with pytest.raises(BarcrossError, match="Bar 3 would come before the bar before it"):
        settle([Tap(2, 5.0), Tap(3, 4.0)], [], timeline)


def test_tempo_is_quarters_a_minute_over_the_bars_between() -> None:
    """Two bars of 4/4, 8 quarters, in 4 seconds are 120 a minute."""
    timeline = make_lesson(LONG).timeline
    point, _ = settle([Tap(1, 1.0), Tap(3, 5.0)], [], timeline)
    assert point.tempo == 120.0


@pytest.mark.parametrize("near", [0.0, 0.05, -0.0599])
def test_the_next_attack_is_taken(near: float) -> None:
    assert nearest_attack(2.0 + near, [1.0, 2.0, 3.0]) == 2.0
    assert nearest_attack(2.5, [1.0, 2.0, 3.0]) is None


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ("sync:\n  1: 0.5\n  3: 4.0\nclick: bar\n", "sync: {1: 1}\nclick: bar\n"),
        ("sync: {1: 0.5}  # x\n", "sync: {1: 1}  # x\n"),
        ("tempo: 90\n", "tempo: 90\nsync: {1: 1}\n"),
        ("sync:\n  1: 0.5  # one\n# end\n", "sync: {1: 1}  # one\n# end\n"),
    ],
)
def test_points_are_written_in_place_of_those_that_are_there(before: str, after: str) -> None:
    assert with_top_value(before, "sync", "{1: 1}") == after


@pytest.mark.parametrize("speed", [50, 75])
def test_it_is_heard_slower_with_its_attacks_in_their_place(
    take: tuple[Path, list[Fraction]], speed: int
) -> None:
    """What stands at second t is heard at t / speed, to 2 ms; at its own pitch, as `slow_down` is tested for."""
    path, bars = take
    start = round(float(bars[0]) * SAMPLES_PER_SECOND) - 4_800
    recording = read_recording(path.with_name("take.wav"))
    samples = np.concatenate(list(Taken(recording, Fraction(speed, 100)).pieces(start)))
    heard: list[float] = [attack / SAMPLES_PER_SECOND for attack in find_attacks(samples)]
    for at in beats_between(bars, 4)[:16]:
        expected = (float(at) - start / SAMPLES_PER_SECOND) * 100 / speed
        assert min(abs(attack - expected) for attack in heard) < 0.002


def test_without_a_recording_the_page_says_so(tmp_path: Path) -> None:
    path = tmp_path / "weir.yaml"
    path.write_text(SHORT, encoding="utf-8")
    with page_client(path) as client:
        laid = client.get("state").json()["laid"]["number"]
        answer = client.get(f"recording?laid={laid}")
    assert answer.status_code == 422
    assert answer.json()["problem"] == (
        "The spec names no recording. Write recording: and the file's name, and sync: {1: 0}."
    )
