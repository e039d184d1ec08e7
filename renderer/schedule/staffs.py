"""Whether the figures that a spec wants on a staff can stand on one, told before anything is drawn."""

from collections.abc import Iterator
from importlib.util import find_spec

from renderer.core import limits
from renderer.core.errors import Problem
from renderer.schedule.notation import write_groups
from renderer.spec.model import SegmentSpec
from renderer.timeline.model import Timeline

ENGRAVER = "verovio"


def check_staff(timeline: Timeline, options: SegmentSpec) -> Iterator[Problem]:
    """What keeps a segment's staff from being drawn: too many notes, or what engraves them is not installed."""
    if not options.staff or not timeline.figures:
        return
    path = (*options.path, "staff")
    if find_spec(ENGRAVER) is None:
        wrong = f"a staff is engraved by {ENGRAVER}, which is not installed."
        yield Problem(path, wrong, "Write: pip install 'barcross[staff]', or leave staff out.")
        return
    figure = timeline.figure(options.figure) if options.figure else timeline.figures[0]
    counts = [len(group.signs) for group in write_groups(figure)]
    if sum(counts) > limits.STAFF_SIGNS:
        wrong = (
            f"{figure.name} takes {sum(counts)} notes and rests; a staff has room for {limits.STAFF_SIGNS}."
        )
        yield Problem(path, wrong, "Leave staff out, or show a shorter figure.")
    elif max(counts) > limits.STAFF_GROUP_SIGNS:
        most = limits.STAFF_GROUP_SIGNS
        wrong = f"a group of {figure.name} takes {max(counts)} notes and rests; one has room for {most}."
        yield Problem(path, wrong, "Leave staff out, or part the group.")
