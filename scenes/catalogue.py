"""Which segment draws which schedule."""

from dataclasses import replace

from renderer.schedule.card import CardSchedule
from renderer.schedule.compare import CompareSchedule
from renderer.schedule.crossings import CrossingsSchedule
from renderer.schedule.fit import FitSchedule
from renderer.schedule.form import FormSchedule
from renderer.schedule.model import FigureSchedule, PlaySchedule, Schedule, SpreadSchedule
from renderer.schedule.parts import PartsSchedule
from renderer.schedule.say import SaidSchedule
from renderer.schedule.wheel import WheelSchedule
from renderer.timeline.model import Timeline
from scenes.card.card import CardSegment
from scenes.compare.compare import CompareSegment
from scenes.crossings.crossings import CrossingsSegment
from scenes.draw.look import Look
from scenes.draw.segment import Segment
from scenes.figure.figure import FigureSegment
from scenes.fit.fit import FitSegment
from scenes.form.form import FormSegment
from scenes.frame.captions import CaptionedSegment
from scenes.parts.parts import PartsSegment
from scenes.play.play import PlaySegment
from scenes.spread.spread import SpreadSegment
from scenes.wheel.wheel import WheelSegment


def build_segment(timeline: Timeline, schedule: Schedule, look: Look) -> Segment:
    """The segment that draws a schedule."""
    if isinstance(schedule, SaidSchedule):
        return CaptionedSegment(build_segment(timeline, schedule.inner, look), schedule, schedule.captions)
    if schedule.captions:
        bare = replace(schedule, captions=())
        return CaptionedSegment(build_segment(timeline, bare, look), None, schedule.captions)
    match schedule:
        case CardSchedule():
            return CardSegment(timeline, schedule, look)
        case FigureSchedule():
            return FigureSegment(timeline, schedule, look)
        case SpreadSchedule():
            return SpreadSegment(timeline, schedule, look)
        case CrossingsSchedule():
            return CrossingsSegment(timeline, schedule, look)
        case FormSchedule():
            return FormSegment(timeline, schedule, look)
        case CompareSchedule():
            return CompareSegment(timeline, schedule, look)
        case PartsSchedule():
            return PartsSegment(timeline, schedule, look)
        case FitSchedule():
            return FitSegment(timeline, schedule, look)
        case WheelSchedule():
            return WheelSegment(timeline, schedule, look)
        case PlaySchedule():
            return PlaySegment(timeline, schedule, look)
    raise TypeError(f"no segment draws a {type(schedule).__name__}")
