"""What the figure's voices play in a segment: notes in seconds from its start, exact.

The pitch of a note says where in the figure it stands: a repetition begins on the harmony's root, its other groups
begin on the fifth, hits inside a group lie on the third between them. A note takes the harmony of its own tick, so
after a crossing the same repetition goes on in the new one; one that still rings when the harmony turns is stopped
there.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction
from itertools import accumulate, pairwise
from typing import Literal, NamedTuple

from renderer.audio.pitch import FIFTH, OCTAVE, read_chord
from renderer.schedule.crossings import CrossingsSchedule
from renderer.schedule.figure import FigureSchedule
from renderer.schedule.handover import HandoverSchedule
from renderer.schedule.model import Schedule, Span
from renderer.schedule.play import PlaySchedule
from renderer.schedule.say import Hold, SaidSchedule
from renderer.schedule.shows import load_named, show_of
from renderer.schedule.spread import SpreadSchedule
from renderer.timeline.model import Harmony, Hit, Timeline

Place = Literal["hit", "group", "start"]
"""Where in a figure a note stands: inside a group, on a group's first pulse, or on the repetition's."""
PLACES: tuple[Place, ...] = ("hit", "group", "start")


class Note(NamedTuple):
    """One note of a voice, in seconds from the segment's start."""

    seconds: Fraction
    end: Fraction
    """When it is stopped, if it still rings."""
    root: int | None
    """Half tones above C; None where no harmony names a root."""
    above: int
    """Half tones above the root."""
    accent: bool
    damped: bool = False
    """Where the harmony is one that names no root."""


Notes = Mapping[str, Sequence[Note]]
"""By voice; a voice that plays nothing is left out."""


def segment_notes(schedule: Schedule) -> Notes:
    """What the voices play in a segment; nothing where its show has no notes."""
    if isinstance(schedule, SaidSchedule):
        return _said_notes(schedule)
    name = show_of(schedule).notes
    notes: Notes = load_named(name)(schedule) if name else {}
    return notes


def play_notes(schedule: PlaySchedule) -> Notes:
    """All voices, as they are played."""
    timeline = schedule.timeline
    notes = {voice: voice_notes(timeline, voice, schedule.spans) for voice in timeline.voices}
    return {voice: played for voice, played in notes.items() if played}


def spread_notes(schedule: SpreadSchedule) -> Notes:
    """The voice that is spread out, while it is at tempo."""
    played = voice_notes(schedule.timeline, schedule.voice, schedule.course.spans)
    return {schedule.voice: played} if played else {}


def figure_notes(schedule: FigureSchedule) -> Notes:
    """The figure twice: as it is counted, then with its accents, in the harmony of its first statement."""
    timeline = schedule.timeline
    figure = schedule.figure
    played = (r for r in timeline.repetitions if r.statement.figure == figure.name)
    first = next(played, None)
    harmony = harmony_at(timeline, first.at) if first else None
    notes = []
    for start, accents in ((schedule.count_start, ()), (schedule.accent_start, figure.accents)):
        ends = [*figure.hits[1:], figure.pulses + 1]
        groups = set(accumulate(figure.groups[:-1], initial=1))
        for hit, end in zip(figure.hits, ends, strict=True):
            at, until = (start + (pulse - 1) * schedule.pulse for pulse in (hit, end))
            place = PLACES[(hit == 1) + (hit in groups)]
            notes.append(_note(at, until, harmony, place, hit in accents))
    return {first.voice if first else next(iter(timeline.voices), "main"): notes}


def crossing_notes(schedule: CrossingsSchedule) -> Notes:
    """Each close-up as it is counted through, at its own pace."""
    timeline = schedule.timeline
    notes: list[Note] = []
    for close_up in schedule.close_ups:
        span = Span(close_up.start, close_up.stop, close_up.start_seconds)
        notes += voice_notes(timeline, schedule.voice, [span], close_up.slowness)
    return {schedule.voice: notes}


def handover_notes(schedule: HandoverSchedule) -> Notes:
    """The end of one list and the beginning of the next, at tempo."""
    if schedule.meeting is None:
        return {}
    shift = schedule.span.seconds - schedule.timeline.seconds(schedule.span.start)
    span = Span(schedule.start, schedule.stop, shift + schedule.timeline.seconds(schedule.start))
    return {schedule.voice: voice_notes(schedule.timeline, schedule.voice, [span])}


def _said_notes(schedule: SaidSchedule) -> Notes:
    """The notes of the schedule that waits; none rings on while the picture stands still."""
    inner = segment_notes(schedule.inner)
    return {voice: [_waited(note, schedule.holds) for note in notes] for voice, notes in inner.items()}


def _waited(note: Note, holds: Iterable[Hold]) -> Note:
    later, end = Fraction(0), note.end
    for hold in holds:
        if hold.at <= note.seconds:
            later += hold.length
        else:
            end = min(end, hold.at)
    return note._replace(seconds=note.seconds + later, end=end + later)


def voice_notes(
    timeline: Timeline, voice: str, spans: Iterable[Span], slowness: Fraction = Fraction(1)
) -> list[Note]:
    """What a voice plays in stretches of the piece, each `slowness` times as long as the timeline says."""
    repetitions = [repetition for repetition in timeline.repetitions if repetition.voice == voice]
    starts = {repetition.at for repetition in repetitions}
    groups = {repetition.at + group.at for repetition in repetitions for group in repetition.statement.groups}
    hits = [hit for hit in timeline.hits if hit.voice == voice]
    places = [PLACES[(hit.at in starts) + (hit.at in groups)] for hit in hits]
    ticks = [hit.at for hit in hits]
    notes: list[Note] = []
    for span in spans:
        inside = slice(bisect_left(ticks, span.start), bisect_left(ticks, span.end))
        notes += _span_notes(timeline, hits[inside], places[inside], span, slowness)
    return notes


def _span_notes(
    timeline: Timeline, hits: Sequence[Hit], places: Sequence[Place], span: Span, slowness: Fraction
) -> Iterable[Note]:
    changes = [harmony.at for harmony in timeline.harmony]
    first = timeline.seconds(span.start)

    def seconds(at: int) -> Fraction:
        return span.seconds + (timeline.seconds(at) - first) * slowness

    starts = [*(seconds(hit.at) for hit in hits), seconds(span.end)]
    for hit, place, (start, next_start) in zip(hits, places, pairwise(starts), strict=True):
        index = bisect_right(changes, hit.at)
        end = next_start
        if index < len(changes) and changes[index] < span.end:
            end = min(end, seconds(changes[index]))
        harmony = timeline.harmony[index - 1] if index else None
        yield _note(start, end, harmony, place, hit.accented)


def harmony_at(timeline: Timeline, at: int) -> Harmony | None:
    """The harmony that holds at a tick; None before the first one."""
    index = bisect_right([harmony.at for harmony in timeline.harmony], at)
    return timeline.harmony[index - 1] if index else None


def _note(seconds: Fraction, end: Fraction, harmony: Harmony | None, place: Place, accent: bool) -> Note:
    chord = read_chord(harmony.name) if harmony else None
    root, third, fifth = chord or (None, None, FIFTH)
    above = {"start": 0, "group": fifth, "hit": third or OCTAVE}[place]
    return Note(seconds, end, root, above, accent, damped=harmony is not None and chord is None)
