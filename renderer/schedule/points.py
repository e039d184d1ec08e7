"""What a picture points at: repetitions and places, one after another, each with a name for its step."""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import NamedTuple

from renderer.core.errors import Problem
from renderer.core.names import counted
from renderer.core.note_values import pulse_word
from renderer.schedule.phrases import Phrase, Phrases, sentence
from renderer.schedule.spans import choose_spans, choose_voice
from renderer.schedule.spread_sentences import Spot, point_sentence
from renderer.schedule.wording import mixed, repetition_text
from renderer.spec.model import Numbers, PointSpec, Position, SegmentSpec
from renderer.timeline.model import Repetition, Timeline


class Pointed(NamedTuple):
    """A place to turn to: what its step is called, what there is to see, and what is said of it."""

    name: str
    spot: Spot
    phrases: Phrases


def find_points(timeline: Timeline, options: SegmentSpec) -> tuple[Pointed, ...]:
    """What a segment points at, in its order. Raises KeyError for what `check_points` tells."""
    stretches = choose_spans(timeline, options)
    shown = _shown(timeline, options, stretches)
    found = []
    for point in options.point:
        spot = _spot(timeline, options, point, shown)
        if not isinstance(spot, Spot):
            raise KeyError(point.text)
        found.append(Pointed(_name(point), spot, _sentence(timeline, spot, options.numbers)))
    return tuple(found)


def check_points(timeline: Timeline, options: SegmentSpec) -> Iterator[Problem]:
    """What a segment points at and does not show."""
    stretches = choose_spans(timeline, options)
    shown = _shown(timeline, options, stretches)
    for point in options.point:
        spot = _spot(timeline, options, point, shown)
        if isinstance(spot, Problem):
            yield spot


def _shown(
    timeline: Timeline, options: SegmentSpec, stretches: Sequence[tuple[int, int]]
) -> list[Repetition]:
    """The repetitions of the voice that sound in what is shown."""
    voice = choose_voice(timeline, options.voice)
    own = (each for each in timeline.repetitions if each.voice == voice)
    return [each for each in own if any(a < each.end and each.at < b for a, b in stretches)]


def _spot(
    timeline: Timeline, options: SegmentSpec, point: PointSpec, shown: Sequence[Repetition]
) -> Spot | Problem:
    if point.position is not None:
        return _place(timeline, options, point, point.position, shown)
    by_number = point.by_number or options.numbers == "piece"
    stretches = choose_spans(timeline, options)
    shown = [each for each in shown if any(start <= each.at < end for start, end in stretches)]
    for each in shown:
        if point.repetition == (each.number if by_number else each.counted):
            return _repetition_spot(timeline, each)
    numbers = [each.number if by_number else each.counted for each in shown]
    known = [number for number in numbers if number is not None]
    text = f"there is no repetition {point.text} in what is shown."
    if not known:
        return Problem(point.path, text, "No repetition is shown there.")
    sign = "#" if point.by_number else ""
    return Problem(point.path, text, f"They are {sign}{min(known)} to {sign}{max(known)}.")


def _repetition_spot(timeline: Timeline, repetition: Repetition) -> Spot:
    """What there is to see of a repetition: that it is back on a downbeat, that the harmony turns in it, or where it
    starts."""
    own = repetition.voice, repetition.number
    if any((each.voice, each.repetition_number) == own for each in timeline.realignments):
        return Spot("home", repetition, repetition.at)
    turns = [each.at for each in timeline.crossings if (each.voice, each.repetition_number) == own]
    if turns:
        return Spot("crossing", repetition, turns[0])
    return Spot("start" if repetition.offset else "place", repetition, repetition.at)


def _place(
    timeline: Timeline,
    options: SegmentSpec,
    point: PointSpec,
    position: Position,
    shown: Sequence[Repetition],
) -> Spot | Problem:
    at = _tick(timeline, position)
    if at is None:
        last = counted(timeline.bars[-1].number, "bar")
        mend = f"The piece has {last}; a place is written as bar 9, or 9.3 for its third beat."
        return Problem(point.path, f"there is no {point.text}.", mend)
    if not any(start <= at < end for start, end in choose_spans(timeline, options)):
        return Problem(point.path, f"{point.text} is not shown.", "Point at what the segment shows.")
    sounding = next((each for each in shown if each.at <= at < each.end), None)
    if sounding is None:
        return Problem(
            point.path, f"nothing is played at {point.text}.", "Point at a place where a figure sounds."
        )
    return Spot("place", sounding, at)


def _tick(timeline: Timeline, position: Position) -> int | None:
    """A position in ticks; None where the piece has none."""
    last = timeline.bars[-1].number
    number = position.bar if position.bar >= 0 else last + 1 + position.bar
    beats = [beat for beat in timeline.beats if (beat.bar_number, beat.number) == (number, position.beat)]
    if not beats or (position.pulse and not timeline.pulse):
        return None
    at = beats[0].at + ((position.pulse or 1) - 1) * (timeline.pulse or 0)
    return at if at < beats[0].end else None


def _name(point: PointSpec) -> str:
    """What its step is called: `repetition 12`, `repetition #40`, `bar 9`, `bar 13.3`."""
    if point.position is None:
        return f"repetition {'#' if point.by_number else ''}{point.repetition}"
    return f"bar {point.text}"


def _sentence(timeline: Timeline, spot: Spot, numbers: Numbers) -> Phrases:
    return (
        point_sentence(timeline, spot, numbers)
        if spot.kind != "place"
        else place_sentence(timeline, spot, numbers)
    )


def place_sentence(timeline: Timeline, spot: Spot, numbers: Numbers) -> Phrases:
    """What sounds at a place: `Bar 13.3 is 4 sixteenths into repetition 18.`"""
    repetition = spot.repetition
    place = Phrase(f"{place_words(timeline, spot.at, capital=True)}", "meter")
    who = Phrase(repetition_text(repetition, numbers), "figure")
    into = Fraction(spot.at - repetition.at, repetition.statement.pulse)
    if not into:
        return sentence("On ", Phrase(place_words(timeline, spot.at), "meter"), " begins ", who, ".")
    unit = pulse_word(timeline.whole(repetition.statement.pulse), into)
    return sentence(place, f" is {mixed(into)} {unit} into ", who, ".")


def place_words(timeline: Timeline, at: int, capital: bool = False) -> str:
    """A place in words: `the downbeat of bar 9`, `beat 3 of bar 13`, with the pulses after it."""
    beat = timeline.beat_at(at)
    name = "the downbeat" if beat.number == 1 else f"beat {beat.number}"
    text = f"{name} of bar {beat.bar_number}"
    if at > beat.at:
        text = f"a place in beat {beat.number} of bar {beat.bar_number}"
    return text[0].upper() + text[1:] if capital else text
