"""Downbeats tapped elsewhere, from a text file of seconds."""

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result

from renderer.command import main
from renderer.mix.taps import NEAR
from renderer.reading.load import parse_spec
from tests.performances import beats_between, drifting_bars, perform, write_take

BARS = 6
PIECE = """tempo: 120
meter: 4/4
form: [{section: A, bars: 6}]
recording: take.wav
sync: {1: 0.5}
"""


@pytest.fixture(name="bars")
def tapped(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> list[Fraction]:
    """Where the bars of a performance begin; the piece lies in the folder one stands in."""
    monkeypatch.chdir(tmp_path)
    bars = drifting_bars(BARS, 2.0, 0.7)
    write_take(Path("take.wav"), perform(beats_between(bars, 4), float(bars[-1]) + 1))
    Path("piece.yaml").write_text(PIECE, encoding="utf-8")
    return bars


def run(*arguments: str) -> Result:
    return CliRunner().invoke(main, ["align", "piece.yaml", *arguments], catch_exceptions=False)


def refused(text: str | bytes) -> str:
    Path("taps.txt").write_bytes(text if isinstance(text, bytes) else text.encode())
    done = run("--taps", "taps.txt")
    assert done.exit_code == 1
    assert not Path("out").exists()
    return done.stderr.splitlines()[-1].removeprefix("Error: ")


def test_taps_are_moved_to_the_attacks_next_to_them(bars: list[Fraction]) -> None:
    """The times of the performance are known: it was made from them."""
    off = np.random.default_rng(3).normal(0, 0.03, BARS).clip(-NEAR * 0.9, NEAR * 0.9)
    lines = [f"{float(bar) + miss:.3f}" for bar, miss in zip(bars, off, strict=False)]
    Path("taps.txt").write_text("# by hand\n" + "\n".join(lines) + "\n\n", encoding="utf-8")
    done = run("--taps", "taps.txt")
    assert done.exit_code == 0
    assert done.stdout.splitlines()[0] == "bar   tapped at      put at    moved   quarters a minute"
    assert done.stdout.splitlines()[-2] == "6 points."
    assert Path("taps.txt").read_text(encoding="utf-8").startswith("# by hand")
    pasted = PIECE.partition("sync:")[0] + Path("out/piece/sync.yaml").read_text(encoding="utf-8")
    points = parse_spec(pasted, "piece.yaml").sync
    assert [point.position.bar for point in points] == list(range(1, BARS + 1))
    for point, bar in zip(points, bars, strict=False):
        assert abs(point.seconds - bar) <= Fraction(1, 100)


def test_a_line_may_name_its_bar_and_taps_without_an_attack_stay(bars: list[Fraction]) -> None:
    between = float(bars[4]) + 0.25
    Path("taps.txt").write_text(f"{float(bars[0]):.3f}\n5 0:{between:06.3f} # late\n", encoding="utf-8")
    done = run("--taps", "taps.txt", "--out", "points.yaml")
    assert "1 with no attack within 60 ms" in done.stdout
    points = parse_spec(
        PIECE.partition("sync:")[0] + Path("points.yaml").read_text(encoding="utf-8"), "p"
    ).sync
    assert [point.position.bar for point in points] == [1, 5]
    assert float(points[1].seconds) == pytest.approx(between, abs=0.001)


def test_a_missed_tap_is_pointed_out(bars: list[Fraction]) -> None:
    Path("taps.txt").write_text("".join(f"{float(bars[n]):.3f}\n" for n in (0, 1, 2, 4, 5)), encoding="utf-8")
    done = run("--taps", "taps.txt")
    assert done.stdout.splitlines()[-3:-1] == [
        "5 points.",
        "Between bars 3 and 4 there is room for 2 bars: is a tap missing?",
    ]


def test_a_spec_without_sync_may_have_taps_or_bar_one(bars: list[Fraction]) -> None:
    Path("piece.yaml").write_text(PIECE.partition("sync:")[0], encoding="utf-8")
    Path("taps.txt").write_text("".join(f"{float(bar):.3f}\n" for bar in bars[:6]), encoding="utf-8")
    for more in (("--taps", "taps.txt"), ("--bar-one", f"{float(bars[0]):.3f}", "--overwrite")):
        done = run(*more)
        assert done.exit_code == 0
        assert done.stdout.splitlines()[-1] == "Wrote out/piece/sync.yaml. Paste it into piece.yaml."
        pasted = Path("piece.yaml").read_text(encoding="utf-8") + Path("out/piece/sync.yaml").read_text(
            encoding="utf-8"
        )
        assert abs(parse_spec(pasted, "piece.yaml").sync[0].seconds - bars[0]) <= Fraction(1, 100)
    alone = run("--overwrite")
    assert alone.exit_code == 1
    assert "a recording, but no sync point." in alone.stderr


def test_what_is_no_file_of_taps_is_told(bars: list[Fraction]) -> None:
    each = "Write one second a line, bar 1's first: 0.532."
    rule = "a place in the recording is seconds or m:ss.s, 0 to 86,400 seconds."
    assert refused("") == f"taps.txt: there are no taps in it. {each}"
    assert refused("0.5\nlater\n") == f"taps.txt:2: got later; {rule} {each}"
    assert refused("1 2 3\n") == f"taps.txt:1: got 1 2 3. {each}"
    assert (
        refused("0.7\n9 3.1")
        == "taps.txt:2: there is no bar 9; the piece has bars 1 to 6. Take this tap out; or are these beats? "
        "Tap bar lines only."
    )
    assert refused("3\n2") == "taps.txt:2: bar 2 at 2 comes before the tap above. Write taps in order."
    end = f"0:{float(bars[-1]) + 1:.1f}"
    assert refused("99") == f"taps.txt:1: 99 is after the recording's end, {end}. Take this tap out."
    assert refused(b"\x89PNG\0") == f"taps.txt: this is no file of taps. {each}"
    assert run("--taps", "gone.txt").exit_code == 1
    both = run("--taps", "taps.txt", "--bar-one", "0.5")
    assert both.exit_code == 2
    assert "--taps says where bar 1 is. Leave out --bar-one." in both.stderr
    Path("taps.txt").write_text("0.7\n2.7\n", encoding="utf-8")
    onto = run("--taps", "taps.txt", "--out", "taps.txt", "--overwrite")
    assert onto.exit_code == 1
    assert Path("taps.txt").read_text(encoding="utf-8") == "0.7\n2.7\n"
