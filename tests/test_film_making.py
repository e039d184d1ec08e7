"""Films made in chunks: the same bytes however they were made, and nothing lost when something goes wrong."""

import multiprocessing
import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from concurrent.futures import BrokenExecutor, Executor, Future
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from renderer.audio.coded import CodedPart, pack_part, unpack_part
from renderer.core.errors import BarcrossError, FileError
from renderer.lesson.lesson import Lesson, Planned
from renderer.video.chunks import Batch, pack, unpack
from renderer.video.codings import PRORES
from renderer.video.films import Tally
from renderer.video.h264 import EncodedChunk
from renderer.video.render import LOUDNESS, Quality, Rendered, render_lesson
from renderer.video.store import FOLDER, Store
from renderer.video.workers import PoolFactory, WorkerPool, in_this_process, local_workers
from tests.kills import Kills, processes
from tests.lessons import SHORT, make_lesson

ROOT = Path(__file__).parent.parent
SMALL = Quality(160, 90, Fraction(24))
SLOW = Quality(160, 90, Fraction(6))
TINY = Quality(64, 64, Fraction(2))
FILM = "03-play.mp4"
COMMAND = [sys.executable, "-c", "from renderer.command import main; main()", "render"]

Progress = Callable[[Planned, Tally], None]


def render(
    folder: Path,
    lesson: Lesson | None = None,
    workers: PoolFactory = in_this_process,
    progress: Progress | None = None,
) -> Rendered:
    """The lesson's `play`, rendered into a folder."""
    lesson = lesson or make_lesson()
    play = [planned for planned in lesson.segments() if planned.show == "play"]
    *_, film = render_lesson(lesson, folder, play, SMALL, progress=progress, workers=workers)
    return film


@contextmanager
def nobody(batch: Batch) -> Iterator[WorkerPool]:
    """No worker may be needed."""
    pytest.fail("workers were asked for")
    yield


@pytest.fixture(scope="module")
def expected(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """The film as this process alone makes it, undisturbed."""
    return render(tmp_path_factory.mktemp("undisturbed")).path.read_bytes()


def entries(folder: Path) -> list[Path]:
    """The kept entries, none half written, the largest first: chunks before notes on films."""
    paths = [folder / FOLDER / name for name in Store(folder / FOLDER).names()]
    return sorted(paths, key=lambda path: -path.stat().st_size)


class TestSameBytes:
    def test_processes_make_the_film_that_one_makes(self, tmp_path: Path, expected: bytes) -> None:
        film = render(tmp_path, workers=local_workers(2))
        assert film.path.read_bytes() == expected
        assert not film.reused
        assert not multiprocessing.active_children()

    def test_a_second_render_draws_nothing(self, tmp_path: Path, expected: bytes) -> None:
        render(tmp_path)
        film = render(tmp_path, workers=nobody)
        assert film.reused
        assert film.path.read_bytes() == expected

    def test_a_change_of_the_click_draws_nothing(self, tmp_path: Path, expected: bytes) -> None:
        render(tmp_path)
        softer = make_lesson(SHORT.replace("count_in: 1", "count_in: 1, level: -6"))
        film = render(tmp_path, softer, workers=nobody)
        assert film.reused
        assert film.path.read_bytes() != expected

    def test_after_a_change_the_film_is_as_if_all_was_drawn(self, tmp_path: Path) -> None:
        longer = SHORT.replace("bars: 2", "bars: 9")
        changed = make_lesson(longer.replace("{1: F#}", "{1: F#, 9: Gm}"))
        cold = render(tmp_path / "cold", changed)
        render(tmp_path / "warm", make_lesson(longer))
        tallies: list[Tally] = []
        warm = render(tmp_path / "warm", changed, progress=lambda _, tally: tallies.append(tally))
        assert warm.path.read_bytes() == cold.path.read_bytes()
        assert 0 < tallies[-1].reused < tallies[-1].chunk_count

    def test_progress_counts_up_to_all_frames(self, tmp_path: Path) -> None:
        tallies: list[Tally] = []
        film = render(tmp_path, progress=lambda _, tally: tallies.append(tally))
        frames = [tally.frames for tally in tallies]
        assert frames == sorted(frames)
        last = tallies[-1]
        assert (last.frames, last.chunks, last.reused) == (film.frames, last.chunk_count, 0)


class TestDamage:
    @pytest.mark.parametrize("spoil", ["cut", "gone", "notes"])
    def test_what_is_damaged_is_made_again(self, tmp_path: Path, expected: bytes, spoil: str) -> None:
        render(tmp_path)
        largest, *_, smallest = entries(tmp_path)
        if spoil == "cut":
            largest.write_bytes(largest.read_bytes()[:-9])
        elif spoil == "gone":
            largest.unlink()
        else:
            smallest.write_bytes(b"\xff" * 60)
        (tmp_path / FILM).unlink()
        assert render(tmp_path).path.read_bytes() == expected

    @pytest.mark.parametrize("kind", ["picture", "sound"])
    def test_what_goes_while_the_film_is_made_is_made_again(
        self, tmp_path: Path, expected: bytes, kind: str
    ) -> None:
        def remove(planned: Planned, tally: Tally) -> None:
            deadline = time.monotonic() + 60
            while tally.chunks == tally.chunk_count and not removed and time.monotonic() < deadline:
                found = [path for path in entries(tmp_path) if ("." in path.name) is (kind == "sound")]
                for path in found[:1]:  # the sound is coded beside the pictures, and may come last
                    removed.append(path)
                    path.unlink()

        removed: list[Path] = []
        film = render(tmp_path, progress=remove)
        assert removed
        assert film.path.read_bytes() == expected

    def test_a_film_that_is_larger_than_the_store_is_made_whole(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """Another render, which prunes, ends while it is drawn; then the same film is asked for again."""
        lesson, most = make_lesson(), 20_000
        play = [planned for planned in lesson.segments() if planned.show == "play"]
        prune = Store.prune

        def film(folder: Path, progress: Progress | None = None) -> bytes:
            *_, made = render_lesson(
                lesson, folder, play, SLOW, progress=progress, workers=in_this_process, coding=PRORES
            )
            return made.path.read_bytes()

        def others_end(planned: Planned, tally: Tally) -> None:
            if tally.chunks == tally.chunk_count and not ended:
                ended.append(len(Store(tmp_path / "small" / FOLDER).names()))
                prune(Store(tmp_path / "small" / FOLDER), most, 0)

        ended: list[int] = []
        expected = film(tmp_path / "large")
        assert sum(path.stat().st_size for path in entries(tmp_path / "large")) > 2 * most
        monkeypatch.setattr(Store, "prune", lambda store: prune(store, most, 0))
        assert film(tmp_path / "small", others_end) == expected
        assert ended
        assert sum(path.stat().st_size for path in entries(tmp_path / "small")) <= most
        assert film(tmp_path / "small") == expected

    @pytest.mark.parametrize("joined", [False, True], ids=["", "joined"])
    @pytest.mark.parametrize("kind", ["picture", "sound", "notes"])
    def test_what_is_forged_is_made_again(self, tmp_path: Path, kind: str, joined: bool) -> None:
        """With the right checksum, under the right name."""
        lesson = make_lesson()
        play = [planned for planned in lesson.segments() if planned.show == "play"]

        def films() -> list[bytes]:
            made = render_lesson(lesson, tmp_path, play, TINY, workers=in_this_process, joined=joined)
            return [film.path.read_bytes() for film in made]

        expected = films()
        store = Store(tmp_path / FOLDER)
        for forge in FORGERIES[kind][:: 4 if joined else 1]:
            forged = 0
            for name in sorted(store.names()):
                content = store.get(name)
                assert content is not None
                if kind == kind_of(name, content):
                    store.put(name, forge(content))
                    forged += 1
            assert forged, kind
            assert films() == expected, forge

    def test_a_killed_worker_is_replaced(self, tmp_path: Path, expected: bytes) -> None:
        killed: list[int] = []

        def kill(planned: Planned, tally: Tally) -> None:
            if len(killed) < 2:
                worker = multiprocessing.active_children()[0]
                os.kill(worker.pid or 0, signal.SIGKILL)
                killed.append(worker.pid or 0)

        film = render(tmp_path, workers=local_workers(2), progress=kill)
        assert len(killed) == 2
        assert film.path.read_bytes() == expected

    def test_workers_that_never_come_are_told(self, tmp_path: Path) -> None:
        with pytest.raises(BarcrossError, match="--jobs 1"):
            render(tmp_path, workers=doomed)
        assert not (tmp_path / FILM).exists()


def kind_of(name: str, content: bytes) -> str:
    """What a kept entry holds."""
    if "." in name:
        return "sound"
    if len(content) == LOUDNESS.size:
        return "loudness"
    return "notes" if content.replace(b"\n", b"").isalnum() else "picture"


def repacked(change: Callable[[EncodedChunk], EncodedChunk]) -> Callable[[bytes], bytes]:
    """A forger of chunks."""
    return lambda content: pack(change(unpack(content)))


def recoded(change: Callable[[CodedPart], CodedPart]) -> Callable[[bytes], bytes]:
    """A forger of sound."""
    return lambda content: pack_part(change(unpack_part(content)))


ANYTHING: tuple[Callable[[bytes], bytes], ...] = (
    lambda content: b"",
    lambda content: b"\0" * 8,
    lambda content: b"\xff" * 1000,
    lambda content: content[:-1],
    lambda content: content + b"\0",
    lambda content: content[:4] + b"\xff\xff\xff\x7f" + content[8:],
)
FORGERIES: dict[str, tuple[Callable[[bytes], bytes], ...]] = {
    "picture": (
        *ANYTHING,
        repacked(lambda chunk: replace(chunk, header=b"")),
        repacked(lambda chunk: replace(chunk, header=chunk.header + b"\0")),
        repacked(lambda chunk: replace(chunk, frames=())),
        repacked(lambda chunk: replace(chunk, frames=chunk.frames[:-1])),
        repacked(lambda chunk: replace(chunk, frames=(*chunk.frames, b""))),
        repacked(lambda chunk: replace(chunk, frames=chunk.frames[::-1])),
        repacked(lambda chunk: replace(chunk, frames=tuple(b"" for _ in chunk.frames))),
        repacked(lambda chunk: replace(chunk, frames=tuple(b"\xff" * 99 for _ in chunk.frames))),
    ),
    "sound": (
        *ANYTHING,
        recoded(lambda part: part._replace(header=b"")),
        recoded(lambda part: part._replace(first=part.first + 1)),
        recoded(lambda part: part._replace(first=2**32 - 1)),
        recoded(lambda part: part._replace(packets=())),
        recoded(lambda part: part._replace(packets=part.packets[:-1])),
        recoded(lambda part: part._replace(packets=tuple(b"" for _ in part.packets))),
    ),
    "notes": (
        *ANYTHING,
        lambda content: content + b"\n" + content,
        lambda content: content.splitlines()[0],
        lambda content: b"\n".join(b"../../weir.yaml" for _ in content.splitlines()),
        lambda content: b"\n".join(b"0" * 40 for _ in content.splitlines()),
    ),
}


class Lost(Executor):
    """Workers that end before they have done anything."""

    def submit(self, task: Callable[..., Any], /, *arguments: Any, **options: Any) -> Future[Any]:
        future: Future[Any] = Future()
        future.set_exception(BrokenExecutor("ended"))
        return future


@contextmanager
def doomed(batch: Batch) -> Iterator[WorkerPool]:
    yield WorkerPool(Lost(), batch, 2)


class TestStopped:
    def test_an_interrupt_leaves_no_worker_and_no_half_film(self, tmp_path: Path, expected: bytes) -> None:
        def interrupt(planned: Planned, tally: Tally) -> None:
            raise KeyboardInterrupt

        with pytest.raises(KeyboardInterrupt):
            render(tmp_path, workers=local_workers(2), progress=interrupt)
        assert not multiprocessing.active_children()
        assert not (tmp_path / FILM).exists()
        tallies: list[Tally] = []
        film = render(tmp_path, progress=lambda _, tally: tallies.append(tally))
        assert tallies[-1].reused >= 1
        assert film.path.read_bytes() == expected

    def test_a_folder_of_the_stores_name_that_is_a_file_is_told(self, tmp_path: Path) -> None:
        (tmp_path / FOLDER).write_text("")
        with pytest.raises(FileError, match=FOLDER):
            render(tmp_path)


@dataclass
class Session:
    """A render by the command line, in a process group of its own."""

    process: subprocess.Popen[str]

    @property
    def gone(self) -> bool:
        """Whether no process of it runs any more. One that only waits to be fetched by init has ended."""
        self.process.poll()
        return not processes(self.process.pid)

    def wait_gone(self, seconds: float) -> float:
        """Seconds until no process is left."""
        start = time.monotonic()
        while not self.gone:
            assert time.monotonic() < start + seconds, "processes are left"
            time.sleep(0.01)
        return time.monotonic() - start


LONG = ("--fps", "60")
"""What makes a render last until a test comes to interrupt it."""


@pytest.fixture
def start(tmp_path: Path) -> Iterator[Callable[..., Session]]:
    """Starts a small render of SHORT's `play` into a folder."""
    spec = tmp_path / "weir.yaml"
    spec.write_text(SHORT, encoding="utf-8")
    sessions: list[Session] = []

    def begin(folder: Path, *options: str, prefix: tuple[str, ...] = ()) -> Session:
        arguments = [str(spec), "play", "--size", "160x90", "--fps", "24", "--out", str(folder), *options]
        process = subprocess.Popen(
            [*prefix, *COMMAND, *arguments],
            cwd=ROOT,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            text=True,
            start_new_session=True,
        )
        sessions.append(Session(process))
        return sessions[-1]

    yield begin
    for session in sessions:
        with suppress(ProcessLookupError):
            os.killpg(session.process.pid, signal.SIGKILL)
        session.process.wait()
        assert session.process.stderr is not None
        session.process.stderr.close()


def has_chunk(folder: Path) -> bool:
    """Whether a chunk of pictures is there: parts of sound have a number after a point, what is half written begins
    with one."""
    return any("." not in path.name for path in folder.glob(f"{FOLDER}/*"))


def wait_for_chunk(session: Session, folder: Path) -> None:
    """Until workers are at work."""
    deadline = time.monotonic() + 60
    while not has_chunk(folder) and session.process.poll() is None:
        assert time.monotonic() < deadline
        time.sleep(0.01)


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="processes are looked up in /proc")
class TestCommand:
    def test_ctrl_c_ends_within_a_second(
        self, tmp_path: Path, start: Callable[..., Session], expected: bytes
    ) -> None:
        folder = tmp_path / "out"
        session = start(folder, "--jobs", "2", *LONG)
        wait_for_chunk(session, folder)
        os.killpg(session.process.pid, signal.SIGINT)
        assert session.wait_gone(10) < 1
        assert session.process.wait() == 1  # it may have ended after `gone` asked for it
        _, told = session.process.communicate()
        assert "Traceback" not in told

    def test_a_disk_that_is_full_is_told(self, tmp_path: Path, start: Callable[..., Session]) -> None:
        folder = tmp_path / "out"
        limited = (
            "import os, resource, sys; resource.setrlimit(resource.RLIMIT_FSIZE, (4000, 4000));"
            "os.execv(sys.argv[1], sys.argv[1:])"
        )
        session = start(folder, "--jobs", "1", prefix=(sys.executable, "-c", limited))
        _, told = session.process.communicate(timeout=60)
        assert session.process.returncode == 1
        assert "can't be written" in told
        assert "Traceback" not in told
        assert not list(folder.glob("*.mp4"))

    def test_two_renders_into_one_folder_are_both_right(
        self, tmp_path: Path, start: Callable[..., Session], expected: bytes
    ) -> None:
        folder = tmp_path / "out"
        sessions = [start(folder, "--jobs", "1"), start(folder, "--jobs", "2")]
        for session in sessions:
            _, told = session.process.communicate(timeout=60)
            assert session.process.returncode == 0, told
            assert (folder / FILM).read_bytes() == expected

    @pytest.mark.slow
    def test_a_render_that_is_killed_at_any_moment_is_finished_by_the_next(self, tmp_path: Path) -> None:
        kills = Kills(tmp_path)
        chance = random.Random(1)
        killed = {kills.kill(chance) for _ in range(20)}
        assert {"the command", "a worker"} <= killed

    @pytest.mark.slow
    def test_ctrl_c_while_workers_start_prints_no_traceback(
        self, tmp_path: Path, start: Callable[..., Session]
    ) -> None:
        chance = random.Random(2)
        for number in range(10):
            session = start(tmp_path / f"out{number}", "--jobs", "2", *LONG)
            while len(processes(session.process.pid)) < 2 and session.process.poll() is None:
                time.sleep(0.005)
            time.sleep(chance.uniform(0, 0.5))
            os.killpg(session.process.pid, signal.SIGINT)
            session.wait_gone(10)
            _, told = session.process.communicate()
            assert session.process.returncode == 1
            assert told.strip() == "Stopped. What is finished is kept: the same command goes on from here."
