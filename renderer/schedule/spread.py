"""When `spread` shows what: the bars, then one repetition after another in its place, then a sentence."""

from dataclasses import dataclass
from fractions import Fraction

from renderer.schedule.clicks import bar_seconds
from renderer.schedule.model import HOLD, REAL_TIME_LIMIT, Schedule, Span, Step
from renderer.schedule.spans import (
    choose_spans,
    choose_voice,
    count_in_before,
    end_seconds,
    lead_seconds,
    place_spans,
    seconds_at_tick,
    span_clicks,
)
from renderer.spec.click import Click
from renderer.spec.model import SegmentSpec
from renderer.spec.sound import ClickSpec
from renderer.timeline.model import Repetition, Timeline


@dataclass(frozen=True)
class SpreadSchedule(Schedule):
    """When each repetition of one voice is in its place."""

    spans: tuple[Span, ...]
    repetitions: tuple[Repetition, ...]
    arrivals: tuple[Fraction, ...]
    beat: Fraction
    """Seconds to a beat, for the length of moves."""

    def seconds_at(self, at: int) -> Fraction | None:
        """When the first repetition that starts there or later is in its place."""
        later = (t for t, r in zip(self.arrivals, self.repetitions, strict=True) if r.at >= at)
        return next(later, None)


def schedule_spread(timeline: Timeline, options: SegmentSpec, click: ClickSpec | None) -> SpreadSchedule:
    """One repetition after another takes its place: at tempo, or one a beat where that would take too
    long."""
    spans = [Span(start, end, Fraction(0)) for start, end in choose_spans(timeline, options.sections)]
    voice = choose_voice(timeline, options.voice)
    inside = [
        repetition
        for repetition in timeline.repetitions
        if repetition.voice == voice and any(s.start <= repetition.at < s.end for s in spans)
    ]
    first_bar = timeline.bar_at(spans[0].start)
    beat = bar_seconds(timeline, first_bar) / len(first_bar.meter.beats)
    lead = lead_seconds(timeline, first_bar, click)
    spans = place_spans(timeline, spans, lead)
    music_end = end_seconds(timeline, spans[-1])
    if music_end - lead <= REAL_TIME_LIMIT:
        arrivals = [seconds_at_tick(timeline, spans, repetition.at) for repetition in inside]
        clicks = [*count_in_before(timeline, spans[0], lead), *span_clicks(timeline, spans, ("beat",))]
    else:
        arrivals = [lead + number * beat for number in range(len(inside))]
        music_end = lead + len(inside) * beat
        downbeats = {bar.at for bar in timeline.bars}
        clicks = [
            *count_in_before(timeline, spans[0], lead),
            *(
                Click(t, "downbeat" if r.at in downbeats else "beat")
                for t, r in zip(arrivals, inside, strict=True)
            ),
        ]
    return SpreadSchedule(
        timeline=timeline,
        seconds=music_end + max(HOLD, 4 * beat),
        clicks=tuple(clicks) if click else (),
        steps=(Step("posts", Fraction(0)), Step("repetitions", lead), Step("sentence", music_end)),
        spans=tuple(spans),
        repetitions=tuple(inside),
        arrivals=tuple(arrivals),
        beat=beat,
    )
