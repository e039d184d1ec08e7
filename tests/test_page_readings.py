"""A MIDI or MusicXML file that is read on the page: the same text as the command's, and nothing but what is taken is
written."""

import json
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from starlette.testclient import TestClient

from renderer.command import main
from renderer.core.errors import FileError
from renderer.export.midi import make_midi
from renderer.lesson.lesson import Lesson
from renderer.listening.read_score import UntimedError
from renderer.page.guard import MOST_BODY
from renderer.page.reading_process import heard_in
from renderer.page.readings import picture_text, shown_name
from renderer.reading.load import parse_spec
from renderer.timeline.build import build_timeline
from tests.lessons import SHORT
from tests.midi_files import figure_of_eleven, heading, meta, midi_bytes, notes
from tests.page_client import page_client, read_frames


def read(client: TestClient, data: bytes, **asked: str) -> list[dict[str, Any]]:
    """What is told while a file is read."""
    answer = client.post("read", params={"name": "weir.mid", **asked}, content=data)
    assert answer.status_code == 200
    return [json.loads(line) for line in answer.text.splitlines()]


def by_command(folder: Path, data: bytes, *options: str) -> str:
    """The text that the command writes."""
    (folder / "weir.mid").write_bytes(data)
    asked = ["new", str(folder / "own.yaml"), "--from", str(folder / "weir.mid"), *options]
    assert CliRunner().invoke(main, asked, catch_exceptions=False).exit_code == 0
    return (folder / "own.yaml").read_text(encoding="utf-8")


def found_in(data: bytes, part: str | None = None, tempo: str | None = None) -> dict[str, Any]:
    """What is found, without a process of its own."""
    return heard_in(data, "weir.mid", part, tempo, lambda step: None)


def test_readings_are_told_shown_and_taken_as_the_command_writes_them(tmp_path: Path) -> None:
    data = figure_of_eleven(more=2)
    own, page = tmp_path / "own", tmp_path / "page"
    own.mkdir()
    page.mkdir()
    with page_client(page / "new.yaml", named=False) as client:
        *steps, last = read(client, data, part="Marimba", theme="light")
        assert [step["step"] for step in steps] == [
            "Reading weir.mid",
            "Looking for the figure in Marimba",
            *(f"Writing out reading {number} of 3" for number in (1, 2, 3)),
        ]
        found = last["found"]
        assert found["parts"] == [{"name": "Marimba", "notes": 52}, {"name": "Drum", "notes": 38}]
        assert [reading["label"] for reading in found["readings"]] == ["5+3+3", "3+3+5", "3+5+3"]
        second = found["readings"][1]
        assert second["command"] == "--from weir.mid --part Marimba --reading 2"
        assert second["text"] == by_command(own, data, "--part", "Marimba", "--reading", "2")
        assert second["laid"]["theme"] == "light"
        asked = {"laid": second["laid"]["number"], "segment": 1, "first": 0, "count": 1}
        picture = read_frames(client.get("frames", params=asked).content)
        left, top, right, bottom = second["seen"]
        assert 0 <= left < right <= picture.head["size"][0]
        assert 0 < top < bottom < picture.head["size"][1], "the room round the row is left out"
        assert len(picture.pictures[0]) > 20
        assert [*page.iterdir()] == []
        taken = client.post("take", json={"text": second["text"], "name": "../../Slow Lock"})
        assert taken.json()["name"] == "slow-lock.yaml"
        assert [path.name for path in page.iterdir()] == ["slow-lock.yaml"]
        assert (page / "slow-lock.yaml").read_text(encoding="utf-8") == second["text"]
        again = client.post("take", json={"text": second["text"], "name": "other"})
        assert again.json()["problem"] == "This lesson has begun already."


def test_a_file_that_is_there_is_not_written_over(tmp_path: Path) -> None:
    (tmp_path / "mine.yaml").write_text("mine", encoding="utf-8")
    with page_client(tmp_path / "new.yaml", named=False) as client:
        refused = client.post("take", json={"text": "title: Ours\n", "name": "mine"})
    assert refused.json()["problem"] == (
        "mine.yaml is there already; not overwritten. Give the new file another name."
    )
    assert (tmp_path / "mine.yaml").read_text(encoding="utf-8") == "mine"


def test_a_name_that_was_given_stays(tmp_path: Path) -> None:
    with page_client(tmp_path / "mine.yml") as client:
        taken = client.post("take", json={"text": "title: Ours\n", "name": "other"})
    assert taken.json()["name"] == "mine.yml"
    assert (tmp_path / "mine.yml").read_text(encoding="utf-8") == "title: Ours\n"


def test_what_cannot_be_read_is_told_and_nothing_is_written(tmp_path: Path) -> None:
    """It may be larger than all else that the page takes."""
    with page_client(tmp_path / "new.yaml", named=False) as client:
        told = read(client, bytes(MOST_BODY + 1), name="../<img src=x>\n.mid")
        assert told[-1] == {"problem": "<img src=x> .mid: this is neither a MIDI file nor MusicXML."}
        assert [*tmp_path.iterdir()] == []


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"The weir, bar by bar.", "weir.mid: this is neither a MIDI file nor MusicXML."),
        (b"", "weir.mid: this is neither a MIDI file nor MusicXML."),
        (midi_bytes(heading()), "weir.mid: there are no notes in it."),
        (
            b"MThd\0\0\0\6\0\0\0\1\1\xe0MTrk" + bytes(4_000_001),
            "weir.mid: it is larger than 4 MB. Save the part that you need alone.",
        ),
    ],
)
def test_a_fault_has_the_command_s_words(data: bytes, said: str) -> None:
    with pytest.raises(FileError) as caught:
        found_in(data)
    assert str(caught.value) == said


def test_a_tempo_may_be_said_and_a_wrong_one_is_told(tmp_path: Path) -> None:
    data = figure_of_eleven(tempo=False)
    with pytest.raises(UntimedError):
        found_in(data)
    assert found_in(data, tempo="84")["readings"][0]["text"] == by_command(tmp_path, data, "--tempo", "84")
    with pytest.raises(Exception, match="Tempo: got fast; a tempo is 1 to 1,000 quarter notes a minute"):
        found_in(data, tempo="fast")


def test_what_is_not_sure_and_what_is_left_out_stand_apart() -> None:
    data = midi_bytes(
        heading((100, meta("marker", text="Astray"))),
        [(0, meta("track_name", name="Reed")), *notes([0, 480, 960, 1440])],
    )
    found = found_in(data)
    (reading,) = found["readings"]
    assert reading["kind"] == "none"
    assert reading["label"] == ""
    assert found["bars"] is None
    assert found["summary"] == "1 bar of 4/4, tempo 120, 1 section, 1 part."
    assert reading["said"]["left out"] == ["Left out, because no bar begins there: Astray."]
    assert parse_spec(picture_text(reading["text"], None, None), "weir.yaml").segments[0].show == "form"


def test_a_file_that_barcross_wrote_has_its_spec_and_a_part_of_it_can_be_read_all_the_same(
    tmp_path: Path,
) -> None:
    spec = parse_spec(SHORT, "weir.yaml")
    (made,) = make_midi(Lesson(spec, build_timeline(spec), text=SHORT), Fraction(60))
    data = made.content
    found = found_in(data)
    (reading,) = found["readings"]
    assert (reading["kind"], found["carried"], found["bars"]) == ("carried", True, (1, 4))
    assert reading["text"] == by_command(tmp_path, data)
    name = found["part"]
    (tmp_path / "own.yaml").unlink()
    asked = found_in(data, part=name)["readings"][0]
    assert asked["kind"] != "carried"
    assert asked["text"] == by_command(tmp_path, data, "--part", name)


def test_a_name_from_a_browser_is_text_and_leads_nowhere() -> None:
    assert shown_name("../../etc/weir.mid") == "weir.mid"
    assert shown_name("C:\\scores\\weir.mid") == "weir.mid"
    assert shown_name("..\n") == ".."
    assert shown_name("<b>weir\u202e.mid") == "<b>weir .mid"
    assert shown_name("\x1b") == "file"


def test_a_file_comes_from_the_page_alone_and_has_its_limit(tmp_path: Path) -> None:
    with page_client(tmp_path / "new.yaml", named=False) as client:
        for name in ("read", "take"):
            other = client.post(name, headers={"origin": "http://elsewhere.example"}, content=b"{}")
            assert other.status_code == 403
        large = client.post("read", headers={"content-length": "32000001"}, content=b"")
        assert large.status_code == 403
        assert large.text == "This is too much at once."
        assert (
            client.post("take", headers={"content-length": str(MOST_BODY + 1)}, content=b"").status_code
            == 403
        )
