"""The shape of a segment: which shows there are and which options each takes."""

from collections.abc import Collection, Mapping
from fractions import Fraction
from functools import partial
from typing import Any

from renderer.core import limits
from renderer.core.errors import KeyPath, Problem, ValueProblem
from renderer.core.names import listed, nearest_mend, quoted
from renderer.reading.scalars.parse import parse_label, parse_point, parse_range, parse_speed
from renderer.reading.schema.fields import Built, ByKind, Field, ListOf, Named, Record, Scalar, Shape
from renderer.reading.schema.sound import CLICK, SEGMENT_SOUND
from renderer.reading.schema.values import Values, choice, label, whole
from renderer.reading.yaml.nodes import Node, Pairs, Text
from renderer.schedule.shows import SHOWS
from renderer.spec.model import SaySpec, SegmentSpec, VoiceFile

MOST_TIMES = 50
"""Times round in a film for practice."""
MOST_POINTS = 20
"""Places that one segment points at."""
_ATTRIBUTES = {"crossing": "crossings", "list": "entries"}
"""Where a key has another name in a SegmentSpec."""


_ONE_AND_SEVERAL = {"section": "sections", "sections": "section"}
_SAID_FOR = {
    **dict.fromkeys(SHOWS, "show"),
    **dict.fromkeys(("subtitle", "text"), "line"),
    **dict.fromkeys(("loop", "repeat", "repeats"), "times"),
    **dict.fromkeys(("items", "points"), "list"),
    **dict.fromkeys(("caption", "captions", "words"), "say"),
    "tempo": "speed",
}
"""What a key of a segment is also called -> the key."""


def _one_or_several(key: str, values: Values, options: Collection[str]) -> str | None:
    """`sections: Bank` for `section: Bank`, and the other way round where it is one."""
    other, named = _ONE_AND_SEVERAL.get(key), values[key]
    name = named[0] if isinstance(named, tuple) and len(named) == 1 else named
    return (
        f"Write {other}: {name}."
        if other in options and other not in values and isinstance(name, str)
        else None
    )


def parse_show(text: str) -> str:
    """The name of a segment that can be drawn."""
    show = text.strip()
    if show in SHOWS:
        return show
    raise ValueProblem(f"unknown segment {quoted(text)}.", nearest_mend(show, tuple(SHOWS)))


def _build_segment(values: Values, path: KeyPath, problems: list[Problem]) -> SegmentSpec | None:
    show = values.get("show")
    if show is None:
        return None
    options, leaves_out = SHOWS[show].options, SHOWS[show].leaves_out
    strangers = [key for key in values if key not in ("show", "say", *options)]
    for key in strangers:
        takes = f"It takes {listed((*options, 'say'), 'and')}."
        mend = _one_or_several(key, values, options) or takes
        problems.append(Problem((*path, key), f"{show} takes no {key}.", mend, on_key=True))
    # What is wrong is left out, so that the rest can still be checked: all errors are reported at once.
    known = {
        key: value for key, value in values.items() if key not in ("show", *strangers) and value is not None
    }
    for number, word in enumerate(known.get("without", ())):
        if word not in leaves_out:
            mend = f"It can leave out {listed(leaves_out, 'and')}."
            problems.append(Problem((*path, "without", number), f"{show} can't leave out {word}.", mend))
    if "bars" in known and "sections" in known:
        wrong, mend = "bars can't be used with sections.", "Choose sections or bars."
        problems.append(Problem((*path, "bars"), wrong, mend, on_key=True))
    given = {_ATTRIBUTES.get(key, key): value for key, value in known.items()}
    return SegmentSpec(show, path, **{"speed": Fraction(1), **given})


def _line_of_card(wanted: str, most: int) -> Scalar[str]:
    return label(wanted, partial(parse_label, most=most), most)


def _build_line(values: Values, path: KeyPath, problems: list[Problem]) -> SaySpec | None:
    """A line with its voice file, or one of the two."""
    if not values or any(value is None for value in values.values()):
        return None
    file = VoiceFile(values["file"], (*path, "file")) if "file" in values else None
    return SaySpec(values.get("line", ""), None, (*path, "line" if "line" in values else "file"), file)


def _build_steps(
    steps: dict[str, SaySpec | None], path: KeyPath, problems: list[Problem]
) -> tuple[SaySpec, ...]:
    return tuple(line._replace(step=step) for step, line in steps.items() if line is not None)


_SAID = label("a line", partial(parse_label, most=limits.SAID_CHARACTERS), limits.SAID_CHARACTERS)
_LINE: Shape[SaySpec] = ByKind(
    "a line, or line and file",
    text=Built(_SAID, lambda text, path, problems: SaySpec(text, None, path)),
    pairs=Built(
        Record(
            "a line of say",
            {
                "line": Field(_SAID, "what is said; without it there is no caption"),
                "file": Field(
                    label("a file's name", partial(parse_label, most=400), 400),
                    "a sound file in which it is spoken, beside the spec; its length is how long it takes",
                ),
            },
            one_of=("line", "file"),
            one_of_mend="Write line: Count with me, or file: count.wav.",
        ),
        _build_line,
    ),
)
SAY: Shape[tuple[SaySpec, ...]] = ByKind(
    "lines, or steps with their lines",
    rows=ListOf(_LINE, 1, limits.SEGMENTS, "a list of lines"),
    pairs=Built(Named(_LINE, limits.SEGMENTS, "a map of steps"), _build_steps),
)


_SAID_OTHERWISE = {"yes": "true", "on": "true", "no": "false", "off": "false"}
STAFF: Scalar[bool] = Scalar(
    lambda text: choice("true or false", ("true", "false"), _SAID_OTHERWISE).parse(text) == "true",
    "true or false",
    {"enum": [True, False, "true", "false", *_SAID_OTHERWISE]},
)
"""Whether a figure's groups stand on a staff."""

_WITHOUT_WORDS = tuple(sorted({word for show in SHOWS.values() for word in show.leaves_out}))
_WITHOUT = choice(listed(_WITHOUT_WORDS), _WITHOUT_WORDS)

_CROSSING = whole(1, limits.TIMES, "a crossing's number is 1 or more")


def _parse_crossing(text: str) -> tuple[int, ...]:
    """A crossing's number alone; no number for all of them."""
    return () if text.strip() == "all" else (_CROSSING.parse(text),)


POINT = Built(
    Scalar(parse_point, "a repetition or a place", {"type": ["integer", "number", "string"], "minimum": 1}),
    lambda point, path, problems: point._replace(path=path),
)


FIELDS: Mapping[str, Field] = {
    "show": Field(
        Scalar(parse_show, "a segment's name", {"enum": list(SHOWS)}),
        "what is shown",
        required=True,
        mend="Write show: play.",
    ),
    "title": Field(
        _line_of_card("a title", limits.TITLE_CHARACTERS), "a card's title; without it the piece's"
    ),
    "line": Field(_line_of_card("a line", limits.TITLE_CHARACTERS), "the line under a card's title"),
    "list": Field(
        ListOf(
            _line_of_card("a short text", limits.CARD_CHARACTERS),
            1,
            limits.CARD_ENTRIES,
            "a card's list",
            single=True,
        ),
        "what stands under a card's line, numbered",
    ),
    "figure": Field(label("a figure's name"), "which figure; without it the first"),
    "section": Field(
        label("a section's name"), "which section; without it the first in which something is left over"
    ),
    "sections": Field(
        ListOf(label("a section's name"), 1, limits.FORM_ENTRIES, "a list of sections", single=True),
        "which sections; without it the whole piece",
    ),
    "bars": Field(
        ListOf(
            Scalar(parse_range, "bars such as 35-38", {"type": ["string", "integer"]}),
            1,
            limits.FORM_ENTRIES,
            "a list of bars",
            single=True,
        ),
        "which bars, in place of sections: 35-38, -4 to -1, or one bar",
    ),
    "times": Field(
        whole(1, MOST_TIMES, f"times is 1 to {MOST_TIMES}"), "so many times round; without it once"
    ),
    "parts": Field(
        ListOf(label("a part's name"), 1, limits.PARTS, "a list of parts", single=True),
        "which parts; without it all",
    ),
    "voice": Field(label("a voice's name"), "which voice; without it the first"),
    "crossing": Field(
        ByKind(
            "crossings by number, or all",
            text=Scalar(
                _parse_crossing,
                "a crossing's number, or all",
                {"anyOf": [_CROSSING.schema(), {"const": "all"}]},
            ),
            rows=ListOf(_CROSSING, 1, limits.SEGMENTS, "a list of crossings"),
        ),
        "which crossings of those sections, by number, or all; without it the first of each section",
    ),
    "table": Field(STAFF, "true: who keeps what as a table that stands still; false without it"),
    "staff": Field(STAFF, "true: the groups stand on a staff too; false without it"),
    "say": Field(SAY, "what is said: a line a step, or step -> line; the steps wait for the words"),
    "without": Field(
        ListOf(_WITHOUT, 1, len(_WITHOUT_WORDS), "a list of what to leave out", single=True),
        "what the picture leaves out",
    ),
    "point": Field(
        ListOf(POINT, 1, MOST_POINTS, "a list of points", single=True),
        'what the picture turns to, one after another: 12 or "#40" (repetitions), bar 9, 13.3',
    ),
    "numbers": Field(
        choice("figure or piece", ("figure", "piece")),
        "piece: repetitions have their number in the whole piece, not in their figure's row",
    ),
    "click": Field(CLICK, "the click of this segment alone: as at the top, or none"),
    "sound": Field(SEGMENT_SOUND, "the sound of this segment alone: as at the top, but for the loudness"),
    "speed": Field(
        Scalar(parse_speed, "a speed such as 75 %", {"type": ["number", "string"]}),
        "25 to 100 % of the tempo, at the same pitch",
    ),
}


def _meant_show(key: str, node: Node, pairs: Pairs) -> str | None:
    """`{play: ...}` for `{show: play, ...}`."""
    if key not in SHOWS or any(other.text == "show" for other, _ in pairs.pairs):
        return None
    return f"Write show: {key}, and its options beside it."


def _takes(pairs: Pairs) -> Collection[str] | None:
    """The keys that a segment may have, once it is known what it shows."""
    show = next(
        (node.text.strip() for key, node in pairs.pairs if key.text == "show" and isinstance(node, Text)), ""
    )
    return ("show", *SHOWS[show].options, "say") if show in SHOWS else None


SEGMENT: Built[dict[str, Any], SegmentSpec] = Built(
    Record("a segment", FIELDS, text="show", stands_for=_SAID_FOR, meant=_meant_show, takes=_takes),
    _build_segment,
)
