"""What a request says, read and checked, and answers that are the same for all."""

from asyncio import sleep
from collections.abc import AsyncIterator, Iterator
from fractions import Fraction
from time import monotonic
from typing import Any

from anyio.to_thread import run_sync
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from renderer.audio.click_sounds import SAMPLES_PER_SECOND
from renderer.page.heard import coded

AHEAD = 3.0
"""Seconds of sound that a browser is sent before they are heard: it would take a minute."""
RATES = (Fraction(30), Fraction(60))


class Asked(dict[str, Any]):
    """What was asked, by name. Raises ValueError for what was not said."""

    def __missing__(self, name: str) -> Any:
        raise ValueError(f"{name} is missing")


async def asked_json(request: Request) -> Asked:
    """What a request asks in JSON. Raises ValueError for what is no object."""
    try:
        asked = await request.json()
    except RecursionError:
        raise ValueError("this is nested too deep") from None
    if not isinstance(asked, dict):
        raise ValueError("an object is asked with")
    return Asked(asked)


async def paced(head: bytes, sound: Iterator[Any]) -> AsyncIterator[bytes]:
    """A stream that is never further ahead of what is heard than need be."""
    yield head
    started, sent = monotonic(), 0.0
    while (piece := await run_sync(next, sound, None)) is not None:
        yield coded(piece)
        sent += len(piece) / SAMPLES_PER_SECOND
        await sleep(max(0.0, sent - AHEAD - (monotonic() - started)))


def whole_number(request: Request, name: str, otherwise: int | None = None) -> int:
    text = request.query_params.get(name)
    if text is None and otherwise is not None:
        return otherwise
    if text is None or not (text.isascii() and text.isdecimal() and len(text) < 12):
        raise ValueError(f"{name} is a whole number")
    return int(text)


def asked_rate(request: Request) -> Fraction:
    rate = Fraction(whole_number(request, "rate", 30))
    if rate not in RATES:
        raise ValueError("a rate is 30 or 60")
    return rate


def asked_sample(request: Request, name: str) -> int:
    """A number of samples."""
    return whole_number(request, name, 0)


def asked_text(asked: Any, name: str = "text") -> str:
    text = asked[name]
    if not isinstance(text, str):
        raise ValueError("a text is a text")
    return text


async def refused(request: Request, error: Exception) -> Response:
    return JSONResponse({"problem": str(error)}, 422)


async def gone(request: Request, error: Exception) -> Response:
    return JSONResponse({"problem": "This is no longer kept. Load the page again."}, 410)


async def wrong(request: Request, error: Exception) -> Response:
    return JSONResponse({"problem": f"This can't be answered: {error}."}, 400)
