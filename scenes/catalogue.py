"""Which segment draws which schedule."""

from dataclasses import replace

from renderer.schedule.model import Schedule
from renderer.schedule.say import SaidSchedule
from renderer.schedule.shows import load_named, show_of
from scenes.draw.look import Look
from scenes.draw.segment import Segment
from scenes.frame.captions import CaptionedSegment


def build_segment(schedule: Schedule, look: Look) -> Segment:
    """The segment that draws a schedule."""
    if isinstance(schedule, SaidSchedule):
        return CaptionedSegment(build_segment(schedule.inner, look), schedule, schedule.captions)
    if schedule.captions:
        bare = replace(schedule, captions=())
        return CaptionedSegment(build_segment(bare, look), None, schedule.captions)
    segment: Segment = load_named(show_of(schedule).segment)(schedule, look.saying(schedule.timeline.words))
    return segment
