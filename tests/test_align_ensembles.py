"""`align` on performances with chords, off the spec's tempo, whose figure nobody plays (seeds of their own)."""

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from renderer.audio.audio_file import Recording, read_recording
from renderer.lesson.lesson import open_lesson
from renderer.mix.align import WITHIN, Alignment, Heard, align, alignment_table, listen
from renderer.timeline.model import Timeline
from tests.benchmark_align import lay, spec_of, worst
from tests.ensembles import Ensemble
from tests.performances import RATE, write_take

BARS = 24
QUIET = range(16, 24)
"""Bars, counted from 0, in which one take has nothing but noise."""


class Take:
    """A performance, and what has been heard of it."""

    def __init__(self, folder: Path, seed: int, quiet: range = range(0)) -> None:
        self.folder = folder
        self.tempo, _, self.bars = lay(seed, BARS)
        samples = Ensemble(seed).play(self.bars)
        if quiet:
            low, high = (round(float(self.bars[bar]) * RATE) for bar in (quiet.start, quiet.stop))
            noise = np.random.default_rng(seed).normal(0, 0.02, (high - low, 2))
            samples[low:high] = noise.astype(np.float32)
        write_take(folder / "take.wav", samples)
        self.recording: Recording = read_recording(folder / "take.wav")
        self.heard: Heard = listen(self.recording)

    def align(self, tempos: float = 1.0, wrong: float = 0.0) -> Alignment:
        first = Fraction(round(1000 * (float(self.bars[0]) + wrong)), 1000) if wrong else None
        return align(self.recording, self.timeline(tempos), first, WITHIN, self.heard)

    def timeline(self, tempos: float) -> Timeline:
        piece = self.folder / "piece.yaml"
        piece.write_text(spec_of(round(self.tempo / tempos, 2), self.bars[0], BARS), encoding="utf-8")
        return open_lesson(piece).timeline


@pytest.fixture(scope="module", params=[9001, 9002])
def take(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Take:
    return Take(tmp_path_factory.mktemp("take"), request.param)


@pytest.mark.parametrize("tempos", [1.0, 1.12, 1 / 1.12])
def test_no_beat_slips_however_far_off_the_specs_tempo(take: Take, tempos: float) -> None:
    found = take.align(tempos)
    assert len(found.bars) == BARS
    assert worst(found, take.bars) < 0.05
    assert {each.sureness for each in found.sections} <= {"sure", "fairly sure"}
    assert found.moved is None


@pytest.mark.parametrize("wrong", [-0.11, 0.08])
def test_a_wrong_bar_1_is_answered_with_a_better_one(take: Take, wrong: float) -> None:
    found = take.align(wrong=wrong)
    assert abs(found.bars[0].heard - take.bars[0]) <= Fraction(1, 20)
    assert found.moved == pytest.approx(-wrong, abs=0.05)
    assert worst(found, take.bars) < 0.05
    way = "later" if wrong < 0 else "earlier"
    milliseconds = abs(float(found.moved or 0)) * 1000
    assert alignment_table(found).splitlines()[-1] == (
        f"Bar 1 seems to begin {milliseconds:.0f} ms {way} than you say, at {float(found.bars[0].heard):.3f} s: "
        "from there on the beats are clearly stronger."
    )


@pytest.mark.parametrize("wrong", [-0.025, 0.02])
def test_a_right_bar_1_is_not_moved(take: Take, wrong: float) -> None:
    assert take.align(wrong=wrong).moved is None


def test_what_can_not_be_followed_is_not_proposed(tmp_path: Path) -> None:
    take = Take(tmp_path, 9003, QUIET)
    found = take.align()
    assert [each.sureness == "not followed" for each in found.sections] == [False, False, True]
    assert (found.sections[2].first_bar, found.sections[2].last_bar) == (17, 24)
    assert {bar.bar for bar in found.bars} == set(range(1, 17))
    assert worst(found, take.bars) < 0.05
    assert found.points[-1].bar == 16
    assert "\nC, bars 17 to 24: can't be followed: no points proposed.\n" in alignment_table(found)
