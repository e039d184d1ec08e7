"""A segment's frames as the films draw them."""

from collections.abc import Iterator
from fractions import Fraction

from renderer.core.time_grid import frame_index_to_seconds
from renderer.video.pixels import Pixels
from renderer.video.rasterizer import Painter
from scenes.draw.segment import Moment, Segment


def draw_frames(
    segment: Segment, width: int, height: int, frames_per_second: Fraction, frame_indices: range
) -> Iterator[Pixels]:
    """The frames with these indices, one at a time; each stays valid until the next is asked for."""
    painter = Painter(width, height, segment.look.ground, segment.canvas)
    for frame_index in frame_indices:
        seconds = frame_index_to_seconds(frame_index, frames_per_second)
        yield painter.paint(segment.picture(Moment(seconds, 1 / frames_per_second)))
