"""The sentences that pictures say, worked out from the timeline."""

from collections.abc import Sequence
from fractions import Fraction
from math import lcm

from renderer.schedule.wording import COUNT_WORDS as COUNT_WORDS
from renderer.schedule.wording import count_of as count_of
from renderer.schedule.wording import mixed as mixed
from renderer.schedule.wording import pulse_word as pulse_word
from renderer.schedule.wording import sum_text
from renderer.timeline.model import Figure, Repetition, Timeline
from scenes.draw.look import BOLD, SEMIBOLD, Look
from scenes.draw.shapes import Words


def describe_figure(figure: Figure, meters: Sequence[str]) -> str:
    """A figure in one line: its name, its sum, its pulse, the meter it runs over."""
    over = f" over {meters[0]}" if len(set(meters)) == 1 else ""
    return f"{figure.name}: {sum_text(figure)} {pulse_word(figure.pulse, figure.pulses)}{over}"


def say_it(look: Look, figure: Figure) -> list[Words]:
    """The figure counted aloud, or what it lasts where that would be too long to say."""
    if figure.pulses > 16 or max(figure.groups) > len(COUNT_WORDS):
        return [
            Words(f"{count_of(len(figure.groups), 'group')}, ", look.ink),
            Words(f"{figure.pulses} {pulse_word(figure.pulse, figure.pulses)}", look.sail_one, BOLD),
            Words(".", look.ink),
        ]
    words = [Words("Say it:", look.ink)]
    for group in figure.groups:
        words.append(Words(" one", look.sail_one, BOLD))
        if group > 1:
            words.append(Words(" " + " ".join(COUNT_WORDS[1:group]), look.ink))
    return [*words, Words(".", look.ink)]


def wheel_question(look: Look, figure: Figure) -> list[Words]:
    """What is asked while a figure walks round the bar."""
    return [
        Words("When does ", look.ink),
        Words(figure.name, look.sail_one, SEMIBOLD),
        Words(" start on a ", look.ink),
        Words("downbeat", look.meter_text, SEMIBOLD),
        Words(" again?", look.ink),
    ]


def wheel_sentence(look: Look, count: int, turns: int, played: int) -> list[Words]:
    """How many repetitions last as long as how many bars, and whether the piece plays them all."""
    verb = " takes as long as " if count == 1 else " take as long as "
    words = [
        Words(count_of(count, "repetition"), look.sail_one, SEMIBOLD),
        Words(verb, look.ink),
        Words(count_of(turns, "bar"), look.meter_text, SEMIBOLD),
    ]
    if 0 < played < count:
        return [*words, Words(f"; the piece plays {played} of them.", look.ink)]
    return [*words, Words(".", look.ink)]


def slip_sentence(look: Look, timeline: Timeline, repetitions: Sequence[Repetition]) -> list[Words]:
    """How a figure runs against the bars: where it comes home, or how far each start slips."""
    if not repetitions:
        return []
    figure, bar = _figure_and_bar(timeline, repetitions)
    numbers = {repetition.number for repetition in repetitions}
    voice = repetitions[0].voice
    homes = [
        r.bar_number for r in timeline.realignments if r.voice == voice and r.repetition_number in numbers
    ]
    if figure is None or bar is None:
        return _home_bars(look, [Words("Back on a downbeat ", look.ink)], homes)
    pulses, per_bar = figure.pulses, int(bar / figure.pulse)
    if homes:
        cycle = lcm(pulses, per_bar)
        words = [
            Words("Home on a downbeat after ", look.ink),
            Words(count_of(cycle // pulses, "repetition"), look.sail_one, SEMIBOLD),
            Words(", ", look.ink),
            Words(count_of(cycle // per_bar, "bar"), look.meter_text, SEMIBOLD),
            Words(": ", look.ink),
        ]
        return _home_bars(look, words, homes)
    return _slip(look, pulses, per_bar)


def _slip(look: Look, pulses: int, per_bar: int) -> list[Words]:
    if 2 * pulses <= per_bar:
        return _short_slip(look, pulses, per_bar)
    slip = -pulses % per_bar
    short = slip <= per_bar / 2
    count = slip if short else per_bar - slip
    if not slip:
        return [
            Words(str(pulses), look.sail_one, BOLD),
            Words(" fits bars of ", look.ink),
            Words(str(per_bar), look.meter_text, BOLD),
            Words(": every start is on the downbeat.", look.ink),
        ]
    bars = (pulses + slip) // per_bar if short else (pulses - count) // per_bar
    whole = "a bar of " if bars == 1 else f"{bars} bars of "
    return [
        Words(str(pulses), look.sail_one, BOLD),
        Words(f" is {count} {'short of' if short else 'more than'} {whole}", look.ink),
        Words(str(per_bar), look.meter_text, BOLD),
        Words(f": each start slips {'back' if short else 'on'} by {count}.", look.ink),
    ]


def _short_slip(look: Look, pulses: int, per_bar: int) -> list[Words]:
    """The same for a figure that fits a bar at least twice."""
    count = (2 * per_bar + pulses) // (2 * pulses)
    slip = count * pulses - per_bar
    words = [
        Words(f"{count} x {pulses}", look.sail_one, BOLD),
        Words(
            " fill a bar of "
            if not slip
            else f" is {abs(slip)} {'more' if slip > 0 else 'less'} than a bar of ",
            look.ink,
        ),
        Words(str(per_bar), look.meter_text, BOLD),
    ]
    if not slip:
        return [*words, Words(": every bar is alike.", look.ink)]
    way = "on" if slip > 0 else "back"
    return [*words, Words(f": every {count} starts slip {way} by {abs(slip)}.", look.ink)]


def _home_bars(look: Look, words: list[Words], homes: Sequence[int]) -> list[Words]:
    if not homes:
        return []
    shown = [str(bar) for bar in (homes if len(homes) <= 4 else homes[:3])]
    if len(homes) > 4:
        listed = ", ".join(shown) + " and on"
    else:
        listed = shown[0] if len(shown) == 1 else ", ".join(shown[:-1]) + " and " + shown[-1]
    return [*words, Words(f"at {'bar' if len(shown) == 1 else 'bars'} {listed}.", look.ink)]


def _figure_and_bar(
    timeline: Timeline, repetitions: Sequence[Repetition]
) -> tuple[Figure | None, Fraction | None]:
    """The one figure and the one bar length of a stretch; None where there are several or they do not fit."""
    names = {repetition.statement.figure for repetition in repetitions}
    start, end = repetitions[0].at, repetitions[-1].end
    bars = {bar.meter.length for bar in timeline.bars if bar.at < end and bar.end > start and bar.number > 0}
    if len(names) != 1 or len(bars) != 1 or None in names:
        return None, None
    figure, bar = timeline.figure(str(names.pop())), bars.pop()
    return (figure, bar) if (bar / figure.pulse).denominator == 1 else (None, None)
