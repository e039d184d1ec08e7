"""The spec's file, watched: its folder is, because many editors save by renaming, which a watch on the file misses."""

from asyncio import sleep
from collections.abc import AsyncIterator
from pathlib import Path

from anyio.to_thread import run_sync
from watchfiles import Change, awatch

from renderer.page.desk import Desk
from renderer.page.editions import Edition

STEP, DEBOUNCE = 10, 40
"""Milliseconds between looks, and for which changes are gathered at most."""
HALF_WRITTEN = 0.05
"""Seconds after which a text with mistakes is read once more before they are told: it may have been half written."""


async def new_editions(desk: Desk) -> AsyncIterator[Edition]:
    """Every edition of the desk's file that says something new, for as long as one listens."""

    def wanted(change: Change, path: str) -> bool:
        return Path(path).name in (desk.path.name, desk.path.resolve().name)

    folders = {str(desk.path.resolve().parent), str(desk.path.parent.resolve())}
    async for _ in awatch(*folders, watch_filter=wanted, step=STEP, debounce=DEBOUNCE, recursive=False):
        edition = await run_sync(desk.reread)
        if edition is not None and edition.mistakes:
            await sleep(HALF_WRITTEN)
            edition = await run_sync(desk.reread) or edition
        if edition is not None:
            yield edition
