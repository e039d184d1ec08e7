"""The command `export`, and what holds for every kind of file."""

import json
from collections.abc import Mapping
from fractions import Fraction
from importlib import import_module
from pathlib import Path

import pytest
from click.testing import CliRunner

from renderer.command import main
from renderer.export import export as exporting
from renderer.export.characters import held, is_ascii, is_text
from renderer.export.export import export_lesson
from renderer.export.kinds import KINDS
from renderer.lesson.lesson import open_lesson
from renderer.schedule.shows import load_named
from tests.test_export_captions import SAID

ROOT = Path(__file__).parent.parent
REFERENCE = (ROOT / "specs" / "REFERENCE.md").read_text(encoding="utf-8")


@pytest.fixture
def spec(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    path = tmp_path / "weir.yaml"
    path.write_text(SAID, encoding="utf-8")
    return path


def written(folder: Path) -> Mapping[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.name != ".barcross"}


@pytest.mark.parametrize("name", KINDS)
def test_a_record_s_maker_is_there_and_the_reference_has_its_section(name: str) -> None:
    assert KINDS[name].name == name
    assert callable(load_named(KINDS[name].make))
    assert f"\n### `{name}`\n" in REFERENCE


def test_all_kinds_are_written_with_the_same_bytes_each_time(spec: Path) -> None:
    first = CliRunner().invoke(main, ["export", "weir.yaml", "--json"])
    assert first.exit_code == 0, first.output
    rows = json.loads(first.stdout)["files"]
    assert {row["kind"] for row in rows} == set(KINDS)
    found = written(spec.parent / "out" / "weir")
    assert {Path(row["path"]).name for row in rows} == set(found)
    assert CliRunner().invoke(main, ["export", "weir.yaml", "--out", "again"]).exit_code == 0
    assert written(spec.parent / "again") == found
    assert CliRunner().invoke(main, ["export", "weir.yaml"]).exit_code == 0, "over its own files"
    assert written(spec.parent / "out" / "weir") == found


def test_one_kind_alone_writes_the_same(spec: Path) -> None:
    lesson = open_lesson(spec)
    export_lesson(lesson, Path("all"))
    everything = written(Path("all"))
    for name in KINDS:
        alone = export_lesson(lesson, Path(name), [name])
        assert {row.kind for row in alone.files} == {name}
        assert all(content == everything[each] for each, content in written(Path(name)).items())


def test_an_unknown_kind_is_told_with_the_nearest(spec: Path) -> None:
    result = CliRunner().invoke(main, ["export", "weir.yaml", "captoins"])
    assert result.exit_code == 2
    known = ", ".join(KINDS)
    assert result.stderr.endswith(f"Error: Nothing is called captoins. Write captions? There are: {known}.\n")


def test_files_of_others_stay(spec: Path) -> None:
    mine = spec.parent / "out" / "weir" / "lesson.srt"
    mine.parent.mkdir(parents=True)
    mine.write_text("mine")
    with pytest.raises(SystemExit) as left:
        main.main(["export", "weir.yaml"])
    assert left.value.code == 1
    assert written(mine.parent) == {"lesson.srt": b"mine"}


def test_a_missing_library_is_told_with_the_command_that_installs_it(
    spec: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def without(name: str) -> object:
        if name == "mido":
            raise ImportError(name)
        return import_module(name)

    monkeypatch.setattr(exporting, "import_module", without)
    taken = [kind.name for kind in KINDS.values() if "mido" in kind.libraries]
    message = "No {}: mido is not installed. Install: pip install 'barcross[export]'"
    everything = export_lesson(open_lesson(spec), Path("all"))
    assert [text for text in everything.remarks if "installed" in text] == [
        message.format(name) for name in taken
    ]
    assert {row.kind for row in everything.files} == set(KINDS) - set(taken)
    for name in taken:
        with pytest.raises(SystemExit) as left:
            main.main(["export", "weir.yaml", name])
        assert left.value.code == 1
        assert capsys.readouterr().err == f"{message.format(name)}\n"


def test_a_lesson_with_nothing_to_say_says_so(spec: Path) -> None:
    spec.write_text(SAID.partition("segments:")[0], encoding="utf-8")
    result = CliRunner().invoke(main, ["export", "weir.yaml"])
    assert "No captions: nothing is said in this lesson. Give a segment say: lines." in result.stderr


@pytest.mark.parametrize(
    ("text", "ascii_only", "in_text"),
    [
        ("Bb7(♯9) – Dvořák → 鼓", "Bb7(#9) - Dvorak -> ?", "Bb7(♯9) – Dvořák → 鼓"),
        ("G♭maj7 “Weir”", 'Gbmaj7 "Weir"', "G♭maj7 “Weir”"),
        ("a\x07b\nc\ud800", "a?b c?", "a?b c?"),
        ("e\u0301", "e", "e\u0301"),
    ],
)
def test_what_a_format_can_not_hold_is_replaced_in_one_way(text: str, ascii_only: str, in_text: str) -> None:
    assert held(text, is_ascii) == ascii_only
    assert held(text, is_text) == in_text


def test_the_rate_of_the_films_is_the_exports(spec: Path) -> None:
    lesson = open_lesson(spec)
    at = {rate: export_lesson(lesson, Path(f"at{rate}"), ["captions"], Fraction(rate)) for rate in (1, 60)}
    assert all(exports.files for exports in at.values())
    assert written(Path("at1"))["lesson.vtt"] != written(Path("at60"))["lesson.vtt"]
    assert written(Path("at1"))["01-figure.vtt"] == written(Path("at60"))["01-figure.vtt"]
