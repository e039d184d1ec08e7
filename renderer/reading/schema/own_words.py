"""The shape of what a spec calls the things in its pictures."""

from collections.abc import Mapping
from functools import partial

from renderer.core import limits
from renderer.core.errors import KeyPath, Problem
from renderer.reading.scalars.parse import parse_label
from renderer.reading.schema.fields import Built, Field, ListOf, Record
from renderer.reading.schema.values import Values, label
from renderer.spec.words import NOUNS, PHRASES, OwnWords

_MOST = limits.OWN_WORD_CHARACTERS
_WORD = label("a word", partial(parse_label, most=_MOST), _MOST)
_ONE_AND_SEVERAL = ListOf(
    _WORD, 1, 2, "a word, or one and several of it,", single=True, mend="Write bar: measure, or [foot, feet]."
)


def _fields() -> Mapping[str, Field]:
    """One field for each fixed word; what has no plural takes one text."""
    nouns = {
        word: Field(_ONE_AND_SEVERAL, f"in place of {word}; several: by rule, or second") for word in NOUNS
    }
    return {**nouns, **{phrase: Field(_WORD, f"in place of {phrase}") for phrase in PHRASES}}


def _build(values: Values, path: KeyPath, problems: list[Problem]) -> OwnWords | None:
    if any(value is None for value in values.values()):
        return None
    return tuple((word, own if isinstance(own, tuple) else (own,)) for word, own in values.items())


WORDS = Built(
    Record(
        "a map of words",
        _fields(),
        mend="Write the pictures' word and your own: {figure: cycle, bar: measure}.",
    ),
    _build,
)
