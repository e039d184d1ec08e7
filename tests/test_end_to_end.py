"""From a text spec to files that are opened again: frames counted, lit cells found, clicks heard."""

from collections import defaultdict
from collections.abc import Iterator
from fractions import Fraction
from math import floor
from pathlib import Path
from typing import NamedTuple

import av
import numpy as np
import pytest
from numpy.typing import NDArray

from renderer.lesson.lesson import Lesson, Planned, open_lesson
from renderer.schedule.figure import FigureSchedule
from renderer.schedule.play import PlaySchedule
from renderer.video.chapters import lay_chapters
from renderer.video.reel import lay_reels
from renderer.video.render import Quality, Rendered, render_lesson
from renderer.video.workers import in_this_process
from scenes.draw.look import WIDE
from scenes.draw.segment import Moment
from scenes.figure.figure import FigureSegment
from scenes.play.play import PlaySegment
from tests.films import decode_planes, decode_sound, describe_film, find_onsets, pixel_of
from tests.lessons import DARK, EXAMPLE, SHORT, make_lesson

SMALL = Quality(480, 270, Fraction(30))
BROADCAST = Quality(480, 270, Fraction(30000, 1001))
THRESHOLD = 0.08


class Probe(NamedTuple):
    """A point of a frame and the two colours that it may have there."""

    frame: int
    x: float
    y: float
    colour: str
    other: str


def rgb(colour: str) -> NDArray[np.float64]:
    return np.array([int(colour[index : index + 2], 16) for index in (1, 3, 5)], dtype=float)


def expected_frame(seconds: Fraction, quality: Quality) -> int:
    """Nearest, halves up, written out here so that the code under test does not check itself."""
    return floor(seconds * quality.frames_per_second + Fraction(1, 2))


STROKE = 14.0
"""Pixels beside a downbeat in which a landing's stroke may stand."""


def play_probes(lesson: Lesson, planned: Planned, quality: Quality) -> Iterator[Probe]:
    """In the middle of each pulse of each repetition: lit up to the playhead, in its colour, and not beyond.

    Looked at 0.7 of a pulse to either side of where the playhead is by the frame's time, over the numbers in the hull.
    """
    schedule, timeline = planned.schedule, lesson.timeline
    assert isinstance(schedule, PlaySchedule)
    segment = PlaySegment(schedule, DARK)
    for repetition in segment.voices[0].repetitions:
        statement = repetition.statement
        for at in range(repetition.at, repetition.end, statement.pulse):
            span = next(span for span in schedule.spans if span.start <= at < span.end)
            middle = timeline.seconds(at) + timeline.seconds(min(at + statement.pulse, repetition.end))
            frame = expected_frame(span.seconds + middle / 2 - timeline.seconds(span.start), quality)
            moment = Moment(frame / quality.frames_per_second, 1 / quality.frames_per_second)
            index = segment.current(moment)
            position, row = segment.position(moment, segment.rows[index]), segment.row(index)
            colours = (DARK.sail(repetition.number), DARK.sail_soft)
            away, last = 0.7 * statement.pulse, repetition.end - statement.pulse / 2
            inside = repetition.at < position - away, repetition.at < position + away < min(last, row.end)
            for place, there, seen in zip((position - away, position + away), inside, (1, -1), strict=True):
                if there and not any(abs(row.x(bar.at) - row.x(place)) < STROKE for bar in timeline.bars):
                    yield Probe(frame, row.x(place), row.hull_top + 4, *colours[::seen])


def figure_probes(planned: Planned, lesson: Lesson, quality: Quality) -> Iterator[Probe]:
    """In the middle of each pulse of the first pass: lit up to the count, and not beyond."""
    schedule = planned.schedule
    assert isinstance(schedule, FigureSchedule)
    row = FigureSegment(schedule, DARK).row
    for pulse in range(schedule.figure.pulses):
        frame = expected_frame(schedule.count_start + (pulse + Fraction(1, 2)) * schedule.pulse, quality)
        counted = float((frame / quality.frames_per_second - schedule.count_start) / schedule.pulse)
        colours, y = (DARK.sail_one, DARK.sail_soft), row.hull_top + 10
        yield Probe(frame, row.x(counted - 0.3), y, *colours)
        if counted + 0.3 < schedule.figure.pulses - 0.4:
            yield Probe(frame, row.x(counted + 0.3), y, *colours[::-1])


def wrong_probes(path: Path, probes: Iterator[Probe], quality: Quality) -> list[Probe]:
    """The probes whose pixel is nearer to the other colour. Reads the film once."""
    wanted: dict[int, list[Probe]] = defaultdict(list)
    for probe in probes:
        wanted[probe.frame].append(probe)
    assert wanted
    wrong, scale = [], quality.width / WIDE.width
    for index, (_, *planes) in enumerate(decode_planes(path)):
        for probe in wanted.pop(index, []):
            pixel = pixel_of(planes, int(probe.x * scale), int(probe.y * scale)).astype(float)
            if np.linalg.norm(pixel - rgb(probe.colour)) >= np.linalg.norm(pixel - rgb(probe.other)):
                wrong.append(probe)
    assert not wanted, f"the film ends before frames {sorted(wanted)}"
    return wrong


@pytest.fixture(scope="module", params=[SMALL, BROADCAST], ids=["30", "30000/1001"])
def quality(request: pytest.FixtureRequest) -> Quality:
    chosen: Quality = request.param
    return chosen


@pytest.fixture(scope="module")
def lesson() -> Lesson:
    """Only the click sounds, so that every onset is one of its own."""
    return make_lesson(SHORT + "sound: none\n")


@pytest.fixture(scope="module")
def rendered(
    lesson: Lesson, quality: Quality, tmp_path_factory: pytest.TempPathFactory
) -> dict[str, Rendered]:
    """What a render writes, by show or file name: by this process alone, and by the workers of this machine."""
    workers = in_this_process if quality == SMALL else None
    directory = tmp_path_factory.mktemp("out")
    rows = render_lesson(lesson, directory, lesson.segments(), quality, workers=workers, joined=True)
    return {row.show or row.path.name: row for row in rows}


def planned(lesson: Lesson, show: str) -> Planned:
    return next(segment for segment in lesson.segments() if segment.show == show)


def test_each_segment_is_a_file_in_the_specs_order_beside_the_click(
    rendered: dict[str, Rendered],
) -> None:
    names = [row.path.name for row in rendered.values()]
    assert names == ["click.wav", "01-figure.mp4", "02-spread.mp4", "03-play.mp4", "lesson.mp4"]
    directory = rendered["click.wav"].path.parent
    visible = sorted(path.name for path in directory.iterdir() if not path.name.startswith("."))
    assert visible == sorted(names)


@pytest.mark.parametrize("show", ["figure", "spread", "play"])
def test_a_film_is_what_browsers_play(rendered: dict[str, Rendered], show: str) -> None:
    film = describe_film(rendered[show].path)
    assert (film.codec, film.pixel_format) == ("h264", "yuv420p")
    assert (film.primaries, film.transfer, film.matrix, film.range) == (1, 1, 1, 1)
    assert film.boxes.index("moov") < film.boxes.index("mdat")
    assert film.sound is not None
    assert (film.sound.codec, film.sound.samples_per_second) == ("aac", 48_000)


@pytest.mark.parametrize("show", ["figure", "spread", "play"])
def test_picture_and_sound_last_as_long_as_the_schedule(
    lesson: Lesson, rendered: dict[str, Rendered], quality: Quality, show: str
) -> None:
    seconds = planned(lesson, show).schedule.seconds
    film = describe_film(rendered[show].path)
    times = [time for time, *_ in decode_planes(rendered[show].path)]
    assert film.frames_per_second == quality.frames_per_second
    assert times == [index / quality.frames_per_second for index in range(expected_frame(seconds, quality))]
    assert abs(film.seconds - seconds) <= 1 / (2 * quality.frames_per_second)
    assert film.sound is not None
    assert abs(Fraction(film.sound.sample_count, 48_000) - film.seconds) <= Fraction(1, 48_000)


def test_every_pulse_lights_up_in_the_frame_nearest_to_its_time(
    lesson: Lesson, rendered: dict[str, Rendered], quality: Quality
) -> None:
    probes = play_probes(lesson, planned(lesson, "play"), quality)
    assert wrong_probes(rendered["play"].path, probes, quality) == []


def test_every_count_of_the_figure_comes_in_the_frame_nearest_to_its_time(
    lesson: Lesson, rendered: dict[str, Rendered], quality: Quality
) -> None:
    probes = figure_probes(planned(lesson, "figure"), lesson, quality)
    assert wrong_probes(rendered["figure"].path, probes, quality) == []


@pytest.mark.parametrize("show", ["figure", "spread", "play"])
def test_clicks_are_heard_where_the_schedule_has_them(
    lesson: Lesson, rendered: dict[str, Rendered], show: str
) -> None:
    expected = [
        floor(click.seconds * 48_000 + Fraction(1, 2)) for click in planned(lesson, show).schedule.clicks
    ]
    samples, rate = decode_sound(rendered[show].path)
    heard = find_onsets(samples, rate, THRESHOLD)
    assert len(heard) == len(expected)
    assert max(abs(a - b) for a, b in zip(heard, expected, strict=True)) <= 1


def test_the_click_beside_the_film_stands_on_the_sample(
    lesson: Lesson, rendered: dict[str, Rendered]
) -> None:
    clicks = planned(lesson, "play").schedule.clicks
    samples, rate = decode_sound(rendered["click.wav"].path)
    expected = [floor(click.seconds * 48_000 + Fraction(1, 2)) for click in clicks]
    assert find_onsets(samples, rate, THRESHOLD) == expected


def test_the_first_downbeat_is_seen_and_heard_together(
    lesson: Lesson, rendered: dict[str, Rendered], quality: Quality
) -> None:
    """EBU R 37 allows 5 ms early and 15 ms late at one stage of production; half a frame of 30 is 16.7 ms, so the
    bound here is the frame grid's own: no more than half a frame either way."""
    downbeat = lesson.timeline.bars[0].meter.length * 4 * 60 / Fraction(137)
    samples, rate = decode_sound(rendered["play"].path)
    heard = Fraction(find_onsets(samples, rate, THRESHOLD)[4], rate)
    seen = expected_frame(downbeat, quality) / quality.frames_per_second
    assert abs(heard - downbeat) <= Fraction(1, rate)
    assert abs(seen - heard) <= 1 / (2 * quality.frames_per_second) + Fraction(1, rate)


def test_the_joined_lesson_is_the_segments_one_after_another(
    lesson: Lesson, rendered: dict[str, Rendered], quality: Quality
) -> None:
    """Frame by frame, and each segment's clicks from where its first frame stands."""
    films, whole = [row for row in rendered.values() if row.segment], rendered["lesson.mp4"]
    assert whole.frames == sum(row.frames or 0 for row in films)
    parts = (planes for row in films for _, *planes in decode_planes(row.path))
    for index, (time, *planes) in enumerate(decode_planes(whole.path)):
        assert time == index / quality.frames_per_second
        for plane, part in zip(planes, next(parts), strict=True):
            assert np.array_equal(plane, part)
    assert next(parts, None) is None
    expected, start = [], Fraction(0)
    for row, segment in zip(films, lesson.segments(), strict=True):
        first = floor(start * 48_000 + Fraction(1, 2))
        expected += [
            first + floor(click.seconds * 48_000 + Fraction(1, 2)) for click in segment.schedule.clicks
        ]
        start += row.seconds
    heard = find_onsets(*decode_sound(whole.path), THRESHOLD)
    assert len(heard) == len(expected)
    assert max(abs(a - b) for a, b in zip(heard, expected, strict=True)) <= 1


def test_the_joined_lesson_has_its_chapters(
    lesson: Lesson, rendered: dict[str, Rendered], quality: Quality
) -> None:
    """As FFmpeg reads them; an mp4 keeps them to a sample of its own time."""
    rate = quality.frames_per_second
    expected = lay_chapters(lay_reels(lesson.segments(), rate))
    assert len(expected) > 1
    with av.open(rendered["lesson.mp4"].path) as film:
        found = film.chapters()
    assert [chapter["metadata"]["title"] for chapter in found] == [chapter.title for chapter in expected]
    for chapter, (start, end, *_) in zip(found, expected, strict=True):
        assert chapter["time_base"]
        for time, frame in ((chapter["start"], start), (chapter["end"], end)):
            assert abs(time * chapter["time_base"] - frame / rate) <= chapter["time_base"]


@pytest.mark.slow
def test_every_pulse_of_the_example_lights_up_in_its_frame(tmp_path: Path) -> None:
    example = open_lesson(EXAMPLE)
    play = planned(example, "play")
    rows = render_lesson(example, tmp_path, [play], SMALL, workers=in_this_process)
    assert wrong_probes(rows[-1].path, play_probes(example, play, SMALL), SMALL) == []
