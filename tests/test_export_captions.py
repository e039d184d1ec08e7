"""The words said as captions, read back by programs that did not write them."""

from fractions import Fraction
from html import unescape
from itertools import pairwise
from pathlib import Path

import av
import hypothesis.strategies as st
import pytest
import webvtt
from click.testing import CliRunner
from hypothesis import given, settings

from renderer.command import main
from renderer.export.captions import (
    NOTHING_SAID,
    ROW_CHARACTERS,
    ROWS,
    make_captions,
    srt_text,
    take_turns,
    vtt_text,
)
from renderer.export.kinds import NothingThereError
from renderer.lesson.lesson import Lesson
from renderer.schedule.model import Caption
from renderer.video.reel import lay_reels
from tests.lessons import SHORT, make_lesson

LONG = (
    "Four and four and three make eleven, and a bar of four quarters has sixteen of them, so that each one starts "
    "five pulses earlier than the bar after it does."
)
SAID = SHORT.replace(
    "segments: [figure, spread, play]",
    "segments:\n"
    f'  - {{show: figure, say: {{count: "{LONG}", sum: "Eleven & <no> more -> \\"twelve\\"."}}}}\n'
    "  - spread\n"
    "  - {show: play, say: {Lower: And on it goes.}}\n",
)
BROADCAST = Fraction(30000, 1001)


@pytest.fixture(scope="module")
def lesson() -> Lesson:
    return make_lesson(SAID)


def files(lesson: Lesson, rate: Fraction, folder: Path) -> dict[str, Path]:
    paths = {}
    for name, content, _ in make_captions(lesson, rate):
        paths[name] = folder / name
        paths[name].write_bytes(content)
    return paths


def said(lesson: Lesson, rate: Fraction, name: str) -> list[Caption]:
    """All that is shown in one film, or in the joined one."""
    found = []
    for reel in lay_reels(lesson.segments(), rate):
        start = reel.start if name == "lesson" else Fraction(0)
        if name in ("lesson", reel.planned.name):
            for text in reel.planned.schedule.captions:
                found += take_turns(Caption(start + text.start, start + text.end, text.text))
    return found


@pytest.mark.parametrize("rate", [Fraction(60), BROADCAST])
def test_webvtt_is_read_back_as_it_was_said(lesson: Lesson, rate: Fraction, tmp_path: Path) -> None:
    """By webvtt-py, which leaves references (`&amp;`) to HTML's rules, as the W3C does. A time is at most half a
    millisecond from the exact one, as WebVTT has milliseconds."""
    paths = files(lesson, rate, tmp_path)
    assert set(paths) == {
        f"{name}.{kind}" for name in ("01-figure", "03-play", "lesson") for kind in ("srt", "vtt")
    }
    for name in ("01-figure", "03-play", "lesson"):
        read = webvtt.read(str(paths[f"{name}.vtt"])).captions
        expected = said(lesson, rate, name)
        assert [unescape(caption.text) for caption in read] == [caption.text for caption in expected]
        for caption, exact in zip(read, expected, strict=True):
            for time, seconds in ((caption.start_time, exact.start), (caption.end_time, exact.end)):
                read_seconds = Fraction(time.in_seconds()) + Fraction(time.milliseconds, 1000)
                assert abs(read_seconds - seconds) <= Fraction(1, 2000)


def test_srt_is_read_back_as_it_was_said(lesson: Lesson, tmp_path: Path) -> None:
    """By FFmpeg's reader of SubRip, through PyAV."""
    path = files(lesson, BROADCAST, tmp_path)["lesson.srt"]
    expected = said(lesson, BROADCAST, "lesson")
    with av.open(path) as container:
        packets = [packet for packet in container.demux() if packet.size]
    assert [bytes(packet).decode().replace("\r", "") for packet in packets] == [
        caption.text.replace("<", "‹").replace(">", "›") for caption in expected
    ]
    for packet, exact in zip(packets, expected, strict=True):
        assert packet.time_base is not None
        assert packet.pts is not None
        assert packet.duration is not None
        start, length = packet.pts * packet.time_base, packet.duration * packet.time_base
        assert abs(start - exact.start) <= Fraction(1, 2000)
        assert abs(start + length - exact.end) <= Fraction(1, 2000)


def test_the_words_stand_as_long_as_their_step(lesson: Lesson) -> None:
    schedule = lesson.segments()[0].schedule
    starts = {step.name: step.seconds for step in schedule.steps}
    turns = [turn for caption in schedule.captions for turn in take_turns(caption)]
    long = [turn for turn in turns if "twelve" not in turn.text]
    assert len(long) > 1
    assert long[0].start == starts["count"]
    assert long[-1].end == starts["accents"]
    assert all(before.end == after.start for before, after in pairwise(long))


texts = st.text(st.characters(exclude_categories=["Cs"]), max_size=160)


@settings(deadline=None)
@given(texts)
def test_no_caption_is_too_long_and_none_of_its_words_is_lost(text: str) -> None:
    turns = take_turns(Caption(Fraction(1), Fraction(5), text))
    rows = [row for turn in turns for row in turn.text.split("\n")]
    assert "".join("".join(rows).split()) == "".join(text.split())
    assert all(0 < len(row) <= ROW_CHARACTERS for row in rows)
    assert all(turn.text.count("\n") < ROWS for turn in turns)
    if turns:
        assert turns[0].start == Fraction(1)
        assert turns[-1].end == Fraction(5)


@settings(deadline=None)
@given(st.lists(texts.filter(str.strip), min_size=1, max_size=4))
def test_whatever_is_said_both_formats_hold_it(said: list[str]) -> None:
    """Read by webvtt-py: as many captions as there are, none broken by what stands in one."""
    captions = [
        turn
        for number, text in enumerate(said)
        for turn in take_turns(Caption(Fraction(number), Fraction(number + 1), text))
    ]
    assert len(webvtt.from_string(vtt_text(captions)).captions) == len(captions)
    blocks = srt_text(captions).rstrip("\n").split("\n\n")
    assert len(blocks) == len(captions)
    assert all(block.count("-->") == 1 for block in blocks)


def test_where_nothing_is_said_there_are_no_captions() -> None:
    with pytest.raises(NothingThereError) as error:
        make_captions(make_lesson(), Fraction(60))
    assert str(error.value) == "No captions: nothing is said in this lesson. Give a segment say: lines."


def test_the_words_may_stand_in_the_picture_in_files_or_nowhere(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without them in the picture the figure's own question stands in its head, and the film is as long."""
    monkeypatch.chdir(tmp_path)
    Path("weir.yaml").write_text(SAID, encoding="utf-8")
    films = {}
    for where in ("picture", "file", "none"):
        options = ("--captions", where, "--size", "128x72", "--fps", "1", "--jobs", "1", "--out", where)
        result = CliRunner().invoke(main, ["render", "weir.yaml", "figure", *options])
        assert result.exit_code == 0, result.output
        films[where] = Path(where, "01-figure.mp4").read_bytes()
        beside = {path.name for path in Path(where).iterdir() if path.suffix in (".srt", ".vtt")}
        assert beside == ({"01-figure.srt", "01-figure.vtt"} if where == "file" else set())
    assert "01-figure.srt" in CliRunner().invoke(main, ["export", "weir.yaml", "--out", "file"]).stdout
    assert films["file"] == films["none"] != films["picture"]
    counts = set()
    for where in films:
        with av.open(Path(where, "01-figure.mp4")) as film:
            counts.add(film.streams.video[0].frames)
    assert len(counts) == 1
    result = CliRunner().invoke(main, ["render", "weir.yaml", "spread", *options, "--captions", "file"])
    assert NOTHING_SAID in result.stderr
