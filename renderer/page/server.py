"""What the page asks and what it is answered: pictures, sound, facts, and the text when it is to be written."""

from asyncio import create_task, sleep
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager, suppress
from dataclasses import asdict
from fractions import Fraction
from pathlib import Path
from typing import Any

from anyio import CapacityLimiter
from anyio.to_thread import run_sync
from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response, StreamingResponse
from starlette.routing import Route, WebSocketRoute
from starlette.types import ASGIApp
from starlette.websockets import WebSocket, WebSocketDisconnect

from renderer.core.errors import BarcrossError
from renderer.core.open_files import InputFile
from renderer.mix.taps import Tap, attacks_of, lesson_recording, settle, sync_text
from renderer.page.ahead import Ahead
from renderer.page.asked import (
    asked_json,
    asked_rate,
    asked_sample,
    asked_text,
    gone,
    paced,
    refused,
    whole_number,
    wrong,
)
from renderer.page.assets import read_assets
from renderer.page.begin import PULSES, Beginning, against, begun_text, wrong_fields
from renderer.page.changes import with_bar_count, with_top_value
from renderer.page.desk import Desk
from renderer.page.editions import Edition, Laid
from renderer.page.facts import compared, edition_facts, finding_facts, line_facts
from renderer.page.heard import pieces, wav_head
from renderer.page.leaving import asked_part, bytes_of, write_still
from renderer.page.outlines import bar_labels, pictures_message
from renderer.page.readings import Readings
from renderer.page.rendering import Rendering
from renderer.page.rewriting import ChangedError
from renderer.page.shown import Shown, ShownSegments
from renderer.page.taken import LEAST_SPEED, Taken
from renderer.page.two_texts import stretches
from renderer.page.watching import new_editions

MOST_FRAMES = 240
LOOK_AGAIN = 1.0
MIX_AFTER = 1.2
"""Seconds for which a segment is looked at before its sound is mixed."""


class Page:
    """Answers for one desk."""

    def __init__(self, desk: Desk, folder_of: Callable[[Path], Path]) -> None:
        """`folder_of` a spec's file: where its films and stills go."""
        self.desk = desk
        self.folder_of = folder_of
        self.rendering = Rendering(lambda state: desk.tell({"render": state}))
        self.ahead = Ahead(desk, folder_of, lambda: self.rendering.state.state == "running")
        self.segments = ShownSegments()
        self.readings = Readings(desk)
        self.assets = read_assets()
        self._mixing = CapacityLimiter(1)
        self._looked_at: tuple[int, int] = 0, 0

    def app(self) -> ASGIApp:
        """The answers as an application."""
        get, post = ["GET"], ["POST"]
        routes = [
            Route("/", self.asset, methods=get),
            Route("/state", self.state, methods=get),
            Route("/line", self.line, methods=get),
            Route("/frames", self.frames, methods=get),
            Route("/sound", self.sound, methods=get),
            Route("/findings", self.findings, methods=get),
            Route("/draft", self.draft, methods=post),
            Route("/save", self.save, methods=post),
            Route("/bars", self.bars, methods=post),
            Route("/both", self.both, methods=post),
            Route("/recording", self.recording, methods=get),
            Route("/recorded", self.recorded, methods=get),
            Route("/taps", self.taps, methods=post),
            Route("/begin", self.begin, methods=post),
            Route("/read", self.readings.read, methods=post),
            Route("/take", self.readings.take, methods=post),
            Route("/still", self.still, methods=post),
            Route("/render", self.render, methods=post),
            Route("/stop", self.stop, methods=post),
            Route("/film/{number:int}", self.film, methods=get),
            WebSocketRoute("/notices", self.notices),
            Route("/{name}", self.asset, methods=get),
        ]
        app = Starlette(
            routes=routes,
            lifespan=self.following,
            exception_handlers={BarcrossError: refused, KeyError: gone, ValueError: wrong, TypeError: wrong},
        )
        return self.ahead.watching(app)

    @asynccontextmanager
    async def following(self, app: Starlette) -> AsyncIterator[None]:
        """Follow the file, and draw ahead, as long as the server runs."""

        async def follow() -> None:
            while True:
                with suppress(OSError, RuntimeError):  # the folder has gone; it may come back
                    async for edition in new_editions(self.desk):
                        self.ahead.stop()
                        self.desk.tell(edition)
                await sleep(LOOK_AGAIN)

        tasks = [create_task(follow()), create_task(self.ahead.run())]
        yield
        for task in tasks:
            task.cancel()
        self.ahead.stop()
        await self.rendering.stop()

    async def asset(self, request: Request) -> Response:
        """One of the page's own files."""
        asset = self.assets.get(request.path_params.get("name", "index.html"))
        if asset is None:
            raise HTTPException(404)
        return Response(asset.content, media_type=asset.kind)

    async def state(self, request: Request) -> Response:
        """The file's newest edition."""
        edition = self.desk.filed.edition
        facts = await run_sync(edition_facts, edition, self.desk.path.name)
        return JSONResponse({**facts, "render": asdict(self.rendering.state), "begins": self.desk.begins})

    async def notices(self, socket: WebSocket) -> None:
        """Each new edition of the file, as soon as it has been read."""
        await socket.accept()
        queue = self.desk.listen()
        sending = create_task(self._send(socket, queue))
        try:
            while True:
                await socket.receive_text()
        except WebSocketDisconnect:
            pass
        finally:
            self.desk.leave(queue)
            sending.cancel()

    async def _send(self, socket: WebSocket, queue: Any) -> None:
        while True:
            told = await queue.get()
            if isinstance(told, Edition):
                told = await run_sync(edition_facts, told, self.desk.path.name)
            await socket.send_json(told)

    async def line(self, request: Request) -> Response:
        """What stands on a segment's line."""
        shown = self._shown(request)
        facts = await run_sync(lambda: line_facts(shown.schedule))
        create_task(self._mix_soon(shown))  # noqa: RUF006 - nothing waits for it
        return JSONResponse(facts)

    async def frames(self, request: Request) -> Response:
        """Some frames of a segment: at a rate, from one on, so many."""
        shown, rate = self._shown(request), asked_rate(request)
        first, count = whole_number(request, "first"), whole_number(request, "count", 1)

        def draw() -> bytes:
            last = shown.frame_count(rate)
            at = min(first, last - 1)
            frames = range(at, min(last, at + max(1, min(count, MOST_FRAMES))))
            canvas = shown.canvas
            about = {
                "first": at,
                "last": last,
                "size": (canvas.width, canvas.height),
                "ground": shown.look.ground,
            }
            pictures = shown.pictures(frames, rate)
            return pictures_message(pictures, **about, labels=bar_labels(pictures[-1]) if count == 1 else [])

        return Response(await run_sync(draw), media_type="application/octet-stream")

    async def sound(self, request: Request) -> Response:
        """A segment's sound from a second on, round a loop if one is named."""
        shown = self._shown(request)
        start = asked_sample(request, "start")
        loop = (
            (asked_sample(request, "from"), asked_sample(request, "to"))
            if "to" in request.query_params
            else None
        )
        if loop and not loop[0] < loop[1]:
            raise ValueError("a loop is at least one sample long")
        sound = await run_sync(shown.heard)
        count = None if loop else max(0, sound.sample_count - start)
        stream = paced(wav_head(count), pieces(sound, start, loop))
        return StreamingResponse(stream, media_type="audio/wav")

    async def findings(self, request: Request) -> Response:
        """What `check` tells, and ways to land."""
        laid = self._laid(request)
        text = self.desk.text_of(laid.number)
        return JSONResponse(await run_sync(finding_facts, laid, text))

    async def draft(self, request: Request) -> Response:
        """A text that is not saved yet, read."""
        asked = await asked_json(request)
        edition = await run_sync(self.desk.draft, asked_text(asked), int(asked["laid"] or 0))
        return JSONResponse(await run_sync(edition_facts, edition, self.desk.path.name))

    async def save(self, request: Request) -> Response:
        """A text, written into the file if that still says what the page has seen."""
        asked = await asked_json(request)
        seen = asked["seen"]
        try:
            edition = await run_sync(self.desk.save, asked_text(asked), None if seen is None else int(seen))
        except ChangedError as error:
            found = self.desk.reread()
            if found is not None:
                self.desk.tell(found)
            facts = edition_facts(self.desk.filed.edition, self.desk.path.name)
            return JSONResponse({"problem": str(error), "file": facts}, 409)
        self.desk.tell(edition)
        return JSONResponse(edition_facts(edition, self.desk.path.name))

    async def bars(self, request: Request) -> Response:
        """A text with another number of bars in an entry of the form, and what that changes."""
        asked = await asked_json(request)
        text, entry, count = asked_text(asked), int(asked["entry"]), int(asked["count"])
        changed = with_bar_count(text, ("form", entry), count) if count >= 1 else None
        if changed is None:
            found = await run_sync(self.desk.draft, text, 0)
            if found.mistakes:
                raise BarcrossError(f"Mend line {found.mistakes[0].line} first.")
            raise ValueError("no number of bars is written there")
        edition = await run_sync(self.desk.draft, changed, int(asked["laid"] or 0))
        rows = []
        if edition.sound and edition.laid:
            with suppress(KeyError):
                rows = compared(
                    self.desk.laid(int(asked["from"])).lesson, edition.laid.lesson, int(asked["index"])
                )
        facts = await run_sync(edition_facts, edition, self.desk.path.name)
        return JSONResponse({"text": changed, "rows": rows, "edition": facts})

    async def both(self, request: Request) -> Response:
        """Two texts that have come from one, stretch by stretch."""
        asked = await asked_json(request)
        base, mine, file = (asked_text(asked, name) for name in ("base", "mine", "file"))
        return JSONResponse(
            {"stretches": [row._asdict() for row in await run_sync(stretches, base, mine, file)]}
        )

    async def begin(self, request: Request) -> Response:
        """A lesson from its sentence: the text to come and what it says, written if that is asked for."""
        asked = await asked_json(request)
        begun = Beginning(**{key: str(asked[key])[:200] for key in Beginning._fields})
        text = begun_text(begun)
        name = self.desk.name_of(begun.title).name
        if asked["write"]:
            if not self.desk.begins:
                raise BarcrossError("This lesson has begun already.")
            edition = await run_sync(self.desk.begin, text, begun.title)
            self.desk.tell(edition)
            return JSONResponse(await run_sync(edition_facts, edition, name))
        edition = await run_sync(self.desk.draft, text, 0)
        laid = edition.laid
        words = against(laid.lesson.spec, laid.lesson.timeline) if laid and edition.sound else ()
        facts = await run_sync(edition_facts, edition, name)
        wrong = [*wrong_fields(begun, edition.mistakes)]
        return JSONResponse({**facts, "words": words, "wrong": wrong, "pulses": [*PULSES]})

    async def recording(self, request: Request) -> Response:
        """What is to be known of the recording before one taps: its length, its attacks, its points."""
        lesson = self._laid(request).lesson

        def facts() -> dict[str, Any]:
            found = lesson_recording(lesson)
            points = [(point.position.bar, float(point.seconds)) for point in lesson.spec.sync]
            attacks = attacks_of(found)
            return {
                "name": found.path.name,
                "seconds": float(found.seconds),
                "attacks": attacks,
                "points": points,
            }

        return JSONResponse(await run_sync(facts))

    async def recorded(self, request: Request) -> Response:
        """The recording by itself from a sample on, slower if that is asked for."""
        speed = Fraction(whole_number(request, "speed", 100), 100)
        if not LEAST_SPEED <= speed <= 1:
            raise ValueError("a recording is heard at 50 to 100 per cent")
        found = await run_sync(lesson_recording, self._laid(request).lesson)
        sound = Taken(found, speed).pieces(min(asked_sample(request, "start"), found.sample_count))
        return StreamingResponse(paced(wav_head(None), sound), media_type="audio/wav")

    async def taps(self, request: Request) -> Response:
        """What taps become: points, and the text with them."""
        asked = await asked_json(request)
        lesson = self.desk.laid(int(asked["laid"])).lesson
        bars = {bar.number for bar in lesson.timeline.bars}
        taps = [Tap(int(bar), float(seconds), bool(kept)) for bar, seconds, kept in asked["taps"]]
        if not all(tap.bar in bars and 0 <= tap.seconds < 86_400 for tap in taps):
            raise ValueError("a tap has a bar of the piece and a second of the recording")

        def settled() -> dict[str, Any]:
            points = settle(taps, attacks_of(lesson_recording(lesson)), lesson.timeline)
            text = (
                with_top_value(asked_text(asked), "sync", sync_text(points)) if points else asked_text(asked)
            )
            return {"points": [point._asdict() for point in points], "text": text}

        return JSONResponse(await run_sync(settled))

    async def still(self, request: Request) -> Response:
        """What is seen, as a file beside the films."""
        asked = await asked_json(request)
        lesson = self.desk.laid(int(asked["laid"])).lesson
        moment = Fraction(float(asked["seconds"])).limit_denominator(1000)
        number, kind = int(asked["segment"]), str(asked["kind"])
        if not 1 <= number <= len(lesson.spec.segments) or moment < 0:
            raise ValueError("there is no such segment or moment")
        path = await run_sync(write_still, lesson, self.folder_of(self.desk.path), number, moment, kind)
        return JSONResponse({"path": str(path)})

    async def render(self, request: Request) -> Response:
        """Begin to draw films."""
        asked = await asked_json(request)
        desk = self.desk
        chosen, draft = [int(number) for number in asked["segments"]], bool(asked["draft"])
        await self.rendering.start(desk.path, self.folder_of(desk.path), chosen, draft, desk.trust)
        return JSONResponse({})

    async def stop(self, request: Request) -> Response:
        """Stop drawing films."""
        await self.rendering.stop()
        return JSONResponse({})

    async def film(self, request: Request) -> Response:
        """A film that has been drawn, or a part of it."""
        path = self.rendering.film(request.path_params["number"])
        if path is None:
            raise HTTPException(404)
        file = InputFile(path)
        part = asked_part(request.headers.get("range"), file.state.st_size)
        if part is None:
            file.close()
            return Response(status_code=416, headers={"Content-Range": f"bytes */{file.state.st_size}"})
        headers = {"Accept-Ranges": "bytes", "Content-Length": str(part.end - part.start)}
        whole = part.end - part.start == part.size
        if not whole:
            headers["Content-Range"] = f"bytes {part.start}-{part.end - 1}/{part.size}"
        return StreamingResponse(bytes_of(file, part), 200 if whole else 206, headers, media_type="video/mp4")

    def _laid(self, request: Request) -> Laid:
        return self.desk.laid(whole_number(request, "laid"))

    def _shown(self, request: Request) -> Shown:
        speed = Fraction(whole_number(request, "speed", 100), 100)
        if not Fraction(1, 4) <= speed <= 1:
            raise ValueError("a speed is 25 to 100 per cent")
        try:
            return self.segments.get(self._laid(request), whole_number(request, "segment"), speed)
        except IndexError:
            raise KeyError("segment") from None

    async def _mix_soon(self, shown: Shown) -> None:
        """Read the recording, and mix a segment's sound if it is still looked at then."""
        self._looked_at = key = shown.laid.number, shown.number

        def prepare(task: Callable[[], None]) -> None:
            if self._looked_at == key:
                task()

        with suppress(BarcrossError):
            await run_sync(prepare, shown.open_recording, limiter=self._mixing, abandon_on_cancel=True)
            await sleep(MIX_AFTER)
            await run_sync(prepare, shown.prepare, limiter=self._mixing, abandon_on_cancel=True)
