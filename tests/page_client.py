"""A page's server for tests, asked as a browser on this machine asks it."""

import json
import struct
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray
from starlette.testclient import TestClient

from renderer.page.desk import Desk
from renderer.page.guard import Guard
from renderer.page.server import Page

PORT = 8123
HOST = f"127.0.0.1:{PORT}"
TOKEN = "a-token-for-tests"
NOTICES = f"ws://{HOST}/{TOKEN}/notices"
ORIGIN = {"origin": f"http://{HOST}"}


def page_client(path: Path, named: bool = True) -> TestClient:
    """A client that has the address; `with` it the file is followed."""
    app = Guard(Page(Desk(path, named=named), lambda spec: spec.parent / "out").app(), TOKEN, PORT)
    return TestClient(app, base_url=f"http://{HOST}/{TOKEN}/", headers=ORIGIN)


class Frames(NamedTuple):
    """A message of pictures, read as renderer/page/outlines.py says it is laid out."""

    head: dict[str, Any]
    points: NDArray[np.float32]

    @property
    def shapes(self) -> dict[int, tuple[str, float, NDArray[np.float32]]]:
        """Colour, opacity and curves of each outline, shape (n, 4, 2)."""
        return {
            identity: (colour, opacity, self.points[8 * first : 8 * (first + curves)].reshape(-1, 4, 2))
            for identity, colour, opacity, first, curves in self.head["shapes"]
        }

    @property
    def pictures(self) -> list[list[int]]:
        """The outlines of each frame, in the order in which they are painted."""
        pictures: list[list[int]] = []
        for start, end, between in self.head["frames"]:
            last = pictures[-1] if pictures else []
            pictures.append([*last[:start], *between, *last[len(last) - end :]])
        return pictures


def read_frames(content: bytes) -> Frames:
    """The message of an answer."""
    (length,) = struct.unpack_from("<I", content)
    return Frames(json.loads(content[4 : 4 + length]), np.frombuffer(content, "<f4", offset=4 + length))


def drawing(module: str) -> list[int]:
    """The processes that work for a page, with a module of its own: `rendering`, `ahead`, `reading_process`."""
    found = []
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            words = (folder / "cmdline").read_bytes()
            state = (folder / "stat").read_text().rpartition(")")[2].split()[0]
        except OSError:
            continue
        if f"renderer.page.{module}".encode() in words and state != "Z":
            found.append(int(folder.name))
    return found
