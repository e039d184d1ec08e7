"""The recording under a lesson: read, judged before anything is rendered, placed by its sync points.

Its own time is never bent at full speed: the grid follows it. What is heard of it lies between fades that
begin and end where the sound passes through zero.
"""

from collections.abc import Callable
from fractions import Fraction
from typing import NamedTuple

from renderer.audio.audio_file import Recording, read_recording
from renderer.audio.click_sounds import SAMPLES_PER_SECOND
from renderer.audio.decode import CENTER, clock_text
from renderer.audio.placed import FADE, SEARCH, Excerpt, MarkedSound, Placed, PlacedTrack
from renderer.audio.slowed import SlowedSound
from renderer.core.errors import FileError
from renderer.core.time_grid import nearest, seconds_to_sample_index
from renderer.lesson.lesson import Lesson
from renderer.schedule.model import Span
from renderer.schedule.play import PlaySchedule
from renderer.timeline.model import Timeline

UNDER_LUFS = -20.0
"""What a recording is brought to before it is mixed with click and voices."""
ENDS_NEAR = Fraction(1, 2)
"""A recording that ends by so much earlier than the form is no fault: its last sound has died away."""


def open_recording(lesson: Lesson) -> Recording | None:
    """The lesson's recording; None if the spec names none.

    Raises FileError if it is missing, can't be decoded or is silent, or if the form lies outside it.
    """
    if lesson.spec.recording is None:
        return None
    path = lesson.folder / lesson.spec.recording
    recording = read_recording(path)
    begin = _file_seconds(lesson.timeline, first_heard(lesson.timeline))
    if begin >= recording.seconds:
        raise FileError(
            f"{path}: it ends at {clock_text(recording.seconds)}, before its first sync point at {clock_text(begin)}. "
            "Correct sync, or name the right file."
        )
    return recording


def recording_remarks(lesson: Lesson) -> list[str]:
    """What is worth knowing of the recording before anything is rendered, a line each.

    Raises FileError if it can't be used at all.
    """
    recording = open_recording(lesson)
    if recording is None:
        return []
    timeline, name = lesson.timeline, recording.path.name
    remarks = []
    channels = recording.own_channels
    if len(channels) == 1:
        remarks.append(f"{name} is mono: it is heard in the middle.")
    elif len(channels) > 2:
        heard = "left, right and center are heard" if CENTER in channels else "the first two are heard"
        remarks.append(f"{name} has {len(channels)} channels: {heard}.")
    if recording.own_rate != SAMPLES_PER_SECOND:
        remarks.append(f"{name} has {recording.own_rate:,} samples a second: converted to 48,000.")
    start = first_heard(timeline)
    if start > timeline.start:
        bar = timeline.bar_at(start).number
        remarks.append(f"{name} is heard from its first sync point on, in bar {bar}; before it is silence.")
    end = _file_seconds(timeline, timeline.end)
    if end - recording.seconds > ENDS_NEAR:
        own = timeline.clock.position(recording.seconds - (timeline.clock.file_start or 0))
        bar = timeline.bar_at(int(own)).number
        remarks.append(
            f"{name} ends at {clock_text(recording.seconds)}, in bar {bar}; the form goes on to bar "
            f"{timeline.bars[-1].number}, {clock_text(end)} in the recording's time: silence from there on."
        )
    return remarks


def first_heard(timeline: Timeline) -> int:
    """The tick from which the recording is heard: its first sync point; the pick-up's, if that is bar 1."""
    point = timeline.clock.first_point or 0
    return timeline.start if point == 0 else point


def _file_seconds(timeline: Timeline, at: int) -> Fraction:
    """Where a tick stands in the recording; perhaps before or after it."""
    return (timeline.clock.file_start or Fraction(0)) + timeline.seconds(at)


Slowing = Callable[[MarkedSound, Fraction], MarkedSound]
"""A sound and a share of its speed to the slowed sound."""


def recording_track(
    recording: Recording,
    timeline: Timeline,
    schedule: PlaySchedule,
    level_db: float = 0,
    slowing: Slowing = SlowedSound,
) -> PlacedTrack:
    """The recording as it lies under a segment, nearest(seconds x 48,000) samples long.

    `timeline` is the piece's at its own speed; the schedule says how much slower the segment is.
    """
    count = seconds_to_sample_index(schedule.seconds, SAMPLES_PER_SECOND)
    gain = 10 ** ((UNDER_LUFS - recording.lufs + level_db) / 20)
    speed = schedule.timeline.speed
    placed = (_place(count, recording, timeline, span, speed, gain, slowing) for span in schedule.spans)
    return PlacedTrack(count, tuple(some for some in placed if some))


class Heard(NamedTuple):
    """What is heard of a recording, from one of its seconds to another, from `seconds` of a segment on."""

    seconds: Fraction
    begin: Fraction
    end: Fraction


def heard_in(timeline: Timeline, span: Span, speed: Fraction) -> Heard | None:
    """What is heard of the recording in a span that runs at a share of the piece's speed, as if it had no end; None if
    that is nothing. `timeline` is the piece's at its own speed."""
    first = max(span.start, first_heard(timeline))
    if first >= span.end:
        return None
    at = span.seconds + (timeline.seconds(first) - timeline.seconds(span.start)) / speed
    begin = _file_seconds(timeline, first)
    if begin < 0:
        at, begin = at - begin / speed, Fraction(0)
    return Heard(at, begin, _file_seconds(timeline, span.end))


def _place(
    count: int,
    recording: Recording,
    timeline: Timeline,
    span: Span,
    speed: Fraction,
    gain: float,
    slowing: Slowing,
) -> Placed | None:
    heard = heard_in(timeline, span, speed)
    if heard is None:
        return None
    source = seconds_to_sample_index(heard.begin, SAMPLES_PER_SECOND)
    source_end = min(recording.sample_count, seconds_to_sample_index(heard.end, SAMPLES_PER_SECOND))
    place = seconds_to_sample_index(heard.seconds, SAMPLES_PER_SECOND)
    if source >= source_end or place >= count:
        return None
    before = min(source, nearest((FADE + SEARCH) * speed), nearest(place * speed))
    excerpt: MarkedSound = Excerpt(recording, source - before, source_end)
    if speed != 1:
        excerpt = slowing(excerpt, speed)
    early = nearest(before / speed)
    return Placed(excerpt, place - early, min(excerpt.shape[0], count - place + early), early, gain)
