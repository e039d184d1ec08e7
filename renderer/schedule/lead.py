"""What passes before a close-up's music, which may begin on any beat: the question is read, beats are counted in."""

from fractions import Fraction

from renderer.schedule.clicks import bar_seconds
from renderer.schedule.pace import short_lead
from renderer.spec.click import Click
from renderer.spec.sound import ClickSpec
from renderer.timeline.model import Bar, Beat, Timeline


def beat_click(seconds: Fraction, beat_number: int) -> Click:
    """The click of a felt beat."""
    return Click(seconds, "downbeat" if beat_number == 1 else "beat")


def lead_to(
    timeline: Timeline,
    beat: Beat,
    seconds: Fraction,
    slowness: Fraction,
    click: ClickSpec | None,
    question: Fraction,
) -> tuple[Fraction, list[Click]]:
    """What passes before `beat`, wherever in its bar that is: the question is read, and the last beats are counted in;
    its length, and the clicks from `seconds` on."""
    lengths = _beat_seconds(timeline, timeline.bar_at(beat.at), slowness)
    before = [*lengths[beat.number - 1 :], *lengths[: beat.number - 1]]
    counted = short_lead(before, click)
    lead, found, number = Fraction(0), [], beat.number
    while lead < counted:
        number = number - 1 or len(lengths)
        lead += lengths[number - 1]
        found.append((lead, number))
    if click and not (click.count_in or click.count_in_beats):
        found = []
    whole = max(question, lead)
    return whole, [beat_click(seconds + whole - at, number) for at, number in reversed(found)]


def _beat_seconds(timeline: Timeline, bar: Bar, slowness: Fraction) -> list[Fraction]:
    length = bar_seconds(timeline, bar) * slowness
    return [beat * length / bar.meter.length for beat in bar.meter.beats]
