"""What a spec may say of its sound, and what is told where it can't be."""

from fractions import Fraction

import jsonschema
import pytest
import yaml

from renderer.core.errors import SpecError
from renderer.reading.load import parse_spec
from renderer.reading.schema.document import spec_schema
from renderer.spec.click import CLICK_KINDS
from renderer.spec.model import Spec
from renderer.spec.sound import ClickSpec, SoundSpec, ToneSpec

HEAD = "tempo: 112\nmeter: 4/4\npulse: 1/16\nfigures: {kiln: [5, 3, 3]}\n"
FORM = "form:\n  - {section: Theme, bars: 12, voices: {bell: kiln, gong: kiln}}\n"


def read(text: str) -> Spec:
    """The spec with `text` added, which its JSON Schema takes too."""
    whole = HEAD + FORM + text + "\n"
    jsonschema.validate(yaml.safe_load(whole), spec_schema())
    return parse_spec(whole, "x")


@pytest.mark.parametrize(
    ("text", "click"),
    [
        ("click: [beat, figure]", ClickSpec(("beat", "figure"))),
        ("click: {every: [group, pulse, group], count_in: 2}", ClickSpec(("group", "pulse"), 2)),
        ("click: {count_in: 6 beats}", ClickSpec(count_in=0, count_in_beats=6)),
        ("click: {count_in: 2 bars}", ClickSpec(count_in=2)),
        ("click: {sound: wood}", ClickSpec(sound=dict.fromkeys(CLICK_KINDS, "wood"))),
        (
            "click: {sound: {figure: beep}, level: -6, balance: {pulse: -3.5, figure: +2 dB}, pan: left}",
            ClickSpec(
                sound={"figure": "beep"},
                level=Fraction(-6),
                balance={"pulse": Fraction(-7, 2), "figure": Fraction(2)},
                pan=Fraction(-100),
            ),
        ),
    ],
)
def test_the_click(text: str, click: ClickSpec) -> None:
    assert read(text).click == click


@pytest.mark.parametrize(
    ("text", "sound"),
    [
        ("", None),
        ("sound: plucked", SoundSpec(ToneSpec("plucked"))),
        ("sound: off", SoundSpec(ToneSpec("off"))),
        ("sound: {figure: low, level: -6, pan: 30}", SoundSpec(ToneSpec("low", Fraction(-6), Fraction(30)))),
        (
            "sound: {voices: {bell: struck, gong: {sound: drum, level: -3}}}",
            SoundSpec(voices={"bell": ToneSpec("struck"), "gong": ToneSpec("drum", Fraction(-3))}),
        ),
        ("sound: {loudness: broadcast}", SoundSpec(loudness=Fraction(-23))),
        ("sound: {loudness: -16 LUFS}", SoundSpec(loudness=Fraction(-16))),
        ("sound: {recording: -2}", SoundSpec(recording_level=Fraction(-2))),
        ("sound: {recording: {duck: 9}}", SoundSpec(duck=Fraction(9))),
    ],
)
def test_the_sound(text: str, sound: SoundSpec | None) -> None:
    assert read(text).sound == sound


def test_a_section_has_the_click_on_or_off_or_as_the_piece() -> None:
    form = "form:\n  - {section: A, bars: 1, click: off}\n  - {section: B, bars: 1}\n"
    form += "  - {section: C, bars: 1, click: on}\n"
    assert [section.click for section in parse_spec(HEAD + form, "x").form] == [False, None, True]


def test_a_segment_may_be_slower() -> None:
    spec = read("segments: [{show: play, speed: 75 %}, {show: figure, speed: 62.5}, spread]")
    assert [segment.speed for segment in spec.segments] == [Fraction(3, 4), Fraction(5, 8), 1]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("click: [beat, bat]", "click[1]: got bat; bar, beat, pulse, group or figure belongs here."),
        ("click: {sound: cowbell}", "click.sound: got cowbell; chime, wood, stick or beep belongs here."),
        ("click: {balance: {offbeat: 3}}", "click.balance.offbeat: the click's balance has no such key."),
        ("click: {count_in: 65 beats}", "click.count_in: got 65 beats; a count-in has at most 64 beats."),
        ("click: {level: 40}", "click.level: got 40; a level is -60 to 12 dB, and 0 leaves it as it is."),
        ("sound: harp", "sound: got harp; plucked, struck, low, drum or off belongs here."),
        ("sound: {pan: up}", "sound.pan: got up; pan is -100 (left) to 100 (right), or left, center, right."),
        ("sound: {voices: {belle: low}}", "sound.voices.belle: there is no voice belle."),
        ("sound: {loudness: -3}", "sound.loudness: got -3; loudness is -40 to -9 LUFS, or web (-14),"),
        ("sound: {recording: {duck: -3}}", "sound.recording.duck: got -3; duck is 0 to 24 dB."),
        ("recording: take.flac", "recording: a recording, but no sync point."),
        ("segments: [{show: play, speed: 20}]", "segments[0].speed: got 20; a speed is 25 to 100 per cent"),
    ],
)
def test_what_can_not_be_is_told(text: str, told: str) -> None:
    with pytest.raises(SpecError) as caught:
        parse_spec(HEAD + FORM + text + "\n", "x")
    assert told in str(caught.value)
