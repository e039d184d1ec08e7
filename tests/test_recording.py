"""The recording: placed by its sync points, cut without a click, judged before anything is rendered."""

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from renderer.audio.ducking import ducking
from renderer.audio.placed import Placed, PlacedTrack, last_zero_crossing
from renderer.core.errors import FileError
from renderer.lesson.lesson import Lesson, open_lesson
from renderer.mix.recording import open_recording, recording_remarks, recording_track
from renderer.mix.stems import segment_master, segment_stems
from renderer.schedule.play import PlaySchedule, schedule_stretches
from renderer.schedule.spans import choose_spans
from renderer.spec.model import SegmentSpec
from tests.held import HeldSound
from tests.performances import RATE, beats_between, drifting_bars, perform, write_take

BARS = 8
BAR_SECONDS = 1.875
"""Of 4/4 at 128."""
TAKE = drifting_bars(BARS, BAR_SECONDS, 1.3)
HEAD = "tempo: 128\nmeter: 4/4\npulse: 1/16\nfigures: {kiln: [5, 3, 3]}\n"
FORM = "form:\n  - {section: A, bars: 3, plays: kiln}\n  - {section: B, bars: 3}\n  - {section: C, bars: 2}\n"


def make(folder: Path, kind: str = "wav", more: str = "", rate: int = RATE, form: str = FORM) -> Lesson:
    """A lesson with a recording whose bars drift, each of them a sync point."""
    if not (folder / f"take.{kind}").exists():
        sound = perform(beats_between(TAKE, 4), float(TAKE[-1]) + 1)
        if rate != RATE:
            import soxr

            sound = soxr.resample(sound, RATE, rate, "VHQ").astype(np.float32)
        write_take(folder / f"take.{kind}", sound, rate)
    sync = ", ".join(f"{bar}: {float(time):.3f}" for bar, time in enumerate(TAKE[:-1], start=1))
    text = HEAD + form + f"recording: take.{kind}\nsync: {{{sync}, 8.4: {float(_last_beat()):.6f}}}\n" + more
    (folder / "spec.yaml").write_text(text, encoding="utf-8")
    return open_lesson(folder / "spec.yaml")


def _last_beat() -> Fraction:
    return TAKE[-2] + (TAKE[-1] - TAKE[-2]) * Fraction(3, 4)


def play(lesson: Lesson, *sections: str, speed: Fraction = Fraction(1)) -> PlaySchedule:
    spans = choose_spans(lesson.timeline, SegmentSpec("play", sections=tuple(sections) or None))
    return schedule_stretches(lesson.timeline.slowed(speed), spans, lesson.click)


def heard(lesson: Lesson, schedule: PlaySchedule) -> NDArray[np.float32]:
    recording = open_recording(lesson)
    assert recording is not None
    track = recording_track(recording, lesson.timeline, schedule)
    return track.part(0, track.sample_count)


def attacks(track: NDArray[np.float32]) -> list[int]:
    """Where the sound rises out of 10 samples of near silence."""
    level = np.abs(track[:, 0])
    loud = np.flatnonzero(level > 0.004)
    padded = np.concatenate([np.zeros(10, np.float32), level])
    before = np.lib.stride_tricks.sliding_window_view(padded, 10)[:-1].max(axis=1)
    return [int(i) for i in loud if before[i] < 0.001]


def beats(lesson: Lesson, schedule: PlaySchedule) -> list[float]:
    """Where the timeline says that beats sound, in samples."""
    timeline = schedule.timeline
    return [
        float(schedule.seconds_of(span, beat.at) * RATE)
        for span in schedule.spans
        for beat in timeline.beats_between(span.start, span.end)
    ]


def test_every_beat_of_the_take_is_where_the_timeline_says(tmp_path: Path) -> None:
    lesson = make(tmp_path, more="click: {count_in: 1}\n")
    schedule = play(lesson)
    found, expected = attacks(heard(lesson, schedule)), beats(lesson, schedule)
    assert len(found) == 4 * BARS
    assert np.abs(np.array(found) - expected).max() <= 1


@pytest.mark.parametrize("kind", ["flac", "mp3", "ogg", "m4a"])
def test_other_kinds_of_files_stand_in_the_same_place(kind: str, tmp_path: Path) -> None:
    plain = heard(make(tmp_path), play(make(tmp_path)))
    coded = heard(make(tmp_path, kind), play(make(tmp_path)))
    count = len(plain)
    spectrum = np.fft.rfft(coded[:, 0], 2 * count) * np.conj(np.fft.rfft(plain[:, 0], 2 * count))
    assert np.argmax(np.fft.irfft(spectrum)) == 0


def test_another_rate_is_converted_and_told(tmp_path: Path) -> None:
    lesson = make(tmp_path, rate=44_100)
    schedule = play(lesson)
    track = heard(lesson, schedule)
    # A converted attack rings before it begins; its middle is found by comparing with the one not converted.
    (tmp_path / "take.wav").unlink()
    plain = heard(make(tmp_path), schedule)
    count = len(plain)
    spectrum = np.fft.rfft(track[:, 0], 2 * count) * np.conj(np.fft.rfft(plain[:, 0], 2 * count))
    assert np.argmax(np.fft.irfft(spectrum)) == 0


def test_sections_are_cut_from_zero_to_zero_and_stay_on_the_grid(tmp_path: Path) -> None:
    lesson = make(tmp_path, more="click: {count_in: 1}\n")
    schedule = play(lesson, "A", "C")
    track = heard(lesson, schedule)
    found = attacks(track)
    assert np.abs(np.array(found) - beats(lesson, schedule)).max() <= 1
    assert len(found) == 4 * 5
    # Nothing jumps where B is left out: no step larger than the take's own.
    seam = round(float(schedule.spans[1].seconds) * RATE)
    whole = heard(lesson, play(lesson))
    quiet = np.abs(np.diff(track[seam - 2_000 : seam, 0])).max()
    assert quiet <= np.abs(np.diff(whole[:, 0])).max() / 4
    assert len(track) == round(float(schedule.seconds) * RATE)


def test_it_is_heard_from_its_first_point_on(tmp_path: Path) -> None:
    text = HEAD + FORM + "recording: take.wav\nsync: {4: 2.5, 8: 9.875}\nclick: {count_in: 2}\n"
    make(tmp_path)
    (tmp_path / "spec.yaml").write_text(text, encoding="utf-8")
    lesson = open_lesson(tmp_path / "spec.yaml")
    schedule = play(lesson)
    track = heard(lesson, schedule)
    start = round(float(schedule.seconds_of(schedule.spans[0], lesson.timeline.bars[3].at)) * RATE)
    assert not track[: start - 800].any()
    assert track[start : start + RATE].any()
    assert "heard from its first sync point on, in bar 4" in recording_remarks(lesson)[0]


@pytest.mark.parametrize("speed", [Fraction(1, 4), Fraction(1, 2), Fraction(3, 4), Fraction(9, 10)])
def test_slower_every_attack_is_within_a_millisecond(speed: Fraction, tmp_path: Path) -> None:
    lesson = make(tmp_path, more="click: {count_in: 1}\n")
    schedule = play(lesson, "A", "B", speed=speed)
    found, expected = attacks(heard(lesson, schedule)), beats(lesson, schedule)
    nearest = [min(found, key=lambda at, beat=beat: abs(at - beat)) for beat in expected]  # type: ignore[misc]
    assert np.abs(np.array(nearest) - expected).max() <= RATE / 1000


def test_the_recording_steps_back_under_the_click(tmp_path: Path) -> None:
    plain = make(tmp_path, more="click: beat\nsound: {recording: {duck: 0}}\n")
    ducked = make(tmp_path, more="click: beat\nsound: {recording: {duck: 6}}\n")
    schedule = play(plain)
    full, soft = (
        next(s.part(0, 10 * RATE) for s in segment_stems(each, schedule) if s.name == "recording")
        for each in (plain, ducked)
    )
    at = round(float(schedule.clicks[6].seconds) * RATE)
    assert np.abs(soft[at : at + 2_000]).max() == pytest.approx(
        np.abs(full[at : at + 2_000]).max() / 2, rel=0.01
    )


def test_ducking_is_down_before_and_back_after() -> None:
    moving = ducking([Fraction(1)], 12)
    assert moving is not None
    gain = moving.part(0, 3 * RATE)
    assert gain[round(0.97 * RATE)] == 1
    assert gain[RATE] == pytest.approx(10 ** (-12 / 20), rel=1e-3)
    assert gain[round(1.4 * RATE)] == 1
    assert np.abs(np.diff(gain)).max() < 0.002
    for start in range(0, 2 * RATE, 7919):
        assert np.array_equal(moving.part(start, start + 4801), gain[start : start + 4801])
    assert ducking([], 12) is None
    assert ducking([Fraction(1)], 0) is None


def test_mixed_with_click_and_voices_it_keeps_loudness_and_limit(tmp_path: Path) -> None:
    lesson = make(tmp_path, more="click: [beat, figure]\nsound: {figure: plucked}\n")
    made = segment_master(lesson, play(lesson))
    assert [stem.name for stem in made.sources] == ["click", "main", "recording"]
    assert made.lufs == pytest.approx(-14, abs=0.15)
    assert made.true_peak_db <= -1
    assert not np.any(made.mix - sum(made.stem(i) for i in range(3)))
    # Where there is a recording, a voice sounds only if it is asked for.
    quiet = make(tmp_path, more="click: beat\n")
    assert [stem.name for stem in segment_stems(quiet, play(quiet))] == ["click", "recording"]


class TestFades:
    def test_they_begin_and_end_on_zero(self) -> None:
        angle = 2 * np.pi * 440 * np.arange(RATE) / RATE + 1
        wave = np.repeat(np.sin(angle).astype(np.float32)[:, np.newaxis], 2, axis=1)
        track = PlacedTrack(RATE, (Placed(HeldSound(wave), 0, RATE, early=600),))
        part = track.part(0, RATE)
        first, last = np.flatnonzero(part[:, 0])[[0, -1]]
        assert abs(part[first, 0]) < 1e-3
        assert abs(part[last, 0]) < 1e-3
        assert np.abs(np.diff(part[:, 0], prepend=0, append=0)).max() < 0.06
        assert np.array_equal(part[600 : RATE - 1_000], wave[600 : RATE - 1_000])
        parts = [track.part(start, min(RATE, start + 777)) for start in range(0, RATE, 777)]
        assert np.array_equal(np.concatenate(parts), part)

    def test_where_nothing_crosses_the_place_stays(self) -> None:
        assert last_zero_crossing(np.ones(241, np.float32), 240) == 240
        wave = np.where(np.arange(241) < 140, -1, 1).astype(np.float32)
        assert last_zero_crossing(wave, 240) == 140


class TestJudged:
    """All of it before anything is rendered."""

    def test_missing(self, tmp_path: Path) -> None:
        lesson = make(tmp_path)
        (tmp_path / "take.wav").unlink()
        with pytest.raises(FileError, match=r"take\.wav: no such file\. Sound files are looked for"):
            recording_remarks(lesson)

    @pytest.mark.parametrize("content", [b"", b"nothing that sounds " * 50])
    def test_damaged(self, content: bytes, tmp_path: Path) -> None:
        lesson = make(tmp_path)
        (tmp_path / "take.wav").write_bytes(content)
        with pytest.raises(FileError, match=r"take\.wav: this is not a sound file, or it is damaged"):
            recording_remarks(lesson)

    @pytest.mark.parametrize("kind", ["wav", "flac", "mp3", "m4a"])
    def test_torn_off(self, kind: str, tmp_path: Path) -> None:
        lesson = make(tmp_path, kind)
        whole = (tmp_path / f"take.{kind}").read_bytes()
        (tmp_path / f"take.{kind}").write_bytes(whole[: len(whole) * 2 // 3])
        with pytest.raises(
            FileError, match=rf"take\.{kind}: (it is damaged: of 0:|this is not a sound file, or)"
        ):
            recording_remarks(lesson)

    @pytest.mark.parametrize("kind", ["flac", "mp3"])
    def test_a_hole_in_the_middle(self, kind: str, tmp_path: Path) -> None:
        lesson = make(tmp_path, kind)
        data = bytearray((tmp_path / f"take.{kind}").read_bytes())
        middle = len(data) // 2
        data[middle : middle + 20_000] = b"\x00" * 20_000
        (tmp_path / f"take.{kind}").write_bytes(data)
        with pytest.raises(FileError, match=rf"take\.{kind}: it is damaged(: of 0:| at 0:)"):
            recording_remarks(lesson)

    def test_silent(self, tmp_path: Path) -> None:
        write_take(tmp_path / "take.wav", np.full((RATE * 20, 2), 1e-5, np.float32))
        with pytest.raises(FileError, match=r"take\.wav: it is silent from beginning to end"):
            recording_remarks(make(tmp_path))

    def test_mono_and_another_rate(self, tmp_path: Path) -> None:
        sound = perform(beats_between(TAKE, 4), float(TAKE[-1]) + 1)[::2, :1]
        write_take(tmp_path / "take.flac", sound, 24_000)
        assert recording_remarks(make(tmp_path, "flac")) == [
            "take.flac is mono: it is heard in the middle.",
            "take.flac has 24,000 samples a second: converted to 48,000.",
        ]

    def test_shorter_than_the_form(self, tmp_path: Path) -> None:
        end = float(TAKE[5]) + 0.4
        write_take(tmp_path / "take.wav", perform(beats_between(TAKE[:6], 4), end))
        lesson = make(tmp_path)
        (remark,) = recording_remarks(lesson)
        assert "in bar 6; the form goes on to bar 8" in remark
        track = heard(lesson, play(lesson))
        assert len(track) == round(float(play(lesson).seconds) * RATE)
        assert not track[round((end - float(TAKE[0]) + 0.01) * RATE) :].any()

    def test_shorter_than_its_first_point(self, tmp_path: Path) -> None:
        write_take(tmp_path / "take.wav", perform([Fraction(1, 10)], 1.0))
        with pytest.raises(FileError, match=r"ends at 0:01\.0, before its first sync point at 0:01\.3"):
            recording_remarks(make(tmp_path))

    def test_nothing_to_tell(self, tmp_path: Path) -> None:
        assert recording_remarks(make(tmp_path)) == []
