"""What `spread` asks at its beginning and answers at its end, and what it says of a place that it points at."""

from collections.abc import Collection, Sequence
from fractions import Fraction
from itertools import pairwise
from typing import Literal, NamedTuple

from renderer.core.names import listed
from renderer.core.note_values import pulse_word
from renderer.schedule.phrases import Phrase, Phrases, sentence
from renderer.schedule.wording import count_of, mixed, repetition_text
from renderer.spec.model import Numbers
from renderer.timeline.model import Crossing, Figure, Repetition, Timeline

SpotKind = Literal["home", "crossing", "start", "place"]
Topic = Literal["home", "crossing", "start", "alike", "never", "count", "silence"]
"""What a spread tells: where repetitions are back on a downbeat, where the harmony turns in one, how each start slips,
that all starts are alike, that none comes back, how many there are, or that nothing is played."""


class Spot(NamedTuple):
    """A place of the music that stands out while all else steps back: where a repetition is back on a downbeat, where
    the harmony turns in it, where it starts, or any other place in it."""

    kind: SpotKind
    repetition: Repetition
    at: int
    """In ticks."""


def find_topic(
    timeline: Timeline, repetitions: Sequence[Repetition], spots: Sequence[Spot], without: Collection[str]
) -> Topic:
    """What there is to see at all, given the places that answer it."""
    if not repetitions:
        return "silence"
    if spots and spots[0].kind != "place":
        return spots[0].kind
    if slip_sentence(timeline, repetitions):
        return "alike"
    bars = {timeline.bar_at(repetition.at).number for repetition in repetitions}
    return "count" if "landings" in without or len(bars) == 1 else "never"


def spread_question(topic: Topic, repetitions: Sequence[Repetition]) -> Phrases:
    """What is asked while the bars are still empty."""
    figures = {repetition.statement.figure for repetition in repetitions}
    name = figures.pop() if len(figures) == 1 else None
    downbeat, chord = Phrase("downbeat", "meter"), Phrase("chord", "harmony")
    match topic:
        case "home":
            return sentence(
                "When does ", Phrase(name or "a repetition", "figure"), " start on a ", downbeat, " again?"
            )
        case "start" | "alike":
            return sentence("Where does each ", Phrase(name or "repetition", "figure"), " start?")
        case "crossing":
            return sentence("Where does the ", chord, " turn inside a ", Phrase("repetition", "figure"), "?")
        case "never":
            return sentence(
                "Does a ", Phrase("repetition", "figure"), " come back to a ", downbeat, " by itself?"
            )
        case "count":
            return sentence("How many ", Phrase("repetitions", "figure"), " are there?")
    return sentence("What is played in these bars?")


def spread_answer(
    timeline: Timeline, topic: Topic, repetitions: Sequence[Repetition], seen: Sequence[Spot], more: bool
) -> Phrases:
    """What the bars have shown, as far as it can be seen at the end: `seen` stands out, and `more` of its kind may
    follow."""
    bars = _bars([timeline.bar_at(spot.at).number for spot in seen]) if seen else Phrase("")
    match topic:
        case "home":
            return sentence("First back on a downbeat at " if more else "Back on a downbeat at ", bars, ".")
        case "crossing":
            return sentence(
                "The ", Phrase("chord", "harmony"), f"{' first' if more else ''} turns inside a repetition in ",
                bars, ", and the ", Phrase("rhythm", "figure"), " runs on.",
            )  # fmt: skip
        case "start" | "alike":
            return slip_sentence(timeline, repetitions)
        case "never":
            return sentence(
                "No ", Phrase("repetition", "figure"), " comes back to a ", Phrase("downbeat", "meter"),
                " by itself.",
            )  # fmt: skip
        case "count":
            return sentence(Phrase(count_of(len(repetitions), "repetition"), "figure"), " in all.")
    return sentence("Nothing: here is silence.")


def point_sentence(timeline: Timeline, spot: Spot, numbers: Numbers = "figure") -> Phrases:
    """What there is to see at a place."""
    repetition = spot.repetition
    bar = timeline.bar_at(repetition.at).number
    who = Phrase(repetition_text(repetition, numbers, capital=True), "figure")
    if spot.kind == "crossing":
        return sentence(who, ": ", *_turns(crossings_in(timeline, repetition), repetition), ".")
    place = ("the downbeat of ", Phrase(f"bar {bar}", "meter"))
    if spot.kind == "home":
        return sentence(who, " starts on ", *place, " again.")
    if not repetition.offset:
        return sentence(who, " starts on ", *place, ".")
    return sentence(who, f" starts {offset_text(timeline, repetition)} after ", *place, ".")


def offset_text(timeline: Timeline, repetition: Repetition) -> str:
    """How far after its bar's downbeat a repetition starts: `6 sixteenths`."""
    pulses = Fraction(repetition.offset, repetition.statement.pulse)
    return f"{mixed(pulses)} {pulse_word(timeline.whole(repetition.statement.pulse), pulses)}"


def crossings_in(timeline: Timeline, repetition: Repetition) -> list[Crossing]:
    """The changes of harmony inside a repetition."""
    return [
        crossing
        for crossing in timeline.crossings
        if crossing.voice == repetition.voice and crossing.repetition_number == repetition.number
    ]


def shares_of(timeline: Timeline, repetition: Repetition) -> list[Fraction]:
    """How many pulses of what sounds of a repetition lie in each harmony."""
    statement = repetition.statement
    edges = [
        0,
        *(crossing.into for crossing in crossings_in(timeline, repetition)),
        statement.sounding_length,
    ]
    return [Fraction(end - start, statement.pulse) for start, end in pairwise(edges)]


def _turns(crossings: Sequence[Crossing], repetition: Repetition) -> list[str | Phrase]:
    if len(crossings) > 1:
        return ["the ", Phrase("chord", "harmony"), f" turns {len(crossings)} times inside it"]
    (crossing,), statement = crossings, repetition.statement
    before, after = Phrase(crossing.before, "harmony"), Phrase(crossing.after, "harmony")
    whole = Fraction(statement.sounding_length, statement.pulse)
    return [
        before,
        " turns to ",
        after,
        f" after {mixed(Fraction(crossing.into, statement.pulse))} of {whole}",
    ]


def _bars(numbers: Sequence[int]) -> Phrase:
    bars = list(dict.fromkeys(map(str, numbers)))
    return Phrase(("bar " if len(bars) == 1 else "bars ") + listed(bars, "and"), "meter")


# How far each start is from the one before


def slip_sentence(timeline: Timeline, repetitions: Sequence[Repetition]) -> Phrases:
    """How far each start slips against the bars, where all of them slip alike; nothing where they do not."""
    found = _figure_and_bar(timeline, repetitions)
    if found is None:
        return ()
    figure, per_bar = found
    pulse = repetitions[0].statement.pulse
    bar = per_bar * pulse
    slips = {(after.offset - before.offset) % bar for before, after in pairwise(repetitions)}
    if slips - {figure.pulses * pulse % bar}:
        return ()
    total, whole_bar = Phrase(str(figure.pulses), "figure"), Phrase(str(per_bar), "meter")
    units = pulse_word(figure.pulse)
    if not figure.pulses % per_bar:
        offset = repetitions[0].offset
        where = f"{offset_text(timeline, repetitions[0])} after the downbeat" if offset else "on the downbeat"
        return sentence(total, " fits bars of ", whole_bar, f" {units}: every start is {where}.")
    if 2 * figure.pulses <= per_bar:
        return _short_slip(figure, per_bar, units)
    slip = -figure.pulses % per_bar
    short = slip <= per_bar / 2
    count = slip if short else per_bar - slip
    bars = (figure.pulses + slip) // per_bar if short else (figure.pulses - count) // per_bar
    length = "a bar of " if bars == 1 else f"{bars} bars of "
    return sentence(
        total, f" is {count} {'short of' if short else 'more than'} {length}", whole_bar,
        f" {units}: each start slips {'back' if short else 'on'} by {count}.",
    )  # fmt: skip


def _short_slip(figure: Figure, per_bar: int, units: str) -> Phrases:
    """The same for a figure that fits a bar at least twice."""
    count = (2 * per_bar + figure.pulses) // (2 * figure.pulses)
    slip = count * figure.pulses - per_bar
    total, whole_bar = Phrase(f"{count} x {figure.pulses}", "figure"), Phrase(str(per_bar), "meter")
    if not slip:
        return sentence(total, " fill a bar of ", whole_bar, f" {units}: every bar is alike.")
    way, much = ("on", "more") if slip > 0 else ("back", "less")
    return sentence(
        total, f" is {abs(slip)} {much} than a bar of ", whole_bar,
        f" {units}: every {count} starts slip {way} by {abs(slip)}.",
    )  # fmt: skip


def _figure_and_bar(timeline: Timeline, repetitions: Sequence[Repetition]) -> tuple[Figure, int] | None:
    """The one figure and the pulses of the one bar length of a stretch; None where there are several or they do not
    fit."""
    names = {repetition.statement.figure for repetition in repetitions}
    start, end = repetitions[0].at, repetitions[-1].end
    bars = {bar.meter.length for bar in timeline.bars if bar.at < end and bar.end > start and bar.number > 0}
    name = names.pop() if len(names) == 1 else None
    if name is None or len(bars) != 1 or len(repetitions) < 2:
        return None
    figure = timeline.figure(name)
    pulses = bars.pop() / figure.pulse
    return (figure, int(pulses)) if pulses.denominator == 1 else None
