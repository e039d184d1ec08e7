"""When `spread` shows what: the bars with a question, the repetitions in time, the rest in a hurry, the answer."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

from renderer.schedule.course import AT_ONCE, Course, run_course
from renderer.schedule.model import Schedule, Step
from renderer.schedule.pace import AFTER_ANSWER, name_steps, reading_seconds
from renderer.schedule.phrases import Phrases, text_of
from renderer.schedule.points import find_points
from renderer.schedule.spans import choose_spans, choose_voice, lead_in
from renderer.schedule.spread_sentences import (
    Spot,
    Topic,
    find_topic,
    slip_sentence,
    spread_answer,
    spread_question,
)
from renderer.spec.model import SegmentSpec
from renderer.spec.sound import ClickSpec
from renderer.timeline.model import Repetition, Timeline

DIM, APART = Fraction(2, 5), Fraction(3, 5)
"""Seconds in which all else steps back, and from one place that stands out to the next."""
MOST_LIT = 6
"""So many places stand out at once at most."""


class Light(NamedTuple):
    """All steps back but some places, from `seconds` on. More of their kind may follow in the music."""

    name: str
    seconds: Fraction
    spots: tuple[Spot, ...]
    phrases: Phrases


@dataclass(frozen=True)
class SpreadSchedule(Schedule):
    """How the repetitions of one voice are laid along the bars, and what stands out at the end."""

    sets_out = AT_ONCE
    voice: str
    repetitions: tuple[Repetition, ...]
    course: Course
    ahead: tuple[tuple[int, int], ...]
    """Bars before what is played, in ticks, that are seen but not lit: music runs in from them."""
    topic: Topic
    question: Phrases
    lights: tuple[Light, ...]
    """The last one is the answer."""

    def finding(self) -> str:
        """What stands out at the end."""
        return text_of(self.lights[-1].phrases)

    def seconds_at(self, at: int) -> Fraction | None:
        """When the repetitions are laid out up to a tick."""
        return self.course.seconds_at(at)

    def answer(self, seen: Sequence[Spot]) -> Phrases:
        """The answer where not all of its places can be seen."""
        spots = self.lights[-1].spots
        if not seen:
            return self.lights[-1].phrases
        more = spots.index(seen[-1]) + 1 < len(spots)
        return spread_answer(self.timeline, self.topic, self.repetitions, seen, more)


def schedule_spread(timeline: Timeline, options: SegmentSpec, click: ClickSpec | None) -> SpreadSchedule:
    """Count in, lay the repetitions along the bars, then show what that comes to."""
    stretches = choose_spans(timeline, options)
    voice = choose_voice(timeline, options.voice)
    inside = tuple(
        r for r in timeline.repetitions if r.voice == voice and any(a <= r.at < b for a, b in stretches)
    )
    course = run_course(timeline, stretches, click)
    asked = options._replace(voice=voice)
    leads = [(lead_in(timeline, asked, start), start) for start, _ in stretches]
    ahead = [(before, start) for before, start in leads if before is not None]
    found = (find(timeline, inside, options.without) for find in (home_spots, start_spots, crossing_spots))
    spots = next((spots for spots in found if spots), ())
    shown = spots[:MOST_LIT]
    topic = find_topic(timeline, inside, spots, options.without)
    answer = spread_answer(timeline, topic, inside, shown, len(shown) < len(spots))
    question = spread_question(topic, inside)
    seconds = max(course.ends, reading_seconds(text_of(question), timeline.words))
    lights = []
    for point in find_points(timeline, options):
        lights.append(Light(point.name, seconds, (point.spot,), point.phrases))
        seconds += _stays(timeline, point.phrases, 1)
    last = Light("answer", seconds, spots, answer)
    return SpreadSchedule(
        timeline=timeline,
        seconds=last.seconds + _stays(timeline, answer, len(shown)) + AFTER_ANSWER,
        clicks=course.clicks(click),
        steps=name_steps(
            [
                Step("bars", Fraction(0)),
                Step("repetitions", course.begins),
                *(Step(light.name, light.seconds) for light in (*lights, last)),
            ]
        ),
        voice=voice,
        repetitions=inside,
        course=course,
        ahead=tuple(ahead),
        topic=topic,
        question=question,
        lights=(*lights, last),
    )


def _stays(timeline: Timeline, phrases: Phrases, count: int) -> Fraction:
    """Seconds for a sentence and the places that it speaks of."""
    return max(reading_seconds(text_of(phrases), timeline.words), DIM + APART * count + 1)


def home_spots(
    timeline: Timeline, repetitions: Sequence[Repetition], without: Collection[str]
) -> tuple[Spot, ...]:
    """The repetitions that are back on a downbeat."""
    if "landings" in without or not repetitions:
        return ()
    home = {r.repetition_number for r in timeline.realignments if r.voice == repetitions[0].voice}
    return tuple(Spot("home", r, r.at) for r in repetitions if r.number in home)


def start_spots(
    timeline: Timeline, repetitions: Sequence[Repetition], without: Collection[str]
) -> tuple[Spot, ...]:
    """The first starts, where each slips against the bars like the one before; none where all are alike."""
    if "offsets" in without or not repetitions or not slip_sentence(timeline, repetitions):
        return ()
    if len({r.offset for r in repetitions}) == 1:
        return ()
    return tuple(Spot("start", r, r.at) for r in repetitions[:MOST_LIT] if r.offset)


def crossing_spots(
    timeline: Timeline, repetitions: Sequence[Repetition], without: Collection[str]
) -> tuple[Spot, ...]:
    """The repetitions in which the harmony turns."""
    if {"crossings", "harmony"} & set(without) or not repetitions:
        return ()
    firsts: dict[int, int] = {}
    for crossing in timeline.crossings:
        if crossing.voice == repetitions[0].voice:
            firsts.setdefault(crossing.repetition_number, crossing.at)
    return tuple(Spot("crossing", r, firsts[r.number]) for r in repetitions if r.number in firsts)
