"""The cut, read back: as plain JSON, by Python's XML reader, by pycmx, and all of it by OpenTimelineIO."""

import json
from fractions import Fraction
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import numpy as np
import opentimelineio as otio
import pycmx
import pytest

from renderer.export.edit import make_edit
from renderer.export.kinds import NothingThereError
from renderer.lesson.lesson import Lesson, open_lesson
from renderer.video.reel import Reel, lay_reels
from tests.lessons import EXAMPLE, SHORT, make_lesson
from tests.performances import write_take

RATES = [Fraction(24), Fraction(25), Fraction(30000, 1001), Fraction(60), Fraction(24000, 1001)]
BROADCAST = Fraction(30000, 1001)


@pytest.fixture(scope="module")
def lesson() -> Lesson:
    """The example with a mark; `rope` takes over from `ferry` in it."""
    rope = "    plays: rope\n"
    text = EXAMPLE.read_text(encoding="utf-8").replace(rope, f"{rope}    marks: {{3: Brass alone}}\n")
    lesson = make_lesson(text, "lantern-ferry.yaml")
    assert lesson.timeline.marks
    assert lesson.timeline.handovers
    return lesson


def contents(lesson: Lesson, rate: Fraction) -> dict[str, str]:
    return {made.name: made.content.decode() for made in make_edit(lesson, rate)}


def frame(seconds: Fraction, rate: Fraction) -> int:
    """The nearest, halves up."""
    return int(seconds * rate + Fraction(1, 2))


def exact_rate(rate: float) -> Fraction:
    """A rate as it is meant: the formats hold a number of two lengths."""
    return Fraction(rate).limit_denominator(1001)


def expected_markers(reel: Reel) -> set[tuple[int, str]]:
    """Steps, sections and crossings, worked out from the schedule."""
    schedule, rate = reel.planned.schedule, reel.frames_per_second
    timeline = schedule.timeline
    found = {(frame(step.seconds, rate), step.name) for step in schedule.steps}
    for section in timeline.sections:
        seconds = schedule.seconds_at(section.at)
        if seconds is not None:
            last = section.first_bar_number + section.bar_count - 1
            found.add(
                (frame(seconds, rate), f"section: {section.name}, bars {section.first_bar_number}-{last}")
            )
    for crossing in timeline.crossings:
        seconds = schedule.seconds_at(crossing.at)
        if seconds is not None:
            name = f"harmony turns: {crossing.before} to {crossing.after} at "
            found.add((frame(seconds, rate), name))
    for mark in timeline.marks:
        seconds = schedule.seconds_at(mark.at)
        if seconds is not None:
            found.add((frame(seconds, rate), mark.text))
    for handover in timeline.handovers:
        seconds = schedule.seconds_at(handover.at)
        if seconds is not None:
            found.add((frame(seconds, rate), f"handover: {handover.before} to {handover.after} at "))
    return found


def without_place(name: str) -> str:
    """A marker's name without the position of a crossing or handover."""
    return name[: name.index(" at ") + 4] if name.startswith(("harmony turns", "handover")) else name


@pytest.mark.parametrize("rate", RATES)
def test_opentimelineio_holds_every_film_and_marker_exactly(lesson: Lesson, rate: Fraction) -> None:
    """Read as plain JSON: values are whole frames, and the rate is the double nearest to the fraction."""
    reels = lay_reels(lesson.segments(), rate)
    data = json.loads(contents(lesson, rate)["lesson.otio"])
    films, sound = data["tracks"]["children"]
    assert (films["kind"], sound["kind"]) == ("Video", "Audio")
    at = 0
    for reel, film, heard in zip(reels, films["children"], sound["children"], strict=True):
        assert at == reel.start_frame
        for clip in (film, heard):
            assert exact_rate(clip["source_range"]["duration"]["rate"]) == rate
            assert clip["source_range"]["start_time"]["value"] == 0
            assert clip["source_range"]["duration"]["value"] == reel.frame_count
            (media,) = clip["media_references"].values()
            assert media["target_url"] == f"{reel.planned.name}.mp4"
        found = {
            (int(marker["marked_range"]["start_time"]["value"]), without_place(marker["name"]))
            for marker in film["markers"]
        }
        assert found == expected_markers(reel)
        for marker in film["markers"]:
            exact = Fraction(marker["metadata"]["barcross"]["seconds"])
            assert frame(exact, rate) == marker["marked_range"]["start_time"]["value"]
        at += reel.frame_count


@pytest.mark.parametrize("rate", RATES)
def test_fcp_xml_holds_the_same(lesson: Lesson, rate: Fraction) -> None:
    reels = lay_reels(lesson.segments(), rate)
    root = ElementTree.fromstring(contents(lesson, rate)["lesson.xml"])
    assert root.tag == "xmeml"
    sequence = next(root.iter("sequence"))
    assert sequence.findtext("rate/timebase") == str(round(rate))
    assert (sequence.findtext("rate/ntsc") == "TRUE") is (rate.denominator == 1001)
    clips = sequence.findall("media/video/track/clipitem")
    heard = sequence.findall("media/audio/track/clipitem")
    assert len(clips) == len(heard) == len(reels)
    for reel, clip, sound in zip(reels, clips, heard, strict=True):
        for each in (clip, sound):
            start, end = (int(each.findtext(tag) or -1) for tag in ("start", "end"))
            assert (start, end) == (reel.start_frame, reel.start_frame + reel.frame_count)
        found = {
            (int(marker.findtext("in") or -1), without_place(marker.findtext("name") or ""))
            for marker in clip.findall("marker")
        }
        assert found == expected_markers(reel)


def timecode_frames(timecode: str, rate: Fraction) -> int:
    """Frames since 00:00:00:00; with a semicolon counted by dropping numbers 0 and 1 of each minute but each tenth
    (SMPTE ST 12-1)."""
    base = round(rate)
    hours, minutes, seconds, frames = (int(part) for part in timecode.replace(";", ":").split(":"))
    whole = ((hours * 60 + minutes) * 60 + seconds) * base + frames
    passed = hours * 60 + minutes
    return whole - (2 * base // 30 * (passed - passed // 10) if ";" in timecode else 0)


@pytest.mark.parametrize("rate", RATES)
def test_a_cmx_3600_list_holds_the_films(lesson: Lesson, rate: Fraction, tmp_path: Path) -> None:
    text = contents(lesson, rate)["lesson.edl"]
    assert text.isascii()
    path = tmp_path / "lesson.edl"
    path.write_text(text)
    with path.open() as file:
        read = pycmx.parse_cmx3600(file)
    assert read.title == "Lantern Ferry"
    events = list(read.events)
    reels = lay_reels(lesson.segments(), rate)
    assert len(events) == len(reels)
    for reel, event in zip(reels, events, strict=True):
        (edit,) = event.edits
        start, end = (timecode_frames(code, rate) for code in (edit.record_in, edit.record_out))
        assert (start, end) == (reel.start_frame, reel.start_frame + reel.frame_count)
        assert timecode_frames(edit.source_in, rate) == 0
        assert edit.clip_name == reel.planned.name
    dropped = "FCM: DROP FRAME" in text
    assert dropped is (rate == BROADCAST)
    markers: list[set[tuple[int, str]]] = []
    for line in text.splitlines():
        if line[:3].isdigit():
            markers.append(set())
        if line.startswith("* LOC: "):
            code, _, name = line.removeprefix("* LOC: ").split(maxsplit=2)
            markers[-1].add((timecode_frames(code, rate), without_place(name)))
    assert markers == [expected_markers(reel) for reel in reels]


def test_opentimelineio_reads_all_three_alike(lesson: Lesson) -> None:
    cuts: list[Any] = []
    for name, text in contents(lesson, BROADCAST).items():
        adapter = {"otio": "otio_json", "xml": "fcp_xml", "edl": "cmx_3600"}[name.rpartition(".")[2]]
        options = {"rate": float(BROADCAST)} if adapter == "cmx_3600" else {}
        cuts.append(otio.adapters.read_from_string(text, adapter_name=adapter, **options))
    places = [
        [(clip.name, clip.range_in_parent()) for clip in cut.video_tracks()[0].find_clips()] for cut in cuts
    ]
    assert places[0] == places[1] == places[2]


def test_a_rate_without_timecode_has_the_one_format_that_needs_none(lesson: Lesson) -> None:
    (made,) = make_edit(lesson, Fraction(12))
    assert made.name == "lesson.otio"
    assert made.remark == "No lesson.xml and no lesson.edl: at 12 frames a second there is no timecode."


def test_the_recording_has_its_own_track(tmp_path: Path) -> None:
    """Bar 1 stands at 2.5 s of the file, and the film's bar 1 comes after a bar of count-in. What sounds when the
    clip's first frame begins is worked out here from these two alone."""
    write_take(
        tmp_path / "take.wav", np.random.default_rng(1).normal(0, 0.1, (48_000 * 14, 2)).astype(np.float32)
    )
    (tmp_path / "weir.yaml").write_text(
        SHORT.replace("segments: [figure", "recording: take.wav\nsync: {1: 2.5}\nsegments: [play, figure"),
        encoding="utf-8",
    )
    lesson = open_lesson(tmp_path / "weir.yaml")
    reels = lay_reels(lesson.segments(), BROADCAST)
    cut = json.loads(contents(lesson, BROADCAST)["lesson.otio"])
    track = cut["tracks"]["children"][2]
    assert (track["name"], track["kind"]) == ("recording", "Audio")
    at, found = Fraction(0), []
    for item in track["children"]:
        length = item["source_range"]["duration"]
        if item["OTIO_SCHEMA"].startswith("Clip"):
            source = item["source_range"]["start_time"]
            found.append((at / BROADCAST, Fraction(int(source["value"]), int(source["rate"]))))
            (media,) = item["media_references"].values()
            assert media["target_url"] == "take.wav"
        at += Fraction(int(length["value"]))
    plays = [reel for reel in reels if reel.planned.show == "play"]
    assert len(found) == len(plays) == 2
    bar = Fraction(4 * 60, 137)
    for (film_seconds, file_seconds), reel in zip(found, plays, strict=True):
        downbeat = reel.start + bar
        assert 0 <= film_seconds - downbeat < 1 / BROADCAST
        assert abs(file_seconds - (Fraction(5, 2) + film_seconds - downbeat)) <= Fraction(1, 2 * 48_000)
    sequence = next(ElementTree.fromstring(contents(lesson, BROADCAST)["lesson.xml"]).iter("sequence"))
    assert len(sequence.findall("media/audio/track")) == 2


def test_without_segments_there_is_no_edit() -> None:
    with pytest.raises(NothingThereError, match=r"^No edit: the spec asks for no segments\.$"):
        make_edit(make_lesson(SHORT.partition("segments:")[0]), Fraction(60))


LONG = """
title: Weir
tempo: 20
meter: 16/1
pulse: 1/4
figures: {weir: [4, 4, 3]}
form: [{section: Upper, bars: 400, plays: weir}]
segments: [play, {show: play, bars: 1-BARS}]
"""


@pytest.mark.parametrize("rate", [Fraction(25), BROADCAST])
def test_a_cut_that_timecode_cannot_count_has_no_edit_list(rate: Fraction) -> None:
    """A bar of 64 quarters at 20 a minute lasts 192 seconds: 450 of them last a day."""
    *_, edit_list = make_edit(make_lesson(LONG.replace("BARS", "49")), rate)
    assert edit_list.name == "lesson.edl"
    assert b"23:56:48" in edit_list.content
    made = make_edit(make_lesson(LONG.replace("BARS", "50")), rate)
    assert [each.name for each in made] == ["lesson.otio", "lesson.xml"]
    assert made[-1].remark == (
        "No lesson.edl: the films together last a day or more, and timecode ends there. Ask for fewer in one spec."
    )
