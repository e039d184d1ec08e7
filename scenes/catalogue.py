"""Which segment draws which schedule."""

from dataclasses import replace

from renderer.schedule.card import CardSchedule
from renderer.schedule.compare import CompareSchedule
from renderer.schedule.crossings import CrossingsSchedule
from renderer.schedule.figure import FigureSchedule
from renderer.schedule.fit import FitSchedule
from renderer.schedule.form import FormSchedule
from renderer.schedule.model import Schedule
from renderer.schedule.parts import PartsSchedule
from renderer.schedule.play import PlaySchedule
from renderer.schedule.say import SaidSchedule
from renderer.schedule.spread import SpreadSchedule
from renderer.schedule.wheel import WheelSchedule
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


def build_segment(schedule: Schedule, look: Look) -> Segment:
    """The segment that draws a schedule."""
    if isinstance(schedule, SaidSchedule):
        return CaptionedSegment(build_segment(schedule.inner, look), schedule, schedule.captions)
    if schedule.captions:
        bare = replace(schedule, captions=())
        return CaptionedSegment(build_segment(bare, look), None, schedule.captions)
    match schedule:
        case CardSchedule():
            return CardSegment(schedule, look)
        case FigureSchedule():
            return FigureSegment(schedule, look)
        case SpreadSchedule():
            return SpreadSegment(schedule, look)
        case CrossingsSchedule():
            return CrossingsSegment(schedule, look)
        case FormSchedule():
            return FormSegment(schedule, look)
        case CompareSchedule():
            return CompareSegment(schedule, look)
        case PartsSchedule():
            return PartsSegment(schedule, look)
        case FitSchedule():
            return FitSegment(schedule, look)
        case WheelSchedule():
            return WheelSegment(schedule, look)
        case PlaySchedule():
            return PlaySegment(schedule, look)
    raise TypeError(f"no segment draws a {type(schedule).__name__}")
