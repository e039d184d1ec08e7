"""The sentences that pictures say, worked out from the timeline."""

from renderer.schedule.wording import COUNT_WORDS as COUNT_WORDS
from renderer.schedule.wording import count_of as count_of
from renderer.schedule.wording import mixed as mixed
from renderer.schedule.wording import pulse_word as pulse_word
from renderer.timeline.model import Figure
from scenes.draw.look import BOLD, Look
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
