"""The sentences that pictures say, worked out from the timeline."""

from renderer.schedule.wording import COUNT_WORDS as COUNT_WORDS
from renderer.schedule.wording import count_of as count_of
from renderer.schedule.wording import mixed as mixed
from renderer.schedule.wording import pulse_word as pulse_word
from renderer.timeline.model import Figure
from scenes.draw.look import BOLD, SEMIBOLD, Look
from scenes.draw.shapes import Words


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
