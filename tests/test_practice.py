"""A stretch to practise: each speed where it should be, counted in, so many times round, in one file."""

import json
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import pytest
from click.testing import CliRunner

from renderer.audio.encode import FORMATS
from renderer.command import main
from renderer.mix.practice import Practice, write_practice
from renderer.spec.model import BarRange
from tests.films import decode_sound, find_onsets
from tests.lessons import SHORT, make_lesson

SILENT = SHORT + "sound: {figure: off}\n"
TEMPO = 137


def expected_clicks(speeds: list[Fraction], bars: int, times: int) -> list[Fraction]:
    """A beat is 60 / 137 s at tempo: at each speed a bar of four beats, then so many bars so many times."""
    found, at = [], Fraction(0)
    for speed in speeds:
        beat = Fraction(60, TEMPO) / speed
        count = 4 * (1 + bars * times)
        found += [at + beat * number for number in range(count)]
        at += beat * count
    return found


@pytest.mark.parametrize("kind", ["wav", "flac"])
def test_each_speed_has_its_count_in_and_its_rounds(tmp_path: Path, kind: str) -> None:
    """Of a click alone, each on the sample nearest to its time."""
    speeds = [Fraction(50, 100), Fraction(3, 4), Fraction(1)]
    written = write_practice(make_lesson(SILENT), tmp_path, Practice(BarRange(2, 3), tuple(speeds), 2), kind)
    assert written.path == tmp_path / f"practice-bars-2-3.{kind}"
    clicks = expected_clicks(speeds, 2, 2)
    samples, rate = decode_sound(written.path)
    heard = find_onsets(samples, rate, 0.02)
    assert len(heard) == len(clicks)
    assert max(abs(Fraction(at) - seconds * rate) for at, seconds in zip(heard, clicks, strict=True)) <= 1
    assert written.seconds == clicks[-1] + Fraction(60, TEMPO)


def test_the_figures_are_heard_at_each_speed(tmp_path: Path) -> None:
    """With the voices there is more than the click, and the file is as long."""
    practice = Practice(BarRange(1, 2), (Fraction(1, 2), Fraction(1)), 1)
    alone = write_practice(make_lesson(SILENT), tmp_path / "a", practice)
    together = write_practice(make_lesson(), tmp_path / "b", practice)
    assert alone.seconds == together.seconds
    one, other = (decode_sound(row.path)[0] for row in (alone, together))
    half = len(one) * 2 // 3
    for part in (slice(0, half), slice(half, None)):
        assert len(find_onsets(other[part], 48_000, 0.02, 0.001)) > len(
            find_onsets(one[part], 48_000, 0.02, 0.001)
        )


def test_a_spec_without_a_count_in_has_a_bar_of_it(tmp_path: Path) -> None:
    for click in ("click: {every: beat, count_in: 0}", ""):
        text = SILENT.replace("click: {every: beat, count_in: 1}", click)
        written = write_practice(make_lesson(text), tmp_path, Practice(BarRange(1, 1)))
        assert written.path.name == "practice-bar-1.wav"
        assert written.seconds == 8 * Fraction(60, TEMPO)


def run(*arguments: str) -> tuple[int, str, str]:
    result = CliRunner().invoke(main, ["sound", "weir.yaml", *arguments])
    return result.exit_code, result.stdout, result.stderr


@pytest.fixture(autouse=True)
def spec(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("weir.yaml").write_text(SILENT, encoding="utf-8")


def test_the_command_writes_one_file(tmp_path: Path) -> None:
    status, out, _ = run("--bars", "-2 to -1", "--speeds", "80,100", "--times", "2", "--json")
    assert status == 0
    (row,) = json.loads(out)["files"]
    assert Path(row["path"]) == Path("out/weir/sound/practice-bars-4-5.wav")
    assert [path.name for path in Path("out/weir/sound").iterdir() if path.suffix] == [
        "practice-bars-4-5.wav"
    ]
    first = Path(row["path"]).read_bytes()
    assert run("--bars", "4-5", "--speeds", "80,100", "--times", "2", "--overwrite")[0] == 0
    assert Path(row["path"]).read_bytes() == first


def test_without_bars_it_is_the_whole_piece() -> None:
    status, out, _ = run("--times", "1", "--speed", "50", "--json")
    assert status == 0
    (row,) = json.loads(out)["files"]
    assert Path(row["path"]).name == "practice.wav"
    assert row["seconds"] == pytest.approx(24 * 2 * 60 / TEMPO)


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("--bars", "4-9"), "--bars: there is no bar 9. The bars are 1 to 5."),
        (
            ("--bars", "3-2"),
            "Invalid value for '--bars': got 3-2; a range runs forwards. Write 2-3.",
        ),
        (
            ("--speeds", "50,fast"),
            "Invalid value for '--speeds': got fast; a speed is 25 to 100 per cent of the tempo.",
        ),
        (("--speeds", "50,75", "--speed", "50"), "Use --speed or --speeds, not both."),
        (("--bars", "2", "--sections"), "Use --sections, or --bars, --speeds and --times, not both."),
        (("--speeds", ",".join(["50"] * 21)), "--speeds takes 20 at most."),
    ],
)
def test_what_can_not_be_practised_is_told(arguments: tuple[str, ...], message: str) -> None:
    status, _, err = run(*arguments)
    assert status == 2
    assert err.endswith(f"Error: {message}\n")


def test_speeds_are_those_that_are_given_in_their_order() -> None:
    clicks = expected_clicks([Fraction(1), Fraction(1, 2)], 1, 1)
    written = write_practice(
        make_lesson(SILENT), Path("x"), Practice(BarRange(1, 1), (Fraction(1), Fraction(1, 2))), FORMATS[0]
    )
    samples, rate = decode_sound(written.path)
    apart = [after - before for before, after in pairwise(find_onsets(samples, rate, 0.02))]
    expected = [after - before for before, after in pairwise(clicks)]
    assert all(abs(Fraction(a, rate) - b) < Fraction(2, rate) for a, b in zip(apart, expected, strict=True))
