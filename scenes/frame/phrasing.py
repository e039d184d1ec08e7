"""A schedule's sentence in the colours of what it speaks of."""

from collections.abc import Sequence

from renderer.schedule.phrases import Phrases
from scenes.draw.look import BOLD, SEMIBOLD, Look
from scenes.draw.shapes import Words


def colour_phrases(look: Look, phrases: Phrases) -> tuple[Words, ...]:
    """The stretches of a sentence as words; what speaks of the figure, the meter or the harmony is bold."""
    colours = {"figure": look.figure_text, "meter": look.meter_text, "harmony": look.harmony}
    return tuple(
        Words(text, colours.get(role, look.ink), SEMIBOLD if role == "plain" else BOLD)
        for text, role in phrases
    )


def say_stretches(look: Look, stretches: Sequence[Words]) -> tuple[Words, ...]:
    """A sentence in what the spec calls things."""
    texts = look.words.say_all([stretch.text for stretch in stretches])
    return tuple(each._replace(text=text) for each, text in zip(stretches, texts, strict=True) if text)
