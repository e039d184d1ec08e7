"""The voice over a segment: the files that its lines are spoken in, and how all else steps back under them."""

from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

from renderer.audio.audio_file import read_recording
from renderer.audio.click_sounds import SAMPLES_PER_SECOND
from renderer.audio.ducking import ducking
from renderer.audio.placed import Placed, PlacedTrack
from renderer.audio.stem import Stem
from renderer.core.time_grid import seconds_to_sample_index
from renderer.lesson.lesson import Lesson
from renderer.mix.recording import UNDER_LUFS
from renderer.schedule.model import Schedule

NAME = "voice over"
HELD = Fraction(8, 100)
"""Seconds for which one onset keeps what is under it down."""


def narration_remarks(lesson: Lesson) -> list[str]:
    """What is worth knowing of the voice files before anything is rendered, a line each.

    A `play` does not wait, so there a file may last beyond the film's end or into the next one.
    """
    remarks = []
    for planned in lesson.segments():
        schedule = planned.schedule
        for index, spoken in enumerate(schedule.spoken):
            begin = next((later.seconds for later in schedule.spoken[index + 1 :]), schedule.seconds)
            end = spoken.seconds + spoken.length
            if schedule.seconds > begin and end > begin:
                over = f"{float(end - begin):.1f} s longer than there is until the next voice file: both are heard."
                remarks.append(f"{planned.name}: {spoken.name} is {over}")
            if end > schedule.seconds:
                over = f"{float(end - schedule.seconds):.1f} s longer than the segment: its end is cut off."
                remarks.append(f"{planned.name}: {spoken.name} is {over}")
    return remarks


def narration_stem(folder: Path, schedule: Schedule) -> Stem | None:
    """All that is spoken over a segment; None if nothing is.

    A file's first sample stands on the one nearest to its exact time. Each is brought to the loudness of a
    recording; what would last beyond the segment ends with it. Raises FileError.
    """
    if not schedule.spoken:
        return None
    count = seconds_to_sample_index(schedule.seconds, SAMPLES_PER_SECOND)
    placed = []
    for spoken in schedule.spoken:
        voice = read_recording(folder / spoken.name)
        start = seconds_to_sample_index(spoken.seconds, SAMPLES_PER_SECOND)
        gain = 10 ** ((UNDER_LUFS - voice.lufs) / 20)
        placed.append(Placed(voice, start, min(voice.sample_count, max(0, count - start)), gain=gain))
    return Stem(NAME, PlacedTrack(count, tuple(placed)))


def under_narration(stems: Iterable[Stem], schedule: Schedule, decibels: float) -> list[Stem]:
    """The stems, each stepping back by so much while something is spoken, as a recording does under a click."""
    onsets = [
        spoken.seconds + HELD * number
        for spoken in schedule.spoken
        for number in range(max(1, int(spoken.length / HELD)))
    ]
    gain = ducking(onsets, decibels)
    return [replace(stem, ducks=(*stem.ducks, gain)) if gain else stem for stem in stems]
