"""What the timeline vouches for at each step of a segment, in words: what its picture says, and what its music does."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import NamedTuple

from renderer.core.names import briefly_listed
from renderer.export.happenings import HappeningKind, find_happenings
from renderer.schedule.model import Caption, Schedule, Step
from renderer.schedule.say import SaidSchedule
from renderer.video.reel import Reel

SAID: dict[HappeningKind, str] = {
    "section": "sections",
    "mark": "marks",
    "realignment": "starts on a downbeat again",
    "handover": "one figure ends and the next begins",
    "landing": "accents on downbeats",
    "crossing": "harmony changes inside a repetition",
    "side": "who keeps what",
}
"""How each kind of thing is told, in the order in which they are."""
SAMPLES = 6
"""Moments of a step at which its picture is asked what it says."""


class StepFacts(NamedTuple):
    """A step of a segment: from when to when, in seconds of the segment, what is said, and what is true there."""

    step: Step
    end: Fraction
    said: str
    facts: tuple[str, ...]


def step_facts(reel: Reel) -> list[StepFacts]:
    """Every step of a film."""
    schedule = reel.planned.schedule
    ends = [*(step.seconds for step in schedule.steps[1:]), schedule.seconds]
    sentences = _screen_sentences(schedule, ends)
    events = sorted(_events(schedule), key=lambda event: event.seconds)
    found: list[StepFacts] = []
    before = ""
    for step, end, seen in zip(schedule.steps, ends, sentences, strict=True):
        seen = [sentence for sentence in seen if sentence != before]
        before = seen[-1] if seen else before
        inside = [event for event in events if step.seconds <= event.seconds < end]
        facts = [*(f"on the screen: {sentence}" for sentence in seen), *_event_texts(inside, reel.start)]
        found.append(StepFacts(step, end, _said(schedule.captions, step), tuple(facts)))
    return found


def _said(captions: Iterable[Caption], step: Step) -> str:
    return next((" ".join(each.text.split()) for each in captions if each.start == step.seconds), "")


def _screen_sentences(schedule: Schedule, ends: Sequence[Fraction]) -> list[list[str]]:
    """What the picture says during each step, by the segment that draws it."""
    from scenes.catalogue import build_segment
    from scenes.draw.look import read_look
    from scenes.draw.segment import Moment
    from scenes.frame.headed import HeadedSegment

    inner = schedule.inner if isinstance(schedule, SaidSchedule) else schedule
    segment = build_segment(replace(inner, captions=()), read_look("dark"))
    if not isinstance(segment, HeadedSegment):
        return [[] for _ in ends]
    found = []
    for step, end in zip(schedule.steps, ends, strict=True):
        told: dict[str, None] = {}
        for index in range(SAMPLES):
            seconds = step.seconds + (end - step.seconds) * Fraction(2 * index + 1, 2 * SAMPLES)
            if isinstance(schedule, SaidSchedule):
                seconds = schedule.inner_seconds(seconds)
            small, words, _ = segment.said(Moment(seconds, Fraction(1, 60)))
            sentence = "".join(each.text for each in words).strip()
            if sentence:
                told[f"{small}: {sentence}" if small else sentence] = None
        found.append([*told])
    return found


class _Event(NamedTuple):
    """Something that the music does, when a segment shows it."""

    kind: HappeningKind
    seconds: Fraction
    text: str


def _events(schedule: Schedule) -> Iterator[_Event]:
    """All that happens in the music that a segment runs along."""
    for kind, at, text in find_happenings(schedule.timeline):
        seconds = schedule.seconds_at(at)
        if seconds is not None:
            yield _Event(kind, seconds, text)


def _event_texts(events: Sequence[_Event], start: Fraction) -> Iterator[str]:
    """A line for each kind of thing, with the time in the joined film of each."""
    for kind, words in SAID.items():
        told = [
            f"{event.text} [{tenths_text(start + event.seconds)}]" for event in events if event.kind == kind
        ]
        if told:
            yield f"{words}: {briefly_listed(dict.fromkeys(told))}"


def tenths_text(seconds: Fraction) -> str:
    """Seconds as `m:ss.s`.

    >>> tenths_text(Fraction(1141, 10))
    '1:54.1'
    """
    minutes, tenths = divmod(round(seconds * 10), 600)
    return f"{minutes}:{tenths // 10:02}.{tenths % 10}"
