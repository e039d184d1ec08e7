"""The recording under a lesson: read, judged before anything is rendered, placed by its sync points.

Its own time is never bent at full speed: the grid follows it. What is heard of it lies between fades that
begin and end where the sound passes through zero.
"""

from collections.abc import Sequence
from fractions import Fraction
from functools import lru_cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from renderer.audio.audio_file import Recording, clock_text, read_recorded
from renderer.audio.click_sounds import SAMPLES_PER_SECOND
from renderer.audio.loudness import Samples
from renderer.audio.slow_down import slow_down
from renderer.core.errors import FileError
from renderer.core.time_grid import nearest, seconds_to_sample_index
from renderer.lesson.lesson import Lesson
from renderer.schedule.model import Span
from renderer.schedule.play import PlaySchedule
from renderer.timeline.model import Timeline

FADE = SAMPLES_PER_SECOND // 100
"""10 ms: in before what is heard, out before it ends."""
SEARCH = SAMPLES_PER_SECOND // 200
"""How far a fade's outer end is moved, at most, to where the sound passes through zero."""
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
    try:
        state = path.stat()
    except OSError:
        raise FileError(
            f"{path}: no such file. The spec's recording is looked for beside the spec."
        ) from None
    recording = _read(path, state.st_mtime_ns, state.st_size)
    begin = _file_seconds(lesson.timeline, first_heard(lesson.timeline))
    if begin >= recording.seconds:
        raise FileError(
            f"{path}: it ends at {clock_text(recording.seconds)}, before its first sync point at {clock_text(begin)}. "
            "Correct sync, or name the right file."
        )
    return recording


@lru_cache(maxsize=2)
def _read(path: Path, changed: int, size: int) -> Recording:
    """Read a file once, as long as it does not change."""
    return read_recorded(path)


def recording_remarks(lesson: Lesson) -> list[str]:
    """What is worth knowing of the recording before anything is rendered, a line each.

    Raises FileError if it can't be used at all.
    """
    recording = open_recording(lesson)
    if recording is None:
        return []
    timeline, name = lesson.timeline, recording.path.name
    remarks = []
    if recording.own_channels == 1:
        remarks.append(f"{name} is mono: it is heard in the middle.")
    elif recording.own_channels > 2:
        remarks.append(f"{name} has {recording.own_channels} channels: left, right and center are heard.")
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


def recording_track(
    recording: Recording, timeline: Timeline, schedule: PlaySchedule, level_db: float = 0
) -> Samples:
    """The recording as it lies under a segment, shape (nearest(seconds x 48,000), 2).

    `timeline` is the piece's at its own speed; the schedule says how much slower the segment is.
    """
    count = seconds_to_sample_index(schedule.seconds, SAMPLES_PER_SECOND)
    track = np.zeros((count, 2), np.float32)
    gain = np.float32(10 ** ((UNDER_LUFS - recording.lufs + level_db) / 20))
    for span in schedule.spans:
        _place(track, recording, timeline, span, schedule.timeline.speed)
    track *= gain
    return track


def _place(track: Samples, recording: Recording, timeline: Timeline, span: Span, speed: Fraction) -> None:
    """Add what is heard of the recording in one span."""
    first = max(span.start, first_heard(timeline))
    if first >= span.end:
        return
    at = span.seconds + (timeline.seconds(first) - timeline.seconds(span.start)) / speed
    begin = _file_seconds(timeline, first)
    if begin < 0:
        at, begin = at - begin / speed, Fraction(0)
    source = seconds_to_sample_index(begin, SAMPLES_PER_SECOND)
    source_end = min(
        len(recording.samples),
        seconds_to_sample_index(_file_seconds(timeline, span.end), SAMPLES_PER_SECOND),
    )
    place = seconds_to_sample_index(at, SAMPLES_PER_SECOND)
    if source >= source_end:
        return
    before = min(source, nearest((FADE + SEARCH) * speed), nearest(place * speed))
    part = slow_down(recording.samples[source - before : source_end], speed)
    early = nearest(before / speed)
    part = faded(part, early)[max(0, early - place) :]
    start = max(0, place - early)
    part = part[: len(track) - start]
    track[start : start + len(part)] += part


def faded(part: Samples, early: int) -> Samples:
    """The part with fades: in over what lies before sample `early`, out at its end, both from zero to zero."""
    part = part.copy()
    middle = part.sum(axis=1)
    if early:
        start = zero_crossing(middle, max(0, early - FADE), -SEARCH)
        part[:start] = 0
        part[start:early] *= _rise(early - start)
    end = zero_crossing(middle, len(part), -SEARCH)
    out = min(FADE, end)
    part[end:] = 0
    part[end - out : end] *= _rise(out)[::-1]
    return part


def zero_crossing(wave: NDArray[np.float32], index: int, reach: int) -> int:
    """The place nearest to `index`, up to `reach` before it, where `wave` passes through zero; else `index`.

    The sample before that place and the one on it lie on different sides of zero, or one of them on it.
    """
    low = max(1, index + reach)
    window = wave[low - 1 : index + 1]
    crossings = np.flatnonzero(window[:-1] * window[1:] <= 0)
    return low + int(crossings[-1]) if len(crossings) else index


def _rise(count: int) -> NDArray[np.float32]:
    """A fade-in of so many samples, shape (count, 1)."""
    return (np.sin(np.linspace(0, np.pi / 2, count, dtype=np.float32)) ** 2)[:, np.newaxis]


def ducking(
    onsets: Sequence[Fraction], sample_count: int, decibels: float
) -> NDArray[np.float32] | np.float32:
    """By what the recording is multiplied so that it steps back at `onsets`, in seconds: shape (n, 1).

    It begins to step back 20 ms before, stays down for 80 ms and comes back within 250 ms.
    """
    if not decibels or not len(onsets):
        return np.float32(1)
    count = sample_count // ATTACK_STEP + 2
    depth = np.zeros(count, np.float32)
    shape = np.interp(np.arange(-20, 331), [-20, 0, 80, 330], [0, 1, 1, 0]).astype(np.float32)
    for at in {nearest(onset * SAMPLES_PER_SECOND / ATTACK_STEP) for onset in onsets}:
        low, high = max(0, at - 20), min(count, at + 331)
        if low < high:
            part = depth[low:high]
            np.maximum(part, shape[low - at + 20 : high - at + 20], out=part)
    gains = np.power(np.float32(10), depth * np.float32(-decibels / 20))
    places = np.arange(sample_count, dtype=np.float32) / ATTACK_STEP
    held = np.asarray(np.interp(places, np.arange(count), gains), np.float32)
    return held[:, np.newaxis]


ATTACK_STEP = SAMPLES_PER_SECOND // 1000
"""The ducking moves once a millisecond, in straight lines between."""
