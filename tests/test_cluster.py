"""The same films from a Dask cluster: a scheduler and two workers on this machine."""

import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from renderer.core.errors import BarcrossError
from renderer.lesson.lesson import Planned
from renderer.video import films as films_progress
from renderer.video.films import Tally
from renderer.video.render import Quality, render_lesson
from renderer.video.workers import PoolFactory, cluster_workers, in_this_process
from tests.lessons import make_lesson

distributed = pytest.importorskip("distributed")
pytestmark = [
    pytest.mark.slow,
    pytest.mark.filterwarnings("default"),  # what the cluster's own processes and sockets warn of
]
SMALL = Quality(160, 90, Fraction(24))


@pytest.fixture(scope="module")
def cluster() -> Iterator[Any]:
    options = {"n_workers": 2, "threads_per_worker": 1, "processes": True, "dashboard_address": ":0"}
    with distributed.LocalCluster(host="127.0.0.1", **options) as started:
        yield started


def render(folder: Path, workers: PoolFactory, progress: Any = None) -> bytes:
    lesson = make_lesson()
    play = [planned for planned in lesson.segments() if planned.show == "play"]
    *_, film = render_lesson(lesson, folder, play, SMALL, progress=progress, workers=workers)
    return film.path.read_bytes()


def test_a_cluster_makes_the_film_that_one_process_makes(cluster: Any, tmp_path: Path) -> None:
    expected = render(tmp_path / "alone", in_this_process)
    workers = cluster_workers(cluster.scheduler_address)
    assert render(tmp_path / "cluster", workers) == expected
    assert render(tmp_path / "cluster", workers) == expected


def test_the_chunk_of_a_killed_worker_is_done_again(cluster: Any, tmp_path: Path) -> None:
    killed: list[int] = []

    def kill(planned: Planned, tally: Tally) -> None:
        if not killed:
            with distributed.Client(cluster.scheduler_address) as client:
                killed.append(next(iter(client.run(os.getpid).values())))
            os.kill(killed[0], signal.SIGKILL)

    film = render(tmp_path / "cluster", cluster_workers(cluster.scheduler_address), kill)
    assert killed
    assert film == render(tmp_path / "alone", in_this_process)


def test_workers_of_another_version_are_refused(
    cluster: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(films_progress, "batch_code", lambda films: "0" * 40)
    with pytest.raises(BarcrossError, match="another version"):
        render(tmp_path, cluster_workers(cluster.scheduler_address))


LACKING = """
import sys

class Lacking:
    def find_spec(self, name, *rest):
        if name.partition(".")[0] in ("barcross", "renderer"):
            raise ModuleNotFoundError(f"No module named {name!r}", name=name)

sys.meta_path.insert(0, Lacking())
from distributed.cli.dask_worker import main
main()
"""


def test_a_worker_without_this_program_is_told(tmp_path: Path) -> None:
    with distributed.LocalCluster(host="127.0.0.1", n_workers=0, dashboard_address=":0") as started:
        address = started.scheduler_address
        command = [sys.executable, "-c", LACKING, address, "--no-nanny", "--no-dashboard", "--nthreads", "1"]
        worker = subprocess.Popen(command, cwd=tmp_path, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        try:
            with distributed.Client(address) as client:
                client.wait_for_workers(1, timeout=60)
            with pytest.raises(BarcrossError, match="a worker has no barcross"):
                render(tmp_path, cluster_workers(address))
        finally:
            worker.terminate()
            worker.wait()


def test_a_scheduler_that_is_not_there_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("renderer.video.workers.CONNECT_SECONDS", 1)
    with pytest.raises(BarcrossError, match=r"tcp://127\.0\.0\.1:9"):
        render(tmp_path, cluster_workers("tcp://127.0.0.1:9"))


def test_a_cluster_that_is_lost_is_told_and_its_chunks_are_kept(tmp_path: Path) -> None:
    def end(planned: Planned, tally: Tally) -> None:
        started.close()

    options = {"n_workers": 1, "threads_per_worker": 1, "processes": True, "dashboard_address": ":0"}
    started = distributed.LocalCluster(host="127.0.0.1", **options)
    with pytest.raises(BarcrossError, match="lost the cluster"):
        render(tmp_path, cluster_workers(started.scheduler_address), end)
    tallies: list[Tally] = []
    render(tmp_path, in_this_process, lambda _, tally: tallies.append(tally))
    assert tallies[-1].reused >= 1
