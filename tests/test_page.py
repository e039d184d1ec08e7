"""The page's server: who may ask, what is answered, and that nothing but the lesson is."""

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from starlette.testclient import TestClient
from starlette.websockets import WebSocketDisconnect

from renderer.lesson.lesson import open_lesson
from renderer.page.guard import new_token
from scenes.catalogue import build_segment
from scenes.draw.look import WIDE, look_of
from scenes.draw.segment import Moment
from scenes.draw.shapes import PIXEL
from tests.boxes import FRAME
from tests.lessons import SHORT
from tests.page_client import HOST, NOTICES, ORIGIN, PORT, TOKEN, page_client, read_frames


@pytest.fixture
def spec(tmp_path: Path) -> Path:
    path = tmp_path / "weir.yaml"
    path.write_text(SHORT, encoding="utf-8")
    return path


@pytest.fixture
def client(spec: Path) -> Iterator[TestClient]:
    with page_client(spec) as client:
        yield client


def number_of(client: TestClient) -> int:
    return int(client.get("state").json()["laid"]["number"])


@pytest.mark.parametrize(
    ("path", "headers", "status"),
    [
        (f"/{TOKEN}/state", {}, 200),
        (f"/{TOKEN}/state", {"host": f"localhost:{PORT}"}, 200),
        ("/state", {}, 403),
        ("/", {}, 403),
        (f"/{TOKEN}x/state", {}, 403),
        (f"/{TOKEN[:-1]}/state", {}, 403),
        (f"/{TOKEN}/state", {"host": "lesson.example"}, 403),
        (f"/{TOKEN}/state", {"host": f"lesson.example:{PORT}"}, 403),
        (f"/{TOKEN}/state", {"host": "127.0.0.1"}, 403),
        (f"/{TOKEN}/state", {"sec-fetch-site": "cross-site"}, 403),
        (f"/{TOKEN}/state", {"sec-fetch-site": "same-site"}, 403),
        (f"/{TOKEN}/state", {"sec-fetch-site": "same-origin"}, 200),
    ],
)
def test_only_the_page_itself_is_answered(
    client: TestClient, path: str, headers: dict[str, str], status: int
) -> None:
    """A name that another site has led to 127.0.0.1 comes with that name as its host (DNS rebinding)."""
    assert client.get(f"http://{HOST}{path}", headers=headers).status_code == status


@pytest.mark.parametrize(
    "origin", ["http://lesson.example", "null", "http://127.0.0.1:1", f"https://{HOST}", ""]
)
def test_nothing_is_written_for_another_page(client: TestClient, spec: Path, origin: str) -> None:
    body = {"text": "title: Other", "seen": 1}
    for name in ("save", "draft", "bars"):
        assert client.post(name, json=body, headers={"origin": origin}).status_code == 403
    with pytest.raises(WebSocketDisconnect), client.websocket_connect(NOTICES, headers={"origin": origin}):
        pass
    assert spec.read_text(encoding="utf-8") == SHORT


@pytest.mark.parametrize(
    "name",
    [
        "../weir.yaml",
        "weir.yaml",
        "%2e%2e/weir.yaml",
        "/etc/passwd",
        "%2fetc%2fpasswd",
        "page.css/main.js",
        "..%5cmain.js",
    ],
)
def test_no_name_leads_to_a_file(client: TestClient, name: str) -> None:
    assert client.get(f"http://{HOST}/{TOKEN}/{name}").status_code in (403, 404)
    assert client.get("main.js").status_code == 200


def test_each_answer_says_what_a_browser_may_do_with_it(client: TestClient) -> None:
    for name in ("", "main.js", "state", "nothing"):
        headers = client.get(name).headers
        policy = headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "script-src 'self';" in policy
        assert "http" not in policy
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["referrer-policy"] == "no-referrer"
        assert headers["cache-control"] == "no-store"
        assert headers["cross-origin-resource-policy"] == "same-origin"


def test_the_page_loads_nothing_from_anywhere_else(client: TestClient) -> None:
    from renderer.page.assets import read_assets

    for name, asset in read_assets().items():
        if asset.kind.startswith("text/"):
            text = asset.content.decode()
            assert "https://" not in text, name
            assert "innerHTML" not in text, name
            assert "insertAdjacentHTML" not in text, name
            assert "eval(" not in text, name


def test_tokens_are_long_and_differ() -> None:
    """128 bits are what OWASP asks of session identifiers; from memory."""
    tokens = {new_token() for _ in range(100)}
    assert len(tokens) == 100
    assert min(map(len, tokens)) * 6 >= 128


def test_too_much_at_once_is_refused(client: TestClient) -> None:
    assert client.post("draft", content=b" " * (5 << 20)).status_code == 403


def test_the_state_is_the_files_text_and_what_it_says(client: TestClient) -> None:
    state = client.get("state").json()
    assert state["text"] == SHORT
    assert state["name"] == "weir.yaml"
    assert state["mistakes"] == []
    assert [one["show"] for one in state["laid"]["segments"]] == ["figure", "spread", "play"]


@pytest.mark.parametrize("segment", [1, 2, 3])
def test_pictures_come_as_the_shapes_that_are_drawn(client: TestClient, spec: Path, segment: int) -> None:
    """Each outline to a hundredth of a pixel, in the same order, in the same colour, in every frame."""
    lesson = open_lesson(spec)
    drawn = build_segment(lesson.segments()[segment - 1].schedule, look_of(lesson.spec.theme))
    answer = client.get(f"frames?laid={number_of(client)}&segment={segment}&first=30&count=4&rate=30")
    frames = read_frames(answer.content)
    assert frames.head["first"] == 30
    assert len(frames.pictures) == 4
    middle = np.array([WIDE.width / 2, WIDE.height / 2])
    for index, identities in enumerate(frames.pictures, start=30):
        shapes = [shape for shape in drawn.picture(Moment(index * FRAME * 2, FRAME * 2)) if len(shape.points)]
        assert len(identities) == len(shapes)
        for identity, shape in zip(identities, shapes, strict=True):
            colour, opacity, curves = frames.shapes[identity]
            expected = shape.points[:, :2] / np.array([PIXEL, -PIXEL]) + middle
            np.testing.assert_allclose(curves.reshape(-1, 2), expected, atol=0.01)
            red, green, blue, alpha = shape.fill
            assert colour == f"#{round(red * 255):02x}{round(green * 255):02x}{round(blue * 255):02x}"
            assert opacity == pytest.approx(alpha, abs=1e-4)


def test_frames_beyond_the_end_are_the_last_one(client: TestClient) -> None:
    number = number_of(client)
    frames = read_frames(client.get(f"frames?laid={number}&segment=3&first=99999&count=9").content)
    assert frames.head["first"] == frames.head["last"] - 1
    assert len(frames.pictures) == 1


@pytest.mark.parametrize(
    ("asked", "status"),
    [
        ("frames?laid=0&segment=1&first=0", 410),
        ("frames?laid={laid}&segment=9&first=0", 410),
        ("frames?laid={laid}&segment=0&first=0", 410),
        ("frames?laid={laid}&segment=1&first=-1", 400),
        ("frames?laid={laid}&segment=1&first=x", 400),
        ("frames?laid={laid}&segment=1&first=0&rate=7", 400),
        ("frames?laid={laid}&segment=1&first=0&speed=500", 400),
        ("frames?laid={laid}&segment=1&first=0&speed=0", 400),
        ("sound?laid={laid}&segment=3&start=0&from=9&to=9", 400),
        ("line?segment=1", 400),
    ],
)
def test_what_can_not_be_answered_is_refused_with_a_word(client: TestClient, asked: str, status: int) -> None:
    answer = client.get(asked.format(laid=number_of(client)))
    assert answer.status_code == status
    assert answer.json()["problem"]


@pytest.mark.parametrize("name", ["draft", "save", "bars", "both", "taps", "begin", "still", "render"])
@pytest.mark.parametrize(
    "body", [b"", b"[]", b"{}", b"7", b"{", b'{"text": 3, "laid": [], "seen": {}}', b"\xff\xfe", b"[" * 9999]
)
def test_whatever_is_asked_there_is_an_answer(client: TestClient, spec: Path, name: str, body: bytes) -> None:
    answer = client.post(name, content=body)
    assert answer.status_code in (400, 410, 422)
    assert answer.json()["problem"]
    assert spec.read_text(encoding="utf-8") == SHORT


def test_the_line_has_each_beat_and_repetition_at_its_time(client: TestClient, spec: Path) -> None:
    lesson = open_lesson(spec)
    schedule = lesson.segments()[2].schedule
    line = client.get(f"line?laid={number_of(client)}&segment=3").json()
    timeline = lesson.timeline
    assert line["seconds"] == float(schedule.seconds)
    assert [row[2:4] for row in line["beats"]] == [[beat.bar_number, beat.number] for beat in timeline.beats]
    for row, beat in zip(line["beats"], timeline.beats, strict=True):
        expected = schedule.seconds_at(beat.at)
        assert expected is not None
        assert row[4] == pytest.approx(float(expected), abs=1e-4)
    assert [row[0] for row in line["sails"]] == list(range(len(timeline.repetitions)))


def test_each_save_is_told_to_who_listens(client: TestClient, spec: Path) -> None:
    with client.websocket_connect(NOTICES, headers=ORIGIN) as notices:
        changed = SHORT.replace("title: ", "title: New ")
        spec.write_text(changed, encoding="utf-8")
        told = notices.receive_json()
        assert told["text"] == changed
        moved = spec.with_name("beside.yaml")
        moved.write_text(SHORT, encoding="utf-8")
        moved.replace(spec)  # as many editors save
        assert notices.receive_json()["text"] == SHORT
        spec.write_text(SHORT.replace("bars:", "brs:", 1), encoding="utf-8")
        told = notices.receive_json()
        assert told["mistakes"]
        assert told["laid"]["segments"], "what was last without mistakes is still shown"
        spec.unlink()
        told = notices.receive_json()
        assert told["mistakes"][0]["problem"].endswith("no such file. Write one with: barcross new weir")
        assert told["laid"]["segments"]
        assert told["text"]


def test_a_save_is_whole_and_refused_over_what_one_has_not_seen(client: TestClient, spec: Path) -> None:
    state = client.get("state").json()
    mine = SHORT.replace("title: ", "title: My ")
    saved = client.post("save", json={"text": mine, "seen": state["edition"]})
    assert saved.status_code == 200
    assert spec.read_text(encoding="utf-8") == mine
    theirs = SHORT.replace("title: ", "title: Their ")
    spec.write_text(theirs, encoding="utf-8")
    refused = client.post("save", json={"text": SHORT, "seen": saved.json()["edition"]})
    assert refused.status_code == 409
    assert refused.json()["problem"] == "weir.yaml was changed elsewhere. Nothing is overwritten."
    assert refused.json()["file"]["text"] == theirs
    assert spec.read_text(encoding="utf-8") == theirs
    again = client.post("save", json={"text": mine, "seen": refused.json()["file"]["edition"]})
    assert again.status_code == 200
    spec.unlink()
    gone = client.post("save", json={"text": SHORT, "seen": again.json()["edition"]})
    assert gone.status_code == 409
    assert not spec.exists()


def test_two_pages_see_what_one_of_them_saves(client: TestClient) -> None:
    state = client.get("state").json()
    with (
        client.websocket_connect(NOTICES, headers=ORIGIN) as one,
        client.websocket_connect(NOTICES, headers=ORIGIN) as two,
    ):
        mine = SHORT.replace("title: ", "title: My ")
        client.post("save", json={"text": mine, "seen": state["edition"]})
        assert one.receive_json()["text"] == two.receive_json()["text"] == mine
        late = client.post("save", json={"text": SHORT, "seen": state["edition"]})
        assert late.status_code == 409


def test_a_draft_is_read_and_nothing_is_written(client: TestClient, spec: Path) -> None:
    number = number_of(client)
    good = client.post(
        "draft", json={"text": SHORT.replace("title: ", "title: Draft "), "laid": number}
    ).json()
    assert good["laid"]["title"].startswith("Draft ")
    wrong = client.post("draft", json={"text": "title: X\ntempo: fast", "laid": number}).json()
    assert wrong["mistakes"]
    assert wrong["laid"]["number"] == number
    assert spec.read_text(encoding="utf-8") == SHORT


def test_findings_are_what_check_says(client: TestClient, spec: Path) -> None:
    from renderer.lesson.lesson import open_planned
    from renderer.report.section_advice import describe

    lesson, plan = open_planned(spec)
    found = client.get(f"findings?laid={number_of(client)}").json()
    assert found["lines"] == describe(plan, lesson.timeline)


def test_a_number_of_bars_waits_for_a_text_that_can_be_read(client: TestClient) -> None:
    number = number_of(client)
    text = SHORT.replace("plays: on", "plays: [on")
    asked = {"text": text, "entry": 0, "index": 0, "count": 4, "from": number, "laid": number}
    answer = client.post("bars", json=asked)
    line = client.post("draft", json={"text": text, "laid": number}).json()["mistakes"][0]["line"]
    assert answer.status_code == 422
    assert answer.json()["problem"] == f"Mend line {line} first."
    assert line >= text.split("\n").index("    plays: [on") + 1
