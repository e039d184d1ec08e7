"""Voice files: they set how long a step stays, are heard from their caption on, and all else steps back."""

import subprocess
import sys
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from renderer.audio.loudness import decibels, true_peak
from renderer.core.errors import FileError, SpecError
from renderer.lesson.lesson import Lesson, open_lesson
from renderer.mix.narration import NAME, narration_remarks
from renderer.mix.stems import segment_master, segment_stems
from renderer.schedule.model import Schedule
from renderer.schedule.say import PAUSE
from scenes.catalogue import build_segment
from scenes.frame.captions import CaptionedSegment
from tests.films import read_sound
from tests.lessons import DARK, SHORT
from tests.messages import in_one_voice
from tests.performances import RATE, write_take
from tests.test_film_sound import film_of
from tests.test_loudness import second_meter
from tests.test_stems import nearest_sample

BEAT = Fraction(4, 5)
"""The figure is counted at 0.2 s a pulse, four to the beat."""
SPOKEN = "{count: {line: Count with me., file: count.wav}}"
CLICK = "click: {every: beat, count_in: 1}\n"


def speech(seconds: Fraction, rate: int = RATE) -> NDArray[np.float32]:
    """Noise that swells four times a second, as syllables do, and begins at once: shape (n, 1)."""
    count = int(seconds * rate)
    swelling = 0.6 + 0.4 * np.cos(2 * np.pi * 4 * np.arange(count) / rate)
    wave = np.random.default_rng(3).normal(0, 0.1, count) * swelling
    return wave.astype(np.float32)[:, np.newaxis]


def open_saying(folder: Path, said: str, show: str = "figure", click: str = CLICK, more: str = "") -> Lesson:
    """A lesson of one segment, opened from its file."""
    option = f", say: {said}" if said else ""
    text = SHORT.replace("segments: [figure, spread, play]", f"segments: [{{show: {show}{option}}}]")
    (folder / "weir.yaml").write_text(text.replace(CLICK, click) + more, encoding="utf-8")
    return open_lesson(folder / "weir.yaml")


def only(lesson: Lesson) -> Schedule:
    (planned,) = lesson.segments()
    return planned.schedule


def starts(lesson: Lesson) -> dict[str, Fraction]:
    return {step.name: step.seconds for step in only(lesson).steps}


def told(folder: Path, said: str) -> str:
    """The whole error, the spec's folder left out."""
    with pytest.raises(SpecError) as caught:
        open_saying(folder, said)
    in_one_voice(caught.value, said)
    return str(caught.value).replace(f"{folder}/", "")


@pytest.mark.parametrize("length", [Fraction(1, 2), Fraction(3), Fraction(10), Fraction(777_777, 48_000)])
def test_a_file_sets_how_long_its_step_stays_in_whole_beats(length: Fraction, tmp_path: Path) -> None:
    write_take(tmp_path / "count.wav", speech(length))
    plain, said = open_saying(tmp_path, ""), open_saying(tmp_path, SPOKEN)
    assert said.files == {"count.wav": length}
    stage = starts(plain)["accents"] - starts(plain)["count"]
    waited = max(0, -(-(length + PAUSE - stage) // BEAT)) * BEAT
    assert starts(said)["accents"] - starts(said)["count"] == stage + waited
    assert only(said).seconds == only(plain).seconds + waited


def test_without_a_click_it_stays_exactly_as_long(tmp_path: Path) -> None:
    length = Fraction(500_001, 48_000)
    write_take(tmp_path / "count.wav", speech(length))
    said = starts(open_saying(tmp_path, SPOKEN, click=""))
    assert said["accents"] - said["count"] == length + PAUSE


def test_lines_in_order_may_be_files_words_or_both(tmp_path: Path) -> None:
    write_take(tmp_path / "a.wav", speech(Fraction(4)))
    write_take(tmp_path / "b.flac", speech(Fraction(5), 44_100), 44_100)
    schedule = only(open_saying(tmp_path, "[{line: One, file: a.wav}, {file: b.flac}, Three, {line: Four}]"))
    steps = [step.seconds for step in schedule.steps]
    assert [(c.text, c.start) for c in schedule.captions] == [
        ("One", steps[0]),
        ("Three", steps[2]),
        ("Four", steps[3]),
    ]
    assert [(s.name, s.seconds, s.length) for s in schedule.spoken] == [
        ("a.wav", steps[0], Fraction(4)),
        ("b.flac", steps[1], Fraction(5)),
    ]


@pytest.mark.parametrize("show", ["figure", "play"])
def test_with_a_file_alone_there_is_no_caption(show: str, tmp_path: Path) -> None:
    write_take(tmp_path / "a.wav", speech(Fraction(1)))
    step = "count" if show == "figure" else "Upper"
    schedule = only(open_saying(tmp_path, f"{{{step}: {{file: a.wav}}}}", show))
    assert not schedule.captions
    assert len(schedule.spoken) == 1
    with_words = open_saying(tmp_path, f"{{{step}: {{line: Now, file: a.wav}}}}", show)
    segment = build_segment(only(with_words), DARK)
    assert isinstance(segment, CaptionedSegment)
    assert [(c.text, c.start) for c in segment.captions] == [("Now", only(with_words).spoken[0].seconds)]


def test_a_play_runs_in_real_time_whatever_is_spoken(tmp_path: Path) -> None:
    write_take(tmp_path / "a.wav", speech(Fraction(30)))
    plain = only(open_saying(tmp_path, "", "play"))
    lesson = open_saying(tmp_path, "{Lower: {file: a.wav}}", "play")
    schedule = only(lesson)
    assert (schedule.seconds, schedule.clicks, schedule.steps) == (plain.seconds, plain.clicks, plain.steps)
    made = segment_master(lesson, schedule)
    assert made.sample_count == nearest_sample(plain.seconds)
    spoken = made.stem([stem.name for stem in made.sources].index(NAME))
    assert not spoken[: nearest_sample(schedule.spoken[0].seconds)].any()
    assert np.abs(spoken[-24_000:-1_000]).max() > 0.01
    assert np.abs(spoken[-1]).max() < 1e-3  # faded out where the film ends


def test_where_a_play_is_too_short_for_it_that_is_told(tmp_path: Path) -> None:
    write_take(tmp_path / "a.wav", speech(Fraction(6)))
    lesson = open_saying(tmp_path, "{Upper: {file: a.wav}, Lower: {file: a.wav}}", "play")
    # Three bars of four beats at 137 last 5.255 s, two 3.504 s.
    assert narration_remarks(lesson) == [
        "01-play: a.wav is 0.7 s longer than there is until the next voice file: both are heard.",
        "01-play: a.wav is 2.5 s longer than the segment: its end is cut off.",
    ]
    waits = open_saying(tmp_path, "[{file: a.wav}, {file: a.wav}, {file: a.wav}, {file: a.wav}]")
    assert narration_remarks(waits) == []
    assert narration_remarks(open_saying(tmp_path, "", "play")) == []


@pytest.mark.parametrize(
    ("show", "said", "kind", "rate"),
    [
        ("figure", "{count: {line: Count with me., file: a.wav}}", "wav", RATE),
        ("figure", "[Here is the figure, {line: Count, file: a.flac}, {file: a.flac}]", "flac", 44_100),
        ("figure", "{count-in: {line: Ready, file: a.wav}, sum: {file: a.wav}}", "wav", RATE),
        ("play", "{Upper: {file: a.wav}, Lower: {line: And on, file: a.wav}}", "wav", RATE),
        ("card", "[{file: a.wav}]", "wav", RATE),
    ],
)
def test_in_the_film_it_begins_with_its_caption(
    show: str, said: str, kind: str, rate: int, tmp_path: Path
) -> None:
    write_take(tmp_path / f"a.{kind}", speech(Fraction(3), rate), rate)
    lesson = open_saying(tmp_path, said, show)
    schedule = only(lesson)
    decoded = film_of(lesson, 0, tmp_path)
    file = speech(Fraction(3), rate)[:, 0]
    if rate != RATE:
        # By its spectrum, without the resampler under test.
        spectrum = np.fft.rfft(file)
        file = np.fft.irfft(spectrum, 3 * RATE)[: 3 * RATE].astype(np.float32)
    assert schedule.spoken
    for spoken in schedule.spoken:
        onset = nearest_sample(spoken.seconds)
        around = np.pad(decoded[:, 0], 200)[onset : onset + 4_400]
        assert abs(int(np.argmax(np.correlate(around, file[:4_000], "valid"))) - 200) <= 1


def test_it_is_a_stem_and_the_stems_are_the_mix(tmp_path: Path) -> None:
    write_take(tmp_path / "count.wav", speech(Fraction(6)))
    lesson = open_saying(tmp_path, SPOKEN)
    made = segment_master(lesson, only(lesson))
    assert [stem.name for stem in made.sources] == ["click", "main", NAME]
    assert not np.any(made.mix - sum(made.stem(index) for index in range(3)))


@pytest.mark.parametrize(("loudness", "lufs"), [("web", -14), ("broadcast", -23)])
def test_with_it_loudness_and_peaks_are_as_promised(loudness: str, lufs: float, tmp_path: Path) -> None:
    write_take(tmp_path / "count.wav", speech(Fraction(6)))
    lesson = open_saying(tmp_path, SPOKEN, more=f"sound: {{loudness: {loudness}}}\n")
    decoded = film_of(lesson, 0, tmp_path)
    assert second_meter(decoded) == pytest.approx(lufs, abs=0.5)
    assert decibels(true_peak(decoded)) <= -1


@pytest.mark.parametrize("duck", [4, 12])
def test_all_else_steps_back_under_it(duck: int, tmp_path: Path) -> None:
    """The click is looked at in a mix with one, all else in a mix without: it leaves a click room, and how much
    follows from how loud both are."""
    write_take(tmp_path / "count.wav", speech(Fraction(2)))
    more = f"sound: {{recording: {{duck: {duck}}}}}\n"
    seen = []
    for click in (CLICK, ""):
        lesson = open_saying(tmp_path, SPOKEN, click=click, more=more)
        (spoken,) = only(lesson).spoken
        ducked = segment_stems(lesson, only(lesson))
        silent = open_saying(tmp_path, "", click=click, more=more)
        plain = segment_stems(silent, only(silent))
        begin, end = nearest_sample(spoken.seconds), nearest_sample(spoken.seconds + spoken.length)
        for before, after in zip(plain, ducked[:-1], strict=True):
            if click and before.name != "click":
                continue
            seen.append(before.name)
            (one, two) = (stem.part(0, end + RATE) for stem in (before, after))
            assert two[begin : end - 4_000] == pytest.approx(
                one[begin : end - 4_000] * 10 ** (-duck / 20), abs=1e-5
            )
            assert np.array_equal(two[: begin - 1_000], one[: begin - 1_000])
            assert np.array_equal(two[end + 13_000 :], one[end + 13_000 :])
    assert seen[0] == "click"
    assert len(seen) > 1


def test_loud_or_soft_it_comes_to_the_same_and_so_does_one_syllable(tmp_path: Path) -> None:
    heard = []
    for gain, seconds in ((1, 2), (0.02, 2), (1, Fraction(1, 5))):
        write_take(tmp_path / "count.wav", speech(Fraction(seconds)) * np.float32(gain))
        lesson = open_saying(tmp_path, SPOKEN)
        stem = segment_stems(lesson, only(lesson))[-1]
        begin = nearest_sample(only(lesson).spoken[0].seconds)
        heard.append(np.square(stem.part(begin, begin + 4_800)).mean())
    assert heard[1] == pytest.approx(heard[0], rel=0.05)
    assert 10 * np.log10(heard[2] / heard[0]) == pytest.approx(0, abs=1.5)


def test_where_nothing_else_sounds_the_film_has_it_alone(tmp_path: Path) -> None:
    write_take(tmp_path / "count.wav", speech(Fraction(2)))
    lesson = open_saying(tmp_path, SPOKEN, click="", more="sound: off\n")
    assert [stem.name for stem in segment_stems(lesson, only(lesson))] == [NAME]


def test_what_is_not_there_or_no_sound_is_told_all_at_once(tmp_path: Path) -> None:
    (tmp_path / "text.wav").write_text("no sound at all " * 50, encoding="utf-8")
    write_take(tmp_path / "still.wav", np.zeros((RATE, 1), np.float32))
    lines = [
        "{",
        "  count: {file: gone.wav},",
        "  accents: {line: Hm, file: text.wav},",
        "  sum: {file: still.wav}}",
    ]
    reasons = [
        ("count", "gone.wav", "no such file.", "Sound files are looked for beside the spec."),
        (
            "accents",
            "text.wav",
            "this is not a sound file, or it is damaged.",
            "Use a wav, aiff, flac, mp3, m4a or ogg file.",
        ),
        ("sum", "still.wav", "it is silent from beginning to end.", "Name the right file."),
    ]
    expected = []
    for number, (line, (step, name, reason, mend)) in enumerate(
        zip(lines[1:], reasons, strict=True), start=20
    ):
        column = line.index(name)
        shown = line + "}]" * line.endswith("}}")
        expected += [
            f"weir.yaml:{number}:{column + 1}: segments[0].say.{step}.file: {name}: {reason}",
            f"    {shown}",
            f"    {' ' * column}^",
            f"  {mend}",
        ]
    assert told(tmp_path, "\n".join(lines)) == "\n".join(expected)


def test_a_damaged_file_is_told(tmp_path: Path) -> None:
    write_take(tmp_path / "a.wav", speech(Fraction(4)))
    whole = (tmp_path / "a.wav").read_bytes()
    (tmp_path / "a.wav").write_bytes(whole[: len(whole) // 2])
    assert "a.wav: it is damaged: of 0:04.0 only 0:02.0 can be read." in told(tmp_path, "[{file: a.wav}]")


@pytest.mark.parametrize(
    ("said", "text", "mend"),
    [
        (
            "[{}]",
            "segments[0].say[0]: a line of say needs line or file.",
            "Write line: Count with me, or file: count.wav.",
        ),
        (
            "{sum: {file: a.wav, text: Hi}}",
            "segments[0].say.sum.text: a line of say has no such key.",
            "There are: line.",
        ),
        (
            "{sum: [a.wav]}",
            "segments[0].say.sum: got a list; a line, or line and file belongs here.",
            None,
        ),
    ],
)
def test_what_no_line_is_is_told(said: str, text: str, mend: str | None, tmp_path: Path) -> None:
    first, *_, last = told(tmp_path, said).splitlines()
    assert first.partition(": ")[2] == text
    assert mend is None or last == f"  {mend}"


def test_a_file_that_goes_after_the_check_is_told_too(tmp_path: Path) -> None:
    write_take(tmp_path / "count.wav", speech(Fraction(2)))
    lesson = open_saying(tmp_path, SPOKEN)
    (tmp_path / "count.wav").unlink()
    with pytest.raises(FileError, match=r"count\.wav: no such file"):
        segment_master(lesson, only(lesson))


def test_only_a_spec_with_a_voice_file_loads_what_decodes(tmp_path: Path) -> None:
    write_take(tmp_path / "count.wav", speech(Fraction(2)))
    for said, loaded in (("[Count with me.]", []), (SPOKEN, ["av", "numpy"])):
        open_saying(tmp_path, said)
        code = (
            "import sys, pathlib; from renderer.lesson.lesson import open_lesson as o; o(pathlib.Path('weir.yaml'));"
            "print(*(name for name in ('av', 'numpy', 'manim', 'scipy') if name in sys.modules))"
        )
        root = str(Path(__file__).parent.parent)
        done = subprocess.run(
            [sys.executable, "-c", f"import sys; sys.path.insert(0, {root!r}); {code}"],
            check=True,
            capture_output=True,
            text=True,
            cwd=tmp_path,
        )
        assert set(done.stdout.split()) - {"scipy"} == set(loaded)
    assert read_sound(tmp_path / "count.wav")[1] == RATE
