"""The cut for video editors: all films in order, their sound, the recording, and a marker at whatever is worth one.

It is written as OpenTimelineIO, as FCP XML and as a CMX 3600 edit list. Films begin on whole frames, so their times are
exact at any rate. A marker stands on the frame that first shows what it marks; OpenTimelineIO has its exact time too.
"""

import re
from collections.abc import Iterator, Sequence
from fractions import Fraction

import opentimelineio as otio
from opentimelineio.opentime import RationalTime, TimeRange

from renderer.audio.click_sounds import SAMPLES_PER_SECOND
from renderer.core.time_grid import seconds_to_frame_index, seconds_to_sample_index
from renderer.export.characters import held, is_ascii, is_text
from renderer.export.happenings import find_happenings
from renderer.export.kinds import Made, NothingThereError
from renderer.lesson.lesson import Lesson
from renderer.mix.recording import heard_in, open_recording
from renderer.schedule.play import PlaySchedule
from renderer.video.reel import Reel, lay_reels

NO_FILMS = "No edit: the spec asks for no segments."
DAY = 24 * 60 * 60
"""Seconds after which timecode begins again at zero (SMPTE ST 12-1, from memory)."""
COLOURS = {"step": "CYAN", "section": "GREEN", "crossing": "YELLOW", "handover": "MAGENTA", "mark": "PINK"}
"""Of each kind of marker: names that OpenTimelineIO knows."""
CALLED: dict[str, str] = {
    "section": "section: ",
    "crossing": "harmony turns: ",
    "handover": "handover: ",
    "mark": "",
}
"""What stands before the name of each; a mark is the teacher's own words."""


def make_edit(lesson: Lesson, frames_per_second: Fraction) -> list[Made]:
    """The cut in three formats; in fewer, and that is told, where the rate has no timecode or the cut is too long for
    it. Raises NothingThereError for a lesson without segments, FileError if the recording can't be used."""
    reels = lay_reels(lesson.segments(), frames_per_second)
    if not reels:
        raise NothingThereError(NO_FILMS)
    cut = build_cut(lesson, reels)
    made = Made("lesson.otio", _text(otio.adapters.write_to_string(cut, adapter_name="otio_json")))
    if not RationalTime.is_smpte_timecode_rate(float(frames_per_second)):
        why = f"at {frames_per_second} frames a second there is no timecode."
        return [made._replace(remark=f"No lesson.xml and no lesson.edl: {why}")]
    xml = Made("lesson.xml", _text(_fcp_xml(cut, frames_per_second)))
    if reels[-1].end > DAY - 1:  # drop-frame timecode is up to a tenth of a second ahead of time
        why = "the films together last a day or more, and timecode ends there. Ask for fewer in one spec."
        return [made, xml._replace(remark=f"No lesson.edl: {why}")]
    return [made, xml, Made("lesson.edl", _text(_edit_list(cut, frames_per_second)))]


def _text(content: str) -> bytes:
    return (content.rstrip("\n") + "\n").encode()


def build_cut(lesson: Lesson, reels: Sequence[Reel]) -> "otio.schema.Timeline":
    """The cut: a track of films, a track of their sound, and one of the recording if there is one."""
    cut = otio.schema.Timeline(name=held(lesson.timeline.title, is_text))
    cut.global_start_time = _frames(0, reels[0])
    films = otio.schema.Track(name="films", kind=otio.schema.TrackKind.Video)
    sound = otio.schema.Track(name="sound", kind=otio.schema.TrackKind.Audio)
    for reel in reels:
        film = _clip(reel)
        film.markers.extend(_markers(reel))
        films.append(film)
        sound.append(_clip(reel))
    cut.tracks.extend([films, sound])
    recorded = otio.schema.Track(name="recording", kind=otio.schema.TrackKind.Audio)
    recorded.extend(_recording(lesson, reels))
    if len(recorded):
        cut.tracks.append(recorded)
    return cut


def _frames(count: int, reel: Reel) -> RationalTime:
    return RationalTime(count, float(reel.frames_per_second))


def _clip(reel: Reel) -> "otio.schema.Clip":
    whole = TimeRange(_frames(0, reel), _frames(reel.frame_count, reel))
    name = reel.planned.name
    media = otio.schema.ExternalReference(target_url=f"{name}.mp4", available_range=whole)
    return otio.schema.Clip(name=name, media_reference=media, source_range=whole)


def _markers(reel: Reel) -> Iterator["otio.schema.Marker"]:
    """In the film's own time, in order."""
    schedule = reel.planned.schedule
    found: list[tuple[Fraction, str, str]] = [(step.seconds, "step", step.name) for step in schedule.steps]
    for kind, at, text in find_happenings(schedule.timeline):
        seconds = schedule.seconds_at(at) if kind in CALLED else None
        if seconds is not None:
            found.append((seconds, kind, f"{CALLED[kind]}{text}"))
    for seconds, colour, name in sorted(found, key=lambda each: each[0]):
        frame = min(seconds_to_frame_index(seconds, reel.frames_per_second), reel.frame_count - 1)
        yield otio.schema.Marker(
            name=held(name, is_text),
            marked_range=TimeRange(_frames(frame, reel), _frames(1, reel)),
            color=COLOURS[colour],
            metadata={"barcross": {"kind": colour, "seconds": str(seconds)}},
        )


def _recording(lesson: Lesson, reels: Sequence[Reel]) -> Iterator["otio.schema.Item"]:
    """The recording under each `play` that is at tempo, with gaps between: from the sample that sounds when its first
    frame begins. A slower one has its sound in its film alone."""
    recording = open_recording(lesson)
    if recording is None:
        return
    samples = SAMPLES_PER_SECOND
    media = otio.schema.ExternalReference(
        target_url=lesson.spec.recording,
        available_range=TimeRange(
            RationalTime(0, samples),
            RationalTime(seconds_to_sample_index(recording.seconds, samples), samples),
        ),
    )
    at = 0
    for reel in reels:
        schedule, rate = reel.planned.schedule, reel.frames_per_second
        if not isinstance(schedule, PlaySchedule) or schedule.timeline.speed != lesson.timeline.speed:
            continue
        for span in schedule.spans:
            heard = heard_in(lesson.timeline, span, Fraction(1))
            if heard is None or heard.begin >= recording.seconds:
                continue
            first = max(at, reel.start_frame + -int(-heard.seconds * rate // 1))
            begin = heard.begin + first / rate - reel.start - heard.seconds
            last = int((reel.start + heard.seconds + min(heard.end, recording.seconds) - heard.begin) * rate)
            if last <= first:
                continue
            if first > at:
                yield otio.schema.Gap(source_range=TimeRange(_frames(0, reel), _frames(first - at, reel)))
            yield otio.schema.Clip(
                name=recording.path.name,
                media_reference=media.clone(),
                source_range=TimeRange(
                    RationalTime(seconds_to_sample_index(begin, samples), samples),
                    _frames(last - first, reel),
                ),
            )
            at = last


def _fcp_xml(cut: "otio.schema.Timeline", frames_per_second: Fraction) -> str:
    """The cut as FCP XML, in which all of a file's times are in its frames, the recording's too."""
    framed = cut.clone()
    rate = float(frames_per_second)
    for clip in framed.tracks[2].find_clips() if len(framed.tracks) > 2 else ():
        clip.source_range = TimeRange(clip.source_range.start_time.rescaled_to(rate).round(), clip.duration())
        whole = clip.media_reference.available_range.duration.rescaled_to(rate).floor()
        clip.media_reference.available_range = TimeRange(RationalTime(0, rate), whole)
    text: str = otio.adapters.write_to_string(framed, adapter_name="fcp_xml")
    return text


def _edit_list(cut: "otio.schema.Timeline", frames_per_second: Fraction) -> str:
    """The films alone as a CMX 3600 list, which is in ASCII and has one track of pictures."""
    films = cut.clone()
    del films.tracks[1:]
    films.name = held(films.name, is_ascii)
    names: list[str] = []
    for clip in films.tracks[0]:
        for marker in clip.markers:
            names.append(held(marker.name, is_ascii))
            marker.name = f"@{len(names) - 1}@"
    rate = float(frames_per_second)
    text: str = otio.adapters.write_to_string(films, adapter_name="cmx_3600", rate=rate)
    counting = "FCM: DROP FRAME" if ";" in text.partition("\n* ")[0] else "FCM: NON-DROP FRAME"
    # The library writes names in capitals, in which Em is EM.
    text = re.sub(r"@(\d+)@$", lambda found: names[int(found[1])], text, flags=re.MULTILINE)
    title, _, events = text.partition("\n\n")
    return f"{title}\n{counting}\n\n{events}"
