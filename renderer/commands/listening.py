"""Progress of listening, on stderr: a bar on a terminal, else a line every few seconds."""

import time
from types import TracebackType

from rich.console import Console
from rich.progress import BarColumn, Progress, TaskProgressColumn, TextColumn, TimeRemainingColumn

from renderer.core.terminal import report, visible

QUIET_SECONDS = 2.0
"""What is done sooner shows nothing."""
EVERY_SECONDS = 5.0


class ListeningLine:
    """Told what share is done, from 0 to 1; a context manager that leaves the terminal as it was."""

    def __init__(self, name: str) -> None:
        self._name = visible(name)
        self._console = Console(stderr=True)
        self._bar = Progress(
            TextColumn("listening to {task.description}", markup=False),
            BarColumn(),
            TaskProgressColumn(),
            TimeRemainingColumn(),
            console=self._console,
            transient=True,
            disable=not self._console.is_terminal,
        )
        self._task = self._bar.add_task(self._name, total=1.0)
        self._told = time.monotonic() + QUIET_SECONDS - EVERY_SECONDS

    def __enter__(self) -> "ListeningLine":
        self._bar.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._bar.stop()

    def __call__(self, share: float) -> None:
        self._bar.update(self._task, completed=share)
        now = time.monotonic()
        if not self._console.is_terminal and now - self._told >= EVERY_SECONDS:
            self._told = now
            report(f"listening to {self._name}: {share:.0%}")
