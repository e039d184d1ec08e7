"""Which segment draws which schedule."""

from dataclasses import replace

from renderer.card_schedule import CardSchedule
from renderer.compare_schedule import CompareSchedule
from renderer.crossings_schedule import CrossingsSchedule
from renderer.fit_schedule import FitSchedule
from renderer.form_schedule import FormSchedule
from renderer.parts_schedule import PartsSchedule
from renderer.say import SaidSchedule
from renderer.schedule import FigureSchedule, PlaySchedule, Schedule, SpreadSchedule
from renderer.timeline import Timeline
from renderer.wheel_schedule import WheelSchedule
from scenes.captioned import CaptionedSegment
from scenes.card import CardSegment
from scenes.compare import CompareSegment
from scenes.crossings import CrossingsSegment
from scenes.figure import FigureSegment
from scenes.fit import FitSegment
from scenes.form import FormSegment
from scenes.look import Look
from scenes.parts import PartsSegment
from scenes.play import PlaySegment
from scenes.segment import Segment
from scenes.spread import SpreadSegment
from scenes.wheel import WheelSegment


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
