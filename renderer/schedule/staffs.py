"""Whether a figure can be written on a staff, checked before anything is drawn."""

from collections.abc import Iterator
from importlib.util import find_spec

from renderer.core import limits
from renderer.core.errors import Problem
from renderer.schedule.notation import write_groups
from renderer.spec.model import SegmentSpec
from renderer.timeline.model import Timeline

ENGRAVER = "verovio"


def check_staff(timeline: Timeline, options: SegmentSpec) -> Iterator[Problem]:
    """Why a segment's staff can't be drawn: too many notes, or the engraver is not installed."""
    if not options.staff or not timeline.figures:
        return
    path = (*options.path, "staff")
    if find_spec(ENGRAVER) is None:
        wrong = f"staff needs {ENGRAVER}, which is not installed."
        yield Problem(path, wrong, "Install it: pip install 'barcross[staff]'. Or remove staff.")
        return
    figure = timeline.figure(options.figure) if options.figure else timeline.figures[0]
    counts = [len(group.signs) for group in write_groups(figure)]
    if sum(counts) > limits.STAFF_SIGNS:
        wrong = (
            f"{figure.name} takes {sum(counts)} notes and rests; a staff has room for {limits.STAFF_SIGNS}."
        )
        yield Problem(path, wrong, "Remove staff, or show a shorter figure.")
    elif max(counts) > limits.STAFF_GROUP_SIGNS:
        most = limits.STAFF_GROUP_SIGNS
        wrong = f"a group of {figure.name} takes {max(counts)} notes and rests; one has room for {most}."
        yield Problem(path, wrong, "Remove staff, or split the group.")
