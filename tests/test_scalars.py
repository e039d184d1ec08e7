"""Bare texts to values, and what is told of texts that are none."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from renderer.core.errors import ValueProblem
from renderer.reading.scalars.parse import (
    Hits,
    parse_bars,
    parse_fermata_seconds,
    parse_harmony,
    parse_hits,
    parse_label,
    parse_meter,
    parse_pickup,
    parse_position,
    parse_pulse,
    parse_recording_seconds,
    parse_tempo,
    parse_times,
    parse_whole,
)
from renderer.spec.model import Position


@pytest.mark.parametrize(
    ("text", "position"),
    [
        ("9", Position(9)),
        ("9.3", Position(9, 3)),
        ("9.10", Position(9, 10)),
        ("9.1", Position(9, 1)),
        ("12.4.3", Position(12, 4, 3)),
        ("-4", Position(-4)),
        ("\u22121.2", Position(-1, 2)),
        ("0.4", Position(0, 4)),
        ("010", Position(10)),
    ],
)
def test_positions_are_bar_beat_and_pulse(text: str, position: Position) -> None:
    assert parse_position(text) == position


@pytest.mark.parametrize(
    "text", ["", "x", "1.", ".3", "1.2.3.4", "1.0", "1.2.0", "1.-2", "1e3", "1" * 10, "١"]
)
def test_what_is_no_position_is_refused(text: str) -> None:
    with pytest.raises(ValueProblem):
        parse_position(text)


@pytest.mark.parametrize(
    ("text", "mend"),
    [
        ("2,3", "Write a position with a point: 2.3."),
        ("2:3", "Write a position with a point: 2.3."),
        ("12 4 3", "Write a position with a point: 12.4.3."),
        ("1-4", "Write 1: what is said there holds until the next entry."),
        ("bar 9, beat 3", "Write 9.3."),
        ("1:Em", "Write a space after the colon: 1: Em."),
        ("soon", "Write 9, 9.3 or 9.3.2; -1 is the last bar."),
    ],
)
def test_what_was_meant_for_a_position_is_told(text: str, mend: str) -> None:
    with pytest.raises(ValueProblem) as caught:
        parse_position(text)
    assert caught.value.mend == mend


@pytest.mark.parametrize(
    ("text", "beats"),
    [
        ("4/4", ["1/4"] * 4),
        ("6/8", ["1/8"] * 6),
        ("6/8 in 2", ["3/8"] * 2),
        ("4/4 in 2", ["1/2"] * 2),
        ("4/4 in 8", ["1/8"] * 8),
        ("7/8 in 2+2+3", ["2/8", "2/8", "3/8"]),
        ("5/8 in 1", ["5/8"]),
        ("7/8 in 2", ["7/16", "7/16"]),
        ("12/8  in  3+3+3+3", ["3/8"] * 4),
    ],
)
def test_meters_have_felt_beats_that_fill_the_bar(text: str, beats: list[str]) -> None:
    meter = parse_meter(text)
    assert meter.beats == tuple(map(Fraction, beats))
    assert sum(meter.beats) == meter.length
    assert meter.text == " ".join(text.split())


@pytest.mark.parametrize(
    ("text", "told", "mend"),
    [
        (
            "4",
            "got 4; a meter is two numbers, and the beats felt in it.",
            "Write 4/4, 6/8 in 2, or 7/8 in 2+2+3.",
        ),
        ("2+2+3/8", "got 2+2+3/8; a meter is two numbers, and the beats felt in it.", "Write 7/8 in 2+2+3."),
        (
            "7/8 in 2+2+2",
            "got 2+2+2, which is 6; the beats of 7/8 add up to 7.",
            "Write each beat, at least 1, in units of 1/8.",
        ),
        (
            "4/5",
            "got 4/5; a meter's upper number is 1 to 64, its lower one of 1, 2, 4, 8, 16, 32, 64.",
            None,
        ),
        ("4/4 in 0", "got in 0; a bar has 1 to 64 beats.", None),
    ],
)
def test_what_is_no_meter_is_told_with_its_mend(text: str, told: str, mend: str | None) -> None:
    with pytest.raises(ValueProblem) as caught:
        parse_meter(text)
    assert (caught.value.text, caught.value.mend) == (told, mend)


def test_a_tempo_is_quarters_a_minute_in_every_meter() -> None:
    assert parse_tempo("112").quarters == 112
    assert parse_tempo("112.5").quarters == Fraction(225, 2)
    # A dotted quarter at 60 is a quarter at 90: W3C MusicXML 4.0, its example of a metronome mark.
    assert parse_tempo("3/8 = 60").quarters == 90
    assert parse_tempo("1/2=66").quarters == 132


@pytest.mark.parametrize(
    "text", ["0", "0.9", "1001", "1e9", "-112", "fast", "3/0 = 60", "= 60", "3/8 =", "nan", "inf"]
)
def test_a_tempo_out_of_range_is_refused_with_the_range(text: str) -> None:
    with pytest.raises(ValueProblem, match="a tempo is 1 to 1,000 quarter notes a minute"):
        parse_tempo(text)


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("0.532", "133/250"),
        ("81.4", "407/5"),
        ("1:30", "90"),
        ("2:05.25", "501/4"),
        ("1:02:03", "3723"),
        ("75:10", "4510"),
    ],
)
def test_places_in_a_recording_are_seconds_or_minutes_and_seconds(text: str, seconds: str) -> None:
    assert parse_recording_seconds(text) == Fraction(seconds)


@pytest.mark.parametrize("text", ["1:60", "-1", "1:", ":30", "86401", "24:00:01", "1:30:", "soon"])
def test_what_is_no_place_in_a_recording_is_refused(text: str) -> None:
    with pytest.raises(ValueProblem, match=r"seconds or m:ss\.s"):
        parse_recording_seconds(text)


def test_a_fermata_adds_something() -> None:
    assert parse_fermata_seconds("2") == 2
    with pytest.raises(ValueProblem, match="more than 0 and at most 600"):
        parse_fermata_seconds("0")


def test_a_row_of_hits_gives_groups_hits_and_accents() -> None:
    assert parse_hits("X..x. xx. x...") == Hits((5, 3, 4), (1, 4, 6, 7, 9), (1,))
    assert parse_hits("x") == Hits((1,), (1,), ())


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("5", "got 5; hits are written with x, X and . only."),
        ("X-x", "got X-x; hits are written with x, X and . only."),
        ("", 'got ""; hits are written with x, X and . only.'),
        ("....", "got no hit; a figure has at least one."),
        ("x" * 201, "got 201 pulses; a figure has at most 200."),
    ],
)
def test_what_is_no_row_of_hits_is_refused(text: str, told: str) -> None:
    with pytest.raises(ValueProblem) as caught:
        parse_hits(text)
    assert caught.value.text == told


def test_pulses_and_pickups_are_fractions_of_a_whole_note() -> None:
    assert parse_pulse("1/12") == Fraction(1, 12)
    assert parse_pulse("1") == 1
    assert parse_pickup("3/8") == Fraction(3, 8)
    for text in ("0", "1/0", "0/4", "5/4", "1/2000", "0.25", "sixteenth", "-1/8"):
        with pytest.raises(ValueProblem, match="a pulse is a fraction of a whole note, 1/1 to 1/1024"):
            parse_pulse(text)


def test_times_may_be_a_fraction() -> None:
    assert [parse_times(text) for text in ("3", "3.5", "7/2")] == [3, Fraction(7, 2), Fraction(7, 2)]
    for text in ("0", "-1", "1/0", "100001", "three"):
        with pytest.raises(ValueProblem):
            parse_times(text)


def test_a_decimal_comma_is_told_with_its_mend() -> None:
    with pytest.raises(ValueProblem) as caught:
        parse_times("3,5")
    assert caught.value.mend == "Write 3.5."


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("0", "got 0; a section has at least 1 bar."),
        ("-3", "got -3; a section has at least 1 bar."),
        ("twelve", "got twelve; bars is a whole number, at least 1."),
        ("1000000000", "got 1000000000; a piece has at most 100,000 bars."),
        ("9" * 60, f"got {'9' * 49}…; a piece has at most 100,000 bars."),
        ("1.5", "got 1.5; bars is a whole number, at least 1."),
        ("0x10", "got 0x10; bars is a whole number, at least 1."),
        ("1_000", "got 1_000; bars is a whole number, at least 1."),
    ],
)
def test_what_is_no_number_of_bars_is_refused(text: str, told: str) -> None:
    with pytest.raises(ValueProblem) as caught:
        parse_bars(text)
    assert caught.value.text == told


def test_a_number_with_zeros_in_front_is_decimal() -> None:
    assert parse_bars("010") == 10


@pytest.mark.parametrize("text", ["N.C.", "F♯m7(♭5)", "3.1", "010", "on", "C/E", "Bb13#11", "a" * 40])
def test_a_harmony_is_kept_as_written(text: str) -> None:
    assert parse_harmony(text) == text


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "got an empty text."),
        ("  ", "got an empty text."),
        ("a" * 41, "got 41 characters; there is room for 40."),
        ("a\nb", "got a b; this must be one line."),
    ],
)
def test_what_is_no_label_is_refused(text: str, told: str) -> None:
    with pytest.raises(ValueProblem) as caught:
        parse_label(text)
    assert caught.value.text == told


def test_labels_match_however_their_accents_are_encoded() -> None:
    assert parse_label("e\u0301tude") == parse_label("\u00e9tude")


def test_position_and_harmony_in_one_word_are_told_apart() -> None:
    with pytest.raises(ValueProblem) as caught:
        parse_harmony("1:Em")
    assert caught.value.mend == "Write {1: Em}, with a space after the colon."


@given(st.text())
def test_any_text_gives_a_value_or_a_fault(text: str) -> None:
    for parse in (
        parse_position,
        parse_meter,
        parse_tempo,
        parse_hits,
        parse_pulse,
        parse_pickup,
        parse_times,
        parse_bars,
        parse_recording_seconds,
        parse_harmony,
        lambda text: parse_whole(text, 1, 9, "1 to 9"),
    ):
        told = "a value"
        try:
            parse(text)
        except ValueProblem as fault:
            told = fault.text
        assert told
        assert "\n" not in told


@given(st.integers(-999, 999), st.integers(1, 64), st.integers(1, 64))
def test_positions_are_read_back_as_written(bar: int, beat: int, pulse: int) -> None:
    assert parse_position(f"{bar}.{beat}.{pulse}") == Position(bar, beat, pulse)
