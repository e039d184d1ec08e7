"""The sound of a film, decoded: clicks and hits where the timeline says, loudness and peaks as promised."""

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from renderer.audio.loudness import decibels, true_peak
from renderer.lesson.lesson import Lesson
from renderer.mix.notes import segment_notes
from renderer.mix.stems import segment_master, segment_stems
from tests.films import decode_sound
from tests.lessons import SHORT, make_lesson
from tests.test_loudness import second_meter
from tests.test_stems import nearest_sample
from tests.whole_files import write_film

RATE = 48_000
MORE = "sound: {figure: plucked, pan: -30}\n"
SLOWER = SHORT.replace("[figure, spread, play]", "[figure, crossings, {show: play, speed: 62.5}]")


def film_of(lesson: Lesson, index: int, folder: Path) -> NDArray[np.float32]:
    """A film with a segment's sound under a black picture, and its sound decoded."""
    schedule = lesson.segments()[index].schedule
    sound = segment_master(lesson, schedule)
    assert sound.sources
    count = int(schedule.seconds * 25)
    black = np.zeros((32, 32, 3), np.uint8)
    write_film(folder / "film.mp4", (black for _ in range(count)), 32, 32, Fraction(25), count, sound)
    return decode_sound(folder / "film.mp4")[0]


@pytest.mark.parametrize("index", [0, 1, 2])
def test_every_click_and_hit_is_within_a_sample(index: int, tmp_path: Path) -> None:
    lesson = make_lesson(SLOWER + MORE)
    schedule = lesson.segments()[index].schedule
    decoded, exact = film_of(lesson, index, tmp_path), segment_master(lesson, schedule)
    notes = segment_notes(schedule)["main"]
    assert notes
    times = {click.seconds for click in schedule.clicks} | {note.seconds for note in notes}
    for onset in sorted(nearest_sample(time) for time in times if 0 < time < schedule.seconds - 1):
        attack = np.diff(exact[onset - 50 : onset + 350][:, 0], n=2)
        around = np.diff(decoded[onset - 80 : onset + 380, 0], n=2)
        assert abs(int(np.argmax(np.correlate(around, attack, "valid"))) - 30) <= 1


def test_it_is_as_loud_as_aimed_at_and_no_peak_passes(tmp_path: Path) -> None:
    decoded = film_of(make_lesson(SHORT + MORE), 2, tmp_path)
    assert second_meter(decoded) == pytest.approx(-14, abs=0.4)
    assert decibels(true_peak(decoded)) <= -1


def test_for_broadcast_it_is_softer(tmp_path: Path) -> None:
    decoded = film_of(make_lesson(SHORT + "sound: {loudness: broadcast}\n"), 2, tmp_path)
    assert second_meter(decoded) == pytest.approx(-23, abs=0.3)


def test_where_nothing_sounds_there_is_no_track() -> None:
    lesson = make_lesson(SHORT.replace("{every: beat, count_in: 1}", "none") + "sound: off\n")
    assert [segment_stems(lesson, planned.schedule) for planned in lesson.segments()] == [()] * 3
