"""The shape of a spec: which keys there are, what each holds, and how it becomes a value of renderer.spec.model.

The reader and the JSON Schema both come from `SPEC`. What one key shows is checked here; what names
another part of the spec (figures in plays, parts in segments) in renderer.reading.references.
"""

from fractions import Fraction
from functools import cache, partial

from renderer.core import limits
from renderer.core.errors import KeyPath, Problem
from renderer.reading.scalars.parse import parse_bars, parse_label, parse_pickup, parse_thumbnail, parse_title
from renderer.reading.scalars.suggest import other_word_mend
from renderer.reading.schema.fields import Built, Field, Json, ListOf, Named, Record, Scalar
from renderer.reading.schema.figures import FIGURE, PLAYS, STARTS
from renderer.reading.schema.own_words import WORDS
from renderer.reading.schema.segments import SEGMENT
from renderer.reading.schema.sound import CLICK, CLICK_HERE, SOUND
from renderer.reading.schema.themes import THEME
from renderer.reading.schema.values import (
    FERMATA,
    FRACTION_PATTERN,
    HARMONY_LANE,
    MARKS,
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
from renderer.spec.model import (
    MAIN_VOICE,
    UNCHANGED_THEME,
    ClickSpec,
    Plays,
    SectionSpec,
    Spec,
)


def read_values(node: Node, problems: list[Problem]) -> Values | None:
    """What stands under each key of a spec, as far as it can be read; what is wrong goes to `problems`.

    A key that is given but can't be read has the value None. The whole is None if `node` is no map.
    """
    return SPEC.read(node, (), problems)


def build_spec(values: Values, stem: str) -> Spec:
    """The spec that faultless values make; `stem` is its title where none is given."""
    click = values.get("click")
    return Spec(
        title=values.get("title", stem),
        tempo=values.get("tempo", ()),
        meter=values.get("meter", ()),
        harmony=values.get("harmony", ()),
        parts=values.get("parts", {}),
        pulse=values.get("pulse"),
        pickup=values.get("pickup", Fraction(0)),
        figures=tuple(values.get("figures", {}).values()),
        form=values["form"],
        fermata=values.get("fermata", ()),
        sync=values.get("sync", ()),
        recording=values.get("recording"),
        click=click if isinstance(click, ClickSpec) else None,
        segments=values.get("segments", ()),
        sound=values.get("sound"),
        theme=values.get("theme", UNCHANGED_THEME),
        thumbnail=values.get("thumbnail"),
        marks=values.get("marks", ()),
        words=values.get("words") or (),
    )


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

_AT_TOP = (
    "title",
    "pulse",
    "pickup",
    "figures",
    "recording",
    "segments",
    "sound",
    "theme",
    "thumbnail",
    "words",
    "form",
)
_GIVE_NAMES = "Give each a name: {high: kiln, low: brief}."
_KEYS = (
    "meter",
    "tempo",
    "harmony",
    "parts",
    "plays",
    "voices",
    "starts",
    "fermata",
    "sync",
    "click",
    "marks",
)
_IN_SECTION = ("section", "again", "bars", "repeat", "plays", "voices", "starts")


def _meant_in_section(key: str, node: Node, pairs: Pairs) -> str | None:
    """What to write in place of a key that no section has."""
    given = {name.text for name, _ in pairs.pairs}
    named = not given.isdisjoint(("section", "again"))
    if key in ("name", "title"):
        return "Remove it: section gives the name." if named else "Write section: and the name."
    if (mend := other_word_mend(key, {*_IN_SECTION, *_KEYS} - given)) is not None:
        return mend
    if key in _AT_TOP:
        return "Write it at the top, for the whole piece."
    if isinstance(node, Pairs) and any(name.text in _IN_SECTION for name, _ in node.pairs):
        if named:
            return f"Write it as a section of its own: - section: {key}."
        return f"Write section: {key}, and its bars and other keys in the lines below."
    return None


def _meant_at_top(key: str, node: Node, pairs: Pairs) -> str | None:
    """What to write in place of a key that no spec has."""
    if key == "name":
        return "Write title."
    if mend := other_word_mend(key, (*_AT_TOP, *_KEYS)):
        return mend
    if key in _IN_SECTION:
        return "Write it in a section: form: [{section: Theme, bars: 12}]."
    return None


# The form


def _build_section(values: Values, path: KeyPath, problems: list[Problem]) -> SectionSpec | None:
    """A form entry; what is wrong in it leaves a gap that says nothing wrong about other entries."""
    if "bars" not in values and "again" not in values:
        problems.append(Problem(path, "bars is missing in this section.", "Write bars: 12."))
    if "plays" in values and values.get("voices") is not None:
        text = "voices can't be used with plays."
        problems.append(
            Problem((*path, "voices"), text, f"Write plays as the voice {MAIN_VOICE}.", on_key=True)
        )
    name, again = values.get("section"), values.get("again")
    if name is None and again is None:
        return None
    voices = {MAIN_VOICE: values["plays"]} if "plays" in values else values.get("voices")
    starts = values.get("starts")
    if isinstance(starts, dict):
        starts = {voice: start for voice, start in starts.items() if start is not None}
    elif voices and None in voices.values():
        starts = None
    parts = values.get("parts")
    return SectionSpec(
        path=path,
        name=name,
        again=again,
        bar_count=values.get("bars") or (None if again else 1),
        repeat=values.get("repeat"),
        meter=values.get("meter"),
        tempo=values.get("tempo"),
        harmony=values.get("harmony"),
        parts=None if parts is None else {part: lane or () for part, lane in parts.items()},
        plays=None
        if voices is None
        else {voice: plays or Plays(None, path) for voice, plays in voices.items()},
        starts=starts,
        fermata=values.get("fermata"),
        sync=values.get("sync"),
        click=values.get("click"),
        marks=values.get("marks"),
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
            "marks": Field(MARKS, "position or bars -> your own words, shown there"),
        },
        one_of=("section", "again"),
        one_of_mend="Write section: Theme, or again: Theme.",
        mend="Write - section: Theme with its bars, or - again: Theme.",
        meant=_meant_in_section,
    ),
    _build_section,
)


SPEC = Record(
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
        "marks": Field(MARKS, "position or bars -> your own words, shown there"),
        "click": Field(CLICK, "bar, beat, pulse, group, figure or none; or with its sound"),
        "sound": Field(SOUND, "what plays the figures; or voices, recording, loudness"),
        "theme": Field(THEME, "the look: a theme's name, or from: and the values to change"),
        "words": Field(WORDS, "what the pictures call things: fixed word -> your own"),
        "thumbnail": Field(
            label("at most three words", parse_thumbnail, limits.THUMBNAIL_CHARACTERS),
            "what stands beside the figure on the thumbnail",
        ),
        "segments": Field(
            ListOf(SEGMENT, 0, limits.SEGMENTS, "a list of segments", single=True),
            "the stretches of video, in order",
        ),
    },
)
