"""Sentences as schedules know them: plain text in stretches, each with what it speaks of, without a look.

A step stays as long as its sentence takes to read, so the words are made here; their colours are a picture's.
"""

from typing import Literal, NamedTuple

Role = Literal["plain", "figure", "meter", "harmony"]
"""What a stretch of a sentence speaks of."""


class Phrase(NamedTuple):
    """A stretch of a sentence."""

    text: str
    role: Role = "plain"


Phrases = tuple[Phrase, ...]


def sentence(*stretches: str | Phrase) -> Phrases:
    """A sentence of stretches; a bare text speaks of nothing in particular.

    >>> sentence("Bar ", Phrase("9", "meter"), ".")
    (Phrase(text='Bar ', role='plain'), Phrase(text='9', role='meter'), Phrase(text='.', role='plain'))
    """
    return tuple(Phrase(stretch) if isinstance(stretch, str) else stretch for stretch in stretches)


def text_of(phrases: Phrases) -> str:
    """A sentence as plain text."""
    return "".join(phrase.text for phrase in phrases)
