"""Small lessons that several tests draw or render."""

from pathlib import Path

from renderer.lesson.lesson import Lesson
from renderer.reading.load import parse_spec
from renderer.timeline.build import build_timeline
from scenes.draw.look import read_look

DARK = read_look("dark")
EXAMPLE = Path(__file__).parent.parent / "specs" / "lantern-ferry.yaml"

SHORT = """
title: Weir
tempo: 137
meter: 4/4
pulse: 1/16
figures: {weir: [4, 4, 3], eddy: {groups: [4, 3, 2, 2], from: weir}}
parts: {oboe: figure, drum: meter}
form:
  - section: Upper
    bars: 3
    harmony: {1: Dm, 2.3: Bb}
    plays: weir
    parts: {drum: {3: figure}}
  - section: Lower
    bars: 2
    harmony: {1: F#}
    plays: on
click: {every: beat, count_in: 1}
segments: [figure, spread, play]
"""


def make_lesson(text: str = SHORT, name: str = "weir.yaml") -> Lesson:
    """A lesson from a spec's text."""
    spec = parse_spec(text, name)
    return Lesson(spec, build_timeline(spec))
