"""What leaves the page: films drawn by a process beside it, which can be stopped, and stills of what is seen."""

import json
import os
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.request import Request, urlopen

import numpy as np
import pytest
from PIL import Image
from starlette.testclient import TestClient

from renderer.page.leaving import asked_part
from tests.browsers import served
from tests.films import describe_film
from tests.lessons import SHORT
from tests.page_client import NOTICES, ORIGIN, drawing, page_client

pytestmark = pytest.mark.slow
CARDS = SHORT.replace("[figure, spread, play]", "[{show: card}, play]")


@pytest.fixture
def spec(tmp_path: Path) -> Path:
    path = tmp_path / "weir.yaml"
    path.write_text(CARDS, encoding="utf-8")
    return path


@pytest.fixture
def client(spec: Path) -> Iterator[TestClient]:
    with page_client(spec) as client:
        yield client


def followed(client: TestClient, asked: dict[str, Any], stop_at: str | None = None) -> list[dict[str, Any]]:
    """What is told of a render until it ends."""
    told = []
    with client.websocket_connect(NOTICES, headers=ORIGIN) as notices:
        assert client.post("render", json=asked).status_code == 200
        while True:
            news = notices.receive_json()
            if "render" not in news:
                continue
            state = news["render"]
            told.append(state)
            if state["state"] != "running":
                return told
            if stop_at and state["films"] and state["films"][0]["frames"]:
                client.post("stop", json={})


def test_a_film_is_drawn_told_and_opened(client: TestClient, tmp_path: Path) -> None:
    told = followed(client, {"segments": [1], "draft": True})
    assert told[-1]["state"] == "done"
    frames = [state["films"][0]["frames"] for state in told if state["films"]]
    assert frames == sorted(frames)
    film = tmp_path / "out" / "01-card.mp4"
    found = describe_film(film)
    assert told[-1]["films"][0]["frame_count"] == frames[-1]
    whole = client.get("film/1")
    assert whole.content == film.read_bytes()
    part = client.get("film/1", headers={"range": "bytes=100-199"})
    assert part.status_code == 206
    assert part.content == film.read_bytes()[100:200]
    assert part.headers["content-range"] == f"bytes 100-199/{film.stat().st_size}"
    assert client.get("film/2").status_code == 404
    assert found


@pytest.mark.skipif(not Path("/proc").exists(), reason="processes are looked for in /proc")
def test_a_stopped_render_leaves_no_process_and_the_next_goes_on(client: TestClient) -> None:
    told = followed(client, {"segments": [2], "draft": True}, stop_at="running")
    assert told[-1]["state"] == "stopped"
    end = time.monotonic() + 5
    while drawing("rendering") and time.monotonic() < end:
        time.sleep(0.05)
    assert drawing("rendering") == []
    assert client.post("render", json={"segments": [2], "draft": True}).status_code == 200
    assert client.post("render", json={"segments": [2], "draft": True}).status_code == 422
    client.post("stop", json={})


@pytest.mark.skipif(not Path("/proc").exists(), reason="processes are looked for in /proc")
def test_ctrl_c_in_the_middle_of_a_render_leaves_no_process(spec: Path, tmp_path: Path) -> None:
    with served(str(spec), folder=tmp_path) as server:
        origin = server.address.rsplit("/", 2)[0]
        body = json.dumps({"segments": [1, 2], "draft": True}).encode()
        headers = {"Origin": origin, "Content-Type": "application/json"}
        urlopen(Request(f"{server.address}render", body, headers)).close()
        end = time.monotonic() + 5
        while not drawing("rendering") and time.monotonic() < end:
            time.sleep(0.05)
        assert drawing("rendering")
        assert server.interrupt() < 1.0
    time.sleep(0.3)
    assert drawing("rendering") == []


def test_mistakes_in_the_file_are_what_a_render_says(client: TestClient, spec: Path) -> None:
    spec.write_text(CARDS.replace("plays: weir", "plays: wier"), encoding="utf-8")
    told = followed(client, {"segments": [1], "draft": True}) if os.name != "nt" else []
    assert told[-1]["state"] == "failed"
    assert "there is no figure wier." in told[-1]["message"]


@pytest.mark.parametrize("kind", ["png", "svg", "transparent", "slide", "thumbnail", "sheet"])
def test_a_still_is_what_the_command_writes(client: TestClient, tmp_path: Path, kind: str) -> None:
    from click.testing import CliRunner

    from renderer.command import main

    laid = client.get("state").json()["laid"]["number"]
    answer = client.post("still", json={"laid": laid, "segment": 2, "seconds": 3.25, "kind": kind})
    written = Path(answer.json()["path"])
    assert written.parent == tmp_path / "out"
    options = [] if kind == "png" else [f"--{kind}"]
    wanted = [] if kind in ("thumbnail", "sheet") else ["2@3.25s"]
    other = tmp_path / "other"
    done = CliRunner().invoke(
        main, ["still", str(tmp_path / "weir.yaml"), *wanted, *options, "--out", str(other)]
    )
    assert done.exit_code == 0, done.output
    (beside,) = (path for path in other.iterdir() if path.suffix in (".png", ".svg"))
    assert beside.name == written.name
    if kind == "svg":
        assert beside.read_bytes() == written.read_bytes()
    else:
        assert np.array_equal(np.asarray(Image.open(beside)), np.asarray(Image.open(written)))


@pytest.mark.parametrize(
    ("asked", "status"),
    [
        ({"kind": "exe"}, 400),
        ({"segment": 9}, 400),
        ({"segment": 0}, 400),
        ({"seconds": -1}, 400),
        ({"laid": 0}, 410),
    ],
)
def test_no_other_still_is_written(
    client: TestClient, tmp_path: Path, asked: dict[str, Any], status: int
) -> None:
    laid = client.get("state").json()["laid"]["number"]
    usual = {"laid": laid, "segment": 1, "seconds": 0, "kind": "png"}
    assert client.post("still", json={**usual, **asked}).status_code == status
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    ("wanted", "part"),
    [
        (None, (0, 1000)),
        ("bytes=0-499", (0, 500)),
        ("bytes=500-999", (500, 1000)),
        ("bytes=-500", (500, 1000)),
        ("bytes=500-", (500, 1000)),
        ("bytes=0-0", (0, 1)),
        ("bytes=-1", (999, 1000)),
        ("bytes=0-5000", (0, 1000)),
        ("bytes=1000-", None),
        ("bytes=-0", None),
        ("bytes=0-1,5-6", (0, 1000)),
        ("lines=0-1", (0, 1000)),
    ],
)
def test_parts_are_those_of_the_standard(wanted: str | None, part: tuple[int, int] | None) -> None:
    """The examples of RFC 9110, section 14.1.2, for a shorter file."""
    found = asked_part(wanted, 1000)
    assert (found and found[:2]) == part
