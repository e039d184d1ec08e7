"""A figure's groups added up and what is left of its bar, as terms that come one after the other: worded, and laid out.

A sum stands on one line as large as it fits, beside what is left of the bar; like groups are taken together where that
is what lets it stand whole.
"""

from collections.abc import Sequence
from itertools import accumulate, groupby
from typing import NamedTuple

from renderer.core.note_values import pulse_word
from renderer.schedule.figure import Against, FigureSchedule
from renderer.schedule.wording import mixed
from renderer.timeline.model import Figure
from scenes.draw.look import Look
from scenes.draw.shapes import Words
from scenes.draw.sum_lines import number, sign, sum_places, sum_width

LEAST_SUM, REST_SHARE, REST_LEAST = 56.0, 0.65, 42.0
"""Type sizes: of the sum at least, and of what is left by that of the sum, and at least."""
BETWEEN = 60.0
"""Pixels between the sum and what is left."""
LINE, MOST_LINES = 1.15, 2
"""From one line of a long sum to the next, by its size."""


class Term(NamedTuple):
    """One number of the sum with the sign before it; it comes with the sum's start number `after`."""

    words: tuple[Words, ...]
    after: int


class PlacedTerm(NamedTuple):
    """A term where it stands."""

    term: Term
    x: float
    baseline: float
    size: float
    tight: float


class PlacedSum(NamedTuple):
    """A sum of one line that comes all at once."""

    words: tuple[Words, ...]
    x: float
    baseline: float
    size: float
    tight: float


class Brace(NamedTuple):
    """A length that is told."""

    left: float
    right: float
    y: float
    colour: str


def figure_sums(look: Look, figure: Figure) -> list[list[Term]]:
    """The figure's sum, from its fullest wording to the shortest: all groups, like ones taken together, the total."""
    amber, plus = look.figure_text, sign(look, "+")
    equals, total = sign(look, "="), number(str(figure.pulses), look.ink)
    last = len(figure.groups)
    if last == 1:
        pulses = Words(look.words.say(pulse_word(figure.pulse, figure.pulses)), look.mute)
        return [[Term((total,), 0), Term((pulses,), 1)]]
    plain = [
        Term((*([plus] if index else []), number(str(group), amber)), index)
        for index, group in enumerate(figure.groups)
    ]
    runs: list[Term] = []
    count = 0
    for group, same in groupby(figure.groups):
        times = len(list(same))
        count += times
        words = [plus] if runs else []
        if times > 1:
            words += [number(str(times), amber), sign(look, "×")]
        runs.append(Term((*words, number(str(group), amber)), count - 1))
    groups = Term((number(str(last), amber), Words(look.words.say("groups"), look.mute)), last - 1)
    closing = Term((equals, total), last)
    return [[*plain, closing], [*runs, closing], [groups, closing]]


def rest_words(look: Look, schedule: FigureSchedule) -> tuple[Words, ...]:
    """What is left of the bar as a sum, what lies over it, or how often the figure fits; nothing where it fills it."""
    against = schedule.against
    pulses, shown = number(str(against.pulses), look.ink), number(mixed(against.shown), look.meter_text)
    minus, times, equals = (sign(look, text) for text in "−×=")
    if against.late:
        under = number(mixed((against.bars - 1) * against.bar), look.meter_text)
        return (pulses, minus, under, equals, number(mixed(against.late), look.figure_text))
    fitting = number(str(against.fitting), look.figure_text)
    if against.early:
        of = (pulses,) if against.fitting == 1 else (fitting, times, pulses)
        return (shown, minus, *of, equals, number(mixed(against.early), look.meter_text))
    return (shown, equals, fitting, times, pulses) if against.fitting > 1 else ()


def _rest_short(look: Look, schedule: FigureSchedule) -> tuple[Words, ...]:
    """The same in one word, where a sum has no room."""
    against = schedule.against
    if against.late:
        return (number(mixed(against.late), look.figure_text), number("over", look.figure_text))
    if against.early:
        return (number(mixed(against.early), look.meter_text), number("left", look.meter_text))
    return ()


def lay_sums(
    look: Look,
    schedule: FigureSchedule,
    braces: Sequence[Brace],
    baseline: float,
    largest: float,
    tight: float,
    rise: float = 30.0,
) -> tuple[tuple[PlacedTerm, ...], PlacedSum | None]:
    """The sum as near under its brace as it stands whole, what is left of the bar beside it; else on several lines, the
    first of them `rise` pixels higher."""
    canvas = look.canvas
    sums, rest = figure_sums(look, schedule.figure), rest_words(look, schedule)
    wordings = [_rest_short(look, schedule)] if canvas.tall else [rest, _rest_short(look, schedule)]
    centres = _centres(schedule.against, braces)
    for terms in sums:
        if terms is sums[-1] and 1 < len(_break_terms(look, sums[0], LEAST_SUM, tight)) <= MOST_LINES:
            break
        flat = flat_words(terms)
        for words in wordings:
            size = largest
            while size >= LEAST_SUM:
                rest_size = max(REST_LEAST, size * REST_SHARE)
                widths = sum_width(flat, size, tight), sum_width(words, rest_size, tight)
                found = _side_by_side(look, widths, centres)
                if found is not None:
                    placed = place_line(terms, found[0], baseline, size, tight)
                    beside = PlacedSum(words, found[1], baseline, rest_size, tight) if words else None
                    return placed, beside
                size -= 4
    return _on_lines(look, sums[0], wordings[-1], baseline, tight, rise)


def _on_lines(
    look: Look, terms: Sequence[Term], rest: tuple[Words, ...], baseline: float, tight: float, rise: float
) -> tuple[tuple[PlacedTerm, ...], PlacedSum | None]:
    """A long sum on several lines, what is left of the bar after its last term or on a line of its own."""
    canvas, size, pitch = look.canvas, LEAST_SUM, LEAST_SUM * LINE
    lines = _break_terms(look, terms, size, tight)
    x = canvas.left + sum_width(flat_words(lines[-1]), size, tight) + BETWEEN
    own = bool(rest) and x + sum_width(rest, REST_LEAST, tight) > canvas.right
    below = len(lines) - 1 + own
    first = baseline - (below * pitch if canvas.tall else rise)
    placed = tuple(
        term
        for index, line in enumerate(lines)
        for term in place_line(line, canvas.left, first + index * pitch, size, tight)
    )
    if not rest:
        return placed, None
    return placed, PlacedSum(rest, canvas.left if own else x, first + below * pitch, REST_LEAST, tight)


def _centres(against: Against, braces: Sequence[Brace]) -> list[float]:
    """The middles under which the sum and what is left of the bar stand."""
    if len(braces) < 2 or against.late:
        return [(braces[0].left + braces[-1].right) / 2]
    return [(brace.left + brace.right) / 2 for brace in braces]


def flat_words(terms: Sequence[Term]) -> list[Words]:
    return [word for term in terms for word in term.words]


def _side_by_side(
    look: Look, widths: tuple[float, float], centres: Sequence[float]
) -> tuple[float, float] | None:
    """Where two sums begin on one line, each as near as can be to the middle of its brace; None without room."""
    canvas, (one, other) = look.canvas, widths
    apart = BETWEEN if other else 0.0
    if one + apart + other > canvas.right - canvas.left:
        return None
    x = min(max(centres[0] - one / 2, canvas.left), canvas.right - one)
    if not other:
        return x, 0.0
    aim = centres[1] - other / 2 if len(centres) > 1 else x + one + apart
    beside = min(max(aim, x + one + apart), canvas.right - other)
    return min(x, beside - apart - one), beside


def place_line(
    terms: Sequence[Term], x: float, baseline: float, size: float, tight: float
) -> tuple[PlacedTerm, ...]:
    """The terms of one line, each where its first number or sign begins."""
    places, _ = sum_places(flat_words(terms), size, tight)
    firsts = [0, *accumulate(len(term.words) for term in terms)]
    return tuple(
        PlacedTerm(term, x + places[first], baseline, size, tight)
        for term, first in zip(terms, firsts, strict=False)
    )


def _break_terms(look: Look, terms: Sequence[Term], size: float, tight: float) -> list[list[Term]]:
    """Terms on as many lines as they need."""
    room = look.canvas.right - look.canvas.left
    lines: list[list[Term]] = [[]]
    for term in terms:
        if lines[-1] and sum_width(flat_words([*lines[-1], term]), size, tight) > room:
            lines.append([])
        lines[-1].append(term)
    return lines
