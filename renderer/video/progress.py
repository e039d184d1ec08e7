"""Progress on stderr: a bar on a terminal, else one line a segment."""

import time
from types import TracebackType

from rich.console import Console
from rich.progress import BarColumn, Progress, ProgressColumn, Task, TaskID, TextColumn, TimeRemainingColumn
from rich.text import Text

from renderer.core.terminal import report
from renderer.lesson.lesson import Planned
from renderer.video.films import Tally

QUIET_SECONDS = 2.0
"""What is done sooner shows nothing."""


class RateColumn(ProgressColumn):
    """Frames a second."""

    def render(self, task: Task) -> Text:
        """Nothing until there is a rate."""
        return Text(f"{task.speed:.0f} frames/s" if task.speed else "", style="progress.data.speed")


class ProgressLine:
    """Told how far a segment is; a context manager that leaves the terminal as it was."""

    def __init__(self) -> None:
        self._console = Console(stderr=True)
        self._bar = Progress(
            TextColumn("{task.description}"),
            BarColumn(),
            TextColumn("{task.fields[chunks]} chunks"),
            RateColumn(),
            TimeRemainingColumn(),
            console=self._console,
            transient=True,
            disable=not self._console.is_terminal,
        )
        self._tasks: dict[int, tuple[TaskID, float]] = {}

    def __enter__(self) -> "ProgressLine":
        self._bar.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._bar.stop()

    def __call__(self, planned: Planned, tally: Tally) -> None:
        chunks = f"{tally.chunks}/{tally.chunk_count}"
        if planned.number not in self._tasks:
            task = self._bar.add_task(planned.name, total=tally.frame_count, chunks=chunks)
            self._tasks[planned.number] = task, time.monotonic()
        task, started = self._tasks[planned.number]
        self._bar.update(task, completed=tally.frames, chunks=chunks)
        seconds = time.monotonic() - started
        if tally.frames == tally.frame_count and not self._console.is_terminal and seconds > QUIET_SECONDS:
            report(f"{planned.name}: {in_words(tally, seconds)}")


def in_words(tally: Tally, seconds: float) -> str:
    """What a finished film took, in a line.

    >>> in_words(Tally(240, 240, 2, 2, 1), 4.0)
    '240 frames, 2 chunks, 1 of them kept from before, 60 frames a second'
    """
    kept = f", {tally.reused} of them kept from before" if tally.reused else ""
    rate = f"{tally.frame_count / seconds:.0f} frames a second"
    return f"{tally.frame_count} frames, {tally.chunk_count} chunks{kept}, {rate}"
