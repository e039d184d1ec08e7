"""The shape of a spec: which keys there are, what each holds, and how it becomes a value of renderer.spec.model.

The reader and the JSON Schema both come from `SPEC`. What one key shows is checked here; what names
another part of the spec (figures in plays, sections in segments) in renderer.reading.references.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cache, partial
from typing import Any

from renderer.core import limits
from renderer.core.errors import KeyPath, Problem
from renderer.core.names import nearest
from renderer.reading.scalars.parse import parse_bars, parse_label, parse_pickup, parse_title
from renderer.reading.scalars.suggest import other_word_mend
from renderer.reading.schema.fields import Built, Field, Json, ListOf, Named, Record, Scalar
from renderer.reading.schema.figures import FIGURE, PLAYS, STARTS
from renderer.reading.schema.segments import SEGMENT
from renderer.reading.schema.sound import CLICK, CLICK_HERE, SOUND
from renderer.reading.schema.themes import THEME
from renderer.reading.schema.values import (
    FERMATA,
    FRACTION_PATTERN,
    HARMONY_LANE,
    METER_LANE,
    PARTS,
    PULSE,
    SYNC,
    TEMPO_LANE,
    Values,
    label,
    whole,
)
from renderer.reading.yaml.nodes import Node, Pairs
from renderer.spec.meter import Meter
from renderer.spec.model import (
    MAIN_VOICE,
    ClickSpec,
    Entry,
    FigureSpec,
    Plays,
    Point,
    SectionSpec,
    SegmentSpec,
    SoundSpec,
    Tempo,
    ThemeSpec,
)


@dataclass(frozen=True, slots=True)
class Draft:
    """A spec as far as it could be read.

    `given` holds what was read under each key of the top: None if it is faulty.
    """

    given: Mapping[str, Any]
    title: str | None
    tempo: tuple[Entry[Tempo], ...]
    meter: tuple[Entry[Meter], ...]
    harmony: tuple[Entry[str], ...]
    parts: Mapping[str, tuple[Entry[str], ...] | None]
    pulse: Fraction | None
    pickup: Fraction
    figures: Mapping[str, FigureSpec | None]
    form: tuple[SectionSpec, ...]
    fermata: tuple[Point, ...]
    sync: tuple[Point, ...]
    recording: str | None
    click: ClickSpec | None
    segments: tuple[SegmentSpec, ...]
    sound: SoundSpec | None = None
    theme: ThemeSpec | None = None


def read_draft(node: Node, problems: list[Problem]) -> Draft | None:
    """Read a spec's tree; what is wrong with it goes to `problems`. None if `node` is no map."""
    return SPEC.read(node, (), problems)


@cache
def spec_schema() -> Json:
    """The spec as JSON Schema, draft 2020-12, for editors that complete and check YAML."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "barcross spec",
        "description": "A piece of music for lesson videos: form, figures, harmony, tempo, segments.",
        **SPEC.schema(),
    }


FIGURES = Named(FIGURE, limits.FIGURES, "a map of figures", "Give each a name: {kiln: [5, 3, 3]}.")

_AT_TOP = ("title", "pulse", "pickup", "figures", "recording", "segments", "sound", "theme", "form")
_GIVE_NAMES = "Give each a name: {high: kiln, low: brief}."
_KEYS = ("meter", "tempo", "harmony", "parts", "plays", "voices", "starts", "fermata", "sync", "click")
_IN_SECTION = ("section", "again", "bars", "repeat", "plays", "voices", "starts")


def _meant_in_section(key: str, node: Node) -> str | None:
    """What to write in place of a key that no section has."""
    if key in ("name", "title"):
        return "Write section: and the name."
    if mend := other_word_mend(key, (*_IN_SECTION, *_KEYS)):
        return mend
    if key in _AT_TOP:
        return "Write it at the top, for the whole piece."
    if isinstance(node, Pairs) and not nearest(key, _KEYS):
        return f"Write section: {key}, and its bars and other keys in the lines below."
    return None


def _meant_at_top(key: str, node: Node) -> str | None:
    """What to write in place of a key that no spec has."""
    if key == "name":
        return "Write title."
    if mend := other_word_mend(key, (*_AT_TOP, *_KEYS)):
        return mend
    if key in _IN_SECTION:
        return "Write it in a section: form: [{section: Theme, bars: 12}]."
    return None


# The form


def _build_section(values: Values, path: KeyPath, problems: list[Problem]) -> SectionSpec:
    if "bars" not in values and "again" not in values:
        problems.append(Problem(path, "bars is missing in this section.", "Write bars: 12."))
    if "plays" in values and values.get("voices") is not None:
        text = "voices can't stand beside plays."
        problems.append(
            Problem((*path, "voices"), text, f"Write plays as the voice {MAIN_VOICE}.", on_key=True)
        )
    plays: dict[str, Plays] | None = None
    if "plays" in values:
        plays = {MAIN_VOICE: values["plays"] or Plays((), (*path, "plays"))}
    elif values.get("voices"):
        plays = {name: voice or Plays((), path) for name, voice in values["voices"].items()}
    starts = values.get("starts")
    if isinstance(starts, dict):
        starts = {voice: start for voice, start in starts.items() if start is not None}
    parts = values.get("parts")
    return SectionSpec(
        path=path,
        name=values.get("section"),
        again=values.get("again"),
        bar_count=values.get("bars"),
        repeat=values.get("repeat"),
        meter=values.get("meter"),
        tempo=values.get("tempo"),
        harmony=values.get("harmony"),
        parts=None if parts is None else {name: lane or () for name, lane in parts.items()},
        plays=plays,
        starts=starts,
        fermata=values.get("fermata"),
        sync=values.get("sync"),
        click=values.get("click"),
    )


SECTION = Built(
    Record(
        "a section",
        {
            "section": Field(label("a section's name"), "the section's name"),
            "again": Field(
                label("a section's name"), "an earlier section once more, with the keys given here replaced"
            ),
            "bars": Field(
                Scalar(parse_bars, "a number of bars", whole(1, limits.BARS, "").rule),
                "how many bars",
            ),
            "repeat": Field(
                whole(1, limits.REPEATS, f"repeat is 1 to {limits.REPEATS:,} times"), "played so often"
            ),
            "meter": Field(METER_LANE, "meter: a value, or bar -> value"),
            "tempo": Field(
                TEMPO_LANE, "quarter notes a minute: a value, or position -> value or {to: value}"
            ),
            "harmony": Field(HARMONY_LANE, "harmony: a value, a list (one a bar), or position -> either"),
            "parts": Field(PARTS, "part -> its side: figure, a voice's name, meter or tacet"),
            "plays": Field(PLAYS, "a figure, a list of items, or on: what runs goes on"),
            "voices": Field(
                Named(PLAYS, limits.VOICES, "a map of voices", _GIVE_NAMES),
                "voice -> plays, in place of plays",
            ),
            "starts": Field(STARTS, "when plays takes over: downbeat, after, or a position"),
            "fermata": Field(FERMATA, "position -> seconds longer"),
            "sync": Field(SYNC, "position -> place in the recording, seconds or m:ss.s"),
            "click": Field(CLICK_HERE, "on or off: whether the click sounds in this section"),
        },
        one_of=("section", "again"),
        one_of_mend="Write section: Theme, or again: Theme.",
        mend="Write - section: Theme with its bars, or - again: Theme.",
        meant=_meant_in_section,
    ),
    _build_section,
)


def _build_draft(values: Values, path: KeyPath, problems: list[Problem]) -> Draft:
    click = values.get("click")
    return Draft(
        given=values,
        title=values.get("title"),
        tempo=values.get("tempo") or (),
        meter=values.get("meter") or (),
        harmony=values.get("harmony") or (),
        parts=values.get("parts") or {},
        pulse=values.get("pulse"),
        pickup=values.get("pickup") or Fraction(0),
        figures=values.get("figures") or {},
        form=values.get("form") or (),
        fermata=values.get("fermata") or (),
        sync=values.get("sync") or (),
        recording=values.get("recording"),
        click=click if isinstance(click, ClickSpec) else None,
        segments=values.get("segments") or (),
        sound=values.get("sound"),
        theme=values.get("theme"),
    )


SPEC = Built(
    Record(
        "a spec",
        mend="Write keys and values, one a line: title: Kiln Song.",
        meant=_meant_at_top,
        fields={
            "title": Field(label("a title", parse_title, limits.TITLE_CHARACTERS), "the piece's title"),
            "tempo": Field(TEMPO_LANE, "quarter notes a minute, or a metronome mark such as 3/8 = 76"),
            "meter": Field(METER_LANE, "4/4, 6/8 in 2, 7/8 in 2+2+3"),
            "pulse": Field(PULSE, "the figures' count, in whole notes: 1/16"),
            "pickup": Field(
                Scalar(
                    parse_pickup,
                    "a length such as 1/4",
                    {"type": ["string", "integer"], "pattern": FRACTION_PATTERN},
                ),
                "length of the incomplete bar before bar 1, in whole notes",
            ),
            "figures": Field(
                Named(FIGURE, limits.FIGURES, "a map of figures", "Give each a name: {kiln: [5, 3, 3]}."),
                "name -> figure",
            ),
            "parts": Field(PARTS, "part -> its side: figure, a voice's name, meter or tacet"),
            "harmony": Field(HARMONY_LANE, "harmony, by the bars of the piece"),
            "form": Field(
                ListOf(
                    SECTION,
                    1,
                    limits.FORM_ENTRIES,
                    "a list of sections",
                    mend="Begin each one with - section: Name.",
                ),
                "the sections, in order",
                required=True,
                mend="Write form: and below it - section: Theme with bars: 12.",
            ),
            "recording": Field(
                label("a file's name", partial(parse_label, most=400), 400), "a sound file of the piece"
            ),
            "sync": Field(SYNC, "position -> place in the recording, seconds or m:ss.s"),
            "fermata": Field(FERMATA, "position -> seconds longer"),
            "click": Field(CLICK, "bar, beat, pulse, group, figure or none; or with its sound"),
            "sound": Field(SOUND, "what plays the figures; or voices, recording, loudness"),
            "theme": Field(THEME, "the look: a theme's name, or from: and the values to change"),
            "segments": Field(
                ListOf(SEGMENT, 0, limits.SEGMENTS, "a list of segments", single=True),
                "the stretches of video, in order",
            ),
        },
    ),
    _build_draft,
)
