"""Clicks as a whole sound."""

from collections.abc import Iterable
from fractions import Fraction

from renderer.audio.click_sounds import SAMPLES_PER_SECOND
from renderer.audio.click_track import PLAIN_CLICK, click_events
from renderer.audio.loudness import Samples
from renderer.spec.click import Click
from renderer.spec.sound import ClickSpec


def mix_clicks(
    clicks: Iterable[Click],
    seconds: Fraction,
    samples_per_second: int = SAMPLES_PER_SECOND,
    text: ClickSpec = PLAIN_CLICK,
) -> Samples:
    """All clicks in both channels, shape (nearest(seconds x rate), 2)."""
    return click_events(clicks, seconds, samples_per_second, text)[:]
