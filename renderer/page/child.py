"""A process of the page's own for what takes long: the page goes on answering, and it can be stopped at any moment.

It is told what to do in one line of JSON; if that says `bytes`, so many follow. It lives as long as its input is open:
when whoever started it closes that, or is no more, it ends at once, and its workers with it. Ctrl-C in the terminal is
not for it.
"""

import json
import os
import sys
from asyncio import create_subprocess_exec
from asyncio.subprocess import PIPE, Process
from threading import Thread
from typing import Any

from renderer.core.installed import HOME
from renderer.core.terminal import show_data
from renderer.video.workers import SAFE_PATH

CHILD = "import sys; sys.path.insert(0, sys.argv[1]); from {0} import {1}; {1}()"
LINE_BYTES = 1 << 16
QUIET = "ignore::UserWarning:multiprocessing.resource_tracker"
"""A process that is killed leaves what the system takes back by itself; Python would tell."""


async def start_child(
    module: str, job: dict[str, Any], function: str = "draw", data: bytes = b"", most: int = LINE_BYTES
) -> Process:
    """Start a function of a module, with a job and what belongs to it. It tells at most so many bytes in a line."""
    process = await create_subprocess_exec(
        *(sys.executable, "-W", QUIET, "-c", CHILD.format(module, function), str(HOME)),
        stdin=PIPE,
        stdout=PIPE,
        limit=most,
        env={**os.environ, SAFE_PATH: "1"},
        process_group=0,
    )
    assert process.stdin is not None
    process.stdin.write(json.dumps({**job, "bytes": len(data)}).encode() + b"\n" + data)
    return process


def child_job(niceness: int) -> dict[str, Any]:
    """In the process: its job, with its `data`. It steps back by so much behind all else that the machine does."""
    stream = sys.stdin.buffer
    job: dict[str, Any] = json.loads(stream.readline())
    job["data"] = stream.read(job["bytes"])
    Thread(target=_end_with_input, daemon=True).start()
    if hasattr(os, "nice"):
        os.nice(niceness)
    return job


def tell(step: dict[str, Any]) -> None:
    """In the process: a line of JSON to whoever started it."""
    show_data(json.dumps(step) + "\n")


def _end_with_input() -> None:
    while os.read(0, 1):  # not through sys.stdin, which Python closes when it ends well
        pass
    os._exit(1)
