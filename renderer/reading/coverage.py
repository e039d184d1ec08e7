"""Which characters the fonts of the install have, so that one that can't be drawn is reported at once."""

from collections.abc import Iterator
from functools import cache

from renderer.core.errors import KeyPath, Problem
from renderer.core.installed import ASSETS
from renderer.spec.model import Spec

FACE = "SourceSans3.ttf"
FALLBACKS = ("DejaVuSans.ttf", "DejaVuSans-Bold.ttf")
"""What the face lacks is taken from these, by weight: only what both have can be drawn."""


def missing_characters(text: str) -> list[str]:
    """The characters of a text that no font of the install has, each once."""
    if text.isascii():
        return []
    return [mark for mark in dict.fromkeys(text) if ord(mark) not in _characters()]


def check_labels(spec: Spec) -> list[Problem]:
    """The labels of a spec that can't be drawn."""
    problems = []
    for path, text in _labels(spec):
        if missing := missing_characters(text):
            named = ", ".join(f"{mark} (U+{ord(mark):04X})" for mark in missing[:4])
            mend = "Write it with letters that the fonts have: Latin, Greek, Cyrillic and a few more scripts."
            problems.append(Problem(path, f"the fonts have no {named}.", mend))
    return problems


def _labels(spec: Spec) -> Iterator[tuple[KeyPath, str]]:
    yield ("title",), spec.title
    if spec.thumbnail:
        yield ("thumbnail",), spec.thumbnail
    yield from ((("words", word), shown) for word, own in spec.words for shown in own)
    yield from ((figure.path, figure.name) for figure in spec.figures)
    yield from ((("parts", part), part) for part in spec.parts)
    yield from ((entry.path, value) for entry in spec.harmony for value in entry.values)
    yield from ((mark.path, mark.text) for mark in spec.marks)
    for section in spec.form:
        yield (*section.path, "section"), section.name or ""
        yield from ((entry.path, value) for entry in section.harmony or () for value in entry.values)
        yield from (((*section.path, "voices", voice), voice) for voice in section.plays or ())
        yield from ((mark.path, mark.text) for mark in section.marks or ())
    for segment in spec.segments:
        yield from ((line.path, line.text) for line in segment.say)
        yield (*segment.path, "title"), segment.title or ""
        yield (*segment.path, "line"), segment.line or ""
        yield from (
            ((*segment.path, "list", number), text) for number, text in enumerate(segment.entries or ())
        )


@cache
def _characters() -> frozenset[int]:
    face, *fallbacks = ({*_face(name)} for name in (FACE, *FALLBACKS))
    return frozenset(face | set.intersection(*fallbacks))


def _face(name: str) -> set[int]:
    import uharfbuzz as hb

    unicodes: set[int] = set(hb.Face(hb.Blob((ASSETS / "fonts" / name).read_bytes())).unicodes)
    return unicodes
