"""Films on their way: a process of its own draws them, so that the page goes on answering, and can be stopped.

It tells how far it is in lines of JSON. What is drawn is kept; the next render goes on from there.
"""

import json
from asyncio import Task, create_task, wait
from asyncio.subprocess import Process
from collections.abc import Callable
from contextlib import suppress
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any

from renderer.core.errors import BarcrossError
from renderer.lesson.lesson import Planned, open_lesson
from renderer.page.child import child_job, start_child, tell
from renderer.video.films import Tally
from renderer.video.render import DRAFT, FINAL, film_name, render_lesson

END_SECONDS = 0.5
STOPPED_SECONDS = 5.0
"""For which one that has been stopped may still be ending when the next one is asked for."""
POLITE = 10
"""By how much the drawing steps back behind all else that the machine does."""


@dataclass(frozen=True)
class FilmState:
    """A film that was asked for."""

    number: int
    name: str
    frames: int = 0
    frame_count: int = 0
    kept: int = 0
    """Chunks that were there from before."""
    done: bool = False


@dataclass(frozen=True)
class RenderState:
    """A render: `running`, `done`, `stopped` or `failed` with a message; `none` before the first."""

    state: str = "none"
    message: str = ""
    folder: str = ""
    quality: str = ""
    films: tuple[FilmState, ...] = field(default=())


class Rendering:
    """The one render that may be under way. `told` hears of each step."""

    def __init__(self, told: Callable[[dict[str, Any]], None]) -> None:
        self.state = RenderState()
        self._told = told
        self._process: Process | None = None
        self._reading: Task[None] | None = None

    async def start(self, path: Path, folder: Path, segments: list[int], draft: bool, trust: bool) -> None:
        """Draw these segments, by number, from the file as it is saved. Raises BarcrossError if one is under way."""
        if self._reading is not None and self.state.state != "running":
            await wait({self._reading}, timeout=STOPPED_SECONDS)
        if self._process is not None:
            raise BarcrossError("A render is under way. Stop it first.")
        job = {"path": str(path), "folder": str(folder), "trust": trust}
        self._process = process = await start_child(__name__, {**job, "segments": segments, "draft": draft})
        self._tell(RenderState("running", folder=str(folder), quality="draft" if draft else "final"))
        self._reading = create_task(self._read(process))

    async def stop(self) -> None:
        """End what is under way; what is drawn is kept."""
        if self._process is not None and self._reading is not None:
            self._tell(replace(self.state, state="stopped"))
            with suppress(ProcessLookupError):
                self._process.kill()
            await wait({self._reading}, timeout=END_SECONDS)

    async def _read(self, process: Process) -> None:
        assert process.stdout is not None
        while line := await process.stdout.readline():
            with suppress(ValueError):
                self._step(json.loads(line))
        await process.communicate()
        self._process = None
        if self.state.state == "running":
            self._tell(
                replace(
                    self.state, state="failed", message="The render ended before it was done. Render again."
                )
            )

    def _step(self, step: dict[str, Any]) -> None:
        if "films" in step:
            self._tell(replace(self.state, films=tuple(FilmState(**film) for film in step["films"])))
        elif "number" in step:
            films = tuple(
                FilmState(**step) if film.number == step["number"] else film for film in self.state.films
            )
            self._tell(replace(self.state, films=films))
        else:
            films = tuple(replace(film, done=step["state"] == "done") for film in self.state.films)
            self._tell(replace(self.state, state=step["state"], message=step.get("message", ""), films=films))

    def _tell(self, state: RenderState) -> None:
        self.state = state
        self._told(asdict(state))

    def film(self, number: int) -> Path | None:
        """The film of a segment that has been written."""
        name = next((film.name for film in self.state.films if film.number == number and film.done), None)
        return Path(self.state.folder) / name if name else None


def draw() -> None:
    """What the process does."""
    job = child_job(POLITE)
    try:
        lesson = open_lesson(Path(job["path"]), job["trust"])
        chosen = [planned for planned in lesson.segments() if planned.number in job["segments"]]
        films = {planned.number: FilmState(planned.number, film_name(planned)) for planned in chosen}
        tell({"films": [asdict(film) for film in films.values()]})

        def progress(planned: Planned, tally: Tally) -> None:
            film = replace(
                films[planned.number], frames=tally.frames, frame_count=tally.frame_count, kept=tally.reused
            )
            films[planned.number] = film
            tell(asdict(film))

        render_lesson(
            lesson, Path(job["folder"]), chosen, DRAFT if job["draft"] else FINAL, progress=progress
        )
    except BarcrossError as error:
        tell({"state": "failed", "message": str(error)})
    else:
        tell({"state": "done"})
