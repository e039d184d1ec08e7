"""What a spec says of its sound, as values: the click, the figure's voices, the recording, the loudness."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Literal, NamedTuple

from renderer.spec.click import ClickKind

ClickPlace = Literal["bar", "beat", "pulse", "group", "figure"]
CLICK_PLACES: tuple[ClickPlace, ...] = ("bar", "beat", "pulse", "group", "figure")
"""What a click can sound on: the meter's bars, beats and pulses, a figure's groups and its starts."""

CLICK_SOUNDS = ("chime", "wood", "stick", "beep")
VOICE_SOUNDS = ("plucked", "struck", "low", "drum")
NO_SOUND = "off"

WEB_LUFS = Fraction(-14)
"""What video platforms usually play at (common practice)."""
BROADCAST_LUFS = Fraction(-23)
"""EBU R 128 (2020)."""


@dataclass(frozen=True, slots=True)
class ClickSpec:
    """The click: what it sounds on, how it sounds, and how much of it comes before the music.

    Levels in dB; `pan` from -100 (left) to 100 (right). `balance` is a kind's level beside the others'.
    """

    every: tuple[ClickPlace, ...] = ("beat",)
    count_in: int = 1
    """Bars before the music."""
    count_in_beats: int = 0
    """Beats before the music, in place of bars."""
    sound: Mapping[ClickKind, str] = field(default_factory=dict)
    level: Fraction = Fraction(0)
    balance: Mapping[ClickKind, Fraction] = field(default_factory=dict)
    pan: Fraction = Fraction(0)


class ToneSpec(NamedTuple):
    """How a voice sounds. What is None is chosen by the voice's place among the others."""

    sound: str | None = None
    """One of VOICE_SOUNDS, or `off`."""
    level: Fraction | None = None
    pan: Fraction | None = None


@dataclass(frozen=True, slots=True)
class SoundSpec:
    """The voices, the recording, and how loud the whole is."""

    figure: ToneSpec | None = None
    """What holds for every voice that `voices` does not name; None: sounding unless there is a recording."""
    voices: Mapping[str, ToneSpec] = field(default_factory=dict)
    recording_level: Fraction = Fraction(0)
    """dB, beside the click and the voices."""
    duck: Fraction = Fraction(4)
    """By how many dB the recording steps back where click or voices sound."""
    loudness: Fraction = WEB_LUFS
    """The programme's loudness aimed at, in LUFS (ITU-R BS.1770-4)."""
