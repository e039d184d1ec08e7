"""One chunk of a film as an independent job: named by what determines its pixels, then drawn and encoded.

The name follows from every shape in every frame and from what draws and encodes them. That needs no notion of what a
part of a spec may touch: a chunk is made again exactly when its pictures differ.
"""

import gc
import struct
import threading
from collections.abc import Collection, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from fractions import Fraction
from hashlib import blake2b
from itertools import accumulate, pairwise
from typing import TYPE_CHECKING, NamedTuple

from renderer.core.errors import BarcrossError
from renderer.core.time_grid import frame_index_to_seconds
from renderer.core.used_code import code_key, used_code
from renderer.schedule.model import Schedule
from renderer.schedule.shows import show_of
from renderer.video.codings import H264, Coding
from renderer.video.drawing import CODECS, DIGEST, ChunkDrawer
from renderer.video.h264 import EncodedChunk, split_frames
from renderer.video.reel import count_frames
from scenes.draw.look import Look

if TYPE_CHECKING:
    from scenes.draw.segment import Picture, Segment

PICTURES = "scenes.catalogue"
"""The module that makes pictures; imported only where there is something to draw."""


@dataclass(frozen=True)
class Film:
    """All that a segment's picture follows from."""

    schedule: Schedule
    look: Look
    width: int
    height: int
    frames_per_second: Fraction
    coding: Coding = H264

    @property
    def frame_count(self) -> int:
        """At least one."""
        return count_frames(self.schedule, self.frames_per_second)

    def stretches(self) -> list[range]:
        """The frames of each chunk."""
        return split_frames(self.frame_count, self.frames_per_second)

    def key(self) -> str:
        """A name for all of its pictures, without looking at any: the same inputs, drawn by the same code."""
        everything = self, code_key(ChunkDrawer.__module__, *makers(self.schedule)), CODECS
        return blake2b(repr(everything).encode(), digest_size=DIGEST).hexdigest()


@dataclass(frozen=True)
class Batch:
    """What the jobs of one render share: films, the chunks that are kept already, and the code's key."""

    films: tuple[Film, ...]
    known: frozenset[str]
    code: str


class Job(NamedTuple):
    """A film of a batch and one of its chunks; `force`: also if its name is known."""

    film: int
    chunk: int
    force: bool = False


class ChunkResult(NamedTuple):
    """A chunk's name, and its bytes unless the name was known."""

    name: str
    content: bytes | None


def makers(schedule: Schedule) -> tuple[str, ...]:
    """The modules of ours that make a segment's pictures."""
    return PICTURES, show_of(schedule).segment.partition(":")[0]


def batch_code(films: Iterable[Film]) -> str:
    """A hash of all code and libraries that films are made by."""
    modules = sorted({module for film in films for module in makers(film.schedule)})
    return code_key(__name__, *modules)


def pack(chunk: EncodedChunk) -> bytes:
    """A chunk as bytes: lengths, then the parts."""
    sizes = [len(chunk.header), *map(len, chunk.frames)]
    return struct.pack(f"<I{len(sizes)}I", len(sizes), *sizes) + chunk.header + b"".join(chunk.frames)


def unpack(content: bytes) -> EncodedChunk:
    """What `pack` packed. Raises ValueError if it was anything else."""
    try:
        (count,) = struct.unpack_from("<I", content)
        sizes = struct.unpack_from(f"<{count}I", content, 4)
    except struct.error:
        raise ValueError("no packed chunk") from None
    ends = [*accumulate(sizes, initial=4 + 4 * count)]
    if not sizes or ends[-1] != len(content):
        raise ValueError("no packed chunk")
    header, *frames = (content[start:end] for start, end in pairwise(ends))
    return EncodedChunk(header, tuple(frames))


@contextmanager
def without_collection() -> Iterator[None]:
    """Python's search for rings of objects takes a tenth of the drawing, and shapes make no rings."""
    enabled = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if enabled:
            gc.enable()


class ChunkRenderer:
    """Draws the chunks of one film, in any order; what stays the same from one to the next is kept."""

    def __init__(self, film: Film) -> None:
        from scenes.catalogue import build_segment

        self.film = film
        self.segment: Segment = build_segment(film.schedule, film.look)
        size = film.width, film.height, film.frames_per_second
        self.drawer = ChunkDrawer(film.look.canvas, *size, film.look.ground, film.coding)
        self._libraries = used_code(*makers(film.schedule)).versions()

    def make(self, chunk: int, known: Collection[str]) -> ChunkResult:
        """Name a chunk, and draw it if that name isn't known."""
        with without_collection():
            pictures = [self._picture(index) for index in self.film.stretches()[chunk]]
            name = self.drawer.name(pictures, self._libraries)
            if name in known:
                return ChunkResult(name, None)
            encoded = self.drawer.draw(pictures)
        return ChunkResult(name, pack(encoded))

    def _picture(self, index: int) -> "Picture":
        from scenes.draw.segment import Moment

        rate = self.film.frames_per_second
        return self.segment.picture(Moment(frame_index_to_seconds(index, rate), 1 / rate))


_batch: Batch | None = None
_own = threading.local()
"""A thread draws alone: of a cluster's workers each may have several."""


def make_chunk(batch: Batch | None, job: Job) -> ChunkResult:
    """Do a job, in whatever process. Without a batch it is one of the batch that this process was set up
    for.

    Raises BarcrossError if this process has other code than the one that asks.
    """
    batch = batch or _batch
    assert batch is not None, "this process has not been set up"
    if batch.code != batch_code(batch.films):
        raise BarcrossError(
            "A worker has another version of barcross or its libraries. Install the same version on all machines."
        )
    film = batch.films[job.film]
    renderer: ChunkRenderer | None = getattr(_own, "renderer", None)
    if renderer is None or renderer.film != film:
        renderer = _own.renderer = ChunkRenderer(film)
    known = frozenset() if job.force else batch.known
    return renderer.make(job.chunk, known)


def set_up(batch: Batch) -> None:
    """Give this process the batch that its jobs belong to."""
    global _batch
    _batch = batch
