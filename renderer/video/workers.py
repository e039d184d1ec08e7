"""Who does the jobs: processes of this machine, this process itself, or a Dask cluster.

Local workers hold one end of a pipe whose other end only this process has. When that closes because this
process has been killed, they end at once, whatever they are doing.
"""

import multiprocessing
import os
import signal
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import BrokenExecutor, CancelledError, Executor, Future, ProcessPoolExecutor
from contextlib import AbstractContextManager, contextmanager
from importlib import import_module
from multiprocessing.connection import Connection
from threading import Thread, current_thread, main_thread
from typing import Any, NamedTuple, TypeVar

from renderer.core.errors import BarcrossError
from renderer.video.chunks import Batch, set_up

CONNECT_SECONDS = 10
SIGNALS_CAN_WAIT = hasattr(signal, "pthread_sigmask")
"""Not on Windows."""
SAFE_PATH = "PYTHONSAFEPATH"
"""Python: leave the current folder out of where modules are looked for."""
Item = TypeVar("Item")
Result = TypeVar("Result")


class WorkerPool(NamedTuple):
    """An executor, what its jobs are handed as their batch, and how many it does at once."""

    executor: Executor
    batch: Any
    places: int


PoolFactory = Callable[[Batch], AbstractContextManager[WorkerPool]]
"""Gets workers for a batch; they go when the context ends."""


def core_count() -> int:
    """Cores that this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def in_threads(task: Callable[[Item], Result], items: Iterable[Item], count: int) -> "list[Future[Result]]":
    """Do a task for each item, in order, so many at once, while the caller goes on. What ends this process doesn't
    wait for them."""
    jobs = [(item, Future[Result]()) for item in items]
    waiting = deque(jobs)

    def work() -> None:
        while True:
            try:
                item, future = waiting.popleft()
            except IndexError:
                return
            try:
                future.set_result(task(item))
            except Exception as error:
                future.set_exception(error)

    for _ in range(min(count, len(jobs))):
        Thread(target=work, daemon=True).start()
    return [future for _, future in jobs]


def local_workers(count: int) -> PoolFactory:
    """Processes of this machine; for one, this process itself."""
    return in_this_process if count == 1 else lambda batch: _processes(batch, count)


@contextmanager
def in_this_process(batch: Batch) -> Iterator[WorkerPool]:
    """No workers: each job is done while it is submitted."""
    yield WorkerPool(_Alone(), batch, 1)


class _Alone(Executor):
    def submit(self, task: Callable[..., Any], /, *arguments: Any, **options: Any) -> Future[Any]:
        future: Future[Any] = Future()
        try:
            future.set_result(task(*arguments, **options))
        except Exception as error:
            future.set_exception(error)
        return future


class _Processes(ProcessPoolExecutor):
    """A pool that also says so when a new process can't be started, as while another one is dying."""

    def submit(self, task: Callable[..., Any], /, *arguments: Any, **options: Any) -> Future[Any]:
        try:
            with _starting():
                return super().submit(task, *arguments, **options)
        except (OSError, ValueError) as error:
            raise BrokenExecutor(f"a worker can't be started: {error}") from error


@contextmanager
def _starting() -> Iterator[None]:
    """While processes start, Ctrl-C waits: one that has not come as far as to ignore it would end in a traceback, and
    so would one that is left before it has been told what to do. And they look for no module of Python's in the folder
    that one stands in, whoever's it is."""
    before = os.environ.get(SAFE_PATH)
    os.environ[SAFE_PATH] = "1"
    with _interrupt_waits():
        # New processes take this over. It alone does not make us wait: another thread may be interrupted in our place.
        blocked = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT}) if SIGNALS_CAN_WAIT else set()
        try:
            yield
        finally:
            if before is None:
                del os.environ[SAFE_PATH]
            else:
                os.environ[SAFE_PATH] = before
            if SIGNALS_CAN_WAIT:
                signal.pthread_sigmask(signal.SIG_SETMASK, blocked)


@contextmanager
def _interrupt_waits() -> Iterator[None]:
    """What Ctrl-C does is done at the end."""
    usual = signal.getsignal(signal.SIGINT)
    if current_thread() is not main_thread() or not callable(usual):
        yield
        return
    came: list[int] = []
    signal.signal(signal.SIGINT, lambda number, _: came.append(number))
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, usual)
        if came:
            usual(came[0], None)


@contextmanager
def _processes(batch: Batch, count: int) -> Iterator[WorkerPool]:
    context = multiprocessing.get_context("spawn")
    their_end, our_end = context.Pipe(duplex=False)
    others = set(multiprocessing.active_children())
    with _starting():
        executor = _Processes(count, context, _start_worker, (batch, their_end))
    try:
        yield WorkerPool(executor, None, count)
    except BaseException:
        for worker in set(multiprocessing.active_children()) - others:
            worker.kill()
        raise
    finally:
        our_end.close()  # they end at once; by themselves they would take all apart first
        executor.shutdown(cancel_futures=True)
        their_end.close()


def _start_worker(batch: Batch, lifeline: Connection) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C goes to all; who waits for us decides
    Thread(target=_end_with, args=(lifeline,), daemon=True).start()
    set_up(batch)


def _end_with(lifeline: Connection) -> None:
    try:
        lifeline.recv_bytes()
    except (EOFError, OSError):
        os._exit(1)


def cluster_workers(address: str) -> PoolFactory:
    """The workers of a Dask scheduler, as `tcp://127.0.0.1:8786`. Raises BarcrossError if there is none."""

    @contextmanager
    def start_pool(batch: Batch) -> Iterator[WorkerPool]:
        try:
            from distributed import Client, KilledWorker
        except ImportError:
            raise BarcrossError(
                "--cluster needs Dask. Install it with pip install 'barcross[cluster]', here and on all workers."
            ) from None
        try:
            client = Client(address, timeout=CONNECT_SECONDS)
        except (OSError, ValueError) as error:
            raise BarcrossError(f"{address}: no Dask scheduler answers ({error}).") from None
        with client:
            if not client.nthreads():
                raise BarcrossError(
                    f"{address}: this scheduler has no workers. Start one: dask worker {address}"
                )
            try:
                client.run(
                    import_module, "barcross"
                )  # it finds the program's packages, whatever has their names
                client.run(import_module, "renderer.video.chunks")
            except ImportError as error:
                raise BarcrossError(
                    f"{address}: a worker has no {error.name}. "
                    "Install the same version of barcross[cluster] on all machines."
                ) from None
            threads = sum(client.nthreads().values())
            try:
                yield WorkerPool(
                    client.get_executor(pure=False), client.scatter(batch, broadcast=True), threads
                )
            except (CancelledError, KilledWorker) as error:
                raise BarcrossError(
                    f"{address}: lost the cluster ({type(error).__name__}). What is finished is kept: "
                    "start the cluster and give the same command again."
                ) from None

    return start_pool
