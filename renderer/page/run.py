"""Start the page's server, say where it is, and end with Ctrl-C within a second."""

import socket
import webbrowser
from collections.abc import Callable
from contextlib import suppress
from os import name as system
from pathlib import Path
from threading import Thread

import uvicorn

from renderer.core.errors import BarcrossError
from renderer.core.refusals import reason_of
from renderer.core.terminal import end_process, show
from renderer.page.desk import Desk
from renderer.page.guard import ADDRESS, Guard, new_token
from renderer.page.server import Page


def run_page(
    path: Path | None,
    folder_of: Callable[[Path], Path],
    port: int = 0,
    browser: bool = True,
    trust: bool = False,
) -> None:
    """Serve the page of a spec until somebody stops it; None: of one that begins in
    this folder. Films and stills go where `folder_of` the spec's file says.

    Raises BarcrossError if the port is taken.
    """
    listening = _listen(port)
    port = listening.getsockname()[1]
    token = new_token()
    page = Page(Desk(path or Path("new.yaml"), trust, named=path is not None), folder_of)
    config = uvicorn.Config(
        Guard(page.app(), token, port),
        log_config=None,
        log_level="critical",  # else Ctrl-C prints how the server was stopped, with tracebacks
        access_log=False,
        server_header=False,
        timeout_graceful_shutdown=0,
        ws="websockets-sansio",
    )
    address = f"http://{ADDRESS}:{port}/{token}/"
    show(address)
    if browser:
        Thread(target=_open, args=(address,), daemon=True).start()
    with suppress(KeyboardInterrupt):
        uvicorn.Server(config).run(sockets=[listening])
    end_process()


def _listen(port: int) -> socket.socket:
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    if system != "nt":  # there it would let two servers have one port
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind((ADDRESS, port))
        listening.listen(64)
    except OSError as error:
        listening.close()
        raise BarcrossError(
            f"Port {port} can't be used: {reason_of(error)}. Choose another with --port."
        ) from None
    return listening


def _open(address: str) -> None:
    with suppress(webbrowser.Error, OSError):
        webbrowser.open(address)
