"""The shape of what a spec says of its sound: the keys of `click` and `sound`."""

import re
from fractions import Fraction
from typing import Any

from renderer.core import limits
from renderer.core.errors import KeyPath, Problem, ValueProblem
from renderer.core.names import listed, quoted
from renderer.reading.scalars.parse import parse_number
from renderer.reading.schema.fields import Built, ByKind, Field, ListOf, Named, Record, Scalar, Shape
from renderer.reading.schema.values import Values, choice
from renderer.spec.click import CLICK_KINDS
from renderer.spec.sound import (
    BROADCAST_LUFS,
    CLICK_PLACES,
    CLICK_SOUNDS,
    NO_SOUND,
    VOICE_SOUNDS,
    WEB_LUFS,
    ClickSpec,
    SoundSpec,
    ToneSpec,
)

NO_CLICK = "none"

_PANS = {"left": Fraction(-100), "center": Fraction(0), "centre": Fraction(0), "right": Fraction(100)}
_LOUDNESS = {"web": WEB_LUFS, "broadcast": BROADCAST_LUFS}
_BEATS = re.compile(r"([0-9]{1,4}) beats?")


def _number(text: str, unit: str, least: int, most: int, rule: str) -> Fraction:
    plain = text.strip().removeprefix("+").removesuffix(unit).strip()
    return parse_number(plain, Fraction(least), Fraction(most), rule, text)


def parse_level(text: str) -> Fraction:
    """A level in dB: `-6`, `+3`, `-6 dB`."""
    low, high = limits.LEVEL_LEAST, limits.LEVEL_MOST
    return _number(text, "dB", low, high, f"a level is {low} to {high} dB, and 0 leaves it as it is")


def parse_pan(text: str) -> Fraction:
    """A place between the loudspeakers, -100 (left) to 100 (right), or `left`, `center`, `right`."""
    word = text.strip()
    rule = "pan is -100 (left) to 100 (right), or left, center, right"
    return _PANS[word] if word in _PANS else _number(word, "", -100, 100, rule)


def parse_duck(text: str) -> Fraction:
    """How far a recording steps back, in dB."""
    return _number(text, "dB", 0, limits.DUCK_MOST, f"duck is 0 to {limits.DUCK_MOST} dB")


def parse_loudness(text: str) -> Fraction:
    """A programme's loudness in LUFS, or `web`, `broadcast`."""
    word = text.strip()
    low, high = limits.LUFS_LEAST, limits.LUFS_MOST
    rule = f"loudness is {low} to {high} LUFS, or web ({WEB_LUFS}), broadcast ({BROADCAST_LUFS})"
    return _LOUDNESS[word] if word in _LOUDNESS else _number(word, "LUFS", low, high, rule)


def parse_count_in(text: str) -> tuple[int, int]:
    """A count-in as (bars, beats): `2`, `2 bars` or `6 beats`."""
    word = text.strip()
    if match := _BEATS.fullmatch(word):
        if int(match[1]) <= limits.COUNT_IN_BEATS:
            return 0, int(match[1])
        raise ValueProblem(f"got {quoted(text)}; a count-in has at most {limits.COUNT_IN_BEATS} beats.")
    bars = word.removesuffix("bars").removesuffix("bar").strip()
    if not bars.isdecimal() or int(bars) > limits.COUNT_IN_BARS:
        rule = f"a count-in has 0 to {limits.COUNT_IN_BARS} bars, or beats as in 6 beats"
        raise ValueProblem(f"got {quoted(text)}; {rule}.", "Write 2 for two bars, or 6 beats.")
    return int(bars), 0


def _amount(parse: Any, wanted: str, *words: str) -> Scalar[Any]:
    return Scalar(parse, wanted, {"type": ["number", "string"], **({"examples": [*words]} if words else {})})


LEVEL = _amount(parse_level, "a level in dB such as -6")
PAN = _amount(parse_pan, "a place from -100 (left) to 100 (right)", *_PANS)

# The click

PLACE = choice("bar, beat, pulse, group or figure", CLICK_PLACES)
EVERY: Shape[Any] = ByKind(
    "beat, another place, or a list of them",
    text=choice(
        "bar, beat, pulse, group, figure or none", (*CLICK_PLACES, NO_CLICK), {"off": NO_CLICK, "on": "beat"}
    ),
    rows=ListOf(PLACE, 1, len(CLICK_PLACES), "a list of places"),
)
CLICK_SOUND = choice(listed(CLICK_SOUNDS), CLICK_SOUNDS)


def _each_kind(shape: Shape[Any], what: str) -> Record:
    return Record(what, {kind: Field(shape, f"of the click on a {kind}") for kind in CLICK_KINDS})


def _build_click(values: Values, path: KeyPath, problems: list[Problem]) -> ClickSpec | str | None:
    if values.get("every") == NO_CLICK:
        for key in values.keys() - {"every"}:
            text = f"{key} can't be used with every: none; it would not be heard."
            mend = "Remove it, or write click: off in the sections that have none."
            problems.append(Problem((*path, key), text, mend, on_key=True))
        return NO_CLICK
    if any(value is None for value in values.values()):
        return None
    given = dict(values)
    if "every" in given:
        every = given["every"]
        given["every"] = (every,) if isinstance(every, str) else tuple(dict.fromkeys(every))
    if "count_in" in given:
        given["count_in"], given["count_in_beats"] = given["count_in"]
    if isinstance(given.get("sound"), str):
        given["sound"] = dict.fromkeys(CLICK_KINDS, given["sound"])
    for key in ("sound", "balance"):
        if None in given.get(key, {}).values():
            return None
    return ClickSpec(**given)


CLICK: Built[Any, Any] = Built(
    Record(
        "the click",
        {
            "every": Field(EVERY, "what it sounds on: bar, beat, pulse, group, figure, or several in a list"),
            "count_in": Field(
                Scalar(
                    parse_count_in,
                    "a number of bars, or of beats as in 6 beats",
                    {"type": ["integer", "string"], "minimum": 0, "maximum": limits.COUNT_IN_BARS},
                ),
                "click before the music: 2 for two bars, or 6 beats",
            ),
            "sound": Field(
                ByKind(
                    CLICK_SOUND.wanted, text=CLICK_SOUND, pairs=_each_kind(CLICK_SOUND, "a click's sound")
                ),
                f"{CLICK_SOUND.wanted}; or kind of click -> one of them",
            ),
            "level": Field(LEVEL, "dB louder or softer"),
            "balance": Field(
                _each_kind(LEVEL, "the click's balance"), "kind of click -> dB beside the others"
            ),
            "pan": Field(PAN, "its place from left (-100) to right (100)"),
        },
        text="every",
        rows="every",
    ),
    _build_click,
)
"""A ClickSpec, or NO_CLICK."""

# The voices, the recording, the loudness

_TONE_WORDS = choice(
    f"{', '.join(VOICE_SOUNDS)} or {NO_SOUND}", (*VOICE_SOUNDS, NO_SOUND), {"none": NO_SOUND}
)
TONE_NAME: Scalar[str] = Scalar(
    _TONE_WORDS.parse, _TONE_WORDS.wanted, {"enum": [*VOICE_SOUNDS, NO_SOUND, "none", False]}
)


def _build_tone(values: Values, path: KeyPath, problems: list[Problem]) -> ToneSpec | None:
    return None if any(value is None for value in values.values()) else ToneSpec(**values)


TONE = Built(
    Record(
        "a voice's sound",
        {
            "sound": Field(TONE_NAME, TONE_NAME.wanted),
            "level": Field(LEVEL, "dB louder or softer"),
            "pan": Field(PAN, "its place from left (-100) to right (100)"),
        },
        text="sound",
    ),
    _build_tone,
)
UNDER = Record(
    "the recording's sound",
    {
        "level": Field(LEVEL, "dB louder or softer, beside click and voices"),
        "duck": Field(
            _amount(parse_duck, "dB such as 4"),
            "dB that it steps back where click or voices sound, and all else under a voice file",
        ),
    },
    text="level",
)


def _build_sound(values: Values, path: KeyPath, problems: list[Problem]) -> SoundSpec | None:
    voices, under = values.get("voices", {}), values.get("recording", {})
    parts = [values, voices or {}, under or {}]
    if any(value is None for part in parts for value in part.values()):
        return None
    figure = None
    if any(key in values for key in ("figure", "level", "pan")):
        figure = ToneSpec(values.get("figure"), values.get("level"), values.get("pan"))
    defaults = SoundSpec()
    return SoundSpec(
        figure=figure,
        voices=voices,
        recording_level=under.get("level", defaults.recording_level),
        duck=under.get("duck", defaults.duck),
        loudness=values.get("loudness", defaults.loudness),
    )


_SOUND_FIELDS = {
    "figure": Field(TONE_NAME, f"what plays the figures: {TONE_NAME.wanted}"),
    "level": Field(LEVEL, "of the figures: dB louder or softer"),
    "pan": Field(PAN, "of the figures: from left (-100) to right (100)"),
    "voices": Field(
        Named(TONE, limits.VOICES, "a map of voices"), "voice -> its sound, in place of figure's"
    ),
    "recording": Field(UNDER, "the recording's level in dB; or level and duck"),
    "loudness": Field(
        _amount(parse_loudness, "LUFS such as -14, or web, broadcast", *_LOUDNESS),
        "of the whole, in LUFS; web is -14, broadcast -23",
    ),
}
SOUND = Built(Record("the sound", _SOUND_FIELDS, text="figure"), _build_sound)
SEGMENT_SOUND = Built(
    Record(
        "a segment's sound",
        {key: field for key, field in _SOUND_FIELDS.items() if key != "loudness"},
        text="figure",
        meant=lambda key, node, pairs: (
            "Write it at the top, for the whole lesson." if key == "loudness" else None
        ),
    ),
    _build_sound,
)
"""The loudness is the whole lesson's, so that its films are alike."""

CLICK_HERE: Scalar[bool] = Scalar(
    lambda text: choice("on or off", ("on", "off"), {"none": "off"}).parse(text) == "on",
    "on or off",
    {"enum": [True, False, "on", "off", "none"]},
)
"""Whether a section has the click."""
