"""A file that is read on the page: its readings side by side, and the one that is taken."""

import json
from asyncio import Semaphore
from asyncio.subprocess import Process
from collections.abc import AsyncIterator
from contextlib import suppress
from fractions import Fraction
from pathlib import PurePosixPath
from typing import Any

import numpy as np
from anyio import CancelScope
from anyio.to_thread import run_sync
from starlette.requests import Request
from starlette.responses import JSONResponse, Response, StreamingResponse

from renderer.core.errors import BarcrossError
from renderer.core.file_names import for_shell
from renderer.listening.score import as_label
from renderer.page.asked import asked_json, asked_text
from renderer.page.changes import with_top_value
from renderer.page.child import start_child
from renderer.page.desk import Desk
from renderer.page.editions import Edition
from renderer.page.facts import edition_facts
from renderer.page.shown import Shown
from scenes.draw.look import WIDE
from scenes.draw.shapes import PIXEL

AT_ONCE = 2
"""Files that are read at the same time; another one waits."""
LINE_BYTES = 64 << 20
"""Of what a process says at once, at most: six specs."""
NAME_CHARACTERS = 255
EDGE = 14
"""Canvas pixels round what is seen of a picture."""
THEMES = ("dark", "light")


class Readings:
    """Answers with what a file says."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self._places = Semaphore(AT_ONCE)

    async def read(self, request: Request) -> Response:
        """Read the file whose bytes are the body: lines of JSON, how far it is and last what was found or is wrong.

        When whoever asked has gone, the reading ends.
        """
        asked = request.query_params
        job = {
            "name": shown_name(asked.get("name", "")),
            "part": asked.get("part") or None,
            "tempo": asked.get("tempo") or None,
        }
        theme = asked.get("theme") if asked.get("theme") in THEMES else None
        steps = self._steps(job, await request.body(), theme)
        return StreamingResponse(steps, media_type="application/x-ndjson")

    async def _steps(self, job: dict[str, Any], data: bytes, theme: str | None) -> AsyncIterator[bytes]:
        async with self._places:
            process = await start_child("renderer.page.reading_process", job, "hear", data, LINE_BYTES)
            try:
                said = False
                async for step in _lines(process):
                    said = "step" not in step
                    if "found" in step:
                        step = {"found": await run_sync(self._pictured, step["found"], job, theme)}
                    yield json.dumps(step).encode() + b"\n"
                if not said:
                    told = (
                        f"{job['name']} could not be read to its end. It may be too large for this machine."
                    )
                    yield json.dumps({"problem": told}).encode() + b"\n"
            finally:
                with CancelScope(shield=True), suppress(ProcessLookupError, ConnectionError):
                    process.kill()
                    await process.communicate()

    def _pictured(self, found: dict[str, Any], job: dict[str, Any], theme: str | None) -> dict[str, Any]:
        """What was found, each reading with its picture and what the page shows of its text."""
        named = self.desk.named
        readings = []
        for number, reading in enumerate(found["readings"], 1):
            edition = self.desk.draft(picture_text(reading["text"], found["bars"], theme), 0)
            chosen = job["part"] or (len(found["parts"]) > 1 and reading["kind"] != "carried")
            options = f" --part {for_shell(found['part'])}" if chosen else ""
            options += f" --tempo {for_shell(job['tempo'])}" if job["tempo"] else ""
            options += f" --reading {number}" if number > 1 else ""
            readings.append(
                {
                    **reading,
                    "laid": edition_facts(edition, "")["laid"],
                    "seen": seen_part(edition),
                    "command": f"--from {for_shell(job['name'])}{options}",
                }
            )
        name = self.desk.name_of(found["title"])
        return {
            **found,
            "readings": readings,
            "file": job["name"],
            "named": named,
            "name": name.stem,
            "suffix": name.suffix,
        }

    async def take(self, request: Request) -> Response:
        """Write the text of a reading as a new file, and begin with it."""
        asked = await asked_json(request)
        if not self.desk.begins:
            raise BarcrossError("This lesson has begun already.")
        text, name = asked_text(asked), asked_text(asked, "name")[:200]
        edition = await run_sync(self.desk.begin, text, name, "Give the new file another name.")
        self.desk.tell(edition)
        return JSONResponse(await run_sync(edition_facts, edition, self.desk.path.name))


async def _lines(process: Process) -> AsyncIterator[dict[str, Any]]:
    """What a process tells."""
    assert process.stdin is not None
    assert process.stdout is not None
    with suppress(ConnectionError):
        await process.stdin.drain()
    while line := await process.stdout.readline():
        with suppress(ValueError):
            yield json.loads(line)


def shown_name(name: str) -> str:
    r"""A file's name as a browser says it, for display alone: it leads to no file.

    >>> shown_name("../scores/ferry.mid"), shown_name("C:\\scores\\ferry.mid"), shown_name("\x1b")
    ('ferry.mid', 'ferry.mid', 'file')
    """
    last = PurePosixPath(name.replace("\\", "/")).name
    return as_label(last, NAME_CHARACTERS) or "file"


def picture_text(text: str, bars: tuple[int, int] | None, theme: str | None) -> str:
    """A reading's spec with one segment, its picture: these bars in real time, or the form where nothing is played."""
    bare = "without: [title, counter, foot]"
    segment = f"{{show: play, bars: {bars[0]}-{bars[1]}, {bare}}}" if bars else "form"
    shown = with_top_value(text, "segments", f"[{segment}]")
    return with_top_value(shown, "theme", theme) if theme else shown


def seen_part(edition: Edition) -> tuple[float, float, float, float]:
    """The part of a picture that is not empty: left, top, right and bottom in canvas pixels; all of it where that is
    not known."""
    laid = edition.laid
    if laid is None:
        return 0, 0, WIDE.width, WIDE.height
    shown = Shown(laid, 1, Fraction(1), np.float32(1))
    (picture,) = shown.pictures([shown.frame_count(Fraction(30)) // 2], Fraction(30))
    extents = np.array([shape.extent for shape in picture if len(shape.points)])
    left, high = extents[:, (0, 3)].T
    low, right = extents[:, (1, 2)].T
    middle = np.array([WIDE.width, WIDE.height]) / 2
    start = middle + np.array([left.min(), -high.max()]) / PIXEL - EDGE
    end = middle + np.array([right.max(), -low.min()]) / PIXEL + EDGE
    (one, two), (three, four) = np.maximum(start, 0).tolist(), np.minimum(end, 2 * middle).tolist()
    return one, two, three, four
