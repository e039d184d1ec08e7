"""The fixed words of the pictures, and a teacher's own words in their place."""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

NOUNS: Mapping[str, str] = {
    "figure": "figures",
    "meter": "meters",
    "repetition": "repetitions",
    "tail": "tails",
    "bar": "bars",
    "beat": "beats",
    "downbeat": "downbeats",
    "pulse": "pulses",
    "group": "groups",
    "accent": "accents",
    "hit": "hits",
    "chord": "chords",
    "harmony": "harmonies",
    "rhythm": "rhythms",
    "section": "sections",
    "part": "parts",
    "piece": "pieces",
    "side": "sides",
    "list": "lists",
    "line": "lines",
    "place": "places",
    "sail": "sails",
    "post": "posts",
    "note": "notes",
    "half": "halves",
    "quarter": "quarters",
    "eighth": "eighths",
    "sixteenth": "sixteenths",
    "thirty-second": "thirty-seconds",
    "triplet": "triplets",
}
"""One of it -> several of it. Each is a key of `words`, and what the pictures say where it is not given."""
PHRASES: tuple[str, ...] = (
    "hit inside a group",
    "chord turns inside a repetition",
    "accent on a downbeat",
    "starts on a downbeat again",
    "one sail is one repetition",
    "changes sides",
    "who keeps what",
    "nobody",
    "silent",
    "silence",
    "dotted",
    "next, if it went on",
    "if it ran on",
    "by itself",
    "played",
    "not played",
    "left over",
    "cut off",
    "runs on",
    "over it",
    "before the line",
    "one too many",
    "counted more slowly",
)
"""What has no plural. As above."""
FIXED_WORDS: tuple[str, ...] = (*NOUNS, *PHRASES)
"""All that may be called otherwise."""
OTHER_SENSES: Mapping[str, str] = {
    "eighth": r"(?<![Tt]he )(?<![Ee]very )eighth(?! (?:accent|group|start|one)\b)",
    "half": r"(?:(?<=\b[Aa] )|(?<=dotted ))half",
}
"""Where a note value is told from the number that is written like it: the eighth group, the half repetition."""
_VOWEL = re.compile(r"(?i)(?!eu|one\b|once\b)[aeio]|u(?!ni|s[eu])|hour|honest")

OwnWords = tuple[tuple[str, tuple[str, ...]], ...]
"""Fixed word -> one of it, and several of it where that is written too."""


def plural_of(word: str) -> str:
    """Several of a thing, as English usually says it.

    >>> plural_of("turn"), plural_of("box"), plural_of("body"), plural_of("clay")
    ('turns', 'boxes', 'bodies', 'clays')
    """
    if re.search(r"(?i)(?:s|x|z|ch|sh)$", word):
        return f"{word}es"
    return f"{word[:-1]}ies" if re.search(r"(?i)[^aeiou]y$", word) else f"{word}s"


def fixed_pattern(words: Iterable[str] = FIXED_WORDS) -> str:
    """A regular expression that finds these words, one or several of each, also with a capital; longer ones first."""
    forms = [form for word in words for form in dict.fromkeys((word, NOUNS.get(word, word)))]
    ordered = sorted(forms, key=len, reverse=True)
    return "|".join(_with_capital(form) for form in ordered)


def _with_capital(form: str) -> str:
    if form in OTHER_SENSES:
        return OTHER_SENSES[form]
    return f"[{form[0]}{form[0].upper()}]{re.escape(form[1:])}"


@dataclass(frozen=True)
class Vocabulary:
    """What the pictures call things: a teacher's own words, and the names in the spec, which stay as they are."""

    own: OwnWords = ()
    names: frozenset[str] = frozenset()

    def say(self, text: str) -> str:
        """A text of the pictures in these words.

        >>> Vocabulary((("bar", ("orbit",)), ("repetition", ("turn",)))).say("Bar 9 has 2 repetitions. A bar of 11.")
        'Orbit 9 has 2 turns. An orbit of 11.'
        >>> Vocabulary((("bar", ("measure",)),), frozenset({"Tin bar"})).say("Tin bar, bars 1 to 8")
        'Tin bar, measures 1 to 8'
        """
        return self.say_all((text,))[0]

    def say_all(self, texts: Sequence[str]) -> tuple[str, ...]:
        """The stretches of a sentence in these words: as many; a phrase that lies over several of them stands in its
        first one."""
        if not self.own:
            return tuple(texts)
        said = list(texts)
        edges = [0]
        for text in texts:
            edges.append(edges[-1] + len(text))
        for start, end, shown in reversed(self._changes("".join(texts))):
            for index in reversed(range(len(said))):
                first, last = max(start, edges[index]), min(end, edges[index + 1])
                if first < last:
                    here = shown if edges[index] <= start else ""
                    text, base = said[index], edges[index]
                    said[index] = text[: first - base] + here + text[last - base :]
        return tuple(said)

    @property
    def clashing(self) -> tuple[str, ...]:
        """The names that are themselves a fixed word which is to be called otherwise: they stay everywhere."""
        fixed = fixed_pattern(word for word, _ in self.own)
        return tuple(sorted(name for name in self.names if re.fullmatch(fixed, name))) if self.own else ()

    def _changes(self, text: str) -> list[tuple[int, int, str]]:
        """What is to be said otherwise: from where to where, and how."""
        changes = []
        for match in self._pattern.finditer(text):
            form = match["form"]
            if form is None:
                continue
            shown = self._shown[form[0].lower() + form[1:]]
            if match["article"]:
                article = "an" if _VOWEL.match(shown) else "a"
                changes.append((*match.span("article"), _as_begun(article, match["article"])))
            changes.append((*match.span("form"), _as_begun(shown, form)))
        return changes

    @cached_property
    def _shown(self) -> dict[str, str]:
        shown = {}
        for word, (one, *several) in self.own:
            shown[word] = one
            if word in NOUNS:
                shown[NOUNS[word]] = several[0] if several else plural_of(one)
        return shown

    @cached_property
    def _pattern(self) -> re.Pattern[str]:
        fixed = fixed_pattern(word for word, _ in self.own)
        hides = re.compile(rf"(?<!\w)(?:{fixed})(?!\w)")
        names = sorted(filter(hides.search, self.names), key=len, reverse=True)
        kept = "".join(f"{re.escape(name)}|" for name in names)
        return re.compile(rf"(?<!\w)(?:{kept}(?:(?P<article>[Aa]n?) )?(?P<form>{fixed}))(?!\w)")


def _as_begun(word: str, form: str) -> str:
    """A word with a capital where what it stands for has one."""
    return word[0].upper() + word[1:] if form[0].isupper() else word


USUAL_WORDS = Vocabulary()
"""Where a spec says nothing."""
