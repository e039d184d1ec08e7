"""Stretches of the piece in a segment: which there are, when they sound, what counts them in, which clicks fall in
them, and how their bars are shared out to rows."""

from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from itertools import pairwise

from renderer.core.errors import Problem
from renderer.schedule.clicks import click_places, count_in_clicks
from renderer.schedule.model import Span
from renderer.spec.click import Click
from renderer.spec.model import BarRange, SegmentSpec
from renderer.spec.sound import ClickPlace
from renderer.timeline.model import Timeline


def choose_spans(timeline: Timeline, options: SegmentSpec) -> list[tuple[int, int]]:
    """The stretches of the piece that are asked for by section or by bar, or all of it: in the piece's order, joined
    where they touch; every pass of a named section. The pick-up goes with the first section."""
    if options.bars:
        chosen = sorted(bar_ticks(timeline, bars) for bars in options.bars)
    else:
        chosen = [
            (timeline.start if section is timeline.sections[0] else section.at, section.end)
            for section in timeline.sections
            if options.sections is None or section.name in options.sections
        ]
    spans: list[tuple[int, int]] = []
    for start, end in chosen:
        if spans and start <= spans[-1][1]:
            spans[-1] = (spans[-1][0], max(end, spans[-1][1]))
        else:
            spans.append((start, end))
    return spans


def lead_in(timeline: Timeline, options: SegmentSpec, start: int) -> int | None:
    """Where the bar before some bars begins, if music runs into them; else, and where sections are asked for, None."""
    voice = options.voice
    runs_in = any(each.at < start < each.end and voice in (None, each.voice) for each in timeline.repetitions)
    return timeline.bar_at(start - 1).at if options.bars and runs_in else None


def bar_ticks(timeline: Timeline, bars: BarRange) -> tuple[int, int]:
    """Where bars begin and end, in ticks. Raises StopIteration if the piece does not have them."""
    last = timeline.bars[-1].number
    ends = [number if number >= 0 else last + 1 + number for number in bars]
    first, final = (next(bar for bar in timeline.bars if bar.number == number) for number in ends)
    return first.at, final.end


def check_bars(timeline: Timeline, options: SegmentSpec) -> Iterator[Problem]:
    """The bars that are asked for and that the piece does not have."""
    first, last = timeline.bars[0].number, timeline.bars[-1].number
    for index, bars in enumerate(options.bars or ()):
        path = (*options.path, "bars", index)
        start, end = (number if number >= 0 else last + 1 + number for number in bars)
        missing = [given for given, n in zip(bars, (start, end), strict=True) if not first <= n <= last]
        if missing:
            yield Problem(path, f"there is no bar {missing[0]}.", f"The bars are {first} to {last}.")
        elif end < start:
            yield Problem(path, f"bar {end} comes before bar {start}.", f"Write {end} to {start}.")


def choose_voice(timeline: Timeline, name: str | None) -> str:
    """The voice of that name; without one the first, an empty name where there is none."""
    return name or next(iter(timeline.voices), "")


def place_spans(timeline: Timeline, spans: Iterable[Span], lead: Fraction) -> list[Span]:
    """The spans one after another at tempo, the first from `lead` seconds on."""
    timed, seconds = [], lead
    for span in spans:
        timed.append(span._replace(seconds=seconds))
        seconds += timeline.seconds(span.end) - timeline.seconds(span.start)
    return timed


def end_seconds(timeline: Timeline, span: Span) -> Fraction:
    """When a span ends, in the segment's seconds."""
    return span.seconds + timeline.seconds(span.end) - timeline.seconds(span.start)


def seconds_at_tick(timeline: Timeline, spans: Iterable[Span], at: int) -> Fraction:
    """When a tick that lies in one of the spans sounds, in the segment's seconds."""
    span = next(span for span in spans if span.start <= at < span.end)
    return span.seconds + timeline.seconds(at) - timeline.seconds(span.start)


def count_in_before(timeline: Timeline, span: Span, lead: Fraction) -> list[Click]:
    """The clicks before the music: beats that end on a downbeat, up to where a pick-up begins."""
    if not lead:
        return []
    downbeat = span.seconds - timeline.seconds(span.start) + timeline.seconds(max(0, span.start))
    return count_in_clicks(timeline, timeline.bar_at(max(0, span.start)), downbeat, span.seconds)


def span_clicks(timeline: Timeline, spans: Iterable[Span], every: Sequence[ClickPlace]) -> list[Click]:
    """The clicks inside the spans, in the segment's seconds."""
    clicks = []
    for span in spans:
        shift = span.seconds - timeline.seconds(span.start)
        for at, kind in click_places(timeline, span.start, span.end, every):
            clicks.append(Click(shift + timeline.seconds(at), kind))
    return clicks


def row_breaks(timeline: Timeline, spans: Iterable[Span], longest: Fraction) -> list[tuple[int, int]]:
    """Share bars out to rows: rows of whole bars that begin again with each section, as equal as can be, none
    longer than `longest` whole notes unless one bar alone is."""
    rows: list[tuple[int, int]] = []
    for span in spans:
        sections = [s for s in timeline.sections if s.at < span.end and span.seen < s.end]
        for section in sections:
            bars = [
                bar
                for bar in timeline.bars
                if timeline.sections[bar.section_index] is section and span.seen <= bar.at < span.end
            ]
            end = bars[-1].end
            count = max(1, int(-(-timeline.whole(end - max(0, bars[0].at)) // longest)))
            per_row = -(-len(bars) // count)
            starts = [bars[index].at for index in range(0, len(bars), per_row)]
            rows += pairwise([*starts, end])
    return rows
