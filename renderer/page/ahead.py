"""While nobody asks for anything, what `render --draft` would have to draw is drawn, and kept where it looks for it.

A process of the lowest priority draws the text as it is saved. It is ended as soon as anything is asked or changed;
what it has drawn is kept, and it goes on from there when all is quiet again. Once nothing is missing it draws no more
until the file says something new.
"""

import os
from asyncio import create_task, sleep
from asyncio.subprocess import Process
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from time import monotonic

from starlette.types import ASGIApp, Receive, Scope, Send

from renderer.core.errors import BarcrossError
from renderer.lesson.lesson import open_lesson
from renderer.page.child import child_job, start_child
from renderer.page.desk import Desk
from renderer.video.render import DRAFT, draw_ahead
from renderer.video.workers import core_count, local_workers

QUIET_SECONDS = 6.0
"""So long nothing is asked before drawing begins: a process takes two to start."""
LOOK_SECONDS = 0.5
LAST = 19


class Ahead:
    """Draws drafts while the page is quiet. `busy` says whether something else draws."""

    def __init__(self, desk: Desk, folder_of: Callable[[Path], Path], busy: Callable[[], bool]) -> None:
        self._desk, self._folder_of, self._busy = desk, folder_of, busy
        self._process: Process | None = None
        self._open = 0
        self._asked_at = monotonic()
        self._drawn: int | None = None

    def watching(self, app: ASGIApp) -> ASGIApp:
        """The application, its requests watched: while one is under way nothing is drawn."""

        async def watched(scope: Scope, receive: Receive, send: Send) -> None:
            if scope["type"] != "http":
                await app(scope, receive, send)
                return
            self.stop()
            self._open += 1
            try:
                await app(scope, receive, send)
            finally:
                self._open -= 1
                self._asked_at = monotonic()

        return watched

    async def run(self) -> None:
        """Draw whenever it is quiet, for as long as the page runs."""
        while True:
            await sleep(LOOK_SECONDS)
            edition = self._desk.filed.edition
            quiet = not self._open and monotonic() - self._asked_at >= QUIET_SECONDS
            if (
                quiet
                and edition.sound
                and edition.number != self._drawn
                and not (self._process or self._busy())
            ):
                with suppress(OSError):
                    await self._start(edition.number)

    async def _start(self, number: int) -> None:
        desk, asked_at = self._desk, self._asked_at
        job = {"path": str(desk.path), "folder": str(self._folder_of(desk.path)), "trust": desk.trust}
        process = await start_child(__name__, job)
        if self._asked_at != asked_at:  # somebody has asked while it started
            process.kill()
            return
        self._process = process
        self._ending = create_task(self._end(process, number))

    async def _end(self, process: Process, number: int) -> None:
        assert process.stdout is not None
        await process.stdout.read()  # until it has ended
        if self._process is process:  # it has ended by itself: all is there, or it can't be drawn
            self._drawn, self._process = number, None

    def stop(self) -> None:
        """End what is being drawn; something is asked, or has changed."""
        self._asked_at = monotonic()
        process, self._process = self._process, None
        if process is not None:
            with suppress(ProcessLookupError):
                process.kill()


def draw() -> None:
    """What the process does."""
    job = child_job(LAST)
    if hasattr(os, "SCHED_IDLE"):
        with suppress(OSError):
            os.sched_setscheduler(0, os.SCHED_IDLE, os.sched_param(0))
    with suppress(BarcrossError):
        lesson = open_lesson(Path(job["path"]), job["trust"])
        workers = local_workers(max(1, core_count() - 1))
        draw_ahead(lesson, Path(job["folder"]), lesson.segments(), DRAFT, workers)
