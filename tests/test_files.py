"""Files appear whole or not at all."""

import ast
import errno
import os
import tempfile
import time
from pathlib import Path

import pytest

from renderer.core import files
from renderer.core.errors import FileError
from renderer.core.files import clear_leftovers, list_files, make_directory, nothing_there, whole_file
from renderer.core.open_files import InputFile, OutputFile, ScratchFile, read_bytes
from renderer.core.refusals import writing
from tests.test_imports import MODULES


def write_half(path: Path, fault: BaseException) -> None:
    with whole_file(path) as file:
        file.write(b"half")
        raise fault


def test_the_file_appears_when_the_block_has_ended(tmp_path: Path) -> None:
    path = tmp_path / "click.wav"
    with whole_file(path) as file:
        file.write(b"sound")
        assert not path.exists()
    assert path.read_bytes() == b"sound"
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize("fault", [RuntimeError, KeyboardInterrupt])
def test_an_interrupted_file_leaves_nothing(tmp_path: Path, fault: type[BaseException]) -> None:
    with pytest.raises(fault):
        write_half(tmp_path / "film.mp4", fault())
    assert list(tmp_path.iterdir()) == []


def test_an_interrupted_file_leaves_the_one_that_was_there(tmp_path: Path) -> None:
    path = tmp_path / "film.mp4"
    path.write_bytes(b"before")
    with pytest.raises(RuntimeError):
        write_half(path, RuntimeError())
    assert path.read_bytes() == b"before"
    assert list(tmp_path.iterdir()) == [path]


def test_a_file_may_be_read_by_those_who_may_read_any_new_file(tmp_path: Path) -> None:
    path, plain = tmp_path / "film.mp4", tmp_path / "plain"
    plain.touch()
    with whole_file(path):
        pass
    assert path.stat().st_mode == plain.stat().st_mode


def test_a_name_as_long_as_names_may_be_is_written(tmp_path: Path) -> None:
    path = tmp_path / ("n" * 251 + ".mp4")
    with whole_file(path) as file:
        file.write(b"film")
    assert path.read_bytes() == b"film"


def test_a_missing_folder_is_told_before_the_work(tmp_path: Path) -> None:
    path = tmp_path / "nowhere" / "film.mp4"
    with pytest.raises(FileError) as caught, whole_file(path):
        pytest.fail("the block was entered")
    assert str(caught.value) == f"{path}: can't be written: there is no folder {path.parent}."


def test_a_folder_of_that_name_is_told_before_the_work(tmp_path: Path) -> None:
    with pytest.raises(FileError) as caught, whole_file(tmp_path):
        pytest.fail("the block was entered")
    assert str(caught.value) == f"{tmp_path}: can't be written: a folder of that name is there."


def test_a_file_in_place_of_the_folder_is_told_before_the_work(tmp_path: Path) -> None:
    (tmp_path / "out").touch()
    path = tmp_path / "out" / "film.mp4"
    with pytest.raises(FileError, match=r"out is not a folder\.$"), whole_file(path):
        pytest.fail("the block was entered")


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write everywhere")
def test_a_folder_that_may_not_be_written_to_is_told_before_the_work(tmp_path: Path) -> None:
    tmp_path.chmod(0o555)
    try:
        with pytest.raises(FileError, match="no permission to write in"), whole_file(tmp_path / "film.mp4"):
            pytest.fail("the block was entered")
    finally:
        tmp_path.chmod(0o755)


@pytest.mark.parametrize(
    ("number", "reason"),
    [
        (errno.ENOSPC, "the disk is full"),
        (errno.EACCES, "no permission to write in out"),
        (errno.EROFS, "this disk can only be read"),
        (errno.EIO, "the disk reports an error"),
        (errno.EINTR, "the system was interrupted"),
        (errno.ENAMETOOLONG, "the name is too long"),
        (errno.EEXIST, "a file of that name is there now"),
        (errno.EBUSY, os.strerror(errno.EBUSY)),
    ],
)
def test_what_the_system_refuses_is_told_in_words(number: int, reason: str) -> None:
    with pytest.raises(FileError) as caught, writing(Path("out/film.mp4")):
        raise OSError(number, os.strerror(number))
    assert str(caught.value) == f"{Path('out/film.mp4')}: can't be written: {reason}."


def test_what_another_program_holds_open_is_told() -> None:
    """As Windows refuses it: ERROR_SHARING_VIOLATION comes as no permission."""
    error = PermissionError(errno.EACCES, "Access is denied")
    error.winerror = 32  # type: ignore[attr-defined]
    with pytest.raises(FileError) as caught, writing(Path("film.mp4")):
        raise error
    assert str(caught.value) == "film.mp4: can't be written: another program has it open. Close it there."


class TestName:
    def test_one_that_is_too_long_is_told(self, tmp_path: Path) -> None:
        with (
            pytest.raises(FileError, match=r"can't be written: the name is too long\.$"),
            whole_file(tmp_path / ("n" * 256)),
        ):
            pytest.fail("the block was entered")
        assert list(tmp_path.iterdir()) == []

    def test_one_that_no_file_can_have_is_told(self, tmp_path: Path) -> None:
        with (
            pytest.raises(FileError, match=r"can't be written: no file can have this name\.$"),
            whole_file(tmp_path / "a\0b"),
        ):
            pytest.fail("the block was entered")
        with pytest.raises(FileError, match=r"can't be read: no file can have this name\.$"):
            read_bytes(tmp_path / "a\0b")

    def test_of_what_is_half_written_says_whose_it_is(self, tmp_path: Path) -> None:
        with whole_file(tmp_path / "film.mp4"):
            (unfinished,) = tmp_path.iterdir()
            assert files.UNFINISHED.fullmatch(unfinished.name)


class TestPermit:
    def test_a_new_file_replaces_nothing(self, tmp_path: Path) -> None:
        path = tmp_path / "mill.yaml"
        path.write_bytes(b"mine")
        with (
            pytest.raises(FileError) as caught,
            whole_file(path, nothing_there(path, "Choose another name.")),
        ):
            pytest.fail("the block was entered")
        assert str(caught.value) == f"{path} already exists; not overwritten. Choose another name."
        assert path.read_bytes() == b"mine"

    @pytest.mark.parametrize("links", [True, False], ids=["with links", "without links, as on a stick"])
    def test_nor_what_has_come_there_meanwhile(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, links: bool
    ) -> None:
        def refuse(*paths: object) -> None:
            raise PermissionError(errno.EPERM, "no links here")

        if not links:
            monkeypatch.setattr(os, "link", refuse)
        path = tmp_path / "mill.yaml"
        with (
            pytest.raises(FileError, match="already exists"),
            whole_file(path, nothing_there(path, "")) as file,
        ):
            file.write(path.write_bytes(b"mine").to_bytes())
        assert path.read_bytes() == b"mine"
        assert list(tmp_path.iterdir()) == [path]
        path.unlink()
        with whole_file(path, nothing_there(path, "")) as file:
            file.write(b"ours")
        assert path.read_bytes() == b"ours"
        assert list(tmp_path.iterdir()) == [path]

    def test_not_even_in_the_last_moment(self, tmp_path: Path) -> None:
        """Between the last look and the file's taking its place."""

        def permit() -> bool:
            if looks:
                path.write_bytes(b"mine")
            looks.append(path)
            return True

        looks: list[Path] = []
        path = tmp_path / "mill.yaml"
        with pytest.raises(FileError, match="a file of that name is there now"), whole_file(path, permit):
            pass
        assert path.read_bytes() == b"mine"
        assert list(tmp_path.iterdir()) == [path]


class TestFault:
    def test_one_that_a_library_swallows_is_raised_at_the_end(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        def full(handle: int, data: memoryview) -> int:
            raise OSError(errno.ENOSPC, "full")

        def write(file: OutputFile) -> None:
            with monkeypatch.context() as disk:
                disk.setattr(os, "write", full)
                with pytest.raises(FileError):
                    file.write(b"sound")

        with pytest.raises(FileError, match="the disk is full"), whole_file(tmp_path / "click.wav") as file:
            write(file)
        assert list(tmp_path.iterdir()) == []

    def test_bytes_that_the_system_takes_one_by_one_are_all_written(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        whole_write = os.write
        monkeypatch.setattr(os, "write", lambda handle, data: whole_write(handle, data[:1]))
        with whole_file(tmp_path / "click.wav") as file:
            assert file.write(b"sound") == 5
        assert (tmp_path / "click.wav").read_bytes() == b"sound"


class TestReading:
    def test_a_file_that_is_missing_is_told(self, tmp_path: Path) -> None:
        with pytest.raises(FileError) as caught:
            read_bytes(tmp_path / "take.wav")
        assert str(caught.value) == f"{tmp_path / 'take.wav'}: can't be read: no such file."
        assert isinstance(caught.value.__cause__, FileNotFoundError)

    def test_a_folder_is_told(self, tmp_path: Path) -> None:
        with pytest.raises(FileError, match="can't be read: it is a folder"):
            read_bytes(tmp_path)

    @pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="pipes with names are not on every system")
    def test_a_pipe_is_refused_at_once(self, tmp_path: Path) -> None:
        os.mkfifo(tmp_path / "pipe")
        with pytest.raises(FileError, match="can't be read: not a regular file"):
            read_bytes(tmp_path / "pipe")

    def test_as_much_is_read_as_is_asked_for(self, tmp_path: Path) -> None:
        (tmp_path / "take.wav").write_bytes(b"sound")
        assert read_bytes(tmp_path / "take.wav") == b"sound"
        assert read_bytes(tmp_path / "take.wav", 3) == b"sou"
        with InputFile(tmp_path / "take.wav") as file:
            assert (file.seek(2), file.read(), file.tell(), file.read()) == (2, b"und", 5, b"")


class TestScratch:
    def test_what_is_written_is_read_back_and_leaves_nothing(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
        with ScratchFile() as file:
            assert file.write(b"sound") == 5
            file.seek(2)
            assert file.read() == b"und"
        assert list(tmp_path.iterdir()) == []

    @pytest.mark.parametrize("call", ["write", "read"])
    def test_a_fault_is_told(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, call: str) -> None:
        def fail(*arguments: object) -> None:
            raise OSError(errno.ENOSPC, "full")

        monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
        file = ScratchFile()
        monkeypatch.setattr(os, call, fail)
        with file, pytest.raises(FileError) as caught:
            getattr(file, call)(b"sound" if call == "write" else 5)
        folder = "TMP" if os.name == "nt" else "TMPDIR"
        assert str(caught.value) == (
            f"{tmp_path}: temporary sound can't be written here: the disk is full. "
            f"Free some space, or name another folder in {folder}."
        )


def test_only_old_leftovers_are_removed_and_nothing_that_looks_like_one(tmp_path: Path) -> None:
    names = {
        ".barcross-0123456789abcdef": 9000,
        ".barcross-0123456789abcdee": 10,
        ".barcross-mine": 9000,
        ".mine-01234567.mp4": 9000,
    }
    for name, seconds in names.items():
        (tmp_path / name).write_bytes(b"half")
        os.utime(tmp_path / name, (time.time() - seconds,) * 2)
    (tmp_path / ".barcross-0123456789abcded").symlink_to(tmp_path / ".barcross-mine")
    clear_leftovers(tmp_path)
    assert sorted(path.name for path in tmp_path.iterdir()) == [
        ".barcross-0123456789abcded",
        ".barcross-0123456789abcdee",
        ".barcross-mine",
        ".mine-01234567.mp4",
    ]


def test_a_folder_lists_its_regular_files_alone(tmp_path: Path) -> None:
    (tmp_path / "one").write_bytes(b"four")
    (tmp_path / "folder").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "one")
    assert [(entry.name, entry.size) for entry in list_files(tmp_path)] == [("one", 4)]
    assert list_files(tmp_path / "nowhere") == []


def test_a_file_in_a_folders_place_is_told(tmp_path: Path) -> None:
    (tmp_path / "taken").touch()
    for folder, reason in (
        (tmp_path / "taken", "a file of that name is there"),
        (tmp_path / "taken" / "out", f"{tmp_path / 'taken'} is not a folder"),
    ):
        with pytest.raises(FileError) as caught:
            make_directory(folder)
        assert str(caught.value) == f"{folder}: can't make this folder: {reason}. Choose another with --out."


WRITERS = {
    *(
        "write_text",
        "write_bytes",
        "unlink",
        "rename",
        "mkdir",
        "rmdir",
        "touch",
        "symlink_to",
        "hardlink_to",
    ),
    *(
        "mkstemp",
        "mkdtemp",
        "NamedTemporaryFile",
        "TemporaryFile",
        "TemporaryDirectory",
        "rmtree",
        "copyfile",
    ),
}
SYSTEM = {
    "open",
    "remove",
    "unlink",
    "replace",
    "rename",
    "link",
    "symlink",
    "makedirs",
    "mkdir",
    "rmdir",
    "utime",
}


def test_one_place_opens_writes_renames_and_removes() -> None:
    """So that tests can make each of its calls fail. Libraries that write are handed a file that is open."""
    outside, libraries = set(), set()
    for name, path in MODULES.items():
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(node, ast.Call):
                continue
            called = ast.unparse(node.func)
            of, _, last = called.rpartition(".")
            if called == "open" or last in WRITERS or (of == "os" and last in SYSTEM):
                outside.add(name)
            if called in ("av.open", "wave.open") or (last == "save" and node.args):
                libraries.add(f"{name}: {called}({ast.unparse(node.args[0])}")
    disk = {"renderer.core.files", "renderer.core.open_files"}
    assert outside - disk == {"renderer.core.terminal"}  # which opens what swallows all
    assert libraries == {
        "renderer.audio.click_track: wave.open(target",
        "renderer.audio.decode: av.open(handle",
        "renderer.audio.encode: av.open(file",
        "renderer.audio.opus: av.open(BytesIO(part.packets[0])",
        "renderer.audio.opus: av.open(file",
        "renderer.video.vp9: av.open(file",
        "renderer.video.vp9: av.open(BytesIO(chunk.frames[0])",
        "renderer.export.slides: slides.save(first",
        "renderer.export.slides: draw_image(segment.picture(moment), 1920, 1080, WHITE).save(poster",
        "renderer.export.slides: av.open(BytesIO(film)",
        "renderer.audio.encode: wave.open(target",
        "renderer.video.mp4: av.open(file",
        "renderer.video.stills: image.save(file",
    }
