"""What is printed: nothing from a spec or a file's name is a command to the terminal, and nothing fails unsaid."""

import ast
import csv
import io
import json
import os
import signal
import subprocess
import sys
import unicodedata
from pathlib import Path
from urllib.request import urlopen

import mido
import pytest
from click.testing import CliRunner, Result

from renderer.command import main
from renderer.core import terminal
from renderer.core.errors import FileError
from renderer.core.terminal import visible
from tests.films import describe_film
from tests.lessons import SHORT
from tests.test_imports import MODULES

HOSTILE = "\x1b[31m\x07\x9b2J\x85\x7f\u202e\u2066\u200b\u2028\ufeff"
"""An escape sequence, a bell, a C1 sequence, next line, delete, two turns of direction, what is not seen."""
RUN = [sys.executable, "-c", "from renderer.command import main; main()"]


def is_raw(text: str) -> list[str]:
    """What a terminal would act on or hide (general categories of the Unicode Character Database: control, format,
    surrogate, line and paragraph separator), but for lines and tabs."""
    return [
        mark
        for mark in text
        if unicodedata.category(mark) in ("Cc", "Cf", "Cs", "Zl", "Zp") and mark not in "\n\t"
    ]


class TestVisible:
    @pytest.mark.parametrize(
        ("mark", "shown"),
        [
            ("\x1b", r"\x1b"),
            ("\0", r"\x00"),
            ("\r", r"\x0d"),
            ("\b", r"\x08"),
            ("\x7f", r"\x7f"),
            ("\x9b", r"\x9b"),
            ("\u202e", r"\u202e"),
            ("\u2069", r"\u2069"),
            ("\u061c", r"\u061c"),
            ("\ufeff", r"\ufeff"),
            ("\u2028", r"\u2028"),
            ("\udc80", r"\udc80"),
            ("\U000e0041", r"\U000e0041"),
        ],
    )
    def test_what_a_terminal_would_act_on_or_hide_is_shown(self, mark: str, shown: str) -> None:
        assert visible(f"Weir {mark}!\n") == f"Weir {shown}!\n"

    @pytest.mark.parametrize("text", ["B♭ – 5½", "Wehr\n\tder\u00a0Mühle", "堰 𝄞", "a\u3000b"])
    def test_all_else_stays(self, text: str) -> None:
        assert visible(text) == text

    def test_no_character_slips_through(self) -> None:
        every = "".join(map(chr, range(sys.maxunicode + 1)))
        assert not is_raw(visible(every))


def test_nothing_else_prints() -> None:
    """So that nothing can be forgotten: no other module names a stream of its own or a function that prints. What
    another process prints may be read."""
    streams = {"stdout", "stderr", "__stdout__", "__stderr__"}
    printers = set()
    for name, path in MODULES.items():
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            match node:
                case ast.Call(func=ast.Name(id="print")) | ast.Attribute(attr="echo" | "secho"):
                    printers.add(name)
                case ast.Attribute(value=ast.Name(id="sys"), attr=attribute) if attribute in streams:
                    printers.add(name)
                case ast.ImportFrom(module="sys" | "click", names=names):
                    if {imported.name for imported in names} & (streams | {"echo", "secho", "*"}):
                        printers.add(name)
    assert printers == {"renderer.core.terminal"}


def invoke(*arguments: str) -> Result:
    return CliRunner().invoke(main, list(arguments), catch_exceptions=False)


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


QUOTED = HOSTILE.encode("unicode_escape").decode("ascii")
SPECS = {
    "a title": SHORT.replace("title: Weir", f'title: "{QUOTED}"'),
    "a key": SHORT + f'"{QUOTED}": 1\n',
    "a figure": SHORT.replace("weir: [4, 4, 3]", f'"{QUOTED}": [4, 4, 3]'),
    "a section": SHORT.replace("section: Upper", f'section: "{QUOTED}"'),
    "a harmony": SHORT.replace("1: Dm", f'1: "{QUOTED}"'),
    "a part": SHORT.replace("oboe: figure", f'"{QUOTED}": figure'),
    "a show": SHORT.replace("[figure, spread, play]", f'["{QUOTED}"]'),
    "a bar count": SHORT.replace("bars: 3", f'bars: "{QUOTED}"'),
    "a position": SHORT.replace("2.3: Bb", f'"{QUOTED}": Bb'),
    "a tempo": SHORT.replace("tempo: 137", f'tempo: "{QUOTED}"'),
    "a recording": SHORT + f'recording: "{QUOTED}.wav"\nsync: {{1: 0}}\n',
    "a voice file": SHORT.replace("play]", f'{{show: play, say: [{{text: x, file: "{QUOTED}.wav"}}]}}]'),
    "raw in a comment": SHORT + f"# {HOSTILE}\ntempo: 3\n",
    "raw in a value": SHORT.replace("title: Weir", f"title: {HOSTILE}"),
    "raw beside a mistake": SHORT.replace("bars: 3", f"bars: zero # {HOSTILE}"),
    "no YAML": f"title: [{HOSTILE}\n",
}


@pytest.mark.parametrize("text", SPECS.values(), ids=SPECS)
def test_a_spec_reaches_no_terminal(here: Path, text: str) -> None:
    Path("weir.yaml").write_text(text, encoding="utf-8")
    Path("plain.yaml").write_text(SHORT, encoding="utf-8")
    for arguments in (
        ("check", "weir.yaml"),
        ("timeline", "weir.yaml"),
        ("timeline", "weir.yaml", "--json"),
        ("timeline", "weir.yaml", "--csv"),
        ("export", "weir.yaml", "script", "edit", "midi", "score"),
        ("export", "weir.yaml", "script", "--json"),
        ("changes", "plain.yaml", "weir.yaml", "--music"),
        ("changes", "weir.yaml", "plain.yaml", "--music", "--json"),
        ("still", "weir.yaml"),
    ):
        result = invoke(*arguments)
        assert not is_raw(result.output), result.output
        assert result.exit_code in (0, 1)


ARGUMENTS = {
    "a command": (HOSTILE,),
    "an option": ("check", "weir.yaml", f"--{HOSTILE}"),
    "a spec": ("check", f"{HOSTILE}.yaml"),
    "a spec's name in bytes": ("check", "\udc9b\udcff.yaml"),
    "a segment": ("render", "weir.yaml", HOSTILE),
    "a size": ("render", "weir.yaml", "--size", HOSTILE),
    "a rate": ("render", "weir.yaml", "--fps", HOSTILE),
    "a cluster": ("render", "weir.yaml", "--cluster", HOSTILE),
    "a folder": ("render", "weir.yaml", "figure", "--out", f"weir.yaml/{HOSTILE}"),
    "a still's segment": ("still", "weir.yaml", f"{HOSTILE}@end"),
    "a still's time": ("still", "weir.yaml", f"play@{HOSTILE}"),
    "a speed": ("sound", "weir.yaml", "--speed", HOSTILE),
    "a format": ("sound", "weir.yaml", "--format", HOSTILE),
    "a place": ("align", "weir.yaml", "--bar-one", HOSTILE),
    "a new name": ("new", HOSTILE),
    "a file to read": ("new", "mill", "--from", f"{HOSTILE}.mid"),
    "a part": ("new", "mill", "--from", "weir.mid", "--part", HOSTILE),
    "a reading": ("new", "mill", "--from", "weir.mid", "--reading", HOSTILE),
    "a kind of file": ("export", "weir.yaml", HOSTILE),
    "a paper": ("export", "weir.yaml", "--paper", HOSTILE),
    "an earlier spec": ("changes", HOSTILE, "weir.yaml"),
    "bars": ("sound", "weir.yaml", "--bars", HOSTILE),
    "speeds": ("sound", "weir.yaml", "--speeds", f"50,{HOSTILE}"),
    "a port": ("preview", "weir.yaml", "--port", HOSTILE),
    "a schema": ("schema", HOSTILE),
}


@pytest.mark.parametrize("arguments", ARGUMENTS.values(), ids=ARGUMENTS)
def test_a_command_line_reaches_no_terminal(here: Path, arguments: tuple[str, ...]) -> None:
    Path("weir.yaml").write_text(SHORT, encoding="utf-8")
    write_played(Path("weir.mid"), "Weir")
    result = invoke(*arguments)
    assert result.exit_code in (1, 2)
    assert result.output
    assert not is_raw(result.output), result.output


def write_played(path: Path, name: str) -> None:
    """A MIDI file of some notes in which track and marker have this name."""
    file = mido.MidiFile(charset="utf-8")
    track = mido.MidiTrack(
        [mido.MetaMessage("track_name", name=name), mido.MetaMessage("set_tempo", tempo=500_000)]
    )
    track.append(mido.MetaMessage("marker", text=name))
    for length in (5, 3, 3) * 6:
        track.append(mido.Message("note_on", note=60, velocity=90))
        track.append(mido.Message("note_off", note=60, time=length * 120))
    file.tracks.append(track)
    file.save(path)


@pytest.mark.parametrize("part", [(), ("--part", "none")])
def test_a_file_that_is_read_reaches_no_terminal(here: Path, part: tuple[str, ...]) -> None:
    write_played(Path("weir.mid"), HOSTILE)
    result = invoke("new", "mill", "--from", "weir.mid", *part)
    assert not is_raw(result.output), result.output
    assert result.exit_code in (0, 1)


def test_ctrl_c_ends_the_page_without_a_word(here: Path) -> None:
    Path("weir.yaml").write_text(SHORT, encoding="utf-8")
    command = [*RUN, "preview", "weir.yaml", "--no-browser"]
    environment = os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)}
    pipe = subprocess.PIPE
    with subprocess.Popen(command, env=environment, text=True, stdout=pipe, stderr=pipe) as page:
        assert page.stdout is not None
        address = page.stdout.readline().strip()
        with urlopen(address, timeout=60) as answer:
            assert answer.status == 200
        page.send_signal(signal.SIGINT)
        _, told = page.communicate(timeout=60)
    assert (page.returncode, told) == (0, "")


def test_a_name_that_is_printed_after_the_work_is_shown(here: Path) -> None:
    name = f"{HOSTILE}.yaml".replace("\u2028", "")
    Path(name).write_text(SHORT, encoding="utf-8")
    result = invoke("still", name, "figure@end", "--size", "64x64")
    assert result.exit_code == 0
    assert not is_raw(result.output)
    assert visible(Path(name).stem) in result.output


class TestData:
    def test_json_is_the_same_data_and_reaches_no_terminal(self, capsys: pytest.CaptureFixture[str]) -> None:
        data = {f"key {HOSTILE}": ["♭", "𝄞", "\U000e0041", "\udc80"]}
        terminal.show_json([terminal.json_text(data)])
        printed = capsys.readouterr().out
        assert json.loads(printed) == data
        assert not is_raw(printed)
        assert "♭" in printed

    def test_json_is_data_in_an_alphabet_that_lacks_its_letters(
        self, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        stream = io.TextIOWrapper(io.BytesIO(), encoding="cp1252")
        monkeypatch.setattr(sys, "stdout", stream)
        terminal.show_json(['{"B♭": "Mühle 𝄞"}'])
        assert json.loads(stream.buffer.getvalue()) == {"B♭": "Mühle 𝄞"}

    def test_csv_is_data_for_a_program_and_shown_to_a_person(self, monkeypatch: pytest.MonkeyPatch) -> None:
        for person in (False, True):
            stream = io.TextIOWrapper(io.BytesIO(), encoding="utf-8", newline="")
            monkeypatch.setattr(stream, "isatty", lambda person=person: person, raising=False)
            monkeypatch.setattr(sys, "stdout", stream)
            terminal.show_data(f'name\n"{HOSTILE}"\n')
            stream.seek(0)
            assert list(csv.reader(stream))[1] == [visible(HOSTILE) if person else HOSTILE]

    @pytest.mark.parametrize("encoding", ["ascii", "cp1252", "utf-8"])
    def test_text_is_printed_in_any_alphabet(self, encoding: str, tmp_path: Path) -> None:
        spec = tmp_path / "weir.yaml"
        spec.write_text(SHORT.replace("title: Weir", "title: Wehr für B♭"), encoding="utf-8")
        environment = os.environ | {"PYTHONIOENCODING": encoding, "PYTHONPATH": os.pathsep.join(sys.path)}
        for arguments in (["check"], ["timeline"], ["timeline", "--csv"], ["timeline", "--json"]):
            command = [*RUN, arguments[0], str(spec), *arguments[1:]]
            done = subprocess.run(command, capture_output=True, env=environment, check=False)
            assert (done.returncode, done.stderr) == (0, b"")
            done.stdout.decode("utf-8" if "--csv" in arguments else encoding)


def run(*arguments: str, redirect: str, folder: Path) -> subprocess.CompletedProcess[str]:
    """A command with a shell's redirection."""
    environment = os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)}
    shell = ["sh", "-c", f'exec "$@" {redirect}', "sh", *RUN, *arguments]
    return subprocess.run(shell, cwd=folder, env=environment, capture_output=True, text=True, check=False)


@pytest.mark.skipif(
    not Path("/dev/full").exists(), reason="a disk that is always full is not on every system"
)
class TestOutputThatCannotBeWritten:
    @pytest.mark.parametrize(
        "arguments",
        [
            ("check", "weir.yaml"),
            ("timeline", "weir.yaml"),
            ("timeline", "weir.yaml", "--json"),
            ("timeline", "weir.yaml", "--csv"),
            ("schema",),
            ("--help",),
            ("--version",),
            ("check", "--help"),
        ],
    )
    def test_a_full_disk_is_told(self, tmp_path: Path, arguments: tuple[str, ...]) -> None:
        (tmp_path / "weir.yaml").write_text(SHORT, encoding="utf-8")
        done = run(*arguments, redirect="> /dev/full", folder=tmp_path)
        assert done.returncode == 1
        assert done.stderr == "The output can't be written: the disk is full.\n"

    def test_where_nobody_can_be_told_the_exit_status_tells(self, tmp_path: Path) -> None:
        (tmp_path / "weir.yaml").write_text("tempo: fast\n", encoding="utf-8")
        assert run("check", "weir.yaml", redirect="2> /dev/full", folder=tmp_path).returncode == 1
        assert run("check", "weir.yaml", redirect="2>&-", folder=tmp_path).returncode == 1
        assert run("check", redirect="2> /dev/full", folder=tmp_path).returncode == 2

    def test_a_closed_output_is_told(self, tmp_path: Path) -> None:
        (tmp_path / "weir.yaml").write_text(SHORT, encoding="utf-8")
        done = run("check", "weir.yaml", redirect=">&-", folder=tmp_path)
        assert (done.returncode, done.stderr) == (1, "The output can't be written: it is closed.\n")

    def test_a_film_does_not_get_the_handle_of_a_closed_stream(self, tmp_path: Path) -> None:
        (tmp_path / "weir.yaml").write_text(SHORT, encoding="utf-8")
        arguments = ("render", "weir.yaml", "figure", "--size", "64x64", "--fps", "2", "--jobs", "1")
        done = run(*arguments, redirect="<&- 2>&-", folder=tmp_path)
        assert done.returncode == 0
        assert describe_film(tmp_path / "out/weir/01-figure.mp4").frame_count > 0


def test_a_stream_that_is_closed_under_the_text_is_a_fault_in_words(monkeypatch: pytest.MonkeyPatch) -> None:
    class Full(io.StringIO):
        def write(self, text: str) -> int:
            raise OSError(28, "No space left on device")

    monkeypatch.setattr(sys, "stdout", Full())
    with pytest.raises(FileError) as caught:
        terminal.show("weir")
    assert str(caught.value) == "The output can't be written: the disk is full."
    monkeypatch.setattr(sys, "stderr", Full())
    terminal.report("weir")
