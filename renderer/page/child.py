"""A process of the page's own that draws, so that the page goes on answering, and can be stopped at any moment.

It is told what to do in one line of JSON. It lives as long as its input is open: when whoever started it closes that,
or is no more, it ends at once, and its workers with it. Ctrl-C in the terminal is not for it.
"""

import json
import os
import sys
from asyncio import create_subprocess_exec
from asyncio.subprocess import PIPE, Process
from threading import Thread
from typing import Any

from renderer.core.installed import HOME
from renderer.video.workers import SAFE_PATH

CHILD = "import sys; sys.path.insert(0, sys.argv[1]); from {} import draw; draw()"
QUIET = "ignore::UserWarning:multiprocessing.resource_tracker"
"""A process that is killed leaves what the system takes back by itself; Python would tell."""


async def start_child(module: str, job: dict[str, Any]) -> Process:
    """Start the `draw` of a module, with a job."""
    process = await create_subprocess_exec(
        *(sys.executable, "-W", QUIET, "-c", CHILD.format(module), str(HOME)),
        stdin=PIPE,
        stdout=PIPE,
        env={**os.environ, SAFE_PATH: "1"},
        process_group=0,
    )
    assert process.stdin is not None
    process.stdin.write(json.dumps(job).encode() + b"\n")
    return process


def child_job(niceness: int) -> dict[str, Any]:
    """In the process: its job. It steps back by so much behind all else that the machine does."""
    job: dict[str, Any] = json.loads(sys.stdin.readline())
    Thread(target=_end_with_input, daemon=True).start()
    if hasattr(os, "nice"):
        os.nice(niceness)
    return job


def _end_with_input() -> None:
    sys.stdin.read()
    os._exit(1)
