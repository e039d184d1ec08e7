"""The command line as a user meets it: exit status, messages, files that are there or not."""

import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from renderer.command import main
from renderer.reading.schema.document import spec_schema
from renderer.report.timeline_schema import timeline_schema
from tests.films import describe_film
from tests.lessons import EXAMPLE, SHORT

Run = Callable[..., Result]

HEAD = "tempo: 100\nmeter: 4/4\npulse: 1/16\nfigures: {weir: [4, 4, 3]}\n"
FORM = "form: [{section: Upper, bars: 2, plays: weir}]\nsegments: [figure]\n"


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    monkeypatch.chdir(tmp_path)

    def invoke(*arguments: str) -> Result:
        return CliRunner().invoke(main, list(arguments), catch_exceptions=False)

    return invoke


def test_a_reader_that_has_had_enough_is_no_fault(tmp_path: Path) -> None:
    path = tmp_path / "piece.yaml"
    path.write_text(HEAD + FORM.replace("bars: 2", "bars: 4000"))
    run = "from renderer.command import main; main()"
    for arguments in (["timeline", path, "--json"], ["timeline", path, "--csv"], ["timeline", path]):
        command = [sys.executable, "-c", run, *map(str, arguments)]
        with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as process:
            assert process.stdout is not None
            assert process.stderr is not None
            process.stdout.read(10)
            process.stdout.close()
            assert process.stderr.read() == b""
            assert process.wait() == 0


def write(text: str | bytes, name: str = "piece.yaml") -> str:
    data = text.encode() if isinstance(text, str) else text
    Path(name).write_bytes(data)
    return name


BAD = {
    "empty": ("", "piece.yaml"),
    "not UTF-8": (b"title: \xff\xfe", "UTF-8"),
    "a list in place of a map": ("- tempo: 100\n", "piece.yaml:1:1"),
    "unknown figure": (HEAD + FORM.replace("plays: weir", "plays: wier"), "weir"),
    "zero bars": (HEAD + FORM.replace("bars: 2", "bars: 0"), "got 0"),
    "a negative tempo": (HEAD.replace("100", "-100") + FORM, "piece.yaml:1:8"),
    "a tempo of 1e9": (HEAD.replace("100", "1e9") + FORM, "piece.yaml:1:8"),
    "1,000,000,000 bars": (HEAD + FORM.replace("bars: 2", "bars: 1000000000"), "piece.yaml:5"),
    "500 nested brackets": ("form: " + "[" * 500 + "]" * 500, "piece.yaml:1"),
    "an alias bomb": (
        "a: &a [x, x, x, x, x, x, x, x, x]\n"
        + "".join(
            f"{b}: &{b} [{', '.join(['*' + a] * 9)}]\n" for a, b in zip("abcdefgh", "bcdefghi", strict=True)
        ),
        "piece.yaml",
    ),
    "a python tag": ("title: !!python/object/apply:os.system [ls]\n" + HEAD + FORM, "piece.yaml:1:8"),
    "a key twice": (HEAD + "tempo: 120\n" + FORM, "tempo"),
}


@pytest.mark.parametrize("command", ["check", "timeline", "render"])
@pytest.mark.parametrize(("text", "told"), BAD.values(), ids=list(BAD))
def test_a_bad_spec_is_told_and_nothing_is_written(
    run: Run, text: str | bytes, told: str, command: str
) -> None:
    result = run(command, write(text))
    assert result.exit_code == 1
    assert told in result.stderr
    assert "Traceback" not in result.output
    assert [path.name for path in Path().iterdir()] == ["piece.yaml"]


@pytest.mark.parametrize("command", ["check", "timeline", "render"])
def test_a_missing_file_and_a_folder_are_told(run: Run, command: str) -> None:
    missing = run(command, "nowhere.yaml")
    assert missing.exit_code == 1
    assert "nowhere.yaml: no such file" in missing.stderr
    Path("folder").mkdir()
    folder = run(command, "folder")
    assert folder.exit_code == 1
    assert "folder: this is a folder" in folder.stderr


def test_an_out_folder_that_cannot_be_written_is_told(run: Run) -> None:
    write("I am a file", "taken")
    result = run("render", write(HEAD + FORM), "--out", "taken/deeper")
    assert result.exit_code == 1
    assert "taken/deeper" in result.stderr
    assert "--out" in result.stderr


@pytest.mark.parametrize(
    "arguments",
    [
        ("render",),
        ("render", "piece.yaml", "--size", "big"),
        ("render", "piece.yaml", "--size", "641x361"),
        ("render", "piece.yaml", "--fps", "fast"),
        ("render", "piece.yaml", "--fps", "0"),
        ("render", "piece.yaml", "4"),
        ("render", "piece.yaml", "wheel"),
        ("unknown",),
    ],
)
def test_a_wrong_command_line_has_exit_status_2(run: Run, arguments: tuple[str, ...]) -> None:
    write(HEAD + FORM)
    result = run(*arguments)
    assert result.exit_code == 2
    assert not Path("out").exists()


def test_render_writes_what_it_says_it_writes(run: Run) -> None:
    result = run("render", write(SHORT, "weir.yaml"), "1", "--size", "320x180", "--fps", "10", "--json")
    assert result.exit_code == 0, result.output
    files = json.loads(result.stdout)["files"]
    assert [row["path"] for row in files] == ["out/weir/click.wav", "out/weir/01-figure.mp4"]
    film = describe_film(Path(files[1]["path"]))
    assert files[1]["frames"] == film.frame_count
    assert files[1]["fps"] == "10"
    assert files[1]["show"] == "figure"
    assert abs(files[1]["seconds"] - float(film.seconds)) < 1e-9


def test_new_tells_a_name_that_can_be_no_title(run: Run) -> None:
    result = run("new", "x" * 100)
    assert result.exit_code == 1
    assert "room for 80" in result.stderr


def test_new_writes_a_spec_that_renders_and_never_over_a_file(run: Run) -> None:
    assert run("new", "mill-race").exit_code == 0
    text = Path("mill-race.yaml").read_text(encoding="utf-8")
    assert "Mill Race" in text
    assert run("check", "mill-race.yaml").exit_code == 0
    again = run("new", "mill-race")
    assert again.exit_code == 1
    assert "left as it is" in again.stderr
    assert Path("mill-race.yaml").read_text(encoding="utf-8") == text


def test_timeline_comes_as_table_json_and_csv(run: Run) -> None:
    spec = write(SHORT, "weir.yaml")
    assert json.loads(run("timeline", spec, "--json").stdout)["bars"] == 5
    assert len(run("timeline", spec, "--csv").stdout.splitlines()) == 1 + 8
    assert run("timeline", spec, "--csv", "--json").exit_code == 2
    table = run("timeline", spec)
    assert table.exit_code == 0
    assert "Upper" in table.stdout


def test_schema_prints_what_editors_and_programs_check_against(run: Run) -> None:
    assert json.loads(run("schema").stdout) == json.loads(run("schema", "spec").stdout) == spec_schema()
    assert json.loads(run("schema", "timeline").stdout) == timeline_schema()
    assert run("schema", "piece").exit_code == 2


def test_check_and_timeline_never_import_manim_or_numpy() -> None:
    code = (
        "import sys; from renderer.command import main\n"
        f"for command in ('check', 'timeline'):\n"
        f"    try: main([command, {str(EXAMPLE)!r}])\n"
        "    except SystemExit as end: assert not end.code, end.code\n"
        "assert not {'manim', 'numpy', 'av', 'pydub'} & set(sys.modules)"
    )
    subprocess.run([sys.executable, "-c", code], check=True, capture_output=True)
