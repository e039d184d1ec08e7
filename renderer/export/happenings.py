"""What happens in a piece and is worth a mark: each with its kind, its tick, and what to call it."""

from collections.abc import Iterator
from typing import Literal, NamedTuple

from renderer.report.table import bars_text, place_text, section_names
from renderer.spec.model import MAIN_VOICE
from renderer.timeline.model import Timeline

HappeningKind = Literal["section", "mark", "realignment", "handover", "landing", "crossing", "side"]
"""In the order in which they are told."""


class Happening(NamedTuple):
    """Something that the music does at a tick."""

    kind: HappeningKind
    at: int
    text: str


def find_happenings(timeline: Timeline) -> Iterator[Happening]:
    """All that happens, kind by kind; the voice is named where there are several."""
    several = len(timeline.voices) > 1

    def of(voice: str) -> str:
        return f" ({voice})" if several else ""

    for section, name in zip(timeline.sections, section_names(timeline), strict=True):
        yield Happening("section", section.at, f"{name}, {bars_text(section)}")
    for mark in timeline.marks:
        yield Happening("mark", mark.at, mark.text)
    for again in timeline.realignments:
        yield Happening("realignment", again.at, f"bar {again.bar_number}{of(again.voice)}")
    for handover in timeline.handovers:
        before, after = (name or "tail" for name in (handover.before, handover.after))
        place = place_text(timeline, handover.at)
        yield Happening("handover", handover.at, f"{before} to {after} at {place}{of(handover.voice)}")
    for landing in timeline.landings:
        if landing.sounds:
            yield Happening("landing", landing.at, f"bar {landing.bar_number}{of(landing.voice)}")
    for crossing in timeline.crossings:
        place = place_text(timeline, crossing.at)
        text = f"{crossing.before} to {crossing.after} at {place}{of(crossing.voice)}"
        yield Happening("crossing", crossing.at, text)
    for side in timeline.sides:
        clock = "figure" if side.side == MAIN_VOICE else side.side
        yield Happening("side", side.at, f"{side.part} {clock} from {place_text(timeline, side.at)}")
