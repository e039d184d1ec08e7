"""Who may ask: only the page that this server has handed out, on this machine.

A token stands first in every path. The host is checked, so that no other name can be made to lead here; the origin is
checked of whatever writes or listens, so that no other page can. Nothing in a path is a file's name.
"""

from hmac import compare_digest
from secrets import token_urlsafe

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send
from starlette.websockets import WebSocketClose

from renderer.listening.read_score import FILE_BYTES

ADDRESS = "127.0.0.1"
MOST_BODY = 4 << 20
"""Bytes that a request may bring."""
MOST_FILE = FILE_BYTES
"""Bytes of a file that is to be read."""
HEADERS = {
    "Cache-Control": "no-store",
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; font-src 'self'; img-src 'self'; "
        "media-src 'self'; connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
    ),
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
}


def new_token() -> str:
    """A token that nobody guesses: 32 bytes from the system."""
    return token_urlsafe(32)


class Guard:
    """Lets through what has the token, the host and the origin, and puts the headers on every answer."""

    def __init__(self, app: ASGIApp, token: str, port: int) -> None:
        self._app = app
        self._token = token
        self._hosts = {f"{ADDRESS}:{port}", f"localhost:{port}"}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer, or hand on without the token."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        refused = self._refusal(scope)
        if refused and scope["type"] == "websocket":
            await WebSocketClose(1008, refused)(scope, receive, send)
        elif refused:
            await PlainTextResponse(refused, 403, HEADERS)(scope, receive, send)
        else:
            path = "/" + scope["path"].split("/", 2)[2]
            inner = {**scope, "path": path, "raw_path": path.encode(), "root_path": ""}
            await self._app(inner, receive, _with_headers(send))

    def _refusal(self, scope: Scope) -> str | None:
        headers = Headers(scope=scope)
        host = headers.get("host", "")
        parts = scope["path"].split("/", 2)
        if host not in self._hosts:
            return "This address is not the page's."
        if len(parts) < 3 or not compare_digest(parts[1].encode(), self._token.encode()):
            return "Open the whole address that barcross preview has printed."
        if headers.get("sec-fetch-site", "none") not in ("none", "same-origin"):
            return "Another page may not ask this."
        safe = scope["type"] == "http" and scope["method"] in ("GET", "HEAD")
        if not safe and headers.get("origin") != f"http://{host}":
            return "Another page may not ask this."
        length = headers.get("content-length", "0")
        most = MOST_FILE if parts[2] == "read" else MOST_BODY
        if (
            not (length.isdecimal() and len(length) < 12)
            or int(length) > most
            or "transfer-encoding" in headers
        ):
            return "This is too much at once."
        return None


def _with_headers(send: Send) -> Send:
    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            MutableHeaders(scope=message).update(HEADERS)
        await send(message)

    return sending
