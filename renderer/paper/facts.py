"""What a handout says first: a few sentences about the piece, each number from the timeline."""

from collections.abc import Iterator

from renderer.core.names import last_of
from renderer.core.note_values import pulse_word
from renderer.paper.counting import count_text, pulse_words, pulses_of
from renderer.schedule.fit_sum import add_up, section_parts
from renderer.schedule.parts_sentences import parts_answer
from renderer.schedule.phrases import Phrase, Phrases, sentence
from renderer.schedule.wording import count_of, number_word
from renderer.timeline.model import Figure, Repetition, Timeline
from renderer.timeline.sides import find_nobody, part_names

MOST_FACTS, MOST_FIGURES, MOST_NAMED = 3, 3, 4


def facts(timeline: Timeline) -> tuple[Phrases, ...]:
    """The first three that apply: figures and bars; where they come round; crossings; what is left over; who gives up
    the meter. A stretch that speaks of something is one to be printed bold."""
    found = (fact for make in (_figures, _round, _crossings, _left_over, _sides) for fact in make(timeline))
    return tuple(fact for fact, _ in zip(found, range(MOST_FACTS), strict=False))


def head_fact(timeline: Timeline) -> str:
    """`32 bars of 4/4, ♩ = 112, counted in sixteenths`, without the tempo's sign."""
    bars = timeline.bars[-1].number
    meters = list(dict.fromkeys(bar.meter.text for bar in timeline.bars))
    said = meters[0] if len(meters) == 1 else f"{meters[0]} and other meters"
    return f"{count_of(bars, 'bar')} of {said}"


def tempo_text(timeline: Timeline) -> str:
    """The first tempo, in quarters a minute; a fraction to two places."""
    quarters = timeline.tempo[0].quarters
    return str(quarters) if quarters.denominator == 1 else f"{float(quarters):.2f}".rstrip("0").rstrip(".")


def counted_in(timeline: Timeline) -> str:
    """`counted in sixteenths`, if the piece has a pulse."""
    return f"counted in {pulse_words(timeline, timeline.pulse)}" if timeline.pulse else ""


def played_figures(timeline: Timeline) -> tuple[Figure, ...]:
    """The figures that are played, in the order in which they first are, whatever the voice."""
    played = sorted(timeline.repetitions, key=lambda repetition: repetition.at)
    names = dict.fromkeys(row.statement.figure for row in played if row.statement.figure)
    return tuple(timeline.figure(name) for name in names)


def groups_text(figure: Figure) -> str:
    """`5 + 3 + 3`, which no line parts."""
    return "\xa0+\xa0".join(map(str, figure.groups))


def _figures(timeline: Timeline) -> Iterator[Phrases]:
    figures = played_figures(timeline)
    if not figures:
        return
    stretches: list[str | Phrase] = []
    for number, figure in enumerate(figures[:MOST_FIGURES]):
        bars = _bars_with(timeline, figure)
        name = figure.name if number else figure.name[:1].upper() + figure.name[1:]
        pulses = f"{number_word(figure.pulses)} {pulse_word(figure.pulse, figure.pulses)}"
        stretches += ["; then " if number else "", Phrase(name, "figure"), f", {pulses}"]
        if 1 < len(figure.groups) <= 12:
            stretches += [" in groups of " if not number else " in ", Phrase(groups_text(figure), "figure")]
        stretches += [", is heard in " if not number else ", in ", Phrase(count_of(bars, "bar"), "meter")]
    more = len(figures) - MOST_FIGURES
    yield sentence(*stretches, f"; and {count_of(more, 'more figure')}." if more > 0 else ".")


def _bars_with(timeline: Timeline, figure: Figure) -> int:
    """In how many bars a figure sounds."""
    bars: set[int] = set()
    for row in timeline.repetitions:
        if row.statement.figure == figure.name:
            first, last = timeline.bar_at(row.at).number, timeline.bar_at(row.end - 1).number
            bars |= set(range(first, last + 1))
    return len(bars)


def _round(timeline: Timeline) -> Iterator[Phrases]:
    homes = (
        [row for row in timeline.realignments if row.voice == timeline.voices[0]] if timeline.voices else []
    )
    if not homes:
        return
    by_number = {row.number: row for row in timeline.repetitions if row.voice == timeline.voices[0]}
    first = by_number[homes[0].repetition_number]
    places: list[str | Phrase] = []
    for number, home in enumerate(homes[:MOST_NAMED]):
        row = by_number[home.repetition_number]
        name = "" if row.statement.figure == first.statement.figure else f"{row.statement.figure} "
        on = "starts on the downbeat of bar " if not number else "on that of bar "
        places += [", " if number else "", Phrase(f"{name}{count_text(row)}", "figure"), f" {on}"]
        places += [Phrase(str(home.bar_number), "meter")]
    more = len(homes) - MOST_NAMED
    end = f", and {count_of(more, 'more time')}." if more > 0 else "."
    yield sentence(f"{_capital(first.statement.figure)} comes round: repetition ", *places, end)


def _capital(text: str | None) -> str:
    return text[:1].upper() + text[1:] if text else ""


def _crossings(timeline: Timeline) -> Iterator[Phrases]:
    count = len(timeline.crossings)
    if count:
        times = "Once" if count == 1 else f"{number_word(count, capital=True)} times"
        yield sentence(
            Phrase(times, "harmony"),
            " the chord turns in the middle of a repetition, and the rhythm runs on.",
        )


def _left_over(timeline: Timeline) -> Iterator[Phrases]:
    for section in timeline.sections:
        for voice in timeline.voices[:1]:
            parts = section_parts(timeline, section, voice)
            over = add_up(parts).over
            last = parts[-1].repetition
            if over and last is not None and parts[-1].kind == "cut":
                room = pulses_of(parts[-1].end - parts[-1].at, last.statement.pulse)
                whole = pulses_of(last.statement.length, last.statement.pulse)
                yield sentence(
                    "At the end of ",
                    Phrase(section.name, "meter"),
                    f" {last_of(last.statement.figure or 'tail')} is cut: ",
                    Phrase(f"{room} of {whole}", "figure"),
                    " sound.",
                )
                return


def _sides(timeline: Timeline) -> Iterator[Phrases]:
    names = part_names(timeline)
    spans = [(timeline.start, timeline.end)]
    nobody = next(iter(find_nobody(timeline, names, spans)), None)
    if nobody is not None:
        yield parts_answer(timeline, names, nobody, spans)


def own_figure(timeline: Timeline) -> tuple[Figure, Repetition] | None:
    """The figure that the worksheet and the practice card are about: the first that is played whole in the first voice,
    with its first whole repetition."""
    for row in timeline.repetitions:
        statement = row.statement
        if row.voice == timeline.voices[0] and statement.kind == "whole" and statement.figure:
            return timeline.figure(statement.figure), row
    return None
