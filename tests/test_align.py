"""Sync points proposed for performances whose bars are known."""

from fractions import Fraction
from pathlib import Path

import pytest
from click.testing import CliRunner

from renderer.command import main
from renderer.core.errors import FileError
from renderer.lesson.lesson import Lesson, open_lesson
from renderer.mix.align import Alignment, Heard, align, align_lesson, alignment_table, listen, section_lines
from renderer.mix.recording import open_recording
from renderer.reading.load import parse_spec
from tests.benchmark_align import spec_of
from tests.performances import beats_between, drifting_bars, perform, write_take

BARS = 24


def make(folder: Path, tempo: int, takes: list[Fraction], more: str = "", bars: int = BARS) -> Lesson:
    text = f"tempo: {tempo}\nmeter: 4/4\npulse: 1/16\nfigures: {{kiln: [5, 3, 3]}}\n"
    text += f"form: [{{section: A, bars: {bars}{more}}}]\nrecording: take.wav\nsync: {{1: {float(takes[0]):.3f}}}\n"
    (folder / "piece.yaml").write_text(text, encoding="utf-8")
    return open_lesson(folder / "piece.yaml")


def errors(found: Alignment, takes: list[Fraction]) -> list[float]:
    """How far from the truth each bar was heard, in milliseconds."""
    return [abs(float(bar.heard - takes[bar.bar - 1])) * 1000 for bar in found.bars]


@pytest.mark.parametrize(
    ("tempo", "drift", "seed", "sounds", "noise"),
    [
        (128, 0.02, 1, ("drum",), 0.0),
        (96, 0.04, 2, ("drum", "plucked"), 0.0005),
        (140, 0.05, 3, ("plucked", "struck", "low"), 0.001),
        (60, 0.03, 4, ("low",), 0.002),
        (80, 0.06, 7, ("low", "drum"), 0.001),
    ],
)
def test_bars_of_a_drifting_performance_are_found_within_20_milliseconds(
    tempo: int, drift: float, seed: int, sounds: tuple[str, ...], noise: float, tmp_path: Path
) -> None:
    takes = drifting_bars(BARS, 240 / tempo, 1.3, seed, drift)
    eighths = beats_between(takes, 8)
    write_take(tmp_path / "take.wav", perform(eighths, float(takes[-1]) + 1, sounds, noise))
    found = align_lesson(make(tmp_path, tempo, takes))
    assert len(found.bars) == BARS
    assert max(errors(found, takes)) < 20


@pytest.mark.parametrize(("tempo", "drift", "seed"), [(112, 0.02, 1), (140, 0.04, 3)])
def test_a_figure_alone_across_the_bars_is_followed_too(
    tempo: int, drift: float, seed: int, tmp_path: Path
) -> None:
    takes = drifting_bars(BARS, 240 / tempo, 0.8, seed, drift)
    sixteenths = beats_between(takes, 16)
    hits = [time for index, time in enumerate(sixteenths) if index % 11 in (0, 5, 8)]
    write_take(tmp_path / "take.wav", perform(hits, float(takes[-1]) + 1, ("plucked",), 0.0005))
    found = align_lesson(make(tmp_path, tempo, takes, ", plays: kiln"))
    assert max(errors(found, takes)) < 20
    assert not all(bar.attack for bar in found.bars)


def test_few_points_keep_every_bar_near(tmp_path: Path) -> None:
    takes = drifting_bars(BARS, 2.0, 1.0, 5, 0.02)
    write_take(tmp_path / "take.wav", perform(beats_between(takes, 4), float(takes[-1]) + 1))
    lesson = make(tmp_path, 120, takes)
    tight = align_lesson(lesson, within=Fraction(1, 1000))
    loose = align_lesson(lesson, within=Fraction(40, 1000))
    assert len(loose.points) < len(tight.points) <= BARS
    assert max(map(abs, loose.residuals)) <= Fraction(40, 1000)
    # The points, written into the spec, put every bar where it was heard.
    text = (tmp_path / "piece.yaml").read_text(encoding="utf-8")
    (tmp_path / "piece.yaml").write_text(
        text[: text.index("sync:")] + loose.sync_text() + "\n", encoding="utf-8"
    )
    again = open_lesson(tmp_path / "piece.yaml").timeline
    for bar, residual in zip(loose.bars, loose.residuals, strict=True):
        assert again.clock.file_start is not None
        placed = again.clock.file_start + again.seconds(bar.at)
        assert bar.heard - placed == residual


def test_bar_one_may_be_named_on_the_spot(tmp_path: Path) -> None:
    takes = drifting_bars(BARS, 2.0, 3.217, 6, 0.01)
    write_take(tmp_path / "take.wav", perform(beats_between(takes, 4), float(takes[-1]) + 1))
    lesson = make(tmp_path, 120, [Fraction(0)])
    found = align_lesson(lesson, first=Fraction(32, 10))
    assert max(errors(found, takes)) < 20


def test_a_take_that_ends_early_is_followed_as_far_as_it_goes(tmp_path: Path) -> None:
    takes = drifting_bars(10, 2.0, 1.0, 6, 0.01)
    write_take(tmp_path / "take.wav", perform(beats_between(takes, 4), float(takes[-1])))
    found = align_lesson(make(tmp_path, 120, takes))
    assert 10 <= len(found.bars) <= 11
    assert max(errors(found, takes)) < 20


def test_sections_that_the_recording_does_not_reach_are_named(tmp_path: Path) -> None:
    takes = drifting_bars(12, 2.0, 1.0, 6, 0.01)
    write_take(tmp_path / "take.wav", perform(beats_between(takes, 4), float(takes[-1])))
    (tmp_path / "piece.yaml").write_text(spec_of(120, takes[0], BARS), encoding="utf-8")
    found = align_lesson(open_lesson(tmp_path / "piece.yaml"))
    assert all(bar.heard < takes[-1] for bar in found.bars)
    lines = alignment_table(found).splitlines()
    assert "C, bars 17 to 24: the recording ends before." in lines
    assert lines[-1] == "The recording ends in bar 12 of 24: is it the right file?"


@pytest.fixture(name="steady", scope="module")
def steady_take(tmp_path_factory: pytest.TempPathFactory) -> tuple[Lesson, list[Fraction], Heard]:
    """A click and the figure on top of it, as evenly as a machine plays."""
    folder = tmp_path_factory.mktemp("steady")
    takes = [2 + Fraction(240, 96) * bar for bar in range(BARS + 1)]
    hits = [at for pulse, at in enumerate(beats_between(takes, 16)) if pulse % 4 == 0 or pulse % 11 in (5, 8)]
    write_take(folder / "take.wav", perform(hits, float(takes[-1]) + 1))
    lesson = make(folder, 96, takes, ", plays: kiln")
    recording = open_recording(lesson)
    assert recording is not None
    return lesson, takes, listen(recording)


def from_bar_one(steady: tuple[Lesson, list[Fraction], Heard], milliseconds: int) -> Alignment:
    lesson, takes, heard = steady
    recording = open_recording(lesson)
    assert recording is not None
    return align(recording, lesson.timeline, takes[0] + Fraction(milliseconds, 1000), heard=heard)


@pytest.mark.parametrize("wrong", [-100, 165])
def test_a_bar_1_beside_the_beat_is_mended_to_the_millisecond(
    steady: tuple[Lesson, list[Fraction], Heard], wrong: int
) -> None:
    found = from_bar_one(steady, wrong)
    assert found.moved == pytest.approx(-wrong / 1000, abs=0.0011)
    assert max(errors(found, steady[1])) <= 1.1
    assert {each.sureness for each in found.sections} == {"sure"}


@pytest.mark.parametrize("wrong", [300, 322])
def test_half_a_beat_late_is_never_sure_and_moved_to_no_place_without_an_attack(
    steady: tuple[Lesson, list[Fraction], Heard], wrong: int
) -> None:
    found = from_bar_one(steady, wrong)
    assert found.moved is None
    assert section_lines(found) == [
        "A, bars 1 to 24: not sure, for most of its downbeats have no attack. Is bar 1 right?"
    ]


def test_what_can_not_be_aligned_is_told(tmp_path: Path) -> None:
    write_take(tmp_path / "take.wav", perform([Fraction(1, 2)], 1.5))
    with pytest.raises(FileError, match="ends before bar 2 begins"):
        align_lesson(make(tmp_path, 60, [Fraction(1, 2)]))
    with pytest.raises(FileError, match="ends before bar 2 begins"):
        align_lesson(make(tmp_path, 60, [Fraction(1, 2)]), first=Fraction(1499, 1000))
    with pytest.raises(FileError, match=r"bar 1 lies outside the recording\. Write where it is: --bar-one"):
        align_lesson(make(tmp_path, 60, [Fraction(1, 2)]), first=Fraction(99))
    spec = (tmp_path / "piece.yaml").read_text(encoding="utf-8")
    (tmp_path / "piece.yaml").write_text(spec[: spec.index("recording")], encoding="utf-8")
    with pytest.raises(FileError, match="names no recording"):
        align_lesson(open_lesson(tmp_path / "piece.yaml"))


def test_the_command_prints_residuals_and_leaves_the_spec_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    takes = drifting_bars(BARS, 2.0, 1.0, 8, 0.02)
    write_take(tmp_path / "take.wav", perform(beats_between(takes, 4), float(takes[-1]) + 1))
    make(tmp_path, 120, takes, ", harmony: {1: Em}")
    before = Path("piece.yaml").read_bytes()
    done = CliRunner().invoke(main, ["align", "piece.yaml"], catch_exceptions=False)
    assert done.exit_code == 0
    assert Path("piece.yaml").read_bytes() == before
    assert len(done.stdout.splitlines()) == 1 + BARS + 4
    assert done.stdout.splitlines()[-1] == (
        "align can't tell a wrong number of bars. To compare the recording with the chords: "
        "barcross check piece.yaml --listen"
    )
    assert "\nA, bars 1 to 24: sure.\n" in done.stdout
    assert (
        Path("out/piece/sync.yaml")
        .read_text(encoding="utf-8")
        .startswith("# A, bars 1 to 24: sure.\nsync: {1: ")
    )
    assert done.stderr.splitlines()[0] == "listening to take.wav"
    assert done.stderr.splitlines()[-1] == "listened to 100%"
    assert "no bar is further off than" in done.stdout
    pasted = before.decode().partition("sync:")[0] + Path("out/piece/sync.yaml").read_text(encoding="utf-8")
    assert parse_spec(pasted, "piece.yaml").sync[0].seconds == takes[0]
