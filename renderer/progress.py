"""Progress on stderr: a bar on a terminal, else one line a segment."""

import sys
import time
from types import TracebackType

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TaskID, TextColumn, TimeRemainingColumn

from renderer.lesson import Planned

QUIET_SECONDS = 2.0
"""What is done sooner shows nothing."""


class ProgressLine:
    """Told how many frames of a segment are done; a context manager that leaves the terminal as it was."""

    def __init__(self) -> None:
        self._console = Console(stderr=True)
        self._bar = Progress(
            TextColumn("{task.description}"),
            BarColumn(),
            MofNCompleteColumn(),
            TextColumn("frames"),
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

    def __call__(self, planned: Planned, done: int, total: int) -> None:
        if planned.number not in self._tasks:
            self._tasks[planned.number] = (self._bar.add_task(planned.name, total=total), time.monotonic())
        task, started = self._tasks[planned.number]
        self._bar.update(task, completed=done)
        seconds = time.monotonic() - started
        if done == total and not self._console.is_terminal and seconds > QUIET_SECONDS:
            print(f"{planned.name}: {total} frames, {total / seconds:.0f} a second", file=sys.stderr)
