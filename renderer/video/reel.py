"""A lesson's films one after another: the frames that each takes, and where each begins in the joined one."""

from collections.abc import Iterable
from fractions import Fraction
from typing import TYPE_CHECKING, NamedTuple

from renderer.core.time_grid import frame_index_to_seconds, seconds_to_frame_index
from renderer.schedule.model import Schedule

if TYPE_CHECKING:
    from renderer.lesson.lesson import Planned


class Reel(NamedTuple):
    """A segment's film and its place in the joined one; exact at any rate."""

    planned: "Planned"
    start_frame: int
    frame_count: int
    frames_per_second: Fraction

    @property
    def start(self) -> Fraction:
        """When it begins in the joined film, in seconds."""
        return frame_index_to_seconds(self.start_frame, self.frames_per_second)

    @property
    def seconds(self) -> Fraction:
        """How long it is."""
        return frame_index_to_seconds(self.frame_count, self.frames_per_second)

    @property
    def end(self) -> Fraction:
        """When it ends in the joined film, in seconds."""
        return self.start + self.seconds


def count_frames(schedule: Schedule, frames_per_second: Fraction) -> int:
    """The frames of a segment's film, at least one."""
    return max(1, seconds_to_frame_index(schedule.seconds, frames_per_second))


def lay_reels(segments: Iterable["Planned"], frames_per_second: Fraction) -> tuple[Reel, ...]:
    """The films of these segments, each from the frame after the last one of the film before."""
    reels: list[Reel] = []
    start = 0
    for planned in segments:
        count = count_frames(planned.schedule, frames_per_second)
        reels.append(Reel(planned, start, count, frames_per_second))
        start += count
    return tuple(reels)
