"""How loud films are, as `render` says it: measured in the films by FFmpeg's meter, also when nothing is mixed anew."""

import json
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest
from av.filter import Graph
from click.testing import CliRunner
from numpy.typing import NDArray

from renderer.audio.loudness import integrated_loudness
from renderer.command import main
from renderer.video import render as module
from renderer.video.store import FOLDER, Store
from tests.films import decode_sound
from tests.lessons import SHORT
from tests.performances import RATE
from tests.test_loudness import second_meter, sine

SMALL = ("--size", "64x64", "--fps", "4", "--jobs", "1")
UNEVEN = SHORT.replace("segments: [figure, spread, play]", "segments: [parts, play]")
"""`parts` has clicks alone, `play` also tones."""


def ffmpeg_meter(samples: NDArray[np.float32]) -> float:
    """Integrated loudness by FFmpeg's filter ebur128 (libavfilter, f_ebur128.c): another meter than ours."""
    graph = Graph()
    source = graph.add_abuffer(sample_rate=RATE, format="fltp", layout="stereo", time_base=Fraction(1, RATE))
    meter, sink = graph.add("ebur128", "metadata=1"), graph.add("abuffersink")
    graph.link_nodes(source, meter, sink).configure()
    frame = av.AudioFrame.from_ndarray(np.ascontiguousarray(samples.T), format="fltp", layout="stereo")
    frame.sample_rate, frame.pts, frame.time_base = RATE, 0, Fraction(1, RATE)
    graph.push(frame)
    graph.push(None)
    lufs = float("-inf")
    while True:
        try:
            measured: Any = graph.pull()
        except av.EOFError:
            return lufs
        lufs = float(measured.metadata.get("lavfi.r128.I", lufs))  # the last frame may be too short for one


def render(folder: Path, *more: str, text: str = UNEVEN) -> Any:
    (folder / "weir.yaml").write_text(text, encoding="utf-8")
    command = ["render", str(folder / "weir.yaml"), "--out", str(folder / "out"), *SMALL, *more]
    done = CliRunner().invoke(main, command, catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return done.stdout


def test_three_meters_read_the_same() -> None:
    noise = np.random.default_rng(4).normal(0, 0.05, (8 * RATE, 2)).astype(np.float32)
    for wave in (noise, sine(1000, 8, -23)):
        assert integrated_loudness(wave) == pytest.approx(ffmpeg_meter(wave), abs=0.05)
        assert second_meter(wave) == pytest.approx(ffmpeg_meter(wave), abs=0.05)


def test_a_film_is_as_loud_as_render_says(tmp_path: Path) -> None:
    rows = {row["show"]: row for row in json.loads(render(tmp_path, "--json"))["files"]}
    for show in ("parts", "play"):
        samples, _ = decode_sound(Path(rows[show]["path"]))
        # The meter's blocks begin elsewhere by AAC's frames, and it rounds to 0.001 LU.
        assert rows[show]["lufs"] == pytest.approx(ffmpeg_meter(samples), abs=0.15)
    assert rows["play"]["lufs"] == pytest.approx(-14, abs=0.2)
    assert rows["parts"]["lufs"] < -20
    assert rows[None]["lufs"] is None  # the click beside them


def test_a_film_that_stays_softer_is_named_and_so_is_the_difference(tmp_path: Path) -> None:
    first = render(tmp_path, "--joined")
    soft, loud = (next(line for line in first.splitlines() if name in line) for name in ("parts", "play"))
    assert soft.endswith(" LUFS (softer than -14: its peaks leave no more room)")
    assert loud.endswith(" -14.0 LUFS")
    last = first.splitlines()[-1]
    assert last.startswith("Not all segments are equally loud: 01-parts.mp4 is ")
    assert last.endswith(" LU softer than 02-play.mp4.")
    assert "equally loud" not in render(tmp_path)  # not joined, they may be played at any volume


def test_where_all_are_as_loud_nothing_is_said(tmp_path: Path) -> None:
    text = SHORT.replace("segments: [figure, spread, play]", "segments: [figure, play]")
    assert "equally loud" not in render(tmp_path, "--joined", text=text)


def test_what_is_not_mixed_again_is_as_loud_as_before(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = render(tmp_path)
    monkeypatch.setattr(module, "segment_master", lambda *given: pytest.fail("mixed again"))
    assert render(tmp_path) == first


@pytest.mark.parametrize("content", [b"", b"1234567", b"\xff" * 8, module.LOUDNESS.pack(1e9)])
def test_a_forged_loudness_is_measured_again(
    content: bytes, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = render(tmp_path)
    store = Store(tmp_path / "out" / FOLDER)
    forged = [name for name in store.names() if len(store.get(name) or b"") == module.LOUDNESS.size]
    assert len(forged) == 2
    for name in forged:
        store.put(name, content)
    assert render(tmp_path) == first
