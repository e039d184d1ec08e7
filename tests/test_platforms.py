"""What other systems lack or do otherwise, faked where a fake proves something. They have not been tried themselves."""

import errno
import os
import signal
import subprocess
import sys
from collections.abc import Callable
from fractions import Fraction
from multiprocessing import resource_tracker
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from click.testing import CliRunner

from renderer.audio.master import master
from renderer.audio.stem import Stem
from renderer.command import main
from renderer.commands import new as new_command
from renderer.core import file_names, open_files
from renderer.core.errors import FileError
from renderer.core.files import leads_elsewhere
from renderer.core.outputs import LIST, OutputFolder
from renderer.mix import soundtracks
from renderer.video import workers
from renderer.video.render import Quality, render_lesson
from renderer.video.store import Store
from renderer.video.workers import core_count, local_workers
from tests.held import HeldSound
from tests.lessons import make_lesson
from tests.test_video import write_numbered

ROOT = Path(__file__).parent.parent


class TestWindows:
    """Errors as CreateFile and MoveFileEx give them, by their numbers in winerror.h."""

    @pytest.mark.parametrize(
        ("number", "told"),
        [
            (5, "no permission to write in {folder}, or another program has the file open"),
            (32, "another program has it open. Close it there"),
        ],
    )
    def test_a_film_that_is_being_played_stays_and_is_told(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int, told: str
    ) -> None:
        def refuse(*paths: object) -> None:
            error = PermissionError(errno.EACCES, "Access is denied")
            error.winerror = number  # type: ignore[attr-defined]
            raise error

        folder = OutputFolder(tmp_path)
        for content in (b"film", b"another film"):
            if content != b"film":
                monkeypatch.setattr(os, "replace", refuse)
                with pytest.raises(FileError) as caught:
                    write(folder, content)
                assert str(caught.value) == (
                    f"{tmp_path / 'film.mp4'}: can't be written: {told.format(folder=tmp_path)}."
                )
            else:
                write(folder, content)
        assert (tmp_path / "film.mp4").read_bytes() == b"film"
        assert {path.name for path in tmp_path.iterdir()} == {"film.mp4", LIST}

    def test_a_file_is_closed_before_it_is_renamed(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """There an open file can be neither renamed nor removed."""
        handles: dict[int, str] = {}
        opening, closing = os.open, os.close

        def opened(*arguments: object) -> int:
            handle = opening(*arguments)  # type: ignore[arg-type]
            handles[handle] = str(arguments[0])
            return handle

        def closed(handle: int) -> None:
            handles.pop(handle, None)
            closing(handle)

        def while_closed(call: Callable[..., None]) -> Callable[..., None]:
            def called(*paths: object) -> None:
                assert not {str(path) for path in paths} & set(handles.values())
                call(*paths)

            return called

        monkeypatch.setattr(os, "open", opened)
        monkeypatch.setattr(os, "close", closed)
        for name in ("link", "replace", "unlink"):
            monkeypatch.setattr(os, name, while_closed(getattr(os, name)))
        folder = OutputFolder(tmp_path)
        for content in (b"film", b"another film"):
            write(folder, content)
        with pytest.raises(RuntimeError):
            write(folder, RuntimeError())
        store = Store(tmp_path / "store")
        store.put("a" * 40, b"chunk")
        store.clear()
        write_numbered(tmp_path / "numbered.mp4")  # it is read while it is written

    def test_without_the_flags_of_other_systems_a_link_is_still_none_of_ours(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        for flag in ("_NO_LINKS", "_OPEN_WITHOUT_WAITING", "_BINARY"):
            monkeypatch.setattr(open_files, flag, 0)
        folder = OutputFolder(tmp_path)
        write(folder, b"film")
        (tmp_path / LIST).rename(tmp_path / "elsewhere")
        (tmp_path / LIST).symlink_to("elsewhere")
        with pytest.raises(FileError, match="did not write this file"):
            write(folder, b"another film")

    def test_a_junction_leads_elsewhere(self) -> None:
        """By its tag, IO_REPARSE_TAG_MOUNT_POINT; a folder that lies in a cloud has another one."""
        state = dict.fromkeys(("st_mode",), 0o040755)
        assert leads_elsewhere(SimpleNamespace(**state, st_reparse_tag=0xA0000003))  # type: ignore[arg-type]
        assert not leads_elsewhere(SimpleNamespace(**state, st_reparse_tag=0x9000001A))  # type: ignore[arg-type]

    @pytest.mark.parametrize("name", ["con", "Aux", "nul.take2", "mill: 2", "what?", "lpt1"])
    def test_new_says_which_names_there_are_none(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
    ) -> None:
        monkeypatch.chdir(tmp_path)
        monkeypatch.setattr(new_command, "system", "nt")
        result = CliRunner().invoke(main, ["new", name])
        assert result.exit_code == 2
        assert f"On Windows no file can be called {name}.yaml. Choose another name." in result.stderr
        assert list(tmp_path.iterdir()) == []

    def test_new_gives_the_next_command_as_it_is_typed_there(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.chdir(tmp_path)
        monkeypatch.setattr(file_names, "system", "nt")
        result = CliRunner().invoke(main, ["new", "my mill"])
        assert result.stdout == 'Wrote my mill.yaml. Next: barcross preview "my mill.yaml"\n'

    def test_no_stem_has_a_name_that_is_kept_for_devices(self) -> None:
        silence = HeldSound(np.zeros(10, np.float32))
        made = master([Stem("Aux", silence), Stem("con", silence), Stem("Aux?", silence)], 10)
        assert soundtracks._stem_names(made) == ["aux-2", "con-2", "aux-3"]


class TestProcesses:
    def test_cores_are_counted_where_no_process_can_be_bound_to_some(
        self, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.delattr(os, "sched_getaffinity", raising=False)
        monkeypatch.setattr(os, "cpu_count", lambda: 6)
        assert core_count() == 6
        monkeypatch.setattr(os, "cpu_count", lambda: None)
        assert core_count() == 1

    def test_workers_start_where_signals_can_not_wait(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(workers, "SIGNALS_CAN_WAIT", False)
        monkeypatch.setattr(resource_tracker, "_HAVE_SIGMASK", False)  # asked once, when the module is loaded
        monkeypatch.delattr(signal, "pthread_sigmask", raising=False)
        lesson = make_lesson()
        small = Quality(64, 64, Fraction(4))
        *_, film = render_lesson(lesson, tmp_path, lesson.segments()[:1], small, workers=local_workers(2))
        assert film.path.exists()

    def test_only_while_they_start_the_environment_is_another(self, monkeypatch: pytest.MonkeyPatch) -> None:
        for before in (None, "", "1"):
            if before is None:
                monkeypatch.delenv(workers.SAFE_PATH, raising=False)
            else:
                monkeypatch.setenv(workers.SAFE_PATH, before)
            with workers._starting():
                assert os.environ[workers.SAFE_PATH] == "1"
            assert os.environ.get(workers.SAFE_PATH) == before


def test_a_settings_file_of_manims_has_no_say(tmp_path: Path) -> None:
    """Neither beside the spec nor at home, not even one that Manim can't read: what draws films does not load
    Manim, which reads them, and what draws stills neither."""
    (tmp_path / "manim.cfg").write_text("[CLI\n")
    (tmp_path / ".config" / "manim").mkdir(parents=True)
    (tmp_path / ".config" / "manim" / "manim.cfg").write_text("[CLI]\nquality = nonsense\n")
    code = "import sys, renderer.video.render, renderer.video.stills, scenes.catalogue; print('manim' in sys.modules)"
    environment = os.environ | {"HOME": str(tmp_path), "USERPROFILE": str(tmp_path), "PYTHONPATH": str(ROOT)}
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=tmp_path,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, done.stdout) == (0, "False\n"), done.stderr


def write(folder: OutputFolder, content: bytes | Exception) -> None:
    with folder.file("film.mp4") as file:
        if isinstance(content, Exception):
            raise content
        file.write(content)
