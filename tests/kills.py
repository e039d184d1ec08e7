"""Renders that are killed at any moment, the command or one of its workers, and finished afterwards."""

import os
import random
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from click.testing import CliRunner

from renderer.command import main
from tests.lessons import SHORT

ROOT = Path(__file__).parent.parent
COMMAND = [sys.executable, "-c", "from barcross import main; main()"]
ARGUMENTS = ["render", "weir.yaml", "play", "--size", "160x90", "--fps", "24", "--jobs", "2", "--joined"]


def processes(group: int) -> list[int]:
    """The running processes of a group, but for those that only wait to be fetched (proc(5), stat)."""
    found = []
    for path in Path("/proc").glob("[0-9]*/stat"):
        with suppress(OSError):
            state, _, of_group = path.read_text().rpartition(")")[2].split()[:3]
            if int(of_group) == group and state not in "ZX":
                found.append(int(path.parent.name))
    return sorted(found)


@contextmanager
def started(folder: Path) -> Iterator[subprocess.Popen[str]]:
    """The render, in a process group of its own; whatever is left of it is killed at the end."""
    process = subprocess.Popen(
        [*COMMAND, *ARGUMENTS],
        cwd=folder,
        env=os.environ | {"PYTHONPATH": os.pathsep.join([str(ROOT), str(ROOT / "assets" / "entry")])},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    try:
        yield process
    finally:
        with suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGKILL)
        process.communicate()
        deadline = time.monotonic() + 10
        while processes(process.pid):
            assert time.monotonic() < deadline, "processes are left"
            time.sleep(0.01)


def code() -> str:
    """A hash of all code and libraries that films are made by, as they lie on the disk now."""
    asked = "from renderer.core.used_code import code_key; print(code_key('renderer.command', *MADE))"
    made = ("renderer.commands.render", "renderer.video.chunks", "scenes.catalogue", "scenes.play.play")
    return subprocess.run(
        [sys.executable, "-c", asked.replace("MADE", repr(made))],
        cwd=ROOT,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE,
        text=True,
        check=True,
    ).stdout


def results(folder: Path) -> dict[str, bytes]:
    """What a user sees of the results."""
    return {path.name: path.read_bytes() for path in (folder / "out" / "weir").glob("[!.]*")}


class Kills:
    """A folder with a spec, what an undisturbed render makes of it, and how long that takes."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        (folder / "weir.yaml").write_text(SHORT, encoding="utf-8")
        start = time.monotonic()
        with started(folder) as process:
            _, told = process.communicate(timeout=120)
            assert process.returncode == 0, told
        self.seconds = time.monotonic() - start
        self._code = code()
        self.expected = results(folder)
        self._clear()

    def kill(self, chance: random.Random) -> str:
        """Kill one render at one moment, finish it, and see that nothing shows. Gives what was killed."""
        with started(self.folder) as process:
            time.sleep(chance.uniform(0, self.seconds))
            workers = processes(process.pid)[1:]
            victim = chance.choice(workers) if workers and chance.random() < 0.5 else process.pid
            killed = "nothing: it had ended" if process.poll() is not None else "the command"
            with suppress(ProcessLookupError):
                os.kill(victim, signal.SIGKILL)
            if victim != process.pid:
                killed = "a worker"
                _, told = process.communicate(timeout=120)
                assert process.returncode == 0, told
                self._compare("a worker was killed")
        for name, content in results(self.folder).items():
            assert content == self.expected[name], f"{name} is half written"
        self._finish()
        self._compare(f"{killed} was killed and the next run")
        self._clear()
        return killed

    def _compare(self, after: str) -> None:
        found = results(self.folder)
        others = {name for name in found | self.expected if found.get(name) != self.expected.get(name)}
        if others and code() != self._code:
            raise AssertionError("barcross or its libraries were changed meanwhile: start again")
        assert not others, f"others after {after}: {', '.join(sorted(others))}"

    def _finish(self) -> None:
        """The next run, in this process, which has loaded everything."""
        here = Path.cwd()
        os.chdir(self.folder)
        try:
            done = CliRunner().invoke(main, [*ARGUMENTS, "--jobs", "1"], catch_exceptions=False)
        finally:
            os.chdir(here)
        assert done.exit_code == 0, done.output

    def _clear(self) -> None:
        shutil.rmtree(self.folder / "out")
