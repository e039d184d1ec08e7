"""Films on their way: which chunks are there, which are being made, and which are still to be made.

A chunk is a job for any worker. What comes back goes to the store, and once all of a film is there the film
can be joined. The store also remembers which chunks make up which film: where nothing that is seen has
changed, no picture is looked at, and nothing that draws is imported.
"""

from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, BrokenExecutor, Future, wait
from typing import NamedTuple

from renderer.core.errors import BarcrossError, FileError
from renderer.lesson.lesson import Planned
from renderer.video.chunks import Batch, ChunkResult, Film, Job, batch_code, make_chunk, unpack
from renderer.video.coders import check_coded
from renderer.video.h264 import EncodedChunk
from renderer.video.store import NAME, Store
from renderer.video.workers import PoolFactory, WorkerPool

AHEAD = 3
"""Jobs that are handed out for each worker, so that none waits for the next."""
MOST_BREAKS = 5
"""How often in a row workers may be lost without having made a chunk."""


class Tally(NamedTuple):
    """How far a film is: frames and chunks done and in all, and how many chunks were there before."""

    frames: int
    frame_count: int
    chunks: int
    chunk_count: int
    reused: int


Progress = Callable[[Planned, Tally], None]


class LostChunkError(FileError):
    """A chunk was in the store and is not any more, or is not what its name says."""

    def __init__(self, store: Store) -> None:
        super().__init__(f"{store.folder}: part of it was removed during the render. Render again.")


class FilmProgress:
    """A film and which of its chunks are in the store."""

    def __init__(self, planned: Planned, film: Film, store: Store, progress: Progress | None) -> None:
        self.planned = planned
        self.film = film
        self._key = film.key()
        self._store = store
        self._progress = progress
        self._stretches = film.stretches()
        self._names: dict[int, str] = {}
        self._reused: set[int] = set()
        self._lost: set[int] = set()
        self._frames = 0
        for chunk, name in enumerate(self._remembered()):
            if store.get(name) is not None:
                self.done(chunk, name, reused=True)

    def jobs(self, film: int) -> list[Job]:
        """What has to be done so that all chunks are in the store, `film` being its number in the batch."""
        missing = [chunk for chunk in range(len(self._stretches)) if chunk not in self._names]
        return [Job(film, chunk, force=chunk in self._lost) for chunk in missing]

    @property
    def complete(self) -> bool:
        """Whether all chunks are in the store."""
        return len(self._names) == len(self._stretches)

    @property
    def all_reused(self) -> bool:
        """Whether nothing had to be drawn."""
        return len(self._reused) == len(self._stretches)

    def done(self, chunk: int, name: str, reused: bool) -> None:
        """A chunk is in the store under this name."""
        self._names[chunk] = name
        if reused:
            self._reused.add(chunk)
        self._frames += len(self._stretches[chunk])
        if self._progress:
            chunks = len(self._names), len(self._stretches)
            self._progress(
                self.planned, Tally(self._frames, self.film.frame_count, *chunks, len(self._reused))
            )

    def _lose(self, chunk: int) -> None:
        del self._names[chunk]
        self._lost.add(chunk)
        self._reused.discard(chunk)
        self._frames -= len(self._stretches[chunk])

    def _remembered(self) -> list[str]:
        """The chunks that made up this film the last time; none if that isn't known."""
        names = (self._store.get(self._key) or b"").decode("ascii", "replace").split("\n")
        fitting = len(names) == len(self._stretches) and all(map(NAME.fullmatch, names))
        return names if fitting else []

    def remember(self) -> None:
        """Note which chunks make up this film, for the next time."""
        names = (self._names[chunk] for chunk in range(len(self._stretches)))
        self._store.put(self._key, "\n".join(names).encode("ascii"))

    def chunks(self) -> Iterator[EncodedChunk]:
        """All chunks in order. Raises LostChunkError; what is lost has to be made again."""
        for chunk in range(len(self._stretches)):
            yield self._kept(chunk)

    def _kept(self, number: int) -> EncodedChunk:
        content = self._store.get(self._names[number])
        film = self.film
        try:
            chunk = unpack(content or b"")
            count = len(self._stretches[number])
            check_coded(film.coding, chunk, count, film.width, film.height, film.frames_per_second)
        except ValueError:
            self._lose(number)
            raise LostChunkError(self._store) from None
        return chunk


def make_films(
    films_progress: Sequence[FilmProgress],
    store: Store,
    start_pool: PoolFactory,
    finish: Callable[[FilmProgress], None],
) -> None:
    """Have all chunks made that are missing; each film is handed to `finish` in turn when it is complete.

    Workers start only if there is something to draw. Raises BarcrossError if they stop again and again,
    and FileError if the store can't be written.
    """
    _Production(films_progress, store, finish).run(start_pool)


class _Production:
    def __init__(
        self, films_progress: Sequence[FilmProgress], store: Store, finish: Callable[[FilmProgress], None]
    ) -> None:
        self._films_progress = films_progress
        self._store = store
        self._finish = finish
        self._unfinished = deque(enumerate(films_progress))
        self._waiting = deque(
            job for film, film_progress in enumerate(films_progress) for job in film_progress.jobs(film)
        )
        self._running: dict[Future[ChunkResult], Job] = {}
        self._made = 0

    def run(self, start_pool: PoolFactory) -> None:
        self._finish_complete()
        breaks, made = 0, 0
        films = tuple(film_progress.film for film_progress in self._films_progress)
        batch = Batch(films, self._store.names(), batch_code(films))
        while self._waiting:
            try:
                with start_pool(batch) as pool:
                    self._work(pool)
            except BrokenExecutor:
                breaks = breaks + 1 if made == self._made else 0
                made = self._made
                self._waiting.extendleft(self._running.values())
                self._running.clear()
                if breaks >= MOST_BREAKS:
                    raise BarcrossError(
                        "The workers stop before they have drawn anything. Perhaps there is too little memory: "
                        "use --jobs 1 or --draft."
                    ) from None

    def _work(self, pool: WorkerPool) -> None:
        while self._waiting or self._running:
            while self._waiting and len(self._running) < AHEAD * pool.places:
                future = pool.executor.submit(make_chunk, pool.batch, self._waiting[0])
                self._running[future] = self._waiting.popleft()
            for future in wait(self._running, return_when=FIRST_COMPLETED).done:
                made = future.result()
                self._keep(self._running.pop(future), made)
            self._finish_complete()

    def _keep(self, job: Job, made: ChunkResult) -> None:
        if made.content is not None:
            self._store.put(made.name, made.content)
            self._made += 1
        elif self._store.get(made.name) is None:
            self._waiting.appendleft(job._replace(force=True))
            return
        self._films_progress[job.film].done(job.chunk, made.name, reused=made.content is None)

    def _finish_complete(self) -> None:
        while self._unfinished and self._unfinished[0][1].complete:
            film, film_progress = self._unfinished[0]
            try:
                self._finish(film_progress)
                film_progress.remember()
            except LostChunkError:
                self._waiting += film_progress.jobs(film)
                return
            self._unfinished.popleft()
