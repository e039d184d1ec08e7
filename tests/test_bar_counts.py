"""Wrong bar counts heard: in performances whose form is known, by sounds that are not the product's."""

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from numpy.typing import NDArray

from renderer.audio.pitch import Chord
from renderer.command import main
from renderer.hearing import chroma, fit
from renderer.hearing.chords import likeness
from renderer.mix.count_verdict import Verdict, judge, verdict_lines
from renderer.mix.counts import Comparison, Heard, Other, chord_and_bass, compare
from renderer.mix.recounts import Stretch, course_of, recounts
from renderer.reading.load import parse_spec
from renderer.timeline.plan import plan_spec
from renderer.timeline.recount import bars_alone, recounted
from tests.counted_pieces import CountedPiece, Take, WrittenSection, invented_piece, miscounted, play
from tests.performances import RATE, write_take

HELD_OUT = (5001, 5002, 5018)
"""Short ones of the seeds that only measure."""

FERRY = CountedPiece(
    Fraction(132),
    "4/4",
    (
        WrittenSection("Quay", 6, (("1", ("Em", "C")), ("-1", ("B7",))), ", plays: kiln"),
        WrittenSection("Ferry", 7, (("1", ("Am",)), ("4", ("F",)), ("6.3", ("G",))), ", plays: on"),
        WrittenSection("Shore", 6, (("1", ("D", "A", "Bm")),), ", plays: on"),
    ),
)


@pytest.fixture(scope="module")
def ferry() -> tuple[Take, Heard]:
    take = play(FERRY, 77)
    return take, Heard(take.sound)


def with_bars(piece: CountedPiece, index: int, bars: int) -> CountedPiece:
    sections = list(piece.sections)
    old = sections[index]
    sections[index] = WrittenSection(old.name, bars, old.chords, old.more)
    return CountedPiece(piece.tempo, piece.meter, tuple(sections))


def verdict(heard: Heard, piece: CountedPiece, start: float) -> Verdict:
    return judge(compare(heard, parse_spec(piece.text(), "piece.yaml"), start))


@pytest.mark.parametrize("seed", HELD_OUT)
def test_the_wrong_count_of_a_held_out_performance_is_named_and_no_other(seed: int) -> None:
    piece = invented_piece(seed)
    take = play(piece, seed)
    heard = Heard(take.sound)
    assert verdict(heard, piece, take.bar_one).found == "right"
    wrong = miscounted(piece, seed)
    assert wrong
    spec, section, more = wrong
    found = verdict(heard, spec, take.bar_one)
    assert found.found == "wrong"
    (other,) = found.wrong
    assert (other.sections, other.more) == ((section,), more)
    # It departs where the chords do first: in that section, or where the next one begins.
    one = plan_spec(bars_alone(parse_spec(spec.text(), "piece.yaml"))).layout.passes[section]
    assert one.first_bar_number <= other.bar <= one.first_bar_number + one.bar_count
    assert other.second == pytest.approx(take.bars[other.bar - 1], abs=0.3)


@pytest.mark.parametrize("more", [-2, -1, 1, 2])
def test_bars_are_missed_and_counted_twice(more: int, ferry: tuple[Take, Heard]) -> None:
    take, heard = ferry
    found = verdict(heard, with_bars(FERRY, 0, 6 - more), take.bar_one)
    assert (found.found, found.wrong[0].sections, found.wrong[0].more) == ("wrong", (0,), more)


def test_another_piece_is_not_blamed_for_its_counts(ferry: tuple[Take, Heard]) -> None:
    take, heard = ferry
    assert verdict(heard, invented_piece(5018), take.bar_one).found == "unlike"


def test_one_chord_alone_tells_nothing(ferry: tuple[Take, Heard]) -> None:
    take, heard = ferry
    silent = tuple(WrittenSection(each.name, each.bars, (), each.more) for each in FERRY.sections)
    assert verdict(heard, CountedPiece(FERRY.tempo, FERRY.meter, silent), take.bar_one).found == "no chords"
    held = (WrittenSection("Quay", 19, (("1", ("Em",)),), ", plays: kiln"),)
    assert verdict(heard, CountedPiece(FERRY.tempo, FERRY.meter, held), take.bar_one).found == "no chords"


SECTIONS, COUNTS = ["Opening", "Theme", "Middle"], [24, 12, 8]
LATER = Other((1,), 1, 37, 73.42, 40.0)


@pytest.mark.parametrize(
    ("found", "lines"),
    [
        (
            Verdict("wrong", (LATER,), "certain"),
            [
                "take.flac: Theme seems to have 13 bars, not 12: from bar 37 on (1:13.4) the recording is a bar later. "
                "That is as good as certain.",
                "  Correct that and listen again: one wrong count is told at a time.",
            ],
        ),
        (
            Verdict("wrong", (Other((0, 2), -2, 23, 41.0, 14.0),), "probable"),
            [
                "take.flac: Opening and Middle seem to have 22 bars, not 24, each time: from bar 23 on (0:41.0) the "
                "recording is 2 bars earlier. That is probable.",
                "  Correct that and listen again: one wrong count is told at a time.",
            ],
        ),
        (
            Verdict("doubtful", (LATER, Other((2,), 1, 39, 77.0, 39.0))),
            [
                "take.flac: a bar count seems to be wrong: from about bar 37 on (1:13.4) the recording does not go as "
                "the spec does. Can't tell which it is:",
                "  perhaps Theme has 13 bars, not 12",
                "  perhaps Middle has 9 bars, not 8",
            ],
        ),
        (
            Verdict("right", open=(2,)),
            [
                "take.flac: as many bars as counted, as far as can be heard: Opening and Theme.",
                "take.flac: can't tell how many bars there are in Middle: nothing in the harmony shows it.",
            ],
        ),
        (
            Verdict("no chords"),
            [
                "take.flac: can't tell whether the bar counts are right: only harmony shows that, and the spec names "
                "fewer than two chords. Write where they change, for example harmony: {1: Em, 9: G}."
            ],
        ),
        (
            Verdict("unlike"),
            [
                "take.flac: can't tell whether the bar counts are right: what is heard is hardly like the spec's beats "
                "and chords. Is it the right file? Do tempo, meter, harmony and the place of bar 1 (sync) fit it?"
            ],
        ),
    ],
)
def test_verdicts_in_words(found: Verdict, lines: list[str]) -> None:
    assert [*verdict_lines(found, "take.flac", SECTIONS, COUNTS)] == lines


def test_a_count_is_named_only_if_it_is_ahead_of_all_others() -> None:
    def told(*gains: tuple[int, float]) -> Verdict:
        others = tuple(Other((section,), 1, 9, 1.0, gain) for section, gain in gains)
        return judge(Comparison(others, (12, 12, 12), 1.0, 4))

    assert told((0, 7.9)).found == "right"
    assert told((0, 30.0)) == Verdict("wrong", (Other((0,), 1, 9, 1.0, 30.0),), "certain")
    assert told((0, 30.0), (1, 23.0)).sureness == "probable"
    assert told((0, 9.0), (1, 2.0)).sureness == "possible"
    assert [other.sections for other in told((0, 30.0), (1, 27.0), (2, 9.0)).wrong] == [(0,), (1,)]
    assert told((2, -3.0), (1, -9.0)).open == (2,)
    assert judge(Comparison((), (12,), 0.2, 4)).found == "unlike"


# Counts laid out anew

FORM = """
tempo: {{1: 100, 5: 120}}
meter: 4/4
pulse: 1/16
pickup: 1/4
figures: {{kiln: [5, 3, 3]}}
parts: {{drum: meter}}
form:
  - {{section: Quay, bars: {quay}, harmony: {{1: [Em, C, G], -2: B7}}, plays: kiln, parts: {{drum: figure}}}}
  - {{section: Ferry, bars: {ferry}, repeat: 2, tempo: {{-1: {{to: 90}}}}, fermata: {{-1: 2}}, plays: on}}
  - {{again: Quay, section: Home, harmony: {{1: Am, -1: F}}, meter: {{2: 3/4}}, starts: after, plays: kiln}}
  - {{again: Ferry, marks: {{1: home}}}}
"""


def form(quay: int = 7, ferry: int = 4) -> str:
    return FORM.format(quay=quay, ferry=ferry)


def course(text: str) -> list[Stretch]:
    return course_of(plan_spec(parse_spec(text, "piece.yaml")))


def test_a_spec_of_its_bars_alone_is_laid_out_as_the_whole_spec() -> None:
    assert course_of(plan_spec(bars_alone(parse_spec(form(), "piece.yaml")))) == course(form())


@pytest.mark.parametrize("count", [3, 6, 8, 11])
def test_another_count_is_the_spec_with_other_bars(count: int) -> None:
    alone = bars_alone(parse_spec(form(), "piece.yaml"))
    # Passes: Quay, Ferry, Ferry, Home (bars taken over from Quay), Ferry, Ferry.
    assert course_of(plan_spec(recounted(alone, {0: count, 3: count}))) == course(form(quay=count))
    assert course_of(plan_spec(recounted(alone, dict.fromkeys((1, 2, 4, 5), count)))) == course(
        form(ferry=count)
    )


def test_one_chord_longer_or_shorter_is_among_the_others() -> None:
    text = "tempo: 120\nmeter: 4/4\nform: [{{section: A, bars: {}, harmony: {{1: Em, {}: G, {}: C}}}}]\n"
    alone = bars_alone(parse_spec(text.format(9, "4.3", 7), "piece.yaml"))
    plan = plan_spec(alone)

    def sounds(rows: list[Stretch] | tuple[Stretch, ...]) -> list[tuple[float, str]]:
        return [(row.seconds, row.chord) for row in rows]

    found = [
        (each.more, sounds([*each.course])) for each in recounts(alone, plan.layout.passes, course_of(plan))
    ]
    for more, changed in (
        (1, (10, "5.3", 8)),
        (1, (10, "4.3", 8)),
        (1, (10, "4.3", 7)),
        (2, (11, "4.3", 9)),
        (-1, (8, "3.3", 6)),
        (-2, (7, "4.3", 5)),
        (-2, (7, "2.3", 5)),
    ):
        assert (more, sounds(course(text.format(*changed)))) in found, (more, changed)


def test_a_chord_may_be_shorter_where_the_count_alone_leaves_no_room() -> None:
    """In eight bars 7 and -2 would be one place."""
    text = (
        "tempo: 120\nmeter: 4/4\nform: [{{section: A, bars: {}, harmony: {{1: B, {}: Am, {}: G, -2: B}}}}]\n"
    )
    alone = bars_alone(parse_spec(text.format(9, 5, 7), "piece.yaml"))
    plan = plan_spec(alone)
    found = [each.course for each in recounts(alone, plan.layout.passes, course_of(plan)) if each.more == -1]
    expected = [(row.seconds, row.chord) for row in course(text.format(8, 4, 6))]
    assert expected in [[(row.seconds, row.chord) for row in rows] for rows in found]


# What is heard


def tones(*hertz: float, seconds: float = 3.0) -> NDArray[np.float32]:
    times = np.arange(round(seconds * RATE)) / RATE
    waves = np.sin(2 * np.pi * np.array(hertz) * times[:, np.newaxis])
    return np.asarray(waves.mean(axis=1, keepdims=True), np.float32)


def test_pitch_classes_and_tuning_are_those_of_equal_temperament() -> None:
    """440 Hz is A, each half tone a factor of 2 ^ (1 / 12): ISO 16."""
    for off in (-0.3, 0.0, 0.2, 0.45):
        for key in (60, 64, 69, 71):
            heard = chroma.hear_chroma(
                tones(*(440 * 2 ** ((k + off - 69) / 12) for k in (key, key + 4, key - 24)))
            )
            middle = len(heard.treble) // 2
            assert {*np.argsort(heard.treble[middle])[-2:].tolist()} == {key % 12, (key + 4) % 12}
            assert int(heard.bass[middle].argmax()) == key % 12
            assert heard.tuning == pytest.approx(off, abs=0.1)


def test_a_sound_is_read_in_pieces(monkeypatch: pytest.MonkeyPatch) -> None:
    sound = np.concatenate(
        [tones(220, 277.18, 329.63), tones(110, 293.66, 440), np.zeros((RATE, 1), np.float32)]
    )
    whole = chroma.hear_chroma(sound)
    monkeypatch.setattr(chroma, "LISTENED", RATE // 3)
    shares: list[float] = []
    parts = chroma.hear_chroma(sound, shares.append)
    assert len(whole.treble) == 1 + 7 * chroma.RATE // chroma.HOP
    assert parts.treble == pytest.approx(whole.treble, abs=1e-3)
    assert parts.bass == pytest.approx(whole.bass, abs=1e-3)
    assert shares == sorted(shares)
    assert shares[-1] == 1
    assert not whole.treble[-5:].any(), "silence is no chord"


def test_a_chord_is_like_itself_most() -> None:
    names = ["C", "Cm", "G", "Am", "F#", "Bdim", "C/E"]
    chords = [found for found in map(chord_and_bass, names) if found]
    assert chords[-1] == (Chord(0, 4, 7), 4)
    sounds = {
        "C": (130.81 / 2, 261.63, 329.63, 392.0),
        "Am": (110.0, 261.63, 329.63, 440.0),
        "C/E": (82.41, 261.63, 329.63, 392.0),
        "F#": (92.5, 277.18, 369.99, 466.16),
    }
    for name, hertz in sounds.items():
        heard = chroma.hear_chroma(tones(*hertz))
        alike = likeness(heard, chords)[:, len(heard.treble) // 2]
        assert names[int(alike.argmax())] == name


def test_looking_from_the_middle_on_gives_the_score_of_the_whole(monkeypatch: pytest.MonkeyPatch) -> None:
    random = np.random.default_rng(3)
    strength = random.normal(0, 0.3, 3000).astype(np.float32)
    strength[100::25] += 2
    chords = np.cumsum(random.normal(0, 0.1, (4, 3001)), axis=1).astype(np.float32)
    heard = fit.Evidence(50.0, strength, chords)

    def expected(names: list[int]) -> fit.Expected:
        return fit.Expected(np.full(80, 0.52), np.array(names), np.ones(80, np.float32))

    names = [1 + index // 4 % 3 for index in range(80)]
    other = [*names[:30], *(3 - name % 3 for name in names[30:])]
    first = fit.lay(heard, expected(names), 2.0)
    laid = fit.lay(heard, expected(names), 2.0, first.tempo)
    assert np.abs(np.diff(laid.moments) - 25).mean() < 1, "the recording is 4 % faster than expected"
    whole = fit.lay(heard, expected(other), 2.0, first.tempo)
    monkeypatch.setattr(fit, "NARROW_BEAM", fit.BEAM)
    curve = laid.moments, laid.bests
    score, (_, bests) = fit.lay_from(heard, expected(other), laid, 30, curve, 1000.0)
    assert score == pytest.approx(whole.score, abs=0.01)
    assert bests == pytest.approx(whole.bests, abs=0.01)
    assert fit.lay_from(heard, expected(other), laid, 30, curve, -1000.0)[0] == -np.inf, (
        "hopeless from the start"
    )


# The command


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def checked(spec: str) -> tuple[int, str, str]:
    Path("piece.yaml").write_text(spec, encoding="utf-8")
    result = CliRunner().invoke(main, ["check", "piece.yaml", "--listen"], catch_exceptions=False)
    return result.exit_code, result.stdout, result.stderr


def test_the_command_tells_it(folder: Path, ferry: tuple[Take, Heard]) -> None:
    take, _ = ferry
    write_take(folder / "take.wav", take.sound)
    status, text, _ = checked(with_bars(FERRY, 0, 5).text(take.bar_one))
    assert status == 0
    told = text.splitlines()[-2:]
    assert told[0].startswith("take.wav: Quay seems to have 6 bars, not 5: from bar 5 on (0:")
    assert told[0].endswith(") the recording is a bar later. That is as good as certain.")
    status, text, _ = checked(FERRY.text(take.bar_one))
    assert status == 0
    assert "take.wav: as many bars as counted, as far as can be heard: Quay and Ferry" in text


def test_the_command_says_what_it_needs(folder: Path) -> None:
    status, _, errors = checked(FERRY.text())
    assert status == 1
    assert "names no recording to listen to. Write recording: take.flac and sync: {1: 0.532}." in errors
    write_take(folder / "take.wav", tones(440))
    status, _, errors = checked(FERRY.text() + "recording: take.wav\nsync: {5: 1.0}\n")
    assert status == 1
    assert "bar 1 is not in it, so no bars can be counted. Write where it is: sync: {1: 0.532}." in errors
    status, _, errors = checked(FERRY.text(1.0).replace("bars: 7", "bars: 2200"))
    assert status == 1
    assert "The piece lasts 67 minutes; bars can be compared in an hour of music." in errors
