"""The command line as a user meets it: exit status, messages, files that are there or not."""

import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result

from renderer.command import main
from renderer.reading.schema.document import spec_schema
from renderer.report.timeline_schema import timeline_schema
from tests.films import describe_film
from tests.lessons import EXAMPLE, SHORT
from tests.whole_files import write_wav

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


def test_the_list_of_commands_cuts_no_line_off(run: Run) -> None:
    told = run("--help").output.partition("Commands:")[2]
    assert "..." not in told
    assert "export    Write SPEC's lesson for other programs: captions and more.\n" in told


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
    assert again.stderr == "mill-race.yaml already exists; not overwritten. Choose another name.\n"
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


def test_a_check_loads_no_other_command_and_no_schedule(tmp_path: Path) -> None:
    path = tmp_path / "kiln.yaml"
    path.write_text(HEAD + FORM.replace("[figure]", "[play, fit]"), encoding="utf-8")
    code = (
        "import sys; from renderer.command import main; main(sys.argv[1:], standalone_mode=False)\n"
        "print([name for name in sorted(sys.modules) if name.startswith(('renderer.schedule.', 'renderer.commands.'))])"
    )
    command = [sys.executable, "-c", code, "check", str(path)]
    result = subprocess.run(command, check=True, capture_output=True, text=True)
    names = ["renderer.commands.check", "renderer.commands.remarks", "renderer.schedule.shows"]
    assert result.stdout.splitlines()[-1] == str(names)


class TestWhatIsThere:
    """No command writes over a file that the spec reads, or one that barcross did not write."""

    TAKE = HEAD + "recording: click.wav\nsync: {1: 0}\nclick: beat\n" + FORM
    SMALL = ("--size", "64x64", "--fps", "1")

    def take(self, name: str) -> bytes:
        """Two seconds of a tone, as a recording."""
        tone = np.sin(np.arange(96_000) / 30).astype(np.float32)[:, np.newaxis] * 0.3
        write_wav(Path(name), np.repeat(tone, 2, axis=1))
        return Path(name).read_bytes()

    def test_render_leaves_the_recording(self, run: Run) -> None:
        spec, take = write(self.TAKE), self.take("click.wav")
        for extra in ((), ("--overwrite",)):
            result = run("render", spec, "--out", ".", *self.SMALL, *extra)
            assert result.exit_code == 1
            assert result.stderr.splitlines()[-1] == (
                "click.wav: the spec reads this file; not overwritten. Choose another place with --out."
            )
            assert Path("click.wav").read_bytes() == take
            assert not Path("01-figure.mp4").exists()

    @pytest.mark.parametrize("name", ["mix.wav", "recording.wav"])
    def test_sound_leaves_the_recording(self, run: Run, name: str) -> None:
        spec, take = write(self.TAKE.replace("click.wav", name)), self.take(name)
        result = run("sound", spec, "--out", ".")
        assert result.exit_code == 1
        assert f"{name}: the spec reads this file; not overwritten." in result.stderr
        assert Path(name).read_bytes() == take
        assert not {path.name for path in Path().glob("*.wav")} - {name}

    def test_render_leaves_a_film_of_the_users(self, run: Run) -> None:
        spec = write(HEAD + FORM)
        Path("out/piece").mkdir(parents=True)
        film = Path("out/piece/01-figure.mp4")
        film.write_bytes(b"mine")
        result = run("render", spec, *self.SMALL)
        assert (result.exit_code, result.stderr) == (
            1,
            f"{film}: barcross did not write this file, or it was changed since; not overwritten. "
            "Move it, choose another place with --out, or add --overwrite.\n",
        )
        assert film.read_bytes() == b"mine"
        assert run("render", spec, *self.SMALL, "--overwrite").exit_code == 0
        assert describe_film(film).frame_count > 0
        assert run("render", spec, *self.SMALL).exit_code == 0

    @pytest.mark.parametrize("svg", [False, True])
    def test_still_leaves_a_picture_of_the_users(self, run: Run, svg: bool) -> None:
        spec, kind = write(HEAD + FORM), ("--svg",) if svg else ("--size", "64x64")
        path = Path("01-figure@end.svg" if svg else "01-figure@end-64x64.png")
        arguments = ("still", spec, "figure@end", "--out", ".", *kind)
        path.write_bytes(b"mine")
        assert run(*arguments).exit_code == 1
        assert path.read_bytes() == b"mine"
        path.unlink()
        assert run(*arguments).exit_code == 0
        assert run(*arguments).exit_code == 0
        path.write_bytes(path.read_bytes() + b" ")
        assert run(*arguments).exit_code == 1
        assert run(*arguments, "--overwrite").exit_code == 0

    def test_align_leaves_the_spec(self, run: Run) -> None:
        spec = write(self.TAKE, "sync.yaml")
        self.take("click.wav")
        result = run("align", spec, "--out", spec)
        assert (result.exit_code, result.stderr) == (
            1,
            "sync.yaml: the spec reads this file; not overwritten. Choose another place with --out.\n",
        )
        assert Path("sync.yaml").read_text(encoding="utf-8") == self.TAKE

    def test_clearing_the_cache_leaves_what_a_link_leads_to(self, run: Run) -> None:
        spec = write(HEAD + FORM)
        Path("photos").mkdir()
        Path("photos/holiday.jpg").write_bytes(b"mine")
        Path("photos", "a" * 40).write_bytes(b"mine")
        Path("out/piece").mkdir(parents=True)
        Path("out/piece/.chunks").symlink_to(Path("photos").absolute())
        result = run("render", spec, "--clear-cache", *self.SMALL)
        assert result.exit_code == 1
        assert "out/piece/.chunks: this is a link" in result.stderr
        assert len(list(Path("photos").iterdir())) == 2

    def test_new_leaves_a_link_that_leads_nowhere(self, run: Run) -> None:
        Path("mill.yaml").symlink_to("elsewhere/mill.yaml")
        result = run("new", "mill")
        assert (result.exit_code, result.stderr) == (
            1,
            "mill.yaml already exists; not overwritten. Choose another name.\n",
        )
        assert Path("mill.yaml").is_symlink()
        assert not Path("elsewhere").exists()


class TestNamesThatAreTooLong:
    """Longer than 255 bytes, where file systems end (POSIX: NAME_MAX)."""

    @pytest.mark.parametrize("long", ["n" * 300, "é" * 130], ids=["300 letters", "260 bytes"])
    @pytest.mark.parametrize(
        "arguments",
        [
            ("check", "{long}.yaml"),
            ("timeline", "{long}.yaml"),
            ("render", "piece.yaml", "--out", "{long}"),
            ("render", "piece.yaml", "--out", "{long}", "--clear-cache"),
            ("still", "piece.yaml", "figure@end", "--out", "{long}"),
            ("sound", "piece.yaml", "--out", "{long}"),
            ("sound", "piece.yaml", "--out", "deeper/{long}"),
            ("align", "taken.yaml", "--out", "{long}.yaml"),
            ("align", "taken.yaml", "--out", "{long}/sync.yaml"),
            ("check", "recorded.yaml"),
            ("render", "recorded.yaml"),
        ],
    )
    def test_are_told(self, run: Run, arguments: tuple[str, ...], long: str) -> None:
        write(HEAD + FORM)
        write(HEAD + "recording: take.wav\nsync: {1: 0}\n" + FORM, "taken.yaml")
        write(HEAD + f"recording: {long}.wav\nsync: {{1: 0}}\n" + FORM, "recorded.yaml")
        result = run(*(argument.format(long=long) for argument in arguments))
        assert result.exit_code == 1
        assert result.stderr.count("the name is too long") == 1
        assert not list(Path().rglob("*.mp4"))

    def test_new_tells_it_too(self, run: Run) -> None:
        result = run("new", "é" * 130 + "/mill")
        assert (result.exit_code, list(Path().iterdir())) == (1, [])
        assert "the name is too long" in result.stderr


@pytest.mark.parametrize("name", ["", " ", "/", ".", "..", "deeper/", "deeper/..", ".yaml", "deeper/.yml"])
def test_new_refuses_what_is_no_name(run: Run, name: str) -> None:
    Path("deeper").mkdir()
    result = run("new", name)
    assert result.exit_code == 2
    assert f"{name!r} is not a file's name. Write, for example: barcross new mill-race" in result.stderr
    assert [path.name for path in Path().rglob("*")] == ["deeper"]
    assert not Path("/.yaml").exists()


def test_new_tells_a_folder_that_is_not_there(run: Run) -> None:
    result = run("new", "nowhere/mill")
    assert (result.exit_code, result.stderr) == (
        1,
        "nowhere/mill.yaml: can't be written: there is no folder nowhere.\n",
    )
