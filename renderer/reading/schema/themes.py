"""The shape of what a spec says of its look: a theme's name, or a theme with single values changed."""

import re
from fractions import Fraction
from functools import cache

from renderer.core.errors import KeyPath, Problem, ValueProblem
from renderer.core.names import quoted
from renderer.reading.scalars.parse import parse_number
from renderer.reading.schema.fields import Built, Field, Later, Record, Scalar
from renderer.reading.schema.values import Values, choice
from renderer.spec.model import ThemeSpec
from renderer.spec.themes import DEFAULT_THEME, RED_SHARE, faint_pairs, red_share, theme_names, theme_values

_COLOUR = re.compile(r"#[0-9A-Fa-f]{6}")
ALLOW_RED = "saturated_red"
LEAST_TYPE = 34
"""Type sizes go no lower: capitals of 22 pixels at 1080 lines."""


def parse_colour(text: str) -> str:
    """A colour as #RRGGBB."""
    word = text.strip()
    if not _COLOUR.fullmatch(word):
        raise ValueProblem(
            f"got {quoted(text)}; a colour is # and six digits or letters A to F.",
            'Write it in quotes, such as "#FFC56B".',
        )
    return word.upper()


def parse_size(text: str) -> float:
    """A type size in pixels of a picture of 1080 lines."""
    rule = f"a type size is {LEAST_TYPE} to 200"
    return float(parse_number(text.strip(), Fraction(LEAST_TYPE), Fraction(200), rule))


def parse_width(text: str) -> float:
    """A line's width in pixels of a picture of 1080 lines."""
    return float(parse_number(text.strip(), Fraction(1), Fraction(24), "a width is 1 to 24"))


_COLOUR_SHAPE = Scalar(
    parse_colour, 'a colour such as "#FFC56B"', {"type": "string", "pattern": "^#[0-9A-Fa-f]{6}$"}
)
_SIZE_SHAPE = Scalar(parse_size, "a type size", {"type": ["number", "string"]})
_WIDTH_SHAPE = Scalar(parse_width, "a width in pixels", {"type": ["number", "string"]})


def _fields() -> dict[str, Field]:
    """One field for each value of the default theme that a spec may change."""
    names = theme_names()
    fields = {
        "from": Field(choice(" or ".join(names), names), "the theme to begin from"),
        ALLOW_RED: Field(choice("yes or no", ("yes", "no")), "yes: saturated reds are intended"),
    }
    for name, value in theme_values(DEFAULT_THEME).items():
        if isinstance(value, str):
            fields[name] = Field(_COLOUR_SHAPE, f"a colour; {value} in {DEFAULT_THEME}")
        elif name.startswith("size_"):
            fields[name] = Field(_SIZE_SHAPE, f"a type size; {value} in {DEFAULT_THEME}")
        elif name.startswith("width_"):
            fields[name] = Field(_WIDTH_SHAPE, f"a line's width; {value} in {DEFAULT_THEME}")
    return fields


def _build_changes(values: Values, path: KeyPath, problems: list[Problem]) -> ThemeSpec | None:
    if any(value is None for value in values.values()):
        return None
    changes = {name: value for name, value in values.items() if name not in ("from", ALLOW_RED)}
    if values.get(ALLOW_RED) != "yes":
        for name, value in changes.items():
            if isinstance(value, str) and red_share(value) >= RED_SHARE:
                text = f"{name} is a saturated red; where such a red flashes it can harm viewers."
                mend = f"Choose another colour, or write {ALLOW_RED}: yes if you know what it does."
                problems.append(Problem((*path, name), text, mend))
    origin = values.get("from", DEFAULT_THEME)
    for above, below, ratio, least in faint_pairs({**theme_values(origin), **changes}):
        changed = above if above in changes else below
        text = f"{above} on {below} has a contrast of {ratio:.1f}; it needs {least:g} to be seen."
        problems.append(Problem((*path, changed), text, "Choose a lighter or darker colour."))
    return ThemeSpec(origin, tuple(changes.items()))


@cache
def _theme() -> Built[Values, ThemeSpec]:
    return Built(Record("a theme", _fields(), text="from"), _build_changes)


THEME: Later[ThemeSpec] = Later(_theme)
