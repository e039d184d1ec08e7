"""One chunk of a film as an independent job: named by what determines its pixels, then drawn and encoded.

The name is a hash of every shape in every frame, of the picture's size and rate, and of the code and the
libraries that draw and encode. Hashing costs a fraction of drawing, and needs no notion of what a part of a
spec may touch: a chunk is made again exactly when its pictures differ.
"""

import gc
import struct
import threading
from collections.abc import Collection, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from fractions import Fraction
from functools import cache, cached_property
from hashlib import blake2b
from importlib.metadata import PackageNotFoundError, version
from importlib.resources import files
from itertools import accumulate, pairwise
from typing import TYPE_CHECKING, NamedTuple

import av

from renderer.core.errors import BarcrossError
from renderer.core.time_grid import frame_index_to_seconds, seconds_to_frame_index
from renderer.schedule.model import Schedule
from renderer.schedule.staffs import ENGRAVER
from renderer.video.mp4 import EncodedChunk, encode_chunk, split_frames
from scenes.draw.look import Look

if TYPE_CHECKING:
    from renderer.video.planes import Planes
    from renderer.video.rasterizer import Painter
    from scenes.draw.segment import Picture, Segment
    from scenes.draw.shapes import FilledShape

DRAWING = ("rasterizer", "pixels", "planes", "mp4", "chunks")
"""The modules of `renderer.video` on which a chunk depends beyond its shapes."""
LIBRARIES = ("manim", "pycairo", "av", "numpy")
DIGEST = 20


@dataclass(frozen=True)
class Film:
    """All that a segment's picture follows from."""

    schedule: Schedule
    look: Look
    width: int
    height: int
    frames_per_second: Fraction

    @property
    def frame_count(self) -> int:
        """At least one."""
        return max(1, seconds_to_frame_index(self.schedule.seconds, self.frames_per_second))

    def stretches(self) -> list[range]:
        """The frames of each chunk."""
        return split_frames(self.frame_count, self.frames_per_second)

    def key(self) -> str:
        """A name for all of its pictures, without looking at any: the same inputs, drawn by the same code."""
        return blake2b(repr((self, code_key())).encode(), digest_size=DIGEST).hexdigest()


@dataclass(frozen=True)
class Batch:
    """What the jobs of one render share: films, the chunks that are kept already, and the code's key."""

    films: tuple[Film, ...]
    known: frozenset[str]
    code: str


class Job(NamedTuple):
    """A film of a batch and one of its chunks; `anew`: also if its name is known."""

    film: int
    chunk: int
    force: bool = False


class ChunkResult(NamedTuple):
    """A chunk's name, and its bytes unless the name was known."""

    name: str
    content: bytes | None


@cache
def code_key() -> str:
    """A hash of all code, fonts and libraries that pictures follow from."""
    state = blake2b(digest_size=DIGEST)
    for package in ("renderer", "scenes", "assets"):
        for content in _contents(package):
            state.update(content)
    state.update(repr(_libraries()).encode())
    return state.hexdigest()


@cache
def drawing_key() -> str:
    """A hash of the code and libraries that turn shapes into encoded frames."""
    state = blake2b(repr(_libraries()).encode(), digest_size=DIGEST)
    for name in DRAWING:
        state.update((files("renderer.video") / f"{name}.py").read_bytes())
    return state.hexdigest()


def _libraries() -> list[object]:
    versions = [*((name, version(name)) for name in LIBRARIES), (ENGRAVER, _version_or_none(ENGRAVER))]
    return [*versions, sorted(av.library_versions.items())]


def _version_or_none(name: str) -> str | None:
    try:
        return version(name)
    except PackageNotFoundError:
        return None


def _contents(package: str) -> Iterator[bytes]:
    waiting = [files(package)]
    while waiting:
        entries = sorted(waiting.pop().iterdir(), key=lambda entry: entry.name)
        for entry in entries:
            if entry.is_dir():
                if entry.name != "__pycache__":
                    waiting.append(entry)
            else:
                yield entry.name.encode() + b"\0" + entry.read_bytes()


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

    def make(self, chunk: int, known: Collection[str]) -> ChunkResult:
        """Name a chunk, and draw it if that name isn't known."""
        with without_collection():
            pictures = [self._picture(index) for index in self.film.stretches()[chunk]]
            name = self._name(pictures)
            if name in known:
                return ChunkResult(name, None)
            film = self.film
            encoded = encode_chunk(
                map(self._frame, pictures), film.width, film.height, film.frames_per_second
            )
        return ChunkResult(name, pack(encoded))

    @cached_property
    def painter(self) -> "Painter":
        """What draws: not needed as long as all names are known."""
        from renderer.video.rasterizer import Painter

        return Painter(self.film.width, self.film.height, self.film.look.ground, self.film.look.canvas)

    @cached_property
    def _planes(self) -> "Planes":
        from renderer.video.planes import Planes

        planes = Planes(self.film.width, self.film.height)
        planes.update(self.painter.pixels, [self.painter.frame])
        return planes

    def _picture(self, index: int) -> "Picture":
        from scenes.draw.segment import Moment

        rate = self.film.frames_per_second
        return self.segment.picture(Moment(frame_index_to_seconds(index, rate), 1 / rate))

    def _frame(self, picture: "Picture") -> av.VideoFrame:
        planes = self._planes
        planes.update(self.painter.pixels, self.painter.repaint(picture))
        return planes.frame

    def _name(self, pictures: Iterable["Picture"]) -> str:
        film = self.film
        setting = (drawing_key(), film.width, film.height, film.frames_per_second, film.look.ground)
        state = blake2b(repr(setting).encode(), digest_size=DIGEST)
        for picture in pictures:
            state.update(len(picture).to_bytes(4, "big"))
            state.update(b"".join([shape.digest or _digest(shape) for shape in picture]))
        return state.hexdigest()


def _digest(shape: "FilledShape") -> bytes:
    shape.digest = digest_shape(shape)
    return shape.digest


def digest_shape(shape: "FilledShape") -> bytes:
    """A hash of all that a shape's pixels follow from."""
    return blake2b(shape.points.tobytes() + shape.fill_rgbas.tobytes(), digest_size=16).digest()


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
    if batch.code != code_key():
        raise BarcrossError(
            "a worker has another version of this program or of its libraries. Install the same on all machines."
        )
    film = batch.films[job.film]
    studio: ChunkRenderer | None = getattr(_own, "studio", None)
    if studio is None or studio.film != film:
        studio = _own.studio = ChunkRenderer(film)
    known = frozenset() if job.force else batch.known
    return studio.make(job.chunk, known)


def set_up(batch: Batch) -> None:
    """Give this process the batch that its jobs belong to."""
    global _batch
    _batch = batch
