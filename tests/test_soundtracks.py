"""Sound files: every click and hit on its sample, stems that add up, loudness and peaks in the file."""

import json
import wave
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from numpy.typing import NDArray

from renderer.audio.encode import FORMATS
from renderer.audio.loudness import decibels, true_peak
from renderer.audio.master import master
from renderer.audio.stem import Stem
from renderer.command import main
from renderer.core.errors import FileError
from renderer.lesson.lesson import Lesson
from renderer.mix import soundtracks
from renderer.mix.soundtracks import write_soundtracks
from renderer.mix.stems import segment_master
from renderer.schedule.play import schedule_piece
from tests.films import decode_sound, read_sound
from tests.held import HeldSound
from tests.lessons import SHORT, make_lesson
from tests.test_loudness import second_meter
from tests.test_stems import nearest_sample, starts
from tests.whole_files import write_sound

RATE = 48_000


def read_wave_24(path: Path) -> NDArray[np.int32]:
    """The standard library's reading of a wav file of 24 bits: shape (n, channels)."""
    with wave.open(str(path)) as file:
        assert (file.getsampwidth(), file.getframerate(), file.getnchannels()) == (3, RATE, 2)
        packed = np.frombuffer(file.readframes(file.getnframes()), np.uint8).reshape(-1, 3)
    return (np.pad(packed, ((0, 0), (1, 0))).reshape(-1).view("<i4") >> 8).reshape(-1, 2)


def hits(lesson: Lesson, lead: Fraction) -> list[int]:
    return [nearest_sample(lead + lesson.timeline.seconds(hit.at)) for hit in lesson.timeline.hits]


def test_every_click_and_hit_in_the_decoded_file_is_exact(tmp_path: Path) -> None:
    lesson = make_lesson(SHORT)
    write_soundtracks(lesson, tmp_path)
    schedule = schedule_piece(lesson.timeline, lesson.click)
    click = read_wave_24(tmp_path / "click.wav")[:, 0] / 2**23
    assert starts(click.astype(np.float32)) == [nearest_sample(c.seconds) for c in schedule.clicks]
    played = read_wave_24(tmp_path / "main.wav")[:, 0] / 2**23
    assert starts(played.astype(np.float32)) == hits(lesson, schedule.spans[0].seconds)


def test_the_files_mix_minus_its_stems_is_silence(tmp_path: Path) -> None:
    lesson = make_lesson(SHORT + "sound: {figure: low, pan: 35}\n")
    written = write_soundtracks(lesson, tmp_path)
    assert [row.path.name for row in written] == ["mix.wav", "click.wav", "main.wav"]
    mix, *stems = (read_wave_24(row.path) for row in written)
    assert mix.any()
    assert not np.any(mix - sum(stems))


@pytest.mark.parametrize("kind", FORMATS)
def test_the_file_is_as_loud_as_it_says_and_no_peak_passes(kind: str, tmp_path: Path) -> None:
    (row,) = write_soundtracks(make_lesson(SHORT), tmp_path, kind, stems=False)
    samples, rate = read_sound(tmp_path / f"mix.{kind}")
    assert rate == RATE
    assert row.lufs == pytest.approx(-14, abs=0.4)
    assert row.lufs == pytest.approx(second_meter(samples), abs=0.03)
    assert row.true_peak_db == pytest.approx(decibels(true_peak(samples)))
    assert decibels(true_peak(samples)) <= -1


@pytest.mark.parametrize("kind", ["mp3", "m4a", "flac"])
def test_coded_sound_stands_where_it_stood(kind: str, tmp_path: Path) -> None:
    write_soundtracks(make_lesson(SHORT), tmp_path, kind, stems=False)
    write_soundtracks(make_lesson(SHORT), tmp_path, "wav", stems=False)
    coded = (read_sound if kind == "mp3" else decode_sound)(tmp_path / f"mix.{kind}")[0][:, 0]
    exact = read_sound(tmp_path / "mix.wav")[0][:, 0]
    count = min(len(coded), len(exact))
    assert abs(len(coded) - len(exact)) < 32
    spectrum = np.fft.rfft(coded[:count], 2 * count) * np.conj(np.fft.rfft(exact[:count], 2 * count))
    assert np.argmax(np.fft.irfft(spectrum)) == 0


@pytest.mark.parametrize("kind", ["mp3", "m4a"])
def test_every_click_and_hit_in_coded_sound_is_within_a_sample(kind: str, tmp_path: Path) -> None:
    lesson = make_lesson(SHORT)
    write_soundtracks(lesson, tmp_path, kind, stems=False)
    write_soundtracks(lesson, tmp_path, "wav", stems=False)
    coded = (read_sound if kind == "mp3" else decode_sound)(tmp_path / f"mix.{kind}")[0][:, 0]
    exact = read_sound(tmp_path / "mix.wav")[0][:, 0]
    schedule = schedule_piece(lesson.timeline, lesson.click)
    onsets = {nearest_sample(click.seconds) for click in schedule.clicks}
    onsets |= set(hits(lesson, schedule.spans[0].seconds))
    for onset in sorted(onsets - {0}):
        attack = np.diff(exact[onset - 50 : onset + 350], n=2)
        around = np.diff(coded[onset - 80 : onset + 380], n=2)
        assert abs(int(np.argmax(np.correlate(around, attack, "valid"))) - 30) <= 1


def test_section_by_section(tmp_path: Path) -> None:
    lesson = make_lesson(SHORT)
    written = write_soundtracks(lesson, tmp_path, "flac", stems=False, by_section=True)
    assert [(row.path.name, row.section) for row in written] == [
        ("01-upper-mix.flac", "Upper"),
        ("02-lower-mix.flac", "Lower"),
    ]
    bar = Fraction(240, 137)
    assert [row.seconds for row in written] == [4 * bar, 3 * bar]


def test_slower_is_longer_to_the_sample(tmp_path: Path) -> None:
    lesson = make_lesson(SHORT)
    write_soundtracks(lesson, tmp_path, speed=Fraction(3, 4))
    played = read_wave_24(tmp_path / "main.wav")[:, 0] / 2**23
    schedule = schedule_piece(lesson.timeline, lesson.click)
    expected = [
        nearest_sample((schedule.spans[0].seconds + lesson.timeline.seconds(hit.at)) * Fraction(4, 3))
        for hit in lesson.timeline.hits
    ]
    assert starts(played.astype(np.float32)) == expected


def test_a_wav_file_of_a_day_is_told(tmp_path: Path) -> None:
    with pytest.raises(FileError, match=r"24\.0 hours .* 4\.1 hours\. Write it by section, or as flac\."):
        write_sound(tmp_path / "mix.wav", lambda: (), 24 * 3600 * RATE)
    assert list(tmp_path.iterdir()) == []


def test_an_unknown_ending_is_told(tmp_path: Path) -> None:
    with pytest.raises(FileError, match="sound is written as wav, flac, mp3 or m4a"):
        write_sound(tmp_path / "mix.aiff", lambda: (), 1)


@pytest.mark.slow
def test_an_hour_of_click_does_not_drift(tmp_path: Path) -> None:
    beats = 61 * 60
    text = "tempo: 61\nmeter: 4/4\nform:\n  - {section: A, bars: 915}\nclick: {every: beat, count_in: 0}\n"
    lesson = make_lesson(text)
    schedule = schedule_piece(lesson.timeline, lesson.click)
    track = np.asarray(segment_master(lesson, schedule).mix[:, 0])
    onsets = np.array([nearest_sample(Fraction(60 * beat, 61)) for beat in range(beats)])
    assert np.all(track[onsets] > 0.2)
    assert not np.any(track[onsets[1:] - 1])


class TestCommand:
    def test_it_writes_and_tells(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.chdir(tmp_path)
        Path("weir.yaml").write_text(SHORT, encoding="utf-8")
        done = CliRunner().invoke(main, ["sound", "weir.yaml", "--json"], catch_exceptions=False)
        rows = json.loads(done.stdout)["files"]
        assert [Path(row["path"]).name for row in rows] == ["mix.wav", "click.wav", "main.wav"]
        assert all(Path(row["path"]).is_file() for row in rows)
        assert Path(rows[0]["path"]).parent == Path("out/weir/sound")
        assert rows[0]["lufs"] == pytest.approx(-14, abs=0.2)

    def test_a_click_alone_says_that_it_is_softer(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.chdir(tmp_path)
        Path("weir.yaml").write_text(SHORT + "sound: off\n", encoding="utf-8")
        done = CliRunner().invoke(main, ["sound", "weir.yaml", "--no-stems", "--speed", "50"])
        assert "softer than -14: its peaks leave no more room" in done.output

    def test_a_speed_that_can_not_be(self, tmp_path: Path) -> None:
        spec = tmp_path / "weir.yaml"
        spec.write_text(SHORT, encoding="utf-8")
        done = CliRunner().invoke(main, ["sound", str(spec), "--speed", "110"])
        assert done.exit_code == 2
        assert "a speed is 25 to 100 per cent of the tempo" in done.output

    def test_a_folder_that_can_not_be_made(self, tmp_path: Path) -> None:
        spec = tmp_path / "weir.yaml"
        spec.write_text(SHORT, encoding="utf-8")
        done = CliRunner().invoke(main, ["sound", str(spec), "--out", str(spec)])
        assert done.exit_code == 1
        assert "weir.yaml" in done.output


def test_names_of_stems_never_meet() -> None:
    silence = HeldSound(np.zeros(10, np.float32))
    made = master([Stem("Mix", silence), Stem("click", silence), Stem("Click!", silence)], 10)
    assert soundtracks._stem_names(made) == ["mix-2", "click", "click-2"]
