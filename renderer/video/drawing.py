"""Pictures to an encoded chunk, and the name of what comes out: a hash of every shape in every picture and of all that
turns shapes into frames. Hashing costs a fraction of drawing."""

from collections.abc import Iterable, Sequence
from fractions import Fraction
from functools import cached_property
from hashlib import blake2b
from struct import Struct
from typing import TYPE_CHECKING

import av

from renderer.core.used_code import code_key
from renderer.video.codings import H264, PRORES, Coding
from renderer.video.h264 import EncodedChunk, encode_chunk

if TYPE_CHECKING:
    from renderer.video.pixels import PixelBox
    from renderer.video.planes import Planes
    from renderer.video.rasterizer import Painter
    from renderer.video.straight import Samples, StraightPlanes
    from scenes.draw.look import Canvas
    from scenes.draw.segment import Picture
    from scenes.draw.shapes import FilledShape

DIGEST = 20
FILL = Struct("<4d")
CODECS = tuple(sorted(av.library_versions.items()))
"""The encoders that PyAV has been built with."""


class ChunkDrawer:
    """Draws and encodes pictures of one size, rate and ground; what stays the same from one to the next is kept."""

    def __init__(
        self,
        canvas: "Canvas",
        width: int,
        height: int,
        frames_per_second: Fraction,
        ground: str,
        coding: Coding = H264,
    ) -> None:
        self.canvas = canvas
        self.width = width
        self.height = height
        self.frames_per_second = frames_per_second
        self.ground = None if coding.transparent else ground
        self.coding = coding

    def name(self, pictures: Iterable["Picture"], *settings: object) -> str:
        """The name of what `draw` makes of these pictures; `settings` are what else they follow from."""
        from scenes.draw.shapes import view_of

        view = view_of(self.canvas, self.width, self.height)
        setting = (
            *(view, self.width, self.height, self.frames_per_second, self.ground),
            *(self.coding, code_key(__name__), CODECS, settings),
        )
        state = blake2b(repr(setting).encode(), digest_size=DIGEST)
        for picture in pictures:
            state.update(len(picture).to_bytes(4, "big"))
            state.update(b"".join([shape.digest or _digest(shape) for shape in picture]))
        return state.hexdigest()

    def draw(self, pictures: Sequence["Picture"]) -> EncodedChunk:
        """The pictures, encoded."""
        if self.coding != H264:
            return self._draw_straight(pictures)
        return encode_chunk(map(self._frame, pictures), self.width, self.height, self.frames_per_second)

    def _draw_straight(self, pictures: Sequence["Picture"]) -> EncodedChunk:
        """The pictures without a ground: in the first frame all of them is new."""
        from renderer.video.prores import ProResEncoder
        from renderer.video.vp9 import encode_vp9

        size = self.width, self.height, self.frames_per_second
        frames = (self._straight_frame(picture) for picture in pictures)
        if self.coding == PRORES:
            return ProResEncoder(*size).encode(frames)
        return encode_vp9(frames, *size)

    def _straight_frame(self, picture: "Picture") -> tuple[tuple["Samples", ...], list["PixelBox"]]:
        planes = self._straight
        boxes = planes.update(self.painter.pixels, self.painter.repaint(picture))
        return planes.planes, boxes

    @cached_property
    def _straight(self) -> "StraightPlanes":
        from renderer.video.straight import StraightPlanes

        planes = StraightPlanes(self.width, self.height)
        planes.update(self.painter.pixels, [self.painter.frame])
        return planes

    @cached_property
    def painter(self) -> "Painter":
        """Not needed as long as all names are known."""
        from renderer.video.rasterizer import Painter

        return Painter(self.width, self.height, self.ground, self.canvas)

    @cached_property
    def _planes(self) -> "Planes":
        from renderer.video.planes import Planes

        planes = Planes(self.width, self.height)
        planes.update(self.painter.pixels, [self.painter.frame])
        return planes

    def _frame(self, picture: "Picture") -> av.VideoFrame:
        planes = self._planes
        planes.update(self.painter.pixels, self.painter.repaint(picture))
        return planes.frame


def _digest(shape: "FilledShape") -> bytes:
    shape.digest = digest_shape(shape)
    return shape.digest


def digest_shape(shape: "FilledShape") -> bytes:
    """A hash of all that a shape's pixels follow from."""
    outline = shape.outline
    if outline.digest is None:
        outline.digest = blake2b(shape.points.tobytes(), digest_size=16).digest()
    return blake2b(outline.digest + FILL.pack(*shape.fill), digest_size=16).digest()
