"""Bare texts to values: numbers, fractions, positions, meters, tempi, seconds, rows of hits, labels.

Each `parse_` function takes the text as it stands in the spec and raises ValueProblem, with limit and mend, for what
it can't take. Numbers are exact and of bounded length; nothing is rounded.
"""

import re
import unicodedata
from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple

from renderer.core import limits
from renderer.core.errors import ValueProblem
from renderer.core.names import quoted
from renderer.reading.scalars.suggest import (
    hits_mend,
    meter_mend,
    position_mend,
    pulse_mend,
    tempo_mend,
    times_mend,
)
from renderer.spec.meter import Meter
from renderer.spec.model import BarRange, PointSpec, Position, Tempo

_MINUS = "\u2212"
_DIGITS = f"[0-9]{{1,{limits.DIGITS}}}"
_WHOLE = re.compile(f"-?{_DIGITS}")
_NUMBER = re.compile(f"-?(?:{_DIGITS})(?:\\.{_DIGITS})?")
_RATIO = re.compile(f"({_DIGITS}) ?/ ?({_DIGITS})")
_POSITION = re.compile(f"(-?{_DIGITS})(?:\\.({_DIGITS}))?(?:\\.({_DIGITS}))?")
_RANGE = re.compile(r"(-?\d+)(?:(?: +to +| *[-–] *)(-?\d+))?")
_POINT = re.compile(f"(#?)({_DIGITS})")
_METER = re.compile(r"([0-9]{1,4}) ?/ ?([0-9]{1,4})(?: +in +([0-9]{1,4}(?: *\+ *[0-9]{1,4})*))?")
_CLOCK = re.compile(f"(?:([0-9]{{1,4}}):)?([0-9]{{1,4}}):([0-5]?[0-9](?:\\.{_DIGITS})?)")
_RUN_INTO = re.compile(r"(-?[0-9]+(?:\.[0-9]+)*):(.+)")


def parse_label(text: str, most: int = limits.LABEL_CHARACTERS) -> str:
    """A name or a title: 1 to `most` characters on one line."""
    label = unicodedata.normalize("NFC", text.strip())
    if not label:
        raise ValueProblem("got an empty text.", "Write a word.")
    if len(label) > most:
        raise ValueProblem(f"got {len(label)} characters; there is room for {most}.", "Shorten it.")
    if not label.isprintable():
        raise ValueProblem(f"got {quoted(text)}; this must be one line.", "Remove line breaks and tabs.")
    return label


def parse_title(text: str) -> str:
    """The piece's title."""
    return parse_label(text, limits.TITLE_CHARACTERS)


def parse_thumbnail(text: str) -> str:
    """The words on a thumbnail."""
    label = parse_label(text, limits.THUMBNAIL_CHARACTERS)
    if len(label.split()) > limits.THUMBNAIL_WORDS:
        raise ValueProblem(
            f"got {len(label.split())} words; there is room for {limits.THUMBNAIL_WORDS}.", "Shorten it."
        )
    return label


def parse_harmony(text: str) -> str:
    """A harmony, as written: `Em`, `F♯m7`, `N.C.`."""
    label = parse_label(text)
    if match := _RUN_INTO.fullmatch(label):
        where, harmony = match.groups()
        raise ValueProblem(
            f"got {quoted(label)}, position and harmony in one.",
            f"Write {{{where}: {harmony.strip()}}}, with a space after the colon.",
        )
    return label


def parse_whole(text: str, least: int, most: int, rule: str, mend: str | None = None) -> int:
    """A whole number from `least` to `most`; `rule` says so in words."""
    plain = text.strip().replace(_MINUS, "-")
    if not _WHOLE.fullmatch(plain) or not least <= int(plain) <= most:
        raise ValueProblem(f"got {quoted(text)}; {rule}.", mend)
    return int(plain)


def parse_bars(text: str) -> int:
    """A section's number of bars."""
    plain = text.strip()
    if plain.isdecimal() and plain.isascii() and int(plain) > limits.BARS:
        raise ValueProblem(f"got {quoted(text)}; a piece has at most {limits.BARS:,} bars.")
    whole = _WHOLE.fullmatch(plain.replace(_MINUS, "-"))
    rule = "a section has at least 1 bar" if whole else "bars is a whole number, at least 1"
    return parse_whole(text, 1, limits.BARS, rule)


def parse_number(
    text: str, least: Fraction, most: Fraction, rule: str, written: str | None = None
) -> Fraction:
    """A number, `112` or `3.5`, from `least` to `most`; `rule` says so in words. `written` is all that stands
    there, where `text` is a part of it."""
    plain = text.strip().replace(_MINUS, "-")
    number = _exact(plain) if _NUMBER.fullmatch(plain) else None
    if number is None or not _within(number, least, most):
        mend = (
            f"Write {plain.replace(',', '.')}."
            if _NUMBER.fullmatch(plain.replace(",", ".")) and "," in plain
            else None
        )
        raise ValueProblem(f"got {quoted(written or text)}; {rule}.", mend)
    return number


def _exact(number: str, whole: int = 0) -> Fraction:
    """A decimal number as a fraction, `whole` more. A spec may hold tens of thousands: no arithmetic on Fraction."""
    before, _, behind = number.partition(".")
    scale = 10 ** len(behind)
    return Fraction(whole * scale + int(before + behind), scale)


def _within(number: Fraction, least: Fraction, most: Fraction) -> bool:
    above, below = number.numerator, number.denominator
    return (
        least.numerator * below <= above * least.denominator
        and above * most.denominator <= most.numerator * below
    )


def parse_ratio(text: str) -> Fraction | None:
    """`3/8` as a fraction above 0; None if it is none."""
    match = _RATIO.fullmatch(text.strip())
    if match is None:
        return None
    above, below = int(match[1]), int(match[2])
    return _fraction(above, below) if above and below else None


@lru_cache(maxsize=4096)
def _fraction(above: int, below: int) -> Fraction:
    """One object for each fraction: beats and notes are few, and a spec may name them by the thousand."""
    return Fraction(above, below)


def parse_pulse(text: str) -> Fraction:
    """A pulse as a fraction of a whole note: `1/16`, or `1/12` for a triplet eighth."""
    pulse = Fraction(1) if text.strip() == "1" else parse_ratio(text)
    if pulse is None or pulse > limits.PULSE_MOST or pulse.denominator > limits.PULSE_DENOMINATOR:
        smallest = f"1/{limits.PULSE_DENOMINATOR}"
        raise ValueProblem(
            f"got {quoted(text)}; a pulse is a fraction of a whole note, 1/1 to {smallest}.",
            pulse_mend(text.strip()),
        )
    return pulse


def parse_pickup(text: str) -> Fraction:
    """The length of a pick-up, in whole notes."""
    pickup = parse_ratio(text)
    if pickup is None or pickup > limits.METER_COUNT or pickup.denominator > limits.PULSE_DENOMINATOR:
        raise ValueProblem(
            f"got {quoted(text)}; a pick-up's length is a fraction of a whole note.",
            "Write 1/4 for one quarter, 3/8 for three eighths.",
        )
    return pickup


def parse_times(text: str) -> Fraction:
    """How often a figure is played: a whole number or a fraction, `3`, `3.5` or `7/2`."""
    ratio = parse_ratio(text)
    least, most = _fraction(1, limits.FIGURE_PULSES), _fraction(limits.TIMES, 1)
    if ratio is not None and _within(ratio, least, most):
        return ratio
    rule = f"times is a number above 0, at most {limits.TIMES:,}"
    if not _NUMBER.fullmatch(text.strip()) and (mend := times_mend(text.strip())):
        raise ValueProblem(f"got {quoted(text)}; {rule}.", mend)
    return parse_number(text, least, most, rule)


class First(NamedTuple):
    """So many pulses, or groups, from the start of a figure."""

    amount: int
    groups: bool


def parse_first(text: str) -> First:
    """How much of a figure: `5` or `5 pulses`, `1 group`, `2 groups`.

    >>> parse_first("2 groups"), parse_first("5")
    (First(amount=2, groups=True), First(amount=5, groups=False))
    """
    number, _, unit = text.strip().partition(" ")
    rule = f"first is a number of pulses, 1 to {limits.TIMES:,}, or of groups"
    if unit.strip() not in ("", "pulse", "pulses", "group", "groups"):
        raise ValueProblem(f"got {quoted(text)}; {rule}.", "Write 5 for five pulses, or 2 groups.")
    count = parse_whole(number, 1, limits.TIMES, rule, "Write 5 for five pulses, or 2 groups.")
    return First(count, unit.strip().startswith("group"))


def parse_position(text: str) -> Position:
    """`bar`, `bar.beat` or `bar.beat.pulse`: `9`, `9.3`, `12.4.3`, `-4`.

    >>> parse_position("9.10")
    Position(bar=9, beat=10, pulse=None)
    """
    match = _POSITION.fullmatch(text.strip().replace(_MINUS, "-"))
    if match is None:
        raise ValueProblem(
            f"got {quoted(text)}; a position is a bar, bar.beat or bar.beat.pulse.",
            position_mend(text.strip()),
        )
    bar, beat, pulse = int(match[1]), int(match[2] or 1), int(match[3]) if match[3] else None
    if beat < 1 or pulse == 0:
        raise ValueProblem(
            f"got {quoted(text)}; beats and pulses count from 1.", f"Write {bar}.1 for the downbeat."
        )
    return Position(bar, beat, pulse)


def parse_range(text: str) -> BarRange:
    """Bars from one to another, both included: `35-38`, `35 to 38`, `-4 to -1`; one bar alone: `9`.

    >>> parse_range("35-38"), parse_range("-4 to -1"), parse_range("9")
    (BarRange(first=35, last=38), BarRange(first=-4, last=-1), BarRange(first=9, last=9))
    """
    match = _RANGE.fullmatch(text.strip().replace(_MINUS, "-"))
    if match is None:
        wrong = f"got {quoted(text)}; a range is bars from one to another, or one bar."
        raise ValueProblem(wrong, "Write 35-38, -4 to -1, or 9.")
    first, last = int(match[1]), int(match[2] or match[1])
    if (first < 0) == (last < 0) and last < first:
        forwards = f"{last}-{first}" if last > 0 else f"{last} to {first}"
        raise ValueProblem(f"got {quoted(text)}; a range runs forwards.", f"Write {forwards}.")
    return BarRange(first, last)


def parse_mark_place(text: str) -> Position | BarRange:
    """Where a mark stands: bars, `17-20` or `9`, or a place inside a bar, `9.3`."""
    if "." not in text and _RANGE.fullmatch(text.strip().replace(_MINUS, "-")):
        return parse_range(text)
    try:
        return parse_position(text)
    except ValueProblem:
        wrong = f"got {quoted(text)}; a mark stands at a position or over bars."
        raise ValueProblem(wrong, "Write 9, 9.3, 17-20, or -4 to -1.") from None


def parse_point(text: str) -> PointSpec:
    """What a picture points at: `12`, `#40`, `bar 9`, `13.3`.

    >>> parse_point("#40").repetition, parse_point("bar 9").position
    (40, Position(bar=9, beat=1, pulse=None))
    """
    plain = text.strip()
    match = _POINT.fullmatch(plain)
    if match and int(match[2]):
        return PointSpec(int(match[2]), bool(match[1]), None, match[2])
    where = plain.removeprefix("bar ").strip()
    if match is None and (where != plain or "." in plain):
        try:
            return PointSpec(None, False, parse_position(where), where)
        except ValueProblem:
            pass
    wrong = f"got {quoted(text)}; a point is a repetition or a place."
    raise ValueProblem(wrong, 'Write 12 for repetition 12, "#40" for number 40 of its voice, bar 9, or 13.3.')


def parse_seconds(text: str, most: int, rule: str) -> Fraction:
    """Seconds, `26.94`, or `m:ss.s`, from 0 to `most`."""
    plain = text.strip()
    if match := _CLOCK.fullmatch(plain):
        hours, minutes, rest = match.groups()
        seconds = _exact(rest, int(hours or 0) * 3600 + int(minutes) * 60)
        if seconds.numerator <= most * seconds.denominator:
            return seconds
    return parse_number(plain, _fraction(0, 1), _fraction(most, 1), rule)


def parse_recording_seconds(text: str) -> Fraction:
    """A place in the recording."""
    rule = f"a place in the recording is seconds or m:ss.s, 0 to {limits.RECORDING_SECONDS:,} seconds"
    return parse_seconds(text, limits.RECORDING_SECONDS, rule)


def parse_fermata_seconds(text: str) -> Fraction:
    """How much longer a fermata stands."""
    rule = f"a fermata adds seconds, more than 0 and at most {limits.FERMATA_SECONDS}"
    seconds = parse_seconds(text, limits.FERMATA_SECONDS, rule)
    if not seconds:
        raise ValueProblem(f"got {quoted(text)}; {rule}.")
    return seconds


def parse_speed(text: str) -> Fraction:
    """A speed in per cent of the tempo, `75` or `75 %`, as a share of it."""
    plain = text.strip().removesuffix("%").strip()
    least = Fraction(limits.SPEED_LEAST)
    rule = f"a speed is {limits.SPEED_LEAST} to 100 per cent of the tempo"
    if _NUMBER.fullmatch(plain) and 0 < Fraction(plain) <= 1:
        raise ValueProblem(f"got {quoted(text)}; {rule}.", f"Write {Fraction(plain) * 100} %.")
    return parse_number(plain, least, Fraction(100), rule, text) / 100


@lru_cache(maxsize=4096)
def parse_tempo(text: str) -> Tempo:
    """Quarter notes a minute, `112`, or a metronome mark, `3/8 = 76`.

    >>> parse_tempo("3/8 = 76").quarters
    Fraction(114, 1)
    """
    note, equals, number = text.partition("=")
    length = parse_ratio(note) if equals else _fraction(1, 4)
    rule = f"a tempo is {limits.TEMPO_LEAST} to {limits.TEMPO_MOST:,} quarter notes a minute"
    plain = (number if equals else text).strip()
    quarters = _exact(plain) * (length * 4) if length and _NUMBER.fullmatch(plain) else None
    least, most = _fraction(limits.TEMPO_LEAST, 1), _fraction(limits.TEMPO_MOST, 1)
    if quarters is None or not _within(quarters, least, most):
        raise ValueProblem(f"got {quoted(text)}; {rule}.", tempo_mend(text.strip()))
    return Tempo(quarters)


@lru_cache(maxsize=4096)
def parse_meter(text: str) -> Meter:
    """A meter with its felt beats: `4/4`, `6/8 in 2`, `7/8 in 2+2+3`, `4/4 in 8`.

    Without `in` the beats are the lower number's; `in N` makes N equal ones, `in a+b+c` so many units each.
    """
    match = _METER.fullmatch(text.strip())
    if match is None:
        raise ValueProblem(
            f"got {quoted(text)}; a meter is two numbers, and the beats felt in it.", meter_mend(text.strip())
        )
    count, unit = int(match[1]), int(match[2])
    if unit not in limits.METER_UNITS or not 1 <= count <= limits.METER_COUNT:
        raise ValueProblem(
            f"got {quoted(text)}; a meter's upper number is 1 to {limits.METER_COUNT}, "
            f"its lower one of {', '.join(map(str, limits.METER_UNITS))}.",
        )
    shares = [int(share) for share in match[3].split("+")] if match[3] else []
    beats = _beats(count, unit, shares)
    name = f"{count}/{unit}" + (f" in {'+'.join(map(str, shares))}" if shares else "")
    return Meter(count, unit, beats, name)


def _beats(count: int, unit: int, shares: list[int]) -> tuple[Fraction, ...]:
    if not shares:
        return (_fraction(1, unit),) * count
    if len(shares) == 1:
        if not 1 <= shares[0] <= limits.METER_COUNT:
            raise ValueProblem(f"got in {shares[0]}; a bar has 1 to {limits.METER_COUNT} beats.")
        return (_fraction(count, unit * shares[0]),) * shares[0]
    if 0 in shares or sum(shares) != count:
        added = "+".join(map(str, shares))
        raise ValueProblem(
            f"got {added}, which is {sum(shares)}; the beats of {count}/{unit} add up to {count}.",
            f"Write each beat, at least 1, in units of 1/{unit}.",
        )
    lengths = {share: _fraction(share, unit) for share in set(shares)}
    return tuple([lengths[share] for share in shares])


class Hits(NamedTuple):
    """A row of hits as read: groups, and pulse numbers from 1."""

    groups: tuple[int, ...]
    hits: tuple[int, ...]
    accents: tuple[int, ...]


def parse_hits(text: str) -> Hits:
    """`X..x. xx. x...`: `x` a hit, `X` an accented hit, `.` nothing; a space separates groups.

    >>> parse_hits("X.. x.")
    Hits(groups=(3, 2), hits=(1, 4), accents=(1,))
    """
    row = "".join(text.split())
    strange = sorted(set(row) - set("xX."))
    if strange or not row:
        raise ValueProblem(
            f"got {quoted(text)}; hits are written with x, X and . only.",
            hits_mend(" ".join(text.split())),
        )
    if len(row) > limits.FIGURE_PULSES:
        raise ValueProblem(f"got {len(row)} pulses; a figure has at most {limits.FIGURE_PULSES}.")
    hits = tuple(number for number, mark in enumerate(row, 1) if mark != ".")
    if not hits:
        raise ValueProblem("got no hit; a figure has at least one.", "For silence write {rest: 4} in plays.")
    accents = tuple(number for number, mark in enumerate(row, 1) if mark == "X")
    return Hits(tuple(len(group) for group in text.split()), hits, accents)
